//! Feed resistors into a modulator, as a table for the terminal.

use crate::analysis::feed_table::FeedInput;
use crate::analysis::feed_table::FeedRow;
use crate::analysis::feed_table::FeedTable;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::modulation_table::percent;
use crate::output::table::Column;
use crate::output::table::Table;
use crate::output::table::seen_words;

/// A table for each input resistance; the resistor to take is marked.
#[must_use]
pub fn feed_text(title: &str, table: &FeedTable) -> String {
    let mut text = format!("{title}\n");
    for input in &table.inputs {
        let ohms = ohms(input.input_ohms);
        text += &format!("\nFeed resistor into a modulator of {ohms}, standing levels\n\n");
        text += &rows(table.fitted_ohms, input).text();
        text += &taken(input);
    }
    text +=
        "\n● clear  ◐ faint  ○ missing   Carrier in % of its peak; depth behind gain control.\n";
    if table.inputs.len() > 1 {
        text += "The input resistance is not known: measure it (an ohmmeter from the can's video pin to \
                 its case, unpowered), or\nbegin high and go down until white runs into one or the \
                 sound buzzes, then two values up.\n";
    }
    text
}

fn rows(fitted_ohms: f64, input: &FeedInput) -> Table {
    let mut columns = vec![
        Column::left(""),
        Column::right("feed"),
        Column::right("white %"),
        Column::left(""),
        Column::right("black %"),
        Column::right("depth mV"),
        Column::left("sync"),
        Column::right("buzz dB"),
    ];
    let first = input.rows.first();
    let elements = first.map_or(&[][..], |row| &row.modulation.elements);
    columns.extend(elements.iter().map(|element| Column::left(&element.level.name)));
    let mut table = Table::new(columns);
    for (index, row) in input.rows.iter().enumerate() {
        let is_fitted = (row.feed_ohms / fitted_ohms - 1.0).abs() < 1e-9;
        let mark = match (input.best == Some(index), is_fitted) {
            (true, true) => "take, fitted",
            (true, false) => "take",
            (false, true) => "fitted",
            (false, false) => "",
        };
        table.push(cells(mark, row));
    }
    table
}

fn cells(mark: &str, row: &FeedRow) -> Vec<String> {
    let found = &row.modulation;
    let buzz = match found.buzz.is_heard() {
        true => number(found.buzz.level_db, 0),
        false => "none".to_owned(),
    };
    let mut cells = vec![
        mark.to_owned(),
        ohms(row.feed_ohms),
        percent(found.white.carrier),
        found.word.word().to_owned(),
        percent(found.black.carrier),
        number(1e3 * found.depth_v, 0),
        found.sync.word().to_owned(),
        buzz,
    ];
    cells.extend(found.elements.iter().map(|element| {
        format!("{} {}", number(1e3 * element.delta_v, 0), seen_words(element.seen))
    }));
    cells
}

fn taken(input: &FeedInput) -> String {
    match input.best.map(|best| &input.rows[best]) {
        Some(row) => format!(
            "Take {}: the brightest picture that leaves white {} % of carrier.\n",
            ohms(row.feed_ohms),
            percent(row.modulation.white.carrier)
        ),
        None => "None of them leaves white the carrier it needs: the board is too bright for this \
                 modulator.\n"
            .to_owned(),
    }
}

/// "4.7 kΩ".
fn ohms(value: f64) -> String {
    if value >= 1e3 {
        format!("{} kΩ", trimmed(1e-3 * value, 3))
    } else {
        format!("{} Ω", trimmed(value, 1))
    }
}
