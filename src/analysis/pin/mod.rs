//! From readings of one chip output, open and loaded, to a model of the pin, with its uncertainty.

pub mod fit;
pub mod reading;

use crate::analysis::pin::fit::Kind;
use crate::analysis::pin::fit::node_volts;
use crate::analysis::pin::reading::Doubts;
use crate::analysis::pin::reading::Inputs;
use crate::analysis::pin::reading::Load;
use crate::analysis::pin::reading::PinError;
use crate::analysis::pin::reading::State;
use crate::network::circuit::PinStage;

/// What was read, and what is to be hung on the pin.
#[derive(Clone, Debug, PartialEq)]
pub struct Measurement {
    /// Readings of the high pin, if there are any.
    pub high: Option<Inputs>,
    /// Readings of the low pin, if there are any.
    pub low: Option<Inputs>,
    /// How far meter and resistors may be off.
    pub doubts: Doubts,
    /// What is to be driven.
    pub planned: Option<Load>,
}

/// A value and its standard uncertainty, both in the value's unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// The value.
    pub value: f64,
    /// One standard deviation.
    pub deviation: f64,
}

/// The pin, as measured.
#[derive(Clone, Debug, PartialEq)]
pub struct PinModel {
    /// High.
    pub high: Option<StateModel>,
    /// Low.
    pub low: Option<StateModel>,
}

/// One state of the pin.
#[derive(Clone, Debug, PartialEq)]
pub struct StateModel {
    /// Volts behind a resistance.
    pub linear: Model,
    /// The square law, if it can give these readings.
    pub square: Option<Model>,
    /// Which of them the readings speak for.
    pub better: Better,
}

impl StateModel {
    /// The model to go on with: the square law only if the readings speak for it.
    #[must_use]
    pub fn chosen(&self) -> &Model {
        match (&self.square, self.better) {
            (Some(square), Better::Square) => square,
            _ => &self.linear,
        }
    }
}

/// Which model fits better.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Better {
    /// Volts behind a resistance.
    Linear,
    /// The square law.
    Square,
    /// Both pass through the readings as well as the meter can tell.
    Alike,
    /// Two readings fit either: a third one would tell.
    Untold,
}

/// A model fitted to the readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Model {
    /// The same as the circuit takes it; of volts that follow the supply it is not told.
    pub stage: PinStage,
    /// Linear: open volts, V, and resistance, Ω. Square law: threshold, V, and k, A/V².
    pub figures: [Figure; 2],
    /// The threshold was not measured but taken for typical.
    pub assumed: bool,
    /// Largest disagreement with a reading, V.
    pub worst_v: f64,
    /// Sum over the readings of the squares of the disagreements in deviations.
    pub chi_square: f64,
    /// Where the planned load holds it: V, and A out of the pin.
    pub crossing: Option<[Figure; 2]>,
}

/// How much a sum of squares must fall for the lower one to be the better model: two deviations of
/// one reading; common practice.
const TOLD: f64 = 4.0;

/// A threshold of which no more is known than this, V, is better taken for typical.
const VAGUE_V: f64 = 1.0;

/// Finds the models that give the readings.
///
/// # Errors
///
/// [`PinError`] if no resistance gives them.
pub fn measure(measurement: &Measurement) -> Result<PinModel, PinError> {
    let state = |inputs: &Option<Inputs>, state| match inputs {
        Some(inputs) => state_model(measurement, inputs, state).map(Some),
        None => Ok(None),
    };
    let high = state(&measurement.high, State::High)?;
    let low = state(&measurement.low, State::Low)?;
    Ok(PinModel { high, low })
}

fn state_model(
    measurement: &Measurement,
    inputs: &Inputs,
    state: State,
) -> Result<StateModel, PinError> {
    inputs.check(state, &measurement.doubts)?;
    let (linear, square) = match state {
        State::High => (Kind::LinearHigh, Kind::PullUp),
        State::Low => (Kind::LinearLow, Kind::PullDown),
    };
    let linear = model(measurement, inputs, linear).ok_or(PinError::NoFit { state })?;
    let few = inputs.readings.len() < 3;
    let square = match square {
        Kind::PullDown if few => model(measurement, inputs, Kind::TypicalPullDown),
        Kind::PullDown => model(measurement, inputs, Kind::PullDown)
            .filter(|model| model.figures[0].deviation < VAGUE_V)
            .or_else(|| model(measurement, inputs, Kind::TypicalPullDown)),
        other => model(measurement, inputs, other),
    };
    let better = match &square {
        _ if few => Better::Untold,
        None => Better::Linear,
        Some(square) if square.chi_square < linear.chi_square - TOLD => Better::Square,
        Some(square) if square.chi_square > linear.chi_square + TOLD => Better::Linear,
        Some(_) => Better::Alike,
    };
    Ok(StateModel { linear, square, better })
}

/// A model with its uncertainties.
///
/// # Source
///
/// Law of propagation of uncertainty, JCGM 100:2008 (GUM), 5.1.2, equation 10: the squares of first
/// derivatives times deviations are added up, over every reading, resistor and supply, taken to be
/// independent. Here the derivatives are central differences of the whole fit.
fn model(measurement: &Measurement, inputs: &Inputs, kind: Kind) -> Option<Model> {
    let doubts = &measurement.doubts;
    let weights = inputs.deviations_of_readings(doubts);
    let outcome = |inputs: &Inputs| -> Option<[f64; 4]> {
        let stage = fit::fit(kind, inputs, &weights, doubts.meter_ohms)?;
        let [first, second] = kind.figures(&stage);
        let [volts, amps] = match measurement.planned {
            Some(load) => {
                let volts = node_volts(&stage, Some(load), inputs.supply_v, f64::INFINITY);
                [volts, (volts - load.rail_v) / load.ohms]
            }
            None => [0.0; 2],
        };
        Some([first, second, volts, amps])
    };
    let values = outcome(inputs)?;
    let mut variances = [0.0; 4];
    for (index, deviation) in inputs.deviations(doubts).into_iter().enumerate() {
        if deviation <= 0.0 {
            continue;
        }
        let step = 0.01 * deviation;
        let (below, above) = (inputs.moved(index, -step), inputs.moved(index, step));
        let (below, above) = (outcome(&below)?, outcome(&above)?);
        for ((variance, below), above) in variances.iter_mut().zip(below).zip(above) {
            let part = (above - below) / (2.0 * step) * deviation;
            *variance += part * part;
        }
    }
    let figure = |one: usize| Figure { value: values[one], deviation: variances[one].sqrt() };
    let stage = fit::fit(kind, inputs, &weights, doubts.meter_ohms)?;
    let (mut worst_v, mut chi_square) = (0.0_f64, 0.0);
    for (reading, weight) in inputs.readings.iter().zip(&weights) {
        let off = node_volts(&stage, reading.load, inputs.supply_v, doubts.meter_ohms);
        let off = off - reading.volts;
        worst_v = worst_v.max(off.abs());
        chi_square += (off / weight) * (off / weight);
    }
    Some(Model {
        stage,
        figures: [figure(0), figure(1)],
        assumed: kind == Kind::TypicalPullDown,
        worst_v,
        chi_square,
        crossing: measurement.planned.map(|_| [figure(2), figure(3)]),
    })
}
