//! `knob`: from a controller's angle to the line on which its paddle begins.

use crate::cli;
use crate::cli::clock::USUAL_CHIP;
use crate::cli::controller_args::ControllerArgs;
use crate::cli::controller_args::KnobArgs;
use crate::cli::failure::Failure;
use crate::cli::files;
use crate::cli::files::OutputFolder;
use crate::cli::said::Said;
use backporch::analysis::knob::KnobMap;
use backporch::analysis::knob::Question;
use backporch::analysis::knob::buy;
use backporch::analysis::knob::buy::Margins;
use backporch::analysis::knob::knob_map;
use backporch::base::diagnostic::Span;
use backporch::document::problems::Problems;
use backporch::document::quantity::SHARE;
use backporch::document::tree::Entry;
use backporch::document::tree::Item;
use backporch::document::tree::Table;
use backporch::document::tree::Value;
use backporch::output::knob_json::write_knob;
use backporch::output::knob_table::knob_table;
use backporch::output::knob_view;
use backporch::profile::builtin;
use backporch::raster::controller::Controllers;
use backporch::raster::plan::Content;
use backporch::raster::plan::Court;
use backporch::scenario::Scenario;
use backporch::scenario::controller;
use backporch::signal::timing::FieldTiming;
use std::ops::Range;
use std::path::PathBuf;

/// Answers `knob`.
pub(crate) fn run(args: &KnobArgs) -> Result<(), Failure> {
    let side = usize::from(args.player == "right");
    let (question, title, name) = match &args.scenario {
        Some(path) => {
            let scenario = files::load_scenario(path, &args.set)?;
            (of_scenario(&scenario, side, args)?, scenario.title.clone(), scenario.name)
        }
        None => (alone(side, args)?, "A controller".to_owned(), "knob".to_owned()),
    };
    let share = |option: &str, text: &str| Said::new(option, text).value(&SHARE.within(1e-6, 0.9));
    let margins = Margins {
        track: share("--pot-tolerance", &args.pot_tolerance)?,
        capacitor: share("--capacitor-tolerance", &args.capacitor_tolerance)?,
    };
    let map = knob_map(&question);
    let choices = buy::choices(&question, &margins);
    let (track_ohms, farads) = (map.controller.track.ohms, map.controller.ramp.farads);
    let own = buy::choice(&question, &margins, track_ohms, farads);
    let title = format!("{title}: {} knob", args.player);
    let mut pictures = String::new();
    if !args.no_pictures {
        let folder = args.out.clone().unwrap_or_else(|| PathBuf::from("out").join(&name));
        pictures = draw(&map, &title, &format!("knob-{}.png", args.player), folder)?;
    }
    if args.json {
        let mut json = Vec::new();
        write_knob(&map, &own, &choices, &mut json)
            .map_err(|error| Failure::world("standard output", &error))?;
        return cli::print(&String::from_utf8_lossy(&json));
    }
    let table = knob_table(&map, &own, &choices, &margins);
    cli::print(&format!("{title}\n{table}{pictures}"))
}

/// The controller of a scenario, with its chip's lines.
fn of_scenario(scenario: &Scenario, side: usize, args: &KnobArgs) -> Result<Question, Failure> {
    if let Some((option, text)) = args.parts.given().first() {
        let message = "the scenario has its controllers' parts".to_owned();
        let expected = format!("expected `--set controller.{}={text}`", key(option));
        return Err(Said::new(&format!("--{option}"), text).wrong(message, &expected));
    }
    let missing = || {
        let player = &args.player;
        Failure::plain(format!(
            "the scenario has no controller for the {player} paddle: write a table `[controller]` \
             or `[controllers.{player}]`, or leave the scenario out and state the parts"
        ))
    };
    let Content::Game(court, state) = &scenario.raster.content else { return Err(missing()) };
    let controllers = **state.controllers.as_ref().ok_or_else(missing)?;
    controllers.sides[side].ok_or_else(missing)?;
    question(controllers, (side, scenario.raster.timing), court, args)
}

/// A controller of parts that stand on the command line, on a chip that is built in.
fn alone(side: usize, args: &KnobArgs) -> Result<Question, Failure> {
    let name = args.chip.as_deref().unwrap_or(USUAL_CHIP);
    let said = Said::new("--chip", name);
    let profile = builtin::chip(name).ok_or_else(|| {
        let known = builtin::BUILTIN.map(|(name, _)| name).join("`, `");
        let message = format!("there is no built-in chip `{name}`");
        said.wrong(message, &format!("expected one of `{known}`"))
    })?;
    let court = profile.courts.first();
    let (_, court) = court.ok_or_else(|| said.wrong("the chip has no court".to_owned(), ""))?;
    let problems = Problems::default();
    let table = table(&args.parts);
    let read = controller::alone(&table, profile.timing.field_hz(), &problems);
    let Some((one, common_ohms)) = read.filter(|_| problems.is_empty()) else {
        return Err(Failure::input(problems.into_sorted()));
    };
    let mut sides = [None; 2];
    sides[side] = Some(one);
    if common_ohms > 0.0 {
        sides[1 - side] = Some(one);
    }
    let controllers = Controllers { sides, common_ohms };
    question(controllers, (side, profile.timing), court, args)
}

/// The parts on the command line as a scenario would have them.
fn table(parts: &ControllerArgs) -> Table {
    let nothing = Said::new("knob", "");
    let mut table = Table { entries: Vec::new(), span: nothing.span(0..0) };
    for (option, text) in parts.given() {
        let said = Said::new(&format!("--{option}"), text);
        let span: Span = said.span(0..text.len());
        let item = Item { value: Value::Text(text.to_owned()), span: span.clone() };
        table.put(Entry { key: key(option), key_span: span, item });
    }
    for (key, flag) in [("cleaned", parts.cleaned), ("reversed", parts.reversed)] {
        let span = Said::new(&format!("--{key}"), "").span(0..0);
        let item = Item { value: Value::Flag(flag), span: span.clone() };
        table.put(Entry { key: key.to_owned(), key_span: span, item });
    }
    table
}

/// An option's name as a key of a scenario.
fn key(option: &str) -> String {
    option.replace('-', "_")
}

fn question(
    controllers: Controllers,
    (side, timing): (usize, FieldTiming),
    court: &Court,
    args: &KnobArgs,
) -> Result<Question, Failure> {
    let own = court.paddles.iter().find(|paddle| paddle.player == side);
    let paddle = own.or(court.paddles.first());
    let paddle = paddle.ok_or_else(|| Failure::plain("this court has no paddle".to_owned()))?;
    let wanted = match &args.wanted {
        Some(text) => wanted(&Said::new("--wanted", text), timing.lines_per_field)?,
        None => f64::from(paddle.top)..f64::from(paddle.bottom),
    };
    Ok(Question { controllers, side, timing, wanted, paddle_lines: paddle.height })
}

/// `40..280`.
fn wanted(said: &Said, lines: u32) -> Result<Range<f64>, Failure> {
    let ends = said.text().split_once("..");
    let read = ends.and_then(|(first, last)| Some((first.parse().ok()?, last.parse().ok()?)));
    match read.filter(|(first, last): &(u32, u32)| first < last && *last < lines) {
        Some((first, last)) => Ok(f64::from(first)..f64::from(last)),
        None => {
            let message = format!("`{}` is no range of lines", said.text());
            Err(said.wrong(message, &format!("expected lines of 0 to {}, as `40..232`", lines - 1)))
        }
    }
}

fn draw(map: &KnobMap, title: &str, name: &str, folder: PathBuf) -> Result<String, Failure> {
    let mut bytes = Vec::new();
    knob_view::write(map, title, &mut bytes).map_err(|error| Failure::world(name, &error))?;
    let mut files = OutputFolder::new(&folder)?;
    files.write(name, &bytes)?;
    Ok(files.finish()?.iter().map(|path| format!("\n{}\n", path.display())).collect())
}
