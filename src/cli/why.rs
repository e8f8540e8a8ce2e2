//! `why`: the way of an element, or of the sync, from the chip's pin to the socket.

use crate::cli;
use crate::cli::args::WhyArgs;
use crate::cli::failure::Failure;
use crate::cli::files;
use crate::cli::files::OutputFolder;
use backporch::analysis::cause::Subject;
use backporch::analysis::why::Why;
use backporch::analysis::why::why;
use backporch::document::near;
use backporch::output::why_json::write_why;
use backporch::output::why_table::why_table;
use backporch::output::why_view;
use backporch::scenario::Scenario;
use backporch::signal::element::ElementId;
use std::path::PathBuf;

/// Answers `why`.
pub(crate) fn run(args: &WhyArgs) -> Result<(), Failure> {
    let scenario = files::scenario(&args.board)?;
    let subjects = subjects(&scenario, &args.elements)?;
    let all = why(&scenario, &subjects).map_err(|error| Failure::run(&scenario, &error))?;
    let mut pictures = String::new();
    if !args.no_pictures {
        let folder = args.out.clone().unwrap_or_else(|| PathBuf::from("out").join(&scenario.name));
        for path in draw(&scenario, &all, folder)? {
            pictures += &format!("{}\n", path.display());
        }
    }
    if args.json {
        let mut json = Vec::new();
        write_why(&all, &mut json).map_err(|error| Failure::world("standard output", &error))?;
        return cli::print(&String::from_utf8_lossy(&json));
    }
    let socket = scenario.circuit.node_name(scenario.output.node);
    cli::print(&format!("{}\n\n{}\n{pictures}", scenario.title, why_table(&all, socket)))
}

/// What is named: elements, or the sync; without a name all elements and the sync.
fn subjects(scenario: &Scenario, names: &[String]) -> Result<Vec<Subject>, Failure> {
    let elements = (0_u8..).map(ElementId).take(scenario.raster.elements.len());
    let known: Vec<Subject> = elements.map(Subject::from).chain([Subject::Sync]).collect();
    if names.is_empty() {
        return Ok(known);
    }
    let find = |name: &String| {
        let is_meant = |one: &&Subject| one.name(scenario).eq_ignore_ascii_case(name);
        known.iter().find(is_meant).copied().ok_or_else(|| {
            let known: Vec<&str> = known.iter().map(|one| one.name(scenario)).collect();
            let near = near::nearest(name, known.iter().copied());
            let near =
                near.map_or_else(String::new, |near| format!("; {}", near::did_you_mean(near)));
            let known = known.join("`, `");
            Failure::plain(format!("there is no element `{name}`; there are `{known}`{near}"))
        })
    };
    names.iter().map(find).collect()
}

/// One picture for each element.
fn draw(scenario: &Scenario, all: &[Why], folder: PathBuf) -> Result<Vec<PathBuf>, Failure> {
    let mut files = OutputFolder::new(&folder)?;
    for why in all {
        let name = format!("why-{}.png", why.element);
        let mut bytes = Vec::new();
        why_view::write(why, &scenario.title, &mut bytes)
            .map_err(|error| Failure::world(&name, &error))?;
        files.write(&name, &bytes)?;
    }
    files.finish()
}
