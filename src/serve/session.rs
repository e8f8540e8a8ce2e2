//! What a browser tab has turned, and the way back.

use backporch::scenario::control::Control;
use backporch::scenario::control::ControlKind;
use backporch::scenario::control::FITTED;

/// Paths with their texts, in the order in which they were first turned.
pub(crate) type Settings = Vec<(String, String)>;

/// Steps back that are kept.
const MOST_STEPS: usize = 1000;

/// The settings of a tab.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Session {
    start: Settings,
    now: Settings,
    before: Vec<Settings>,
    after: Vec<Settings>,
    /// The control in hand, and the gesture by which it is turned.
    held: Option<(String, u64)>,
    /// Number of the last request that was taken.
    pub(crate) number: u64,
    /// The line to draw, if it is not the one that shows most.
    pub(crate) line: Option<u32>,
}

impl Session {
    /// A tab that has turned nothing yet.
    pub(crate) fn new(start: Settings) -> Self {
        Self {
            now: start.clone(),
            start,
            before: Vec::new(),
            after: Vec::new(),
            held: None,
            number: 0,
            line: None,
        }
    }

    /// What is set.
    pub(crate) fn settings(&self) -> &Settings {
        &self.now
    }

    /// The same as arguments of `--set`.
    pub(crate) fn arguments(&self) -> Vec<String> {
        arguments(&self.now)
    }

    /// Whether there is a step back, and one forward again.
    pub(crate) fn ways(&self) -> (bool, bool) {
        (!self.before.is_empty(), !self.after.is_empty())
    }

    /// What would be set if a control were turned.
    pub(crate) fn turned(&self, control: &Control, text: &str) -> Settings {
        let mut next = self.now.clone();
        let is_none = matches!(control.kind, ControlKind::Fault(_)) && text == FITTED
            || control.is_written && text == control.text;
        match next.iter().position(|(path, _)| *path == control.path) {
            Some(at) if is_none => drop(next.remove(at)),
            Some(at) => text.clone_into(&mut next[at].1),
            None if is_none => {}
            None => next.push((control.path.clone(), text.to_owned())),
        }
        next
    }

    /// Takes that over. One gesture of one control, such as a slider drawn along, is one step back.
    pub(crate) fn take(&mut self, path: &str, gesture: u64, next: Settings) {
        if next == self.now {
            return;
        }
        let held = Some((path.to_owned(), gesture));
        if self.held != held {
            self.keep();
        }
        self.held = held;
        self.after.clear();
        self.now = next;
    }

    /// A step back; nothing if there is none.
    pub(crate) fn undo(&mut self) {
        if let Some(last) = self.before.pop() {
            self.after.push(std::mem::replace(&mut self.now, last));
        }
        self.held = None;
    }

    /// A step forward again; nothing if there is none.
    pub(crate) fn redo(&mut self) {
        if let Some(next) = self.after.pop() {
            self.before.push(std::mem::replace(&mut self.now, next));
        }
        self.held = None;
    }

    /// To the scenario as it was opened; that too can be undone.
    pub(crate) fn back(&mut self) {
        if self.now != self.start {
            self.keep();
            self.after.clear();
            self.now = self.start.clone();
        }
        self.held = None;
    }

    fn keep(&mut self) {
        if self.before.len() == MOST_STEPS {
            self.before.remove(0);
        }
        self.before.push(self.now.clone());
    }
}

/// Settings as `--set` takes them.
pub(crate) fn arguments(settings: &Settings) -> Vec<String> {
    settings.iter().map(|(path, text)| format!("{path}={text}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn control(path: &str, text: &str, kind: ControlKind) -> Control {
        let is_written = !matches!(kind, ControlKind::Fault(_));
        Control { path: path.into(), label: "value", text: text.into(), is_written, kind }
    }

    fn white() -> Control {
        control("R1.resistor", "1k", ControlKind::Words(Vec::new()))
    }

    fn turn(session: &mut Session, control: &Control, text: &str, gesture: u64) {
        let next = session.turned(control, text);
        session.take(&control.path, gesture, next);
    }

    #[test]
    fn a_gesture_is_one_step_back_and_forward() {
        let mut session = Session::new(Vec::new());
        let other = control("R2.resistor", "1k", ControlKind::Words(Vec::new()));
        for text in ["1k1", "1k2", "1k3"] {
            turn(&mut session, &white(), text, 1);
        }
        turn(&mut session, &other, "2k", 1);
        turn(&mut session, &white(), "1k5", 2);
        assert_eq!(session.arguments(), ["R1.resistor=1k5", "R2.resistor=2k"]);
        session.undo();
        assert_eq!(session.arguments(), ["R1.resistor=1k3", "R2.resistor=2k"]);
        session.undo();
        session.undo();
        assert_eq!(session.arguments(), Vec::<String>::new());
        assert_eq!(session.ways(), (false, true));
        session.undo();
        session.redo();
        assert_eq!(session.arguments(), ["R1.resistor=1k3"]);
        turn(&mut session, &other, "3k", 1);
        assert_eq!(session.ways(), (true, false));
    }

    #[test]
    fn what_is_as_in_the_file_again_is_no_setting() {
        let mut session = Session::new(Vec::new());
        turn(&mut session, &white(), "2k", 1);
        turn(&mut session, &white(), "1k", 2);
        assert_eq!(session.arguments(), Vec::<String>::new());
        let fault = control("R1", FITTED, ControlKind::Fault(Vec::new()));
        turn(&mut session, &fault, "open", 3);
        assert_eq!(session.arguments(), ["R1=open"]);
        turn(&mut session, &fault, FITTED, 4);
        assert_eq!(session.arguments(), Vec::<String>::new());
    }

    #[test]
    fn back_is_to_what_it_was_opened_with_and_can_be_undone() {
        let start = vec![("R1.resistor".to_owned(), "1k5".to_owned())];
        let mut session = Session::new(start.clone());
        turn(&mut session, &white(), "2k", 1);
        session.back();
        assert_eq!(session.settings(), &start);
        session.undo();
        assert_eq!(session.arguments(), ["R1.resistor=2k"]);
        session.back();
        session.back();
        session.undo();
        assert_eq!(session.arguments(), ["R1.resistor=2k"]);
    }

    #[test]
    fn steps_are_kept_up_to_a_thousand() {
        let mut session = Session::new(Vec::new());
        for step in 0..1100 {
            turn(&mut session, &white(), &format!("{step}k7"), step);
        }
        for _ in 0..2000 {
            session.undo();
        }
        assert_eq!(session.arguments(), ["R1.resistor=99k7"]);
    }
}
