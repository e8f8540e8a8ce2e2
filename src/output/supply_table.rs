//! What a supply does to a board, as tables for the terminal.

use crate::analysis::supply::SupplyReport;
use crate::analysis::supply::beep::Beep;
use crate::analysis::supply::contact::Contacts;
use crate::analysis::supply::discharge::Place;
use crate::analysis::supply::dried::Dried;
use crate::analysis::supply::in_time::InTime;
use crate::analysis::supply::look::Look;
use crate::analysis::verdict::Seen;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::supply_bench::bench_text;
use crate::output::supply_words;
use crate::output::table::Column;
use crate::output::table::Table;
use crate::output::table::seen_shape;
use crate::scenario::Scenario;

/// Rails that move by less than this are not worth a word, V.
const WORTH_V: f64 = 5e-4;

/// All of it.
#[must_use]
pub fn supply_text(scenario: &Scenario, report: &SupplyReport) -> String {
    let look = &report.now;
    let mut text = format!("{}\n\n", scenario.title);
    text += &format!(
        "Fed by {}: {} V at its terminals, {} mA (mean of a field).\n",
        supply_words::source(scenario, report),
        number(look.source_v, 2),
        number(1e3 * look.source_a, 1)
    );
    let others = report.others.iter().map(|&other| supply_words::part(scenario, other));
    let others: Vec<&str> = others.collect();
    if !others.is_empty() {
        let stay = if others.len() == 1 { "stays as it is" } else { "stay as they are" };
        text += &format!("{} {stay}.\n", others.join(", "));
    }
    text += &format!("{}\n", supply_words::clock(report.clock));
    text += &discharge_text(scenario, report);
    text += &contacts_text(scenario, report, &report.contacts);
    text += &beep_text(scenario, report, &report.beep);
    if let Some(dried) = &report.dried {
        text += &dried_text(scenario, report, dried);
    }
    if let Some(bench) = &report.bench {
        text += &bench_text(scenario, report, bench);
    }
    text + "\n● clear  ◐ faint  ○ missing   Elements in mV above black.\n"
}

/// Headings of what a board comes to at rest.
pub(crate) fn look_columns(scenario: &Scenario, report: &SupplyReport) -> Vec<Column> {
    let rail = |&rail| Column::right(&format!("{} V", supply_words::node(scenario, rail)));
    let mut columns: Vec<Column> = report.rails.iter().map(rail).collect();
    columns.push(Column::right("mA"));
    columns.push(Column::right("depth mV"));
    columns.push(Column::left("sync"));
    columns.extend(scenario.raster.elements.iter().map(|name| Column::right(name)));
    columns
}

/// The cells below them.
pub(crate) fn look_cells(look: &Look) -> Vec<String> {
    let mut cells: Vec<String> = look.rails_v.iter().map(|&volts| number(volts, 2)).collect();
    cells.push(number(1e3 * look.source_a, 1));
    cells.push(number(1e3 * look.sync.depth_v, 0));
    cells.push(supply_words::sync(look.sync.state));
    let elements = look.elements.iter();
    cells.extend(elements.map(|element| element_cell(element.delta_v, element.seen)));
    cells
}

fn element_cell(delta_v: f64, seen: Seen) -> String {
    format!("{} {}", number(1e3 * delta_v, 0), seen_shape(seen))
}

fn discharge_text(scenario: &Scenario, report: &SupplyReport) -> String {
    let discharge = &report.discharge;
    let heading = match report.battery {
        Some(_) => "\nFrom fresh to flat, standing levels\n\n",
        None => "\nThe source turned down, standing levels\n\n",
    };
    let mut columns = vec![
        Column::right("left %"),
        Column::right("hours"),
        Column::right("open V"),
        Column::right("behind Ω"),
    ];
    columns.extend(look_columns(scenario, report));
    columns.push(Column::right("clock MHz"));
    columns.push(Column::left("picture"));
    let mut table = Table::new(columns);
    for step in &discharge.steps {
        let mut cells = place_cells(&step.at).to_vec();
        cells.extend(look_cells(&step.look));
        cells.push(number(1e-6 * step.look.clock_hz, 4));
        cells.push(step.lock.as_deref().map_or(String::new(), supply_words::lock));
        table.push(cells);
    }
    let ends = discharge.ends.as_ref().map(|reason| format!("Further down: {reason}.\n"));
    format!(
        "{heading}{}{}{}{}",
        table.text(),
        ends.unwrap_or_default(),
        losses_text(scenario, report),
        hours_text(report)
    )
}

fn place_cells(at: &Place) -> [String; 4] {
    [
        at.charge.map_or(String::new(), |charge| number(1e2 * charge, 0)),
        at.hours.map_or(String::new(), |hours| number(hours, 1)),
        number(at.open_v, 2),
        trimmed(at.ohms, 2),
    ]
}

fn losses_text(scenario: &Scenario, report: &SupplyReport) -> String {
    let losses = &report.discharge.losses;
    if losses.is_empty() {
        return "\nNothing is lost on the way.\n".to_owned();
    }
    let mut table = Table::new(vec![
        Column::right("at V"),
        Column::right("open V"),
        Column::right("left %"),
        Column::right("hours"),
        Column::left("lost"),
    ]);
    for loss in losses {
        let what = supply_words::lost(scenario, loss.what);
        let [charge, hours, open, _] = place_cells(&loss.at);
        let what = if loss.from_start { format!("{what}, from the start") } else { what };
        table.push(vec![number(loss.source_v, 2), open, charge, hours, what]);
    }
    format!("\nWhat is lost on the way, at the source's terminals\n\n{}", table.text())
}

/// How long, and how far that may be off.
fn hours_text(report: &SupplyReport) -> String {
    let Some(battery) = &report.battery else { return String::new() };
    let capacity = &battery.capacity;
    let off = match capacity.off > 0.0 {
        true => format!(", good to ±{} % at best", number(1e2 * capacity.off, 0)),
        false => String::new(),
    };
    format!(
        "\nHours: {} mAh ({}{off}; make, age, cold and pauses weigh more than the board does), charge \
         over current,\nplayed without a pause. The curve of volts against charge is from memory but for \
         its fresh end.\n",
        number(1e3 * capacity.ampere_hours, 0),
        capacity.source
    )
}

fn contacts_text(scenario: &Scenario, report: &SupplyReport, contacts: &Contacts) -> String {
    let name = supply_words::part(scenario, report.source);
    let mut columns = vec![Column::right("contact Ω")];
    columns.extend(look_columns(scenario, report));
    let mut table = Table::new(columns);
    for step in &contacts.steps {
        let mut cells = vec![trimmed(step.ohms, 1)];
        cells.extend(look_cells(&step.look));
        table.push(cells);
    }
    let mut text = format!("\nCorroded contacts in the lead of {name}\n\n{}", table.text());
    let losses = contacts.losses.iter().map(|loss| {
        format!("{} from {} Ω on", supply_words::lost(scenario, loss.what), trimmed(loss.ohms, 1))
    });
    let losses: Vec<String> = losses.collect();
    if !losses.is_empty() {
        text += &format!("\nLost: {}.\n", losses.join("; "));
    }
    if !contacts.openings.is_empty() {
        let at = contacts.openings[0].at_s;
        let mut columns = vec![Column::right("open ms")];
        columns.extend(in_time_columns(scenario, report, "lowest V"));
        let mut table = Table::new(columns);
        for opening in &contacts.openings {
            let mut cells = vec![trimmed(1e3 * opening.open_s, 1)];
            cells.extend(found_cells(&opening.found, |found| (&found.rails_lowest_v, 1.0)));
            table.push(cells);
        }
        text += &format!(
            "\nThe contact opens once, {} ms into a field\n\n{}",
            number(1e3 * at, 1),
            table.text()
        );
    }
    text
}

/// Headings of what a field comes to; of the rails with `what` of each.
fn in_time_columns(scenario: &Scenario, report: &SupplyReport, what: &str) -> Vec<Column> {
    let mut columns = vec![Column::right("porch moves mV"), Column::right("tilt mV")];
    columns.extend(
        report
            .rails
            .iter()
            .map(|&rail| Column::right(&format!("{} {what}", supply_words::node(scenario, rail)))),
    );
    columns.push(Column::right("depth mV"));
    columns.push(Column::left("sync"));
    columns.extend(scenario.raster.elements.iter().map(|name| Column::right(name)));
    columns.push(Column::left("picture"));
    columns
}

/// The cells of a field, or of why it is not known.
fn found_cells(
    found: &Result<InTime, String>,
    rails: impl Fn(&InTime) -> (&[f64], f64),
) -> Vec<String> {
    match found {
        Ok(found) => {
            let (volts, factor) = rails(found);
            in_time_cells(found, volts, factor)
        }
        Err(reason) => vec![reason.clone()],
    }
}

fn in_time_cells(found: &InTime, rails: &[f64], factor: f64) -> Vec<String> {
    let decimals = if factor > 1.0 { 1 } else { 2 };
    let mut cells = vec![number(1e3 * found.porch_moves_v, 1), number(1e3 * found.porch_tilt_v, 1)];
    cells.extend(rails.iter().map(|&volts| number(factor * volts, decimals)));
    cells.push(number(1e3 * found.depth_v, 0));
    cells.push(supply_words::sync(found.sync));
    cells.extend(
        found
            .seen
            .iter()
            .map(|seen| seen.map_or("?".to_owned(), |(delta_v, seen)| element_cell(delta_v, seen))),
    );
    cells.push(supply_words::lock(&found.lock));
    cells
}

fn beep_text(scenario: &Scenario, report: &SupplyReport, beep: &Beep) -> String {
    let assumed = match beep.is_stated {
        true => "",
        false => " (no sounder is on the board: a usual one at its source)",
    };
    let rails = report.rails.iter().zip(&beep.rails_sag_v).filter(|(_, sag)| **sag > WORTH_V);
    let rails: Vec<String> = rails
        .map(|(&rail, &sag)| {
            format!("`{}` by {} V", supply_words::node(scenario, rail), number(sag, 3))
        })
        .collect();
    let mut text = format!(
        "\nA beep: {} Ω at `{}` take {} mA while the driver conducts{assumed}.\n",
        trimmed(beep.ohms, 0),
        supply_words::node(scenario, beep.node),
        number(1e3 * beep.amps, 1)
    );
    if rails.is_empty() {
        return text + "No rail sags: the source has no resistance.\n";
    }
    let black_mv = 1e3 * beep.black_sags_v;
    text += &format!("Sagging {}; black dips {} mV.\n", rails.join(", "), number(black_mv, 1));
    let deepest = beep.rails_sag_v.iter().copied().fold(0.0, f64::max);
    if deepest > WORTH_V {
        let each = 0.1 * black_mv / deepest;
        text += &format!("That is {} mV for 0.1 V of the rail that sags most.\n", number(each, 1));
    }
    text
}

fn dried_text(scenario: &Scenario, report: &SupplyReport, dried: &Dried) -> String {
    if dried.parts.is_empty() {
        return "\nThe board has no electrolytic that could dry.\n".to_owned();
    }
    let mut columns =
        vec![Column::left("dried"), Column::right("left µF"), Column::right("series ×")];
    columns.extend(in_time_columns(scenario, report, "ripple mV"));
    let mut table = Table::new(columns);
    let mut now = vec!["none".to_owned(), String::new(), String::new()];
    now.extend(in_time_cells(&dried.now, &dried.now.rails_ripple_v, 1e3));
    table.push(now);
    for part in &dried.parts {
        for step in &part.steps {
            let left = trimmed(1e6 * part.farads * step.left, 2);
            let name = supply_words::part(scenario, part.part).to_owned();
            let mut cells = vec![name, left, trimmed(step.series, 0)];
            cells.extend(found_cells(&step.found, |found| (&found.rails_ripple_v, 1e3)));
            table.push(cells);
        }
    }
    format!(
        "\nEach electrolytic dried by itself, a field in time; ripple is between the means of lines\n\n{}",
        table.text()
    )
}
