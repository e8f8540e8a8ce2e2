//! `pin`: from readings of one chip output to a model of the pin.

use crate::cli;
use crate::cli::controller_args::PinArgs;
use crate::cli::failure::Failure;
use crate::cli::files::OutputFolder;
use crate::cli::said::Said;
use backporch::analysis::pin::Measurement;
use backporch::analysis::pin::PinModel;
use backporch::analysis::pin::measure;
use backporch::analysis::pin::reading::Doubts;
use backporch::analysis::pin::reading::Inputs;
use backporch::analysis::pin::reading::Load;
use backporch::analysis::pin::reading::PinError;
use backporch::analysis::pin::reading::Reading;
use backporch::analysis::pin::reading::State;
use backporch::document::quantity::POSITIVE_VOLTAGE;
use backporch::document::quantity::RESISTANCE;
use backporch::document::quantity::SHARE;
use backporch::document::quantity::VOLTAGE;
use backporch::output::pin_json::write_pin;
use backporch::output::pin_table::pin_table;
use backporch::output::pin_toml::Place;
use backporch::output::pin_toml::pin_toml;
use backporch::output::pin_view;
use std::path::PathBuf;

const LOADED: &str = "a resistor to ground and volts, as in `10k=4.15`";
const PULLED: &str = "a resistor, its rail and volts, as in `2k2@5V=1.33`";

/// Answers `pin`.
pub(crate) fn run(args: &PinArgs) -> Result<(), Failure> {
    let (measurement, said) = measurement(args)?;
    let model = measure(&measurement).map_err(|error| explained(error, &said))?;
    let supply_v = Said::new("--supply", &args.supply).value(&POSITIVE_VOLTAGE)?;
    let nominal_v = Said::new("--nominal", &args.nominal).value(&POSITIVE_VOLTAGE)?;
    check_name(&args.pin)?;
    let toml = pin_toml(&model, &Place { pin: &args.pin, supply_v, nominal_v });
    let mut pictures = String::new();
    if !args.no_pictures {
        pictures = draw(args, &measurement, &model)?;
    }
    if args.json {
        let mut json = Vec::new();
        write_pin(&model, &toml, &mut json)
            .map_err(|error| Failure::world("standard output", &error))?;
        return cli::print(&String::from_utf8_lossy(&json));
    }
    let table = pin_table(&measurement, &model);
    cli::print(&format!(
        "Pin {}, chip supply {supply_v} V\n\n{table}\nFor the scenario:\n\n{toml}\n{pictures}",
        args.pin
    ))
}

/// What was said of each state, so that what is wrong with a reading is shown where it stands.
#[derive(Debug, Default)]
struct States {
    high: Vec<Said>,
    low: Vec<Said>,
}

fn measurement(args: &PinArgs) -> Result<(Measurement, States), Failure> {
    let share = |option: &str, text: &str| Said::new(option, text).value(&SHARE);
    let doubts = Doubts {
        share: share("--meter", &args.meter)?,
        figure_v: Said::new("--figure", &args.figure).value(&POSITIVE_VOLTAGE.or_zero())?,
        tolerance: share("--tolerance", &args.tolerance)?,
        meter_ohms: Said::new("--meter-input", &args.meter_input)
            .value(&RESISTANCE.within(1e4, 1e15))?,
    };
    let supply_v = Said::new("--supply", &args.supply).value(&POSITIVE_VOLTAGE)?;
    let mut said = States::default();
    let high =
        readings(("--open", args.open.as_ref()), ("--loaded", &args.loaded), &mut said.high)?;
    let low = readings(
        ("--low-open", args.low_open.as_ref()),
        ("--pulled", &args.pulled),
        &mut said.low,
    )?;
    let inputs =
        |readings: Vec<Reading>| (!readings.is_empty()).then_some(Inputs { supply_v, readings });
    let (high, low) = (inputs(high), inputs(low));
    if high.is_none() && low.is_none() {
        return Err(Failure::plain(
            "nothing was read: say `--open 5.4 --loaded 10k=4.15` of the high pin, or \
             `--low-open 0 --pulled 2k2@5V=1.33` of the low one"
                .to_owned(),
        ));
    }
    let planned = args.plan.as_ref().map(|text| planned(text)).transpose()?;
    Ok((Measurement { high, low, doubts, planned }, said))
}

/// The open reading, then the loaded ones.
fn readings(
    (open_option, open): (&str, Option<&String>),
    (option, loaded): (&str, &[String]),
    said: &mut Vec<Said>,
) -> Result<Vec<Reading>, Failure> {
    let Some(open) = open else {
        let Some(first) = loaded.first() else { return Ok(Vec::new()) };
        let message = format!("`{first}` was read with a load, but nothing open");
        return Err(
            Said::new(option, first).wrong(message, &format!("expected `{open_option}` too"))
        );
    };
    let open = Said::new(open_option, open);
    let mut all = vec![Reading { volts: open.value(&VOLTAGE)?, load: None }];
    said.push(open);
    for text in loaded {
        let one = Said::new(option, text);
        all.push(loaded_reading(&one, option == "--pulled")?);
        said.push(one);
    }
    Ok(all)
}

/// `10k=4.15`, or `2k2@5V=1.33`.
fn loaded_reading(said: &Said, is_pulled: bool) -> Result<Reading, Failure> {
    let equals = said.sign('=', if is_pulled { PULLED } else { LOADED })?;
    let volts = said.value_at(equals + 1..said.text().len(), &VOLTAGE)?;
    let (end, rail_v) = match said.text().find('@').filter(|at| *at < equals) {
        Some(at) => (at, said.value_at(at + 1..equals, &VOLTAGE)?),
        None if is_pulled => {
            let message = format!("`{}` names no rail", said.text());
            return Err(said.wrong(message, &format!("expected {PULLED}")));
        }
        None => (equals, 0.0),
    };
    let ohms = said.value_at(0..end, &RESISTANCE)?;
    Ok(Reading { volts, load: Some(Load { ohms, rail_v }) })
}

/// `4k7` to ground, or `4k7@5V`.
fn planned(text: &str) -> Result<Load, Failure> {
    let said = Said::new("--plan", text);
    let (end, rail_v) = match text.find('@') {
        Some(at) => (at, said.value_at(at + 1..text.len(), &VOLTAGE)?),
        None => (text.len(), 0.0),
    };
    Ok(Load { ohms: said.value_at(0..end, &RESISTANCE)?, rail_v })
}

/// A name that a scenario can hold without quotes, and that a file can have.
fn check_name(pin: &str) -> Result<(), Failure> {
    let is_plain = |letter: char| letter.is_ascii_alphanumeric() || "_-".contains(letter);
    if !pin.is_empty() && pin.chars().all(is_plain) {
        return Ok(());
    }
    let message = format!("`{pin}` is no name of a pin");
    Err(Said::new("--pin", pin).wrong(message, "expected a name such as `left`"))
}

fn draw(args: &PinArgs, measurement: &Measurement, model: &PinModel) -> Result<String, Failure> {
    let folder = args.out.clone().unwrap_or_else(|| PathBuf::from("out").join("pin"));
    let name = format!("pin-{}.png", args.pin);
    let mut bytes = Vec::new();
    pin_view::write(measurement, model, &args.pin, &mut bytes)
        .map_err(|error| Failure::world(&name, &error))?;
    let mut files = OutputFolder::new(&folder)?;
    files.write(&name, &bytes)?;
    Ok(files.finish()?.iter().map(|path| format!("{}\n", path.display())).collect())
}

/// What is wrong with the readings, shown at the one that does not fit.
fn explained(error: PinError, said: &States) -> Failure {
    let message = error.to_string();
    let of = |state: State| match state {
        State::High => &said.high,
        State::Low => &said.low,
    };
    let (place, expected) = match error {
        PinError::OpenOnly { state: State::High } => {
            (said.high.first(), "expected a reading with a resistor too: `--loaded 10k=4.15`")
        }
        PinError::OpenOnly { state: State::Low } => {
            (said.low.first(), "expected a reading with a pull-up too: `--pulled 2k2@5V=1.33`")
        }
        PinError::WrongWay { state, reading, .. } => {
            (of(state).get(reading), "expected volts between the open pin's and the resistor's end")
        }
        PinError::AboveSupply { .. } => {
            (said.high.first(), "expected at most the supply: state the chip's with `--supply`")
        }
        PinError::NotLow { .. } => {
            (said.low.first(), "expected the pin to be low while it is read")
        }
        PinError::NoFit { state } => (of(state).last(), "expected readings that one pin can give"),
    };
    match place {
        Some(place) => place.wrong(message, expected),
        None => Failure::plain(message),
    }
}
