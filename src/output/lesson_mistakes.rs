//! The words of the pages on mistakes: what was done, and what came of it.

use crate::analysis::cause::ohms;
use crate::analysis::lesson::Lesson;
use crate::analysis::lesson::mistake::Error;
use crate::analysis::lesson::mistake::Mistake;
use crate::analysis::reading::FieldReading;
use crate::analysis::reading::ShapeReading;
use crate::analysis::verdict::Seen;
use crate::network::circuit::Logic;
use crate::output::lesson_words::Told;
use crate::output::lesson_words::capital;
use crate::output::lesson_words::millivolts;
use crate::output::lesson_words::volts;
use crate::output::part_words::gate_words;

/// Most names in a sentence.
const MOST_NAMES: usize = 6;

pub(super) fn mistake(lesson: &Lesson, index: usize) -> Told {
    let mistake = &lesson.mistakes[index];
    let (name, heading, what) = done(mistake);
    let mut sentences = vec![what];
    sentences.push(levels(lesson, mistake));
    sentences.extend(words(&lesson.reading, &mistake.reading));
    if mistake.field.reception.sync.is_none() && lesson.whole().reception.sync.is_some() {
        sentences.push("The set finds no sync any more, and the picture drifts.".to_owned());
    }
    let depth = |reading: &FieldReading| 1e3 * (reading.black_v - reading.tip_v);
    Told::new(&format!("mistake-{name}"), &heading, sentences)
        .figure("sync depth before", depth(&lesson.reading), "mV")
        .figure("sync depth after", depth(&mistake.reading), "mV")
        .figure("black before", 1e3 * lesson.reading.black_v, "mV")
        .figure("black after", 1e3 * mistake.reading.black_v, "mV")
}

/// A short name, the heading, and what was done.
fn done(mistake: &Mistake) -> (&'static str, String, String) {
    let part = &mistake.part;
    match &mistake.error {
        Error::Missing { ohms: value, node, to } => {
            let (kind, way) = if to == "ground" {
                ("pull-down", "ground, the board's 0 V")
            } else {
                ("pull-up", to.as_str())
            };
            (
                "missing",
                format!("A mistake: no {part}"),
                format!(
                    "{part}, {} from {node} to {way}, is a {kind}: it holds the voltage where no pin \
                     pushes it. Here it was left out.",
                    ohms(*value)
                ),
            )
        }
        Error::Gate { from, to } => (
            "gate",
            format!("A mistake: the wrong gate for {part}"),
            format!(
                "A gate is a small switch that looks at its inputs. {part} should be {}, {}. Fitted was {}: {}.",
                article(gate_words(*from)),
                rule(*from),
                article(gate_words(*to)),
                rule(*to)
            ),
        ),
        Error::Value { from, to } => (
            "value",
            format!("A mistake: {part} wrong by ten"),
            format!(
                "{part} should have {}. A coloured ring was misread, and it has {}.",
                ohms(*from),
                ohms(*to)
            ),
        ),
        Error::TwoSets { from, to } => (
            "two-sets",
            "A mistake: two sets on one lead".to_owned(),
            format!(
                "A second set was plugged in beside the first, so that the load is {} in place of {}.",
                ohms(*to),
                ohms(*from)
            ),
        ),
    }
}

/// "an OR gate", "a NOR gate".
fn article(gate: &str) -> String {
    let vowel = gate.starts_with(['A', 'O', 'a', 'e', 'i', 'o']);
    format!("{} {gate}", if vowel { "an" } else { "a" })
}

fn rule(logic: Logic) -> &'static str {
    match logic {
        Logic::Or => "high if any input is",
        Logic::Nor => "low if any input is high",
        Logic::And => "high if all inputs are",
        Logic::Nand => "low if all inputs are high",
        Logic::Xor => "high if an odd number of inputs is",
        Logic::Not => "high if its input is low",
        Logic::Buffer => "high if its input is",
    }
}

/// Black and the sync before and after.
fn levels(lesson: &Lesson, mistake: &Mistake) -> String {
    let (before, after) = (&lesson.reading, &mistake.reading);
    let depth = |reading: &FieldReading| reading.black_v - reading.tip_v;
    let word = if before.sync == after.sync {
        format!("still {}", after.sync.word())
    } else {
        format!("{} before, now {}", before.sync.word(), after.sync.word())
    };
    format!(
        "Black goes from {} to {}, the sync pulse from {} to {} ({word}), the brightest pulse from {} \
         to {}.",
        volts(before.black_v),
        volts(after.black_v),
        millivolts(depth(before)),
        millivolts(depth(after)),
        millivolts(brightest_v(before)),
        millivolts(brightest_v(after))
    )
}

/// How far the highest element stands above black, V; 0 if none does.
fn brightest_v(reading: &FieldReading) -> f64 {
    reading.shapes.iter().filter_map(|shape| shape.delta_v).fold(0.0, f64::max)
}

/// What became of the elements: a sentence for all that went the same way.
fn words(before: &FieldReading, after: &FieldReading) -> Vec<String> {
    let mut ways: Vec<([String; 2], Vec<&str>)> = Vec::new();
    for shape in &before.shapes {
        let same =
            |other: &&ShapeReading| other.element == shape.element && other.shape == shape.shape;
        let Some(then) = after.shapes.iter().find(same) else { continue };
        let way = [word(shape), word(then)];
        match ways.iter_mut().find(|(known, _)| *known == way) {
            Some((_, names)) => names.push(&shape.element),
            None => ways.push((way, vec![&shape.element])),
        }
    }
    ways.iter_mut().for_each(|(_, names)| names.dedup());
    let changed: Vec<String> = ways
        .iter()
        .filter(|([before, after], _)| before != after)
        .map(|([before, after], names)| {
            let was = if names.len() == 1 { "was" } else { "were" };
            format!("{} {was} {before}, now {after}.", capital(&listed(names)))
        })
        .collect();
    if changed.is_empty() {
        let still = "The word for every part of the picture stays the same.";
        return vec![still.to_owned()];
    }
    changed
}

fn word(shape: &ShapeReading) -> String {
    let Some(seen) = shape.seen else { return "not measured".to_owned() };
    let dark = seen != Seen::Missing && shape.delta_v.is_some_and(|delta_v| delta_v < 0.0);
    if dark { "darker than black".to_owned() } else { seen.word().to_owned() }
}

/// "field, ball and right".
fn listed(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        more if more.len() > MOST_NAMES => {
            let rest = more.len() - MOST_NAMES;
            format!("{} and {rest} more", more[..MOST_NAMES].join(", "))
        }
        [before @ .., last] => format!("{} and {last}", before.join(", ")),
    }
}
