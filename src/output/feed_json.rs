//! Feed resistors into a modulator, for other programs.

use crate::analysis::feed_table::FeedTable;
use crate::output::json::FORMAT;
use crate::output::json::write;
use crate::output::modulation_json::ModulationReport;
use serde::Serialize;
use std::io::Write;

/// The table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FeedReport<'a> {
    /// [`FORMAT`].
    pub format: u32,
    /// The scenario's title.
    pub title: &'a str,
    /// The resistor that is fitted, Ω.
    pub fitted_ohm: f64,
    /// One for each input resistance.
    pub inputs: Vec<FeedInputReport>,
}

/// Feed resistors into one input resistance.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FeedInputReport {
    /// The modulator's input, Ω.
    pub input_ohm: f64,
    /// The resistor to take, Ω; null if none will do.
    pub take_ohm: Option<f64>,
    /// One for each resistor.
    pub rows: Vec<FeedRowReport>,
}

/// One resistor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FeedRowReport {
    /// The resistor, Ω.
    pub feed_ohm: f64,
    /// The carrier.
    pub modulation: ModulationReport,
}

/// Writes the table as JSON.
///
/// # Errors
///
/// If `out` fails.
pub fn write_feed(title: &str, table: &FeedTable, out: &mut impl Write) -> std::io::Result<()> {
    let inputs = table.inputs.iter().map(|input| FeedInputReport {
        input_ohm: input.input_ohms,
        take_ohm: input.best.map(|best| input.rows[best].feed_ohms),
        rows: input
            .rows
            .iter()
            .map(|row| FeedRowReport {
                feed_ohm: row.feed_ohms,
                modulation: ModulationReport::new(&row.modulation),
            })
            .collect(),
    });
    let inputs = inputs.collect();
    write(&FeedReport { format: FORMAT, title, fitted_ohm: table.fitted_ohms, inputs }, out)
}
