//! Which of the set's lines make its picture.

use crate::base::math;
use crate::receiver::spec::ReceiverSpec;
use crate::receiver::spec::TimeBase;
use crate::receiver::tape::Tape;

/// One of the set's fields, as it is shown.
#[derive(Clone, Debug, PartialEq)]
pub struct Screen {
    /// Start of the set's field, s: its turn less the delay by which the picture is centred.
    pub start_s: f64,
    /// Start of each shown line, from the top, s; `None` where the set has turned before it.
    pub lines_s: Vec<Option<f64>>,
}

impl Screen {
    /// The latest field that was received best.
    #[must_use]
    pub fn new(own: &TimeBase, tape: &Tape<'_>, spec: &ReceiverSpec) -> Self {
        let shown_s = spec.active_start_s + spec.active_s * (1.0 - 0.5 * spec.overscan);
        let end_s = math::from_usize(tape.now.len()) * tape.step_s - shown_s;
        let mut best = (0, Self { start_s: 0.0, lines_s: vec![None; visible_lines(spec).1] });
        for turn in 0..own.field_starts_s.len() {
            let field = Self::of_turn(own, turn, spec);
            let whole = |start_s: &&f64| **start_s <= end_s && tape.place(**start_s) >= 0.0;
            let received = field.lines_s.iter().flatten().filter(whole).count();
            if received >= best.0 {
                best = (received, field);
            }
        }
        best.1
    }

    fn of_turn(own: &TimeBase, turn: usize, spec: &ReceiverSpec) -> Self {
        let (first, visible) = visible_lines(spec);
        let half_s = 0.5 / spec.line_hz;
        let start = |turn_s: &f64| turn_s - spec.field_loop.delay_s();
        // The line that starts nearest to the field's start is its line 0.
        let line_0 =
            |start_s: f64| own.line_starts_s.partition_point(|&line_s| line_s < start_s - half_s);
        let start_s = start(&own.field_starts_s[turn]);
        let next = own.field_starts_s.get(turn + 1).map(start).map(line_0);
        let after = next.unwrap_or(own.line_starts_s.len());
        let lines = line_0(start_s)..after;
        let place = |line: usize| lines.clone().nth(line).map(|line| own.line_starts_s[line]);
        Self { start_s, lines_s: (first..first + visible).map(place).collect() }
    }
}

/// First visible line, counted from the start of field sync, and number of visible lines.
#[must_use]
pub fn visible_lines(spec: &ReceiverSpec) -> (usize, usize) {
    let shown = f64::from(spec.shown_lines);
    let hidden = math::floor_index(0.5 * spec.overscan * shown + 0.5);
    let visible = math::floor_index(shown).saturating_sub(2 * hidden);
    (math::floor_index(f64::from(spec.first_line)) + hidden, visible)
}
