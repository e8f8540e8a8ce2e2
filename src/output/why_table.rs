//! The way of an element's pulse as text: its size from node to node, its edges, what would help.

use crate::analysis::band::MOST_STRENGTH;
use crate::analysis::band::Strengths;
use crate::analysis::verdict::Seen;
use crate::analysis::why::Pulse;
use crate::analysis::why::Why;
use crate::analysis::why::edges::Edge;
use crate::analysis::why::ledger::Pull;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::table::Column;
use crate::output::table::Table;
use crate::output::table::millivolts;
use crate::output::table::seen_shape;
use crate::output::table::signed_millivolts;
use crate::output::table::wrapped;

/// Everything about the elements, one after another.
#[must_use]
pub fn why_table(all: &[Why], socket: &str) -> String {
    let texts: Vec<String> = all.iter().map(|why| one(why, socket)).collect();
    texts.join("\n")
}

fn one(why: &Why, socket: &str) -> String {
    let name = why.element.to_uppercase();
    let word = format!("{} {}", seen_shape(why.seen), why.word(why.seen));
    let level = if why.is_sync {
        format!("{} mV deep (black minus tip)", millivolts(-why.delta_v))
    } else {
        format!("{} mV against black", signed_millivolts(why.delta_v))
    };
    let mut text = format!("{name}: {word}, {level} at `{socket}`, at rest\n");
    if let Some(cause) = &why.cause {
        text += &wrapped(&cause.words);
    }
    for other in &why.others {
        text += &wrapped(&format!("Or: {}", other.words));
    }
    if !why.steps.is_empty() {
        text += "\n";
        text += &ledger_table(why).text();
    }
    if why.other_ways > 0 {
        let ways = if why.other_ways == 1 { "way leads" } else { "ways lead" };
        text +=
            &wrapped(&format!("{} other {ways} to `{socket}` and carries less.", why.other_ways));
    }
    if why.pulses.is_empty() {
        text += &wrapped("It is nowhere alone in this field, so that its edges cannot be told.");
    } else {
        text += "\n";
        text += &edge_table(&why.pulses).text();
    }
    text += "\n";
    text += &wrapped(&pins(why));
    text
}

fn ledger_table(why: &Why) -> Table {
    let (states, at) = if why.is_sync {
        (["black", "tip"], ["at black", "at the tip"])
    } else {
        (["unlit", "lit"], ["unlit", "lit"])
    };
    let mut table = Table::new(vec![
        Column::left("node"),
        Column::right(&format!("{} mV", states[0])),
        Column::right(&format!("{} mV", states[1])),
        Column::right("pulse mV"),
        Column::left("what made it so"),
    ]);
    for step in &why.steps {
        table.push(vec![
            step.node.clone(),
            millivolts(step.black_v),
            millivolts(step.lit_v),
            signed_millivolts(step.pulse_v()),
            step.words.clone(),
        ]);
        let pulls: Vec<String> = step.pulls.iter().map(|one| pull(one, at)).collect();
        let words = format!("here hangs: {}", pulls.join("; "));
        table.prose((!pulls.is_empty()).then_some(words.as_str()));
    }
    table
}

/// "R9 (1 kΩ) to ground, takes 0.20 mA unlit, 1.40 mA lit".
fn pull(pull: &Pull, [idle, lit]: [&str; 2]) -> String {
    let milliamps = |amps: f64| number(1e3 * amps.abs(), 3);
    let verb = |amps: f64| if amps < 0.0 { "gives" } else { "takes" };
    let (before, after) = (pull.black_amps, pull.lit_amps);
    let same = (before < 0.0) == (after < 0.0);
    let first = if same { verb(after) } else { verb(before) };
    let again = if same { String::new() } else { format!("{} ", verb(after)) };
    format!(
        "{}, {first} {} mA {idle}, {again}{} mA {lit}",
        pull.words,
        milliamps(before),
        milliamps(after)
    )
}

/// The edges: a row for each node, the edge that lights the element before the one that puts it out.
fn edge_table(pulses: &[Pulse]) -> Table {
    let mut columns = vec![Column::left("node")];
    for edge in ["on", "off"] {
        columns.push(Column::right(&format!("{edge}: after ns")));
        columns.push(Column::right("10–90 % ns"));
        columns.push(Column::right("over %"));
        columns.push(Column::right("jitter ps"));
    }
    let mut table = Table::new(columns);
    for pulse in pulses {
        let mut cells = vec![pulse.node.clone()];
        for edge in [&pulse.lead, &pulse.trail] {
            cells.extend(edge_cells(edge.as_ref()));
        }
        table.push(cells);
        let waits: Vec<String> =
            [("on", &pulse.lead), ("off", &pulse.trail)].into_iter().flat_map(waits).collect();
        let words = waits.join("; ");
        table.prose((!waits.is_empty()).then_some(words.as_str()));
    }
    table
}

fn edge_cells(edge: Option<&Edge>) -> [String; 4] {
    let Some(edge) = edge else { return [(); 4].map(|()| "–".to_owned()) };
    [
        number(1e9 * edge.delay_s, 0),
        number(1e9 * edge.time_s, 0),
        number(100.0 * edge.overshoot, 0),
        number(1e12 * edge.jitter_s, 0),
    ]
}

fn waits((name, edge): (&str, &Option<Edge>)) -> Vec<String> {
    let waits = edge.iter().flat_map(|edge| &edge.waits);
    waits
        .map(|wait| {
            let (part, state) = (&wait.part, wait.state.words());
            format!("{name}: {part} is {state} for {} ns of it", number(1e9 * wait.time_s, 0))
        })
        .collect()
}

/// What depends on the pins, which nobody knows before they are measured.
fn pins(why: &Why) -> String {
    let mut words = String::new();
    for (strength, seen) in &why.band {
        words += &format!("With {} pins it is {}. ", strength.word(), why.word(*seen));
    }
    if why.specimens == 0 {
        words += "Weak or strong specimens of these pins are not known. ";
    } else if why.band.is_empty() {
        words += "Weak, typical or strong pins make no difference to the word. ";
    }
    let well = why.word(Seen::Clear);
    let stretches: Vec<String> = why.strengths.iter().map(stretch).collect();
    words += &match stretches.join(", or ") {
        none if none.is_empty() => format!(
            "It is {well} at no strength of the pins from a {MOST_STRENGTH}th to {MOST_STRENGTH} \
             times those in hand."
        ),
        stretches => format!("It is {well} with pins {stretches} as strong as those in hand."),
    };
    words
}

fn stretch(strengths: &Strengths) -> String {
    let Strengths { from, to } = *strengths;
    let weakest = from <= 1.001 / MOST_STRENGTH;
    let strongest = to >= 0.999 * MOST_STRENGTH;
    match (weakest, strongest) {
        (true, true) => format!("a {MOST_STRENGTH}th to {MOST_STRENGTH} times"),
        (true, false) => format!("up to {} times", trimmed(to, 2)),
        (false, true) => format!("at least {} times", trimmed(from, 2)),
        (false, false) => format!("{} to {} times", trimmed(from, 2), trimmed(to, 2)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_of_strength_are_said_by_their_ends() {
        let words = |from, to| stretch(&Strengths { from, to });
        assert_eq!(words(0.1, 10.0), "a 10th to 10 times");
        assert_eq!(words(0.1, 2.5), "up to 2.5 times");
        assert_eq!(words(0.456, 10.0), "at least 0.46 times");
        assert_eq!(words(0.5, 3.0), "0.5 to 3 times");
    }
}
