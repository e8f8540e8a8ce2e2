//! `feed`: which resistor into the modulator.

use crate::cli;
use crate::cli::design_args::FeedArgs;
use crate::cli::failure::Failure;
use crate::cli::files;
use backporch::analysis::feed_table::FEED_OHMS;
use backporch::analysis::feed_table::FeedError;
use backporch::analysis::feed_table::UNKNOWN_OHMS;
use backporch::analysis::feed_table::feed_table;
use backporch::document::quantity::RESISTANCE;
use backporch::document::quantity::read;
use backporch::network::circuit::PartKind;
use backporch::output::feed_json::write_feed;
use backporch::output::feed_rows::feed_text;
use backporch::scenario::Scenario;

/// Answers `feed`.
pub(crate) fn run(args: &FeedArgs) -> Result<(), Failure> {
    let scenario = files::scenario(&args.board)?;
    let [least, most] = FEED_OHMS;
    let feeds = args.series.values_between(least, most);
    let table =
        feed_table(&scenario, &inputs(&scenario, args)?, &feeds).map_err(|error| match &error {
            FeedError::Run(run) => Failure::run(&scenario, run),
            FeedError::NoFeed => Failure::plain(error.to_string()),
        })?;
    if args.json {
        let mut json = Vec::new();
        write_feed(&scenario.title, &table, &mut json)
            .map_err(|error| Failure::world("standard output", &error))?;
        return cli::print(&String::from_utf8_lossy(&json));
    }
    cli::print(&feed_text(&scenario.title, &table))
}

/// Input resistances to look at, Ω.
fn inputs(scenario: &Scenario, args: &FeedArgs) -> Result<Vec<f64>, Failure> {
    match args.input.as_deref() {
        Some("unknown") => Ok(UNKNOWN_OHMS.to_vec()),
        Some(text) => match read(text, &RESISTANCE) {
            Ok(ohms) => Ok(vec![ohms]),
            Err(error) => Err(Failure::plain(format!(
                "--input: {}; {}, or `unknown`",
                error.message, error.expected
            ))),
        },
        None => match scenario.circuit.parts[scenario.output.load.0].kind {
            PartKind::Resistor { ohms, .. } => Ok(vec![ohms]),
            _ => Ok(UNKNOWN_OHMS.to_vec()),
        },
    }
}
