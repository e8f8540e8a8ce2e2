//! How a picture stands on the screen, and what a set asks of a signal, in words.

use crate::analysis::reading::FieldReading;
use crate::analysis::verdict::LockState;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::table::Column;
use crate::output::table::Table;
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
