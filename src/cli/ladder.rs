//! `ladder`: levels for every combination of elements.

use crate::cli;
use crate::cli::args::LadderArgs;
use crate::cli::failure::Failure;
use crate::cli::files;
use backporch::analysis::ladder::ladder;
use backporch::analysis::modulation::modulation;
use backporch::output::ladder_json::write_ladder;
use backporch::output::modulation_table::CAUTION;
use backporch::output::modulation_table::modulation_table;
use backporch::output::table::ladder_table;

/// Answers `ladder`.
pub(crate) fn run(args: &LadderArgs) -> Result<(), Failure> {
    let scenario = files::scenario(&args.board)?;
    let ladder = ladder(&scenario).map_err(|error| Failure::levels(&scenario, &error))?;
    let modulation = modulation(&scenario).map_err(|error| Failure::run(&scenario, &error))?;
    if args.json {
        let mut json = Vec::new();
        write_ladder(&ladder, modulation.as_ref(), &mut json)
            .map_err(|error| Failure::world("standard output", &error))?;
        json.push(b'\n');
        cli::print(&String::from_utf8_lossy(&json))
    } else {
        let carrier = modulation.map_or_else(String::new, |modulation| {
            format!("\n{}\n{CAUTION}\n", modulation_table(&modulation))
        });
        cli::print(&format!("{}\n\n{}{carrier}", scenario.title, ladder_table(&ladder)))
    }
}
