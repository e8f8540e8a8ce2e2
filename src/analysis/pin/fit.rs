//! Two figures of a pin from two readings or more, by weighted least squares.

use crate::analysis::pin::reading::Inputs;
use crate::analysis::pin::reading::Load;
use crate::analysis::pin::reading::Reading;
use crate::base::math;
use crate::network::circuit::PinStage;
use crate::network::stage::Stage;

/// Which model, and of which state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Volts behind a resistance, high.
    LinearHigh,
    /// Volts behind a resistance, low.
    LinearLow,
    /// Square law, high: k/2 (supply − threshold − v)².
    PullUp,
    /// Square law, low: k ((supply − threshold) v − v²/2).
    PullDown,
    /// The same with a typical threshold, for readings that tell only one of the two figures.
    TypicalPullDown,
}

/// Threshold of a pull-down whose readings do not tell it, V; common practice, no
/// source.
const TYPICAL_THRESHOLD_V: f64 = 1.0;
/// Resistances and k outside these are no pin's.
const FACTORS: std::ops::Range<f64> = 1e-12..1e12;

impl Kind {
    /// The stage of two parameters, the second as its logarithm: it stays above 0.
    fn stage(self, [first, second]: [f64; 2]) -> PinStage {
        let factor = math::exp(second);
        match self {
            Self::LinearHigh | Self::LinearLow => {
                PinStage::Linear { offset: first, share: 0.0, ohms: factor }
            }
            Self::PullUp => PinStage::PullUp { k: factor, threshold: first },
            Self::PullDown | Self::TypicalPullDown => {
                PinStage::PullDown { k: factor, threshold: first }
            }
        }
    }

    /// The two figures of a stage: volts and ohms, or threshold and k.
    #[must_use]
    pub fn figures(self, stage: &PinStage) -> [f64; 2] {
        match *stage {
            PinStage::Linear { offset, ohms, .. } => [offset, ohms],
            PinStage::PullUp { k, threshold } | PinStage::PullDown { k, threshold } => {
                [threshold, k]
            }
            PinStage::Off { ohms } => [0.0, ohms],
        }
    }

    /// Where the search begins: the two-resistor recipe, R = Rload (Vopen − V) / (V − Vrail), which
    /// to ground is Rload (Vopen / V − 1).
    fn first_guess(self, inputs: &Inputs) -> Option<[f64; 2]> {
        let open_v = inputs.open_v();
        let last = inputs.readings.last()?;
        let load = last.load?;
        let amps = (last.volts - load.rail_v) / load.ohms;
        let (first, factor) = match self {
            Self::LinearHigh | Self::LinearLow => (open_v, (open_v - last.volts) / amps),
            Self::PullUp => {
                let over_v = open_v - last.volts;
                (inputs.supply_v - open_v, 2.0 * amps / (over_v * over_v))
            }
            Self::PullDown | Self::TypicalPullDown => {
                let over_v = inputs.supply_v - TYPICAL_THRESHOLD_V;
                let drop = last.volts.min(over_v);
                (TYPICAL_THRESHOLD_V, -amps / (over_v * drop - 0.5 * drop * drop))
            }
        };
        (factor > 0.0 && factor.is_finite()).then(|| [first, math::ln(factor)])
    }
}

/// Volts of the pin with a load and a meter on it.
#[must_use]
pub fn node_volts(stage: &PinStage, load: Option<Load>, supply_v: f64, meter_ohms: f64) -> f64 {
    let stage = Stage::Pin(*stage);
    let surplus = |volts: f64| {
        let load = load.map_or(0.0, |load| (volts - load.rail_v) / load.ohms);
        stage.load(volts, supply_v).amps
            + stage.leakage_siemens() * volts
            + volts / meter_ohms
            + load
    };
    // The current out of the node rises with its volts.
    let (mut low, mut high) = (-100.0, 100.0 + supply_v);
    for _ in 0..120 {
        let middle = 0.5 * (low + high);
        if surplus(middle) < 0.0 { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// What the model gives less what was read, in deviations.
fn residuals(
    kind: Kind,
    at: [f64; 2],
    (inputs, weights): (&Inputs, &[f64]),
    meter_ohms: f64,
) -> Vec<f64> {
    let stage = kind.stage(at);
    let one = |(reading, weight): (&Reading, &f64)| {
        let volts = node_volts(&stage, reading.load, inputs.supply_v, meter_ohms);
        (volts - reading.volts) / weight
    };
    inputs.readings.iter().zip(weights).map(one).collect()
}

fn sum_of_squares(residuals: &[f64]) -> f64 {
    residuals.iter().map(|one| one * one).sum()
}

/// The model that comes nearest to the readings, each counted in its deviation; `None` if the search
/// does not end, or ends at what is no pin.
///
/// # Source
///
/// Gauss and Newton's method for least squares, with steps halved until the sum falls.
#[must_use]
pub fn fit(kind: Kind, inputs: &Inputs, weights: &[f64], meter_ohms: f64) -> Option<PinStage> {
    const ROUNDS: usize = 100;
    const SMALL: f64 = 1e-11;
    let told = (inputs, weights);
    let mut at = kind.first_guess(inputs)?;
    let mut off = residuals(kind, at, told, meter_ohms);
    for _ in 0..ROUNDS {
        let mut step = newton_step(kind, at, &off, told, meter_ohms)?;
        let mut taken = None;
        for _ in 0..40 {
            let next = [at[0] + step[0], at[1] + step[1]];
            let next_off = residuals(kind, next, told, meter_ohms);
            if sum_of_squares(&next_off) <= sum_of_squares(&off) {
                taken = Some((next, next_off));
                break;
            }
            step = step.map(|one| 0.5 * one);
        }
        let Some((next, next_off)) = taken else { break };
        (at, off) = (next, next_off);
        if step[0].abs() < SMALL && step[1].abs() < SMALL {
            break;
        }
    }
    // Neither is a threshold one that is beyond the supply.
    let is_told = at[0].abs() <= inputs.supply_v + inputs.open_v().abs();
    (FACTORS.contains(&math::exp(at[1])) && is_told).then(|| kind.stage(at))
}

/// Solves the normal equations; with one figure given, for the other alone.
fn newton_step(
    kind: Kind,
    at: [f64; 2],
    off: &[f64],
    told: (&Inputs, &[f64]),
    meter_ohms: f64,
) -> Option<[f64; 2]> {
    const STEP: f64 = 1e-5;
    let slopes = [0, 1].map(|one: usize| {
        let moved = |by: f64| {
            let mut moved = at;
            moved[one] += by;
            residuals(kind, moved, told, meter_ohms)
        };
        let (below, above) = (moved(-STEP), moved(STEP));
        above.iter().zip(&below).map(|(a, b)| (a - b) / (2.0 * STEP)).collect::<Vec<f64>>()
    });
    let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let [first, second] = [&slopes[0], &slopes[1]];
    let right = [-product(first, off), -product(second, off)];
    if kind == Kind::TypicalPullDown {
        return Some([0.0, right[1] / product(second, second)]);
    }
    let (a, b, d) = (product(first, first), product(first, second), product(second, second));
    let determinant = a * d - b * b;
    // Readings that do not tell the two figures apart determine neither.
    if determinant <= 1e-12 * a * d {
        return None;
    }
    Some([(d * right[0] - b * right[1]) / determinant, (a * right[1] - b * right[0]) / determinant])
}
