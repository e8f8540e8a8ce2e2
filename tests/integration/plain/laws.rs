//! Textbook laws of junctions, channels and limits, with the charge and the energy they keep.

use backporch::base::math;
use backporch::network::circuit::PinStage;
use backporch::network::device::Junction;
use backporch::network::device::OutputCurve;
use backporch::network::regulator::Regulator;

/// Current and conductance of a junction.
pub(crate) fn shockley(saturation: f64, scale: f64, volts: f64) -> (f64, f64) {
    let power = math::exp(volts / scale);
    (saturation * math::expm1(volts / scale), saturation * power / scale)
}

/// What lies between two ends: slope, charge and stored energy, F, C and J.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Charge {
    pub(crate) farads: f64,
    pub(crate) coulombs: f64,
    pub(crate) joules: f64,
}

impl Charge {
    /// Of a capacitor at `volts`.
    pub(crate) fn linear(farads: f64, volts: f64) -> Self {
        Self { farads, coulombs: farads * volts, joules: farads * volts * volts / 2.0 }
    }

    /// Carriers under way for `transit` in a junction's current: their energy is the integral of
    /// v dq, by parts v q less that of q dv.
    pub(crate) fn diffusion(transit: f64, saturation: f64, scale: f64, volts: f64) -> Self {
        let (amps, siemens) = shockley(saturation, scale, volts);
        let joules = transit * (volts * amps - scale * amps + saturation * volts);
        Self { farads: transit * siemens, coulombs: transit * amps, joules }
    }

    /// Of a graded junction's depletion layer, its capacitance from half the potential on going
    /// along its tangent.
    pub(crate) fn depletion(junction: &Junction, volts: f64) -> Self {
        if junction.farads <= 0.0 {
            return Self::default();
        }
        let Junction { farads, potential, grading } = *junction;
        let half = potential / 2.0;
        // With w = 1 − v/V0: q = C0 V0 (1 − w^(1−m)) / (1−m), and v dq = C0 V0² (1 − w) w^−m (−dw).
        let left = 1.0 - volts.min(half) / potential;
        let (once, twice) = (1.0 - grading, 2.0 - grading);
        let (short, long) = (math::pow(left, once), math::pow(left, twice));
        let mut kept = Self {
            farads: farads * short / left,
            coulombs: farads * potential * (1.0 - short) / once,
            joules: farads * potential * potential * ((1.0 - short) / once - (1.0 - long) / twice),
        };
        if volts > half {
            let past = volts - half;
            let rate = kept.farads * 2.0 * grading / potential;
            let (square, cube) = (past * past / 2.0, past * past * past / 3.0);
            kept.coulombs += kept.farads * past + rate * square;
            kept.joules += kept.farads * (half * past + square) + rate * (half * square + cube);
            kept.farads += rate * past;
        }
        kept
    }
}

/// Channel current for 1 A/V², odd about 0.
pub(crate) fn square_law(drop: f64, drive: f64) -> f64 {
    if drive <= 0.0 {
        0.0
    } else if drop < 0.0 {
        -square_law(-drop, drive)
    } else if drop < drive {
        drop * drive - drop * drop / 2.0
    } else {
        drive * drive / 2.0
    }
}

/// Current through a gate's output stage.
pub(crate) fn channel(curve: &OutputCurve, drop: f64, supply: f64) -> f64 {
    match curve {
        OutputCurve::Resistance(ohms) => drop / ohms,
        OutputCurve::Saturating { threshold, k } => {
            broken_line(k, supply) * square_law(drop, supply - threshold)
        }
    }
}

/// Whether a pin's stage is of transistors, which leak.
pub(crate) fn leaks(stage: &PinStage) -> bool {
    matches!(stage, PinStage::PullUp { .. } | PinStage::PullDown { .. })
}

/// The line through the points, held at its ends.
pub(crate) fn broken_line(points: &[(f64, f64)], x: f64) -> f64 {
    for pair in points.windows(2) {
        let [(x0, y0), (x1, y1)] = [pair[0], pair[1]];
        if (x0..x1).contains(&x) {
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0);
        }
    }
    let end = if x < points[0].0 { points[0] } else { points[points.len() - 1] };
    end.1
}

/// The greater of `value` and 0, rounded over `width`: ln(1 + exp(x)), without overflow.
pub(crate) fn above_zero(value: f64, width: f64) -> f64 {
    value.max(0.0) + width * math::log1p(math::exp(-value.abs() / width))
}

/// Volts of a linear pin with nothing on it: a pull-up that stops short of its supply has a soft
/// corner where it would go below ground.
pub(crate) fn open_volts(offset: f64, of_supply: f64, supply: f64) -> f64 {
    let line = offset + of_supply * supply;
    if offset < 0.0 && of_supply > 0.0 { above_zero(line, 0.025) } else { line }
}

/// Current from a regulator's input to its output, both over its common.
pub(crate) fn regulated(part: &Regulator, input: f64, output: f64) -> f64 {
    const WIDTH_V: f64 = 0.02;
    let set = part.volts + part.line_ratio * (input - part.volts - 5.0);
    let starved = set - (input - part.dropout_volts);
    let aim = set - above_zero(starved, WIDTH_V);
    let dropping = 1.0 / (1.0 + math::exp(-starved / WIDTH_V));
    let ohms = part.output_ohms + dropping * part.dropout_ohms;
    let asked = above_zero(aim - output, 1e-3 * part.output_ohms) / ohms;
    asked / math::pow(1.0 + math::pow(asked / part.limit_amps, 4.0), 0.25)
}
