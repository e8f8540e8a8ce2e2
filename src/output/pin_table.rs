//! A measured pin for the terminal.

use crate::analysis::cause::ohms;
use crate::analysis::pin::Better;
use crate::analysis::pin::Figure;
use crate::analysis::pin::Measurement;
use crate::analysis::pin::Model;
use crate::analysis::pin::PinModel;
use crate::analysis::pin::StateModel;
use crate::analysis::pin::reading::Inputs;
use crate::analysis::pin::reading::Load;
use crate::analysis::pin::reading::State;
use crate::network::circuit::PinStage;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::part_words::volts;
use std::fmt::Write;

/// How many standard deviations are written behind ±: about 95 % (JCGM 100:2008, 6.2 and G.6).
pub(crate) const COVERAGE: f64 = 2.0;

/// Models with their uncertainties, what speaks for which, and where the planned load holds the pin.
#[must_use]
pub fn pin_table(measurement: &Measurement, model: &PinModel) -> String {
    let mut text = String::new();
    let states =
        [(State::High, &measurement.high, &model.high), (State::Low, &measurement.low, &model.low)];
    for (state, inputs, model) in states {
        if let (Some(inputs), Some(model)) = (inputs, model) {
            text += &state_text(state, inputs, model, measurement.planned);
        }
    }
    text += &doubts(measurement);
    text
}

fn state_text(state: State, inputs: &Inputs, model: &StateModel, planned: Option<Load>) -> String {
    let mut text = format!("{}\n", state.word());
    for reading in &inputs.readings {
        let load = reading.load.map_or("open".to_owned(), load_words);
        let _ = writeln!(text, "  read   {:>8} V  {load}", number(reading.volts, 3));
    }
    let _ = writeln!(text, "  linear {}", model_words(&model.linear));
    if let Some(square) = &model.square {
        let _ = writeln!(text, "  square {}", model_words(square));
    }
    let _ = writeln!(text, "  {}", better_words(model));
    let broad = model.linear.figures[1];
    if COVERAGE * broad.deviation > 0.5 * broad.value {
        text += "  ▲ look: the readings hardly differ: a smaller resistor tells more.\n";
    }
    if let (Some(load), Some(crossing)) = (planned, model.chosen().crossing) {
        let _ = writeln!(
            text,
            "  with the planned load, {}: {}, {}",
            load_words(load),
            with_doubt(crossing[0], 1.0, 3, "V"),
            current_words(crossing[1])
        );
    }
    text + "\n"
}

/// "0.70 ± 0.01 mA out of the pin".
pub(crate) fn current_words(amps: Figure) -> String {
    let way = if amps.value < 0.0 { "into the pin" } else { "out of the pin" };
    let size = Figure { value: amps.value.abs(), ..amps };
    format!("{} {way}", with_doubt(size, 1e3, 3, "mA"))
}

/// "4.7 kΩ to ground".
pub(crate) fn load_words(load: Load) -> String {
    let end = if load.rail_v == 0.0 { "ground".to_owned() } else { volts(load.rail_v) };
    format!("{} to {end}", ohms(load.ohms))
}

/// "5.40 ± 0.04 V behind 3.00 ± 0.08 kΩ".
pub(crate) fn model_words(model: &Model) -> String {
    let [first, second] = model.figures;
    match model.stage {
        PinStage::Linear { .. } => {
            let (factor, unit) = if second.value >= 1e3 { (1e-3, "kΩ") } else { (1.0, "Ω") };
            let decimals = if factor < 1.0 { 3 } else { 0 };
            format!(
                "{} behind {}",
                with_doubt(first, 1.0, 3, "V"),
                with_doubt(second, factor, decimals, unit)
            )
        }
        _ => format!(
            "k {}, threshold {}{}",
            with_doubt(second, 1e3, 3, "mA/V²"),
            with_doubt(first, 1.0, 2, "V"),
            if model.assumed { " (taken for typical)" } else { "" }
        ),
    }
}

fn with_doubt(figure: Figure, factor: f64, decimals: usize, unit: &str) -> String {
    let (value, doubt) = (factor * figure.value, factor * COVERAGE * figure.deviation);
    if doubt <= 0.0 {
        return format!("{} {unit}", number(value, decimals));
    }
    format!("{} ± {} {unit}", number(value, decimals), number(doubt, decimals))
}

/// Which model, and how far off each is.
pub(crate) fn better_words(model: &StateModel) -> String {
    let off = |model: &Model| format!("{} mV", trimmed(1e3 * model.worst_v, 1));
    let square = model.square.as_ref();
    match (model.better, square) {
        (Better::Untold, _) => {
            "Two readings fit either model: a third, into another resistor, tells which.".to_owned()
        }
        (Better::Square, Some(square)) => format!(
            "The square law fits better: off by {} at most, linear by {}.",
            off(square),
            off(&model.linear)
        ),
        (Better::Alike, Some(square)) => format!(
            "Both fit as well as the meter can tell: linear off by {} at most, square law by {}.",
            off(&model.linear),
            off(square)
        ),
        (_, Some(square)) => format!(
            "Linear fits better: off by {} at most, the square law by {}.",
            off(&model.linear),
            off(square)
        ),
        (_, None) => {
            format!("No square law gives these; linear is off by {} at most.", off(&model.linear))
        }
    }
}

fn doubts(measurement: &Measurement) -> String {
    let doubts = &measurement.doubts;
    let percent = |share: f64| trimmed(1e2 * share, 2);
    format!(
        "±: two standard deviations, first order (JCGM 100:2008, 5.1.2): meter {} % and {}, drawing \
         through {}; resistors {} %;\nlimits taken as even spreads (4.3.7), independent of one \
         another. R = Rload (Vopen − V) / (V − Vrail), to ground\nRload (Vopen / V − 1); square law \
         k/2 (Vsupply − threshold − v)² high, k ((Vsupply − threshold) v − v²/2) low.\n",
        percent(doubts.share),
        volts(doubts.figure_v),
        ohms(doubts.meter_ohms),
        percent(doubts.tolerance)
    )
}
