//! `compare`: two boards, or one as it is and changed.

use crate::cli;
use crate::cli::args::CompareArgs;
use crate::cli::failure::Failure;
use crate::cli::files;
use crate::cli::files::OutputFolder;
use crate::cli::outcome::Outcome;
use backporch::analysis::compare::Comparison;
use backporch::analysis::compare::compare;
use backporch::output::compare_json::write_comparison;
use backporch::output::compare_table::compare_table;
use backporch::output::compare_view;
use std::path::PathBuf;

/// Answers `compare`; whether nothing is seen worse on the second board.
pub(crate) fn run(args: &CompareArgs) -> Result<Outcome, Failure> {
    if args.second.is_none() && args.set.is_empty() {
        return Err(Failure::plain(
            "there is nothing to compare with: name a second scenario, or change the first with \
             `--set`"
                .to_owned(),
        ));
    }
    let first = files::load_scenario(&args.first, &[])?;
    let second = args.second.as_ref().unwrap_or(&args.first);
    let second = files::load_scenario(second, &args.set)?;
    let comparison = compare(&first, &second).map_err(|error| Failure::plain(error.to_string()))?;
    let elements = &first.raster.elements;
    let mut pictures = String::new();
    if !args.no_pictures {
        let folder = args.out.clone().unwrap_or_else(|| PathBuf::from("out").join(&first.name));
        pictures = format!("\n{}\n", draw(&comparison, &folder)?.display());
    }
    if args.json {
        let mut json = Vec::new();
        write_comparison(&comparison, elements, &mut json)
            .map_err(|error| Failure::world("standard output", &error))?;
        cli::print(&String::from_utf8_lossy(&json))?;
    } else {
        cli::print(&format!("{}{pictures}", compare_table(&comparison, elements)))?;
    }
    Ok(if comparison.worse.is_empty() { Outcome::Answered } else { Outcome::No })
}

fn draw(comparison: &Comparison, folder: &std::path::Path) -> Result<PathBuf, Failure> {
    let name = "compare.png";
    let mut files = OutputFolder::new(folder)?;
    let mut bytes = Vec::new();
    compare_view::write(comparison, &mut bytes).map_err(|error| Failure::world(name, &error))?;
    files.write(name, &bytes)?;
    let mut paths = files.finish()?;
    paths.pop().ok_or_else(|| Failure::plain(format!("{name} was not written")))
}
