//! A bench supply clipped on, in words.

use crate::analysis::rating::Unit;
use crate::analysis::rating::amount;
use crate::analysis::supply::SupplyReport;
use crate::analysis::supply::bench::BenchFeed;
use crate::analysis::supply::bench::Clipped;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::rating_table::rating_lines;
use crate::output::supply_table::look_cells;
use crate::output::supply_table::look_columns;
use crate::output::supply_words;
use crate::output::table::Column;
use crate::output::table::Table;
use crate::scenario::Scenario;

/// Said with every bench feed; common practice, no source.
pub(crate) const CAUTIONS: &str = "Cells out and adapter unplugged before a bench supply is clipped on: cells \
                                   that are charged leak or burst. Set volts and the limit of 100 mA \
                                   before clipping, minus first, and check the polarity twice: the chip \
                                   has nothing in front of it here.";

/// What a bench feed does.
pub(crate) fn bench_text(scenario: &Scenario, report: &SupplyReport, bench: &BenchFeed) -> String {
    let clip = &bench.clip;
    let node = supply_words::node(scenario, clip.node);
    let source = supply_words::part(scenario, report.source);
    let mut columns = vec![Column::left(""), Column::right("bench mA"), Column::right("there V")];
    columns.extend(look_columns(scenario, report));
    let mut table = Table::new(columns);
    let rows = [
        (format!("{source} as it is"), None, &report.now),
        (format!("bench, {source} off"), Some(&bench.alone), &bench.alone.look),
        (format!("bench, {source} left in"), Some(&bench.together), &bench.together.look),
    ];
    for (name, clipped, look) in rows {
        let bench_ma = clipped.map(|clipped| number(1e3 * clipped.amps, 1));
        let there_v = clipped.map(|clipped| number(clipped.node_v, 2));
        let mut cells = vec![name, bench_ma.unwrap_or_default(), there_v.unwrap_or_default()];
        cells.extend(look_cells(look));
        table.push(cells);
    }
    let mut text = format!(
        "\nA bench supply at `{node}`: {} V, limited to {} mA; mA of the table are those of {source}\n\n{}",
        trimmed(clip.volts, 2),
        number(1e3 * clip.limit_a, 0),
        table.text()
    );
    text += &flows_text(scenario, &bench.alone);
    if bench.bypassed.is_empty() {
        text += &format!("Nothing lies between {source} and `{node}`: nothing is gone round.\n");
    } else {
        text += "Gone round:\n";
        for &part in &bench.bypassed {
            text += &format!("  {}\n", supply_words::bypassed(scenario, part));
        }
    }
    text += &backward_text(scenario, &bench.alone, "");
    text += &backward_text(scenario, &bench.together, &format!("with {source} left in, "));
    text += &rating_lines(&bench.ratings);
    text + "■ " + CAUTIONS + "\n"
}

fn flows_text(scenario: &Scenario, clipped: &Clipped) -> String {
    let flows = clipped.flows.iter().map(|&(part, amps)| {
        let (way, size) = if amps > 0.0 { ("into", amps) } else { ("out of", -amps) };
        format!("{} {way} {}", amount(size, Unit::Ampere), supply_words::part(scenario, part))
    });
    let flows: Vec<String> = flows.collect();
    let limited = match clipped.is_limited {
        true => "The limit holds it: the node does not come to its volts.\n",
        false => "",
    };
    match flows.is_empty() {
        true => limited.to_owned(),
        false => format!("{limited}There: {}.\n", flows.join(", ")),
    }
}

fn backward_text(scenario: &Scenario, clipped: &Clipped, when: &str) -> String {
    let fed = clipped.fed.iter().map(|&(part, amps)| {
        format!(
            "■ {when}{} is fed {}: cells must never be charged so.\n",
            supply_words::part(scenario, part),
            amount(amps, Unit::Ampere)
        )
    });
    let backward = clipped.backward.iter().map(|&(part, volts)| {
        format!(
            "▲ {when}{}'s output stands {} above its input: a real one conducts backwards there, which \
             is not modelled.\n",
            supply_words::part(scenario, part),
            amount(volts, Unit::Volt)
        )
    });
    fed.chain(backward).collect()
}
