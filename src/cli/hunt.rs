//! `hunt`: which faults fit what is seen and measured.

use crate::cli;
use crate::cli::args::HuntArgs;
use crate::cli::failure::Failure;
use crate::cli::files;
use crate::cli::observed;
use crate::cli::progress::Progress;
use backporch::analysis::hunt;
use backporch::analysis::hunt::confirm::confirm;
use backporch::analysis::hunt::observe::Observation;
use backporch::base::diagnostic::Diagnostic;
use backporch::output::hunt_json::write_hunt;
use backporch::output::hunt_table::hunt_table;
use backporch::scenario::Scenario;

/// How many suspects are run in time as well.
const CONFIRMED: usize = 5;

/// Answers `hunt`.
pub(crate) fn run(args: &HuntArgs) -> Result<(), Failure> {
    let scenario = files::scenario(&args.board)?;
    let known = known(&scenario, args)?;
    let mut hunt = if args.pairs {
        let bar = Progress::new("pairs");
        let hunt = hunt::hunt_pairs(&scenario, &known, &mut |done, of| bar.come_to(done, of));
        bar.finish();
        hunt
    } else {
        hunt::hunt(&scenario, &known)
    }
    .map_err(|error| Failure::network(&scenario, &error))?;
    let most = usize::from(args.most);
    confirm(&scenario, &known, &mut hunt, most.min(CONFIRMED));
    if args.json {
        let mut json = Vec::new();
        write_hunt(&scenario, &hunt, most, &mut json)
            .map_err(|error| Failure::world("standard output", &error))?;
        json.push(b'\n');
        cli::print(&String::from_utf8_lossy(&json))
    } else {
        cli::print(&format!("{}\n\n{}", scenario.title, hunt_table(&scenario, &hunt, most)))
    }
}

/// What the user says.
fn known(scenario: &Scenario, args: &HuntArgs) -> Result<Observation, Failure> {
    let bounces = args.bounces.as_ref().map(|word| word == "yes");
    let mut known = Observation { bounces, ..Observation::default() };
    for text in &args.seen {
        observed::see(&mut known, scenario, text)?;
    }
    for text in &args.measured {
        observed::measure(&mut known, scenario, text)?;
    }
    if known == Observation::default() {
        return Err(Failure::input(vec![Diagnostic {
            message: "nothing is said of what is seen or measured".to_owned(),
            span: None,
            expected: String::new(),
            hint: Some("say it as `--seen left=missing field=clear --bounces yes`".to_owned()),
        }]));
    }
    Ok(known)
}
