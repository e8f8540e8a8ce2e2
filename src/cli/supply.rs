//! `supply`: from fresh to flat, dried electrolytics, contacts, a beep, a bench feed.

use crate::cli;
use crate::cli::design_args::SupplyArgs;
use crate::cli::failure::Failure;
use crate::cli::files;
use crate::cli::files::OutputFolder;
use crate::cli::said::Said;
use backporch::analysis::supply::Runs;
use backporch::analysis::supply::SupplyError;
use backporch::analysis::supply::SupplyRequest;
use backporch::analysis::supply::bench::Clip;
use backporch::analysis::supply::supply;
use backporch::document::quantity::CURRENT;
use backporch::document::quantity::POSITIVE_VOLTAGE;
use backporch::document::quantity::Quantity;
use backporch::document::quantity::Zero;
use backporch::network::circuit::NodeId;
use backporch::output::supply_json::write_supply;
use backporch::output::supply_table::supply_text;
use backporch::output::supply_view;
use backporch::scenario::Scenario;
use std::path::PathBuf;

/// What a bench supply may be limited to.
const LIMIT: Quantity = Quantity { zero: Zero::Impossible, ..CURRENT };

/// Answers `supply`.
pub(crate) fn run(args: &SupplyArgs) -> Result<(), Failure> {
    let scenario = files::scenario(&args.board)?;
    let clip = args.feed.as_ref().map(|text| clip(text, &args.limit, &scenario)).transpose()?;
    let runs = if args.at_rest { Runs::None } else { Runs::InTime };
    let request = SupplyRequest { source: args.source.clone(), steps: args.steps, runs, clip };
    let report = supply(&scenario, &request).map_err(|error| failure(&scenario, args, error))?;
    let folder = args.out.clone().unwrap_or_else(|| PathBuf::from("out").join(&scenario.name));
    let mut files = OutputFolder::new(&folder)?;
    let mut png = Vec::new();
    supply_view::write(&scenario, &report, &mut png)
        .map_err(|error| Failure::world("supply.png", &error))?;
    files.write("supply.png", &png)?;
    let paths = files.finish()?;
    if args.json {
        let mut json = Vec::new();
        write_supply(&scenario, &report, &mut json)
            .map_err(|error| Failure::world("standard output", &error))?;
        return cli::print(&String::from_utf8_lossy(&json));
    }
    let written: Vec<String> = paths.iter().map(|path| path.display().to_string()).collect();
    cli::print(&format!("{}\n{}\n", supply_text(&scenario, &report), written.join("\n")))
}

/// "rail5=5V".
fn clip(text: &str, limit: &str, scenario: &Scenario) -> Result<Clip, Failure> {
    const FORM: &str = "a node and volts, as in `rail5=5V`";
    let said = Said::new("--feed", text);
    let at = said.sign('=', FORM)?;
    let nodes: Vec<&str> = scenario.circuit.nodes.iter().map(String::as_str).collect();
    let node = NodeId(said.pick(0..at, "node of this board", &nodes)?);
    if node == NodeId::GROUND {
        let message = "a bench supply at ground feeds nothing".to_owned();
        return Err(said.wrong(message, "expected another node of the board"));
    }
    let volts = said.value_at(at + 1..text.len(), &POSITIVE_VOLTAGE)?;
    let limit_a = Said::new("--limit", limit).value(&LIMIT)?;
    Ok(Clip { node, volts, limit_a })
}

fn failure(scenario: &Scenario, args: &SupplyArgs, error: SupplyError) -> Failure {
    match error {
        SupplyError::Run(error) => Failure::run(scenario, &error),
        SupplyError::NoSource => Failure::plain(error.to_string()),
        SupplyError::NotASource { ref name, ref sources } => {
            let said = Said::new("--source", args.source.as_deref().unwrap_or(name));
            let names: Vec<&str> = sources.iter().map(String::as_str).collect();
            said.pick(0..name.len(), "source of this board", &names)
                .err()
                .unwrap_or_else(|| Failure::plain(error.to_string()))
        }
    }
}
