//! How a picture stands on the screen, and what a set asks of a signal, in words.

use crate::analysis::reading::FieldReading;
use crate::analysis::verdict::LockState;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::table::Column;
use crate::output::table::Table;
use crate::output::table::wrapped;
use crate::receiver::demands::Answer;
use crate::receiver::demands::Origin;
use crate::receiver::demands::Property;
use crate::receiver::lock::Lock;
use crate::receiver::spec::Reception;

/// "picture shifted: lines start −2.14 µs against their sync (−2.20 to −2.11, −2.20 at the top)".
pub(crate) fn lock_words(reading: &FieldReading, lock: &Lock) -> String {
    let words: Vec<&str> = reading.lock.iter().map(|state| state.word()).collect();
    let mut all = vec![format!("picture {}", words.join(", "))];
    let has = |state| reading.lock.contains(&state);
    match (lock.phase, lock.slips, lock.sent_line_hz) {
        _ if has(LockState::Refused) => all.push("the set shows nothing of it".to_owned()),
        (_, Some(slips), Some(sent_hz)) if has(LockState::Torn) => {
            all.push(format!(
                "the set runs at {} lines a second, {} are sent, {} lines a field out of step",
                number(lock.line_hz, 0),
                number(sent_hz, 0),
                number(slips, 1)
            ));
        }
        (Some(phase), ..) => {
            let [mean, low, high, top] =
                [phase.mean_s, phase.low_s, phase.high_s, phase.top_s].map(microseconds);
            all.push(format!(
                "lines start {mean} µs against their sync ({low} to {high}, {top} at the top)"
            ));
        }
        _ => all.push("no sync holds the set".to_owned()),
    }
    if has(LockState::Rolling) {
        all.push(format!(
            "the set's field turns {} times a second and moves {} lines a field",
            number(lock.field_hz, 2),
            signed(lock.field_moves_lines, 1)
        ));
    }
    let first = all.remove(0);
    format!("{first}: {}", all.join("; "))
}

/// How one field's picture stands on the screen.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldLock {
    /// In numbers.
    pub lock: Lock,
    /// In words.
    pub states: Vec<LockState>,
}

/// How the pictures of several fields stand, in a sentence; nothing for a single one.
#[must_use]
pub fn field_lock_lines(fields: &[FieldLock]) -> String {
    if fields.len() < 2 {
        return String::new();
    }
    wrapped(&format!("picture {}", field_lock_words(fields)))
}

/// "locked in fields 1 to 4 and 7; torn, rolling in fields 5 and 6".
fn field_lock_words(fields: &[FieldLock]) -> String {
    let words = |field: &FieldLock| -> String {
        field.states.iter().map(|state| state.word()).collect::<Vec<_>>().join(", ")
    };
    let mut kinds: Vec<(String, Vec<(usize, usize)>)> = Vec::new();
    for (number, field) in (1..).zip(fields) {
        let words = words(field);
        match kinds.iter_mut().find(|(known, _)| *known == words) {
            Some((_, runs)) => match runs.last_mut() {
                Some(run) if run.1 + 1 == number => run.1 = number,
                _ => runs.push((number, number)),
            },
            None => kinds.push((words, vec![(number, number)])),
        }
    }
    let all: Vec<String> = kinds
        .iter()
        .map(|(words, runs)| match &runs[..] {
            [(1, last)] if *last == fields.len() => format!("{words} in all {last} fields"),
            [(one, last)] if one == last => format!("{words} in field {one}"),
            _ => format!("{words} in fields {}", run_words(runs)),
        })
        .collect();
    all.join("; ")
}

/// "1 to 4, 7 and 9".
fn run_words(runs: &[(usize, usize)]) -> String {
    let run = |&(from, to): &(usize, usize)| match to - from {
        0 => from.to_string(),
        _ => format!("{from} to {to}"),
    };
    match runs {
        [before @ .., last] if !before.is_empty() => {
            let before: Vec<String> = before.iter().map(run).collect();
            format!("{} and {}", before.join(", "), run(last))
        }
        _ => runs.iter().map(run).collect(),
    }
}

fn microseconds(seconds: f64) -> String {
    signed(1e6 * seconds, 2)
}

fn signed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    if text.starts_with('−') { text } else { format!("+{text}") }
}

/// A property's name, its unit, how many of that a base unit has, and the decimals that matter.
pub(crate) fn property_words(property: Property) -> (&'static str, &'static str, f64, usize) {
    match property {
        Property::LineRate => ("line rate off the standard's", "%", 1e2, 2),
        Property::FieldRate => ("fields a second", "Hz", 1.0, 2),
        Property::Lines => ("lines in a field", "", 1.0, 1),
        Property::Depth => ("sync depth", "mV", 1e3, 0),
        Property::Offset => ("back porch", "mV", 1e3, 0),
        Property::Porches => ("front porch over back porch", "mV", 1e3, 0),
        Property::LineEdges => ("lines of field sync with an edge in place", "%", 1e2, 0),
        Property::Interlace => ("half line between fields, off by", "lines", 1.0, 2),
        Property::Jitter => ("spread of the line period", "ns", 1e9, 0),
    }
}

/// The word for how an answer is.
pub(crate) fn answer_word(answer: &Answer) -> &'static str {
    if answer.is_met() {
        "ok"
    } else if answer.refuses() {
        "refused"
    } else {
        "look"
    }
}

/// Where a demand comes from.
pub(crate) fn origin_words(origin: Origin) -> &'static str {
    match origin {
        Origin::Data => "maker's data",
        Origin::Detail => "maker's note",
        Origin::Memory => "from memory",
        Origin::Stated => "as stated",
    }
}

/// "50 mV or more", "45 to 64.5 Hz".
pub(crate) fn demand_words(answer: &Answer) -> String {
    let (_, unit, factor, decimals) = property_words(answer.demand.property);
    let [low, high] = [answer.demand.low, answer.demand.high];
    let text = |value: f64| trimmed(factor * value, decimals);
    let words = match (low.is_finite(), high.is_finite()) {
        (true, true) => format!("{} to {} {unit}", text(low), text(high)),
        (true, false) => format!("{} {unit} or more", text(low)),
        _ => format!("{} {unit} or less", text(high)),
    };
    words.trim_end().to_owned()
}

/// A row for each demand of the set; empty for a set that asks nothing.
#[must_use]
pub fn answer_table(reception: &Reception) -> String {
    if reception.answers.is_empty() {
        return String::new();
    }
    format!("What the set asks of the signal:\n\n{}", answer_rows(&reception.answers).text())
}

/// The rows of the table.
pub(crate) fn answer_rows(answers: &[Answer]) -> Table {
    let mut table = Table::new(vec![
        Column::left("property"),
        Column::right("measured"),
        Column::right("takes"),
        Column::right("margin"),
        Column::left("word"),
        Column::left("by"),
    ]);
    for answer in answers {
        let (name, unit, factor, decimals) = property_words(answer.demand.property);
        let amount = |value: Option<f64>| match value {
            Some(value) => {
                format!("{} {unit}", trimmed(factor * value, decimals)).trim_end().into()
            }
            None => "–".to_owned(),
        };
        table.push(vec![
            name.to_owned(),
            amount(answer.measured),
            demand_words(answer),
            amount(answer.margin()),
            answer_word(answer).to_owned(),
            origin_words(answer.demand.origin).to_owned(),
        ]);
    }
    table
}

/// Why a set shows nothing, or what another one might refuse; one sentence each.
#[must_use]
pub fn answer_warnings(reception: &Reception) -> Vec<String> {
    let failing = reception.answers.iter().filter(|answer| !answer.is_met());
    failing
        .map(|answer| {
            let (name, unit, factor, decimals) = property_words(answer.demand.property);
            let found = answer.measured.map_or("not found".to_owned(), |value| {
                format!("{} {unit}", trimmed(factor * value, decimals)).trim_end().to_owned()
            });
            let takes = demand_words(answer);
            if answer.refuses() {
                format!("the set shows no picture: {name} {found}; it takes {takes}")
            } else {
                format!("a set like this may refuse it or show it badly: {name} {found}; {takes} is taken")
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_are_told_together_by_their_words() {
        let field =
            |states: &[LockState]| FieldLock { lock: Lock::default(), states: states.into() };
        let (locked, torn) = (field(&[LockState::Locked]), field(&[LockState::Torn]));
        let all = |fields: &[&FieldLock]| {
            field_lock_words(&fields.iter().map(|&field| field.clone()).collect::<Vec<_>>())
        };
        assert_eq!(field_lock_lines(std::slice::from_ref(&locked)), "");
        assert_eq!(all(&[&locked, &locked]), "locked in all 2 fields");
        assert_eq!(
            all(&[&locked, &locked, &torn, &torn, &torn, &locked]),
            "locked in fields 1 to 2 and 6; torn in fields 3 to 5"
        );
        assert_eq!(
            all(&[&torn, &locked, &torn, &locked, &torn]),
            "torn in fields 1, 3 and 5; locked in fields 2 and 4"
        );
        assert_eq!(all(&[&torn, &locked]), "torn in field 1; locked in field 2");
    }
}
