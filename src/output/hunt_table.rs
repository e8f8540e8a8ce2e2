//! The hunt as a table in plain words.

use crate::analysis::hunt::Hunt;
use crate::analysis::hunt::Near;
use crate::analysis::hunt::Suspect;
use crate::analysis::hunt::confirm::InTime;
use crate::analysis::hunt::fit::Against;
use crate::analysis::hunt::observe::Measured;
use crate::analysis::hunt::predict::State;
use crate::analysis::hunt::split::Split;
use crate::base::math;
use crate::output::axis::trimmed;
use crate::scenario::Scenario;
use std::fmt::Write;

/// Said wherever the user is sent to measure.
const CAUTION: &str = "Measure on the game only, never inside a television: a picture tube and a \
                       live chassis can kill. Unplug, and take the cells out, before soldering.";

/// Suspects with their levels at the socket, then the measurement that splits them best.
#[must_use]
pub fn hunt_table(scenario: &Scenario, hunt: &Hunt, most: usize) -> String {
    let mut text = String::new();
    let fitting = hunt.suspects.len();
    let _ = writeln!(text, "{} faults tried, {fitting} fit.", hunt.tried);
    if hunt.unsolved > 0 {
        let _ = writeln!(text, "{} of them have no levels that can be found.", hunt.unsolved);
    }
    if fitting == 0 {
        text += "No such fault gives this. Look again at what is said to be seen, try --pairs, or \
                 measure the pins: the scenario's may be far off.\n";
        return text + &fallen_out(scenario, hunt);
    }
    let names = hunt.suspects.iter().take(most).map(|one| one.fault.name.chars().count());
    let width = names.max().unwrap_or(0).max("suspect".len());
    let _ = write!(text, "\n{:>7} {:>5} {:>6}  {:<width$}", "share %", "off", "common", "suspect");
    for heading in ["tip", "black"] {
        let _ = write!(text, " {heading:>7}");
    }
    for element in &scenario.raster.elements {
        let _ = write!(text, " {element:>7}");
    }
    text.push('\n');
    let alike = hunt.suspects.iter().filter(|one| one.alike).count();
    for suspect in hunt.suspects.iter().take(most) {
        let mark = if alike > 1 && suspect.alike { '=' } else { ' ' };
        text += &row(scenario, suspect, mark, width);
    }
    text += &in_time(hunt, most);
    if fitting > most {
        let _ = writeln!(text, "and {} more", fitting - most);
    }
    if alike > 1 {
        let _ = write!(text, "\n=: {alike} alike at every node; no level tells them apart.");
    }
    text += &fallen_out(scenario, hunt);
    text += "\nShare: how likely among all that fit. Off: the worst disagreement, in deviations \
             of 5 % resistors.\nCommon: against other faults (common practice, no source). Levels at \
             the socket in mV,\nelements above black, at the pin strength that fits best.\n\n";
    match &hunt.next {
        Some(split) => text += &proposals(scenario, hunt, split, most),
        None => text += &nothing_to_measure(hunt),
    }
    text
}

/// What the fields that were run show otherwise than is said.
fn in_time(hunt: &Hunt, most: usize) -> String {
    let (mut run, mut agreeing) = (0, 0);
    let mut text = String::new();
    for suspect in hunt.suspects.iter().take(most) {
        run += usize::from(suspect.in_time.is_some());
        match &suspect.in_time {
            None => {}
            Some(InTime::Agrees) => agreeing += 1,
            Some(InTime::Differs(words)) => {
                let (name, words) = (&suspect.fault.name, words.join(", "));
                let _ = writeln!(text, "In time {name} shows something else: {words}.");
            }
            Some(InTime::Unsolved) => {
                let _ = writeln!(text, "{} could not be followed in time.", suspect.fault.name);
            }
        }
    }
    if run == 0 {
        return text;
    }
    format!("Of the first {run}, run for a field, {agreeing} agree with their levels.\n{text}")
}

/// Why no measurement is proposed.
fn nothing_to_measure(hunt: &Hunt) -> String {
    let alike = hunt.suspects.iter().filter(|one| one.alike).count();
    if hunt.suspects.len() == 1 {
        "Nothing else fits: look at that part.\n".to_owned()
    } else if alike == 1 {
        "The first is so much likelier than the rest that one more level would hardly change \
         that.\n"
            .to_owned()
    } else if alike == hunt.suspects.len() {
        format!("No level on this board tells these {alike} apart: look at the parts.\n")
    } else {
        format!(
            "The {alike} marked `=` are alike: no level on this board tells them apart, and the \
             rest are too unlikely to measure for. Look at the parts.\n"
        )
    }
}

fn row(scenario: &Scenario, suspect: &Suspect, mark: char, width: usize) -> String {
    let socket = scenario.output.node;
    let strength = suspect.fit.best_strength();
    let mv = |state| millivolts(suspect.prediction.at(strength, state, socket));
    let mut text = format!(
        "{:>7.1} {:>5.1} {:>6.2} {mark}{:<width$}",
        100.0 * suspect.share,
        suspect.fit.worst,
        suspect.fault.weight,
        suspect.fault.name
    );
    let black = mv(State::Black);
    for state in State::all(scenario) {
        let _ = match state {
            State::Tip | State::Black => write!(text, " {:>7}", mv(state)),
            State::Lit(_) => write!(text, " {:>+7}", mv(state) - black),
        };
    }
    text + "\n"
}

/// Whole millivolts, and no minus before a nought.
fn millivolts(volts: f64) -> f64 {
    math::round(1e3 * volts) + 0.0
}

/// The nearest of those that do not fit, and what speaks against each.
fn fallen_out(scenario: &Scenario, hunt: &Hunt) -> String {
    let mut text = String::new();
    if !hunt.near.is_empty() {
        text += "\nFell out, the nearest first:\n";
    }
    for Near { fault, against, off } in &hunt.near {
        let words = match *against {
            Against::Bounces(true) => "the ball bounces".to_owned(),
            Against::Bounces(false) => "the ball does not bounce".to_owned(),
            _ => format!("{} is {off:.1} deviations off", known_words(scenario, against)),
        };
        let _ = writeln!(text, "  {fault}: {words}");
    }
    text
}

/// "left missing", "mix with left lit, 1.20 V,".
pub(crate) fn known_words(scenario: &Scenario, known: &Against) -> String {
    match *known {
        Against::Seen(element, look) => {
            format!("{} {}", State::Lit(element).name(scenario), look.word())
        }
        Against::Sync(state) => format!("sync {}", state.word()),
        Against::Measured(Measured { node, state, volts }) => {
            let node = scenario.circuit.node_name(node);
            format!("{node} {}, {volts:.2} V,", when(scenario, state))
        }
        Against::Bounces(bounces) => format!("bounces {}", if bounces { "yes" } else { "no" }),
    }
}

fn when(scenario: &Scenario, state: State) -> String {
    match state {
        State::Tip => "in the sync pulse".to_owned(),
        State::Black => "with nothing lit".to_owned(),
        State::Lit(_) => format!("with {} lit", state.name(scenario)),
    }
}

/// What to measure next; where that takes a scope, what a meter can do too.
fn proposals(scenario: &Scenario, hunt: &Hunt, split: &Split, most: usize) -> String {
    let mut text = String::new();
    if split.needs_scope() {
        text += &next("Measure next, with a scope", scenario, hunt, (split, most));
        let _ = writeln!(
            text,
            "  That lasts {} of a field: a meter shows the mean.",
            lasting(split.share)
        );
        if let Some(other) = &hunt.by_meter {
            text += &next("With a meter alone", scenario, hunt, (other, most));
        }
    } else {
        text += &next("Measure next, with a meter or a scope", scenario, hunt, (split, most));
    }
    text + CAUTION + "\n"
}

/// "0.3 %".
fn lasting(share: f64) -> String {
    let percent = 100.0 * share;
    if percent < 0.1 { "less than 0.1 %".to_owned() } else { format!("{} %", trimmed(percent, 1)) }
}

fn next(what: &str, scenario: &Scenario, hunt: &Hunt, (split, most): (&Split, usize)) -> String {
    let when = when(scenario, split.state);
    let node = scenario.circuit.node_name(split.node);
    let mut text = format!("{what}: {node} {when}. Expect\n");
    for (suspect, [low, high]) in hunt.suspects.iter().zip(&split.expected).take(most) {
        let [low, high] = [low, high].map(|volts| math::round(1e2 * volts) / 1e2 + 0.0);
        let volts = if high - low < 0.02 {
            format!("{:.2} V", 0.5 * (low + high))
        } else {
            format!("{low:.2} to {high:.2} V")
        };
        let _ = writeln!(text, "  {volts:<16} if {}", suspect.fault.name);
    }
    text
}
