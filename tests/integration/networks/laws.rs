//! Laws of parts as their documentation states them, written down a second time.

use crate::plain::broken_line;
use backporch::base::math;
use backporch::network::bipolar::TransistorModel;
use backporch::network::circuit::Logic;
use backporch::network::circuit::Threshold;
use backporch::network::device::DiodeModel;
use backporch::network::device::OutputCurve;
use backporch::network::field_effect::FieldEffectModel;
use backporch::network::regulator::Regulator;

/// A current, and how much of it rests on how little.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Flow {
    pub(crate) amps: f64,
    /// How steeply it follows the voltages, S.
    pub(crate) siemens: f64,
    /// Sizes that cancelled in it, A.
    pub(crate) lost_amps: f64,
}

impl Flow {
    pub(crate) fn linear(volts: f64, siemens: f64) -> Self {
        Self { amps: volts * siemens, siemens, lost_amps: 0.0 }
    }

    fn times(self, factor: f64) -> Self {
        let Self { amps, siemens, lost_amps } = self;
        Self { amps: factor * amps, siemens: factor.abs() * siemens, lost_amps }
    }

    fn plus(self, other: Self) -> Self {
        Self {
            amps: self.amps + other.amps,
            siemens: self.siemens + other.siemens,
            lost_amps: self.lost_amps + other.lost_amps,
        }
    }
}

/// e^x − 1 and e^x; by their tangent from 100 on, which belongs to the models.
fn power(x: f64) -> (f64, f64) {
    let beyond = (x - 100.0).max(0.0);
    let slope = math::exp(x.min(100.0));
    (math::expm1(x.min(100.0)) + beyond * slope, slope)
}

fn shockley(saturation: f64, scale: f64, volts: f64) -> Flow {
    let (value, slope) = power(volts / scale);
    Flow { amps: saturation * value, siemens: saturation * slope / scale, lost_amps: 0.0 }
}

/// From anode to cathode.
pub(crate) fn diode(model: &DiodeModel, volts: f64) -> Flow {
    let scale = model.emission * model.thermal_volts;
    let forward = shockley(model.saturation_current, scale, volts);
    let Some(zener) = model.breakdown else { return forward };
    let (value, slope) = power((-volts - zener.volts) / zener.slope_volts);
    let at_rest = power(-zener.volts / zener.slope_volts).0;
    forward.plus(Flow {
        amps: -zener.amps * (value - at_rest),
        siemens: zener.amps * slope / zener.slope_volts,
        lost_amps: 0.0,
    })
}

/// An NPN's currents from base to emitter, from base to collector and from collector to emitter.
pub(crate) fn transistor(model: &TransistorModel, be: f64, bc: f64) -> [Flow; 3] {
    let forward = shockley(model.saturation_current, model.thermal_volts, be);
    let reverse = shockley(model.saturation_current, model.thermal_volts, bc);
    let leak_scale = model.leakage_emission * model.thermal_volts;
    let leak = shockley(model.base_leakage, leak_scale, be);
    let crowd = 0.5 + 0.5 * (1.0 + 4.0 * forward.amps / model.knee_amps).sqrt();
    let early = bc / model.early_volts;
    let share = (if early > 0.5 { 1.0 / (4.0 * early) } else { 1.0 - early }) / crowd;
    let across = forward.plus(reverse.times(-1.0)).times(share);
    let lost_amps = (forward.amps.abs() + reverse.amps.abs()) * share.abs();
    [
        forward.times(1.0 / model.forward_gain).plus(leak),
        reverse.times(1.0 / model.reverse_gain),
        Flow { lost_amps, ..across },
    ]
}

/// An N channel's current from drain to source.
pub(crate) fn channel(model: &FieldEffectModel, gate_source: f64, gate_drain: f64) -> Flow {
    let at_source = (gate_source - model.threshold).max(0.0);
    let at_drain = (gate_drain - model.threshold).max(0.0);
    let half = model.k / 2.0;
    Flow {
        amps: half * (at_source * at_source - at_drain * at_drain),
        siemens: model.k * (at_source + at_drain),
        lost_amps: half * (at_source * at_source + at_drain * at_drain),
    }
}

/// Square law of a channel, odd about 0, A.
pub(crate) fn pull_down(k: f64, drop: f64, drive: f64) -> Flow {
    let (size, drive) = (drop.abs(), drive.max(0.0));
    let within = size.min(drive);
    let amps = k * (within * drive - within * within / 2.0);
    Flow { amps: amps.copysign(drop), siemens: 2.0 * k * drive, lost_amps: k * drive * within }
}

pub(crate) fn pull_up(k: f64, drive: f64) -> Flow {
    let drive = drive.max(0.0);
    Flow { amps: k / 2.0 * drive * drive, siemens: k * drive, lost_amps: k * drive }
}

/// Of a linear pin with nothing on it, V: one that stops short of its supply has a corner at ground.
pub(crate) fn open_volts(offset: f64, share: f64, supply: f64) -> f64 {
    const CORNER_V: f64 = 0.025;
    let line = offset + share * supply;
    if share > 0.0 && offset < 0.0 { CORNER_V * soft(line / CORNER_V) } else { line }
}

/// Through a gate's output stage.
pub(crate) fn stage(curve: &OutputCurve, drop: f64, supply: f64) -> Flow {
    match curve {
        OutputCurve::Resistance(ohms) => Flow::linear(drop, 1.0 / ohms),
        OutputCurve::Saturating { threshold, k } => {
            pull_down(broken_line(k, supply), drop, supply - threshold)
        }
    }
}

/// What a chip takes at `volts`.
pub(crate) fn consumption(amps: f64, volts: f64) -> Flow {
    const AWAKE_V: f64 = 0.75;
    let x = volts / AWAKE_V;
    let taken = match x {
        ..=0.0 => 3.0 * x,
        0.0..1.0 => x * (3.0 - x * (3.0 - x)),
        _ => 1.0,
    };
    Flow { amps: amps * taken, siemens: 3.0 * amps / AWAKE_V, lost_amps: amps }
}

fn soft(x: f64) -> f64 {
    x.max(0.0) + math::log1p(math::exp(-x.abs()))
}

/// From a regulator's input to its output, at `u` and `w` over its common.
pub(crate) fn regulated(part: &Regulator, u: f64, w: f64) -> Flow {
    const CORNER_V: f64 = 0.02;
    const KNEE_A: f64 = 1e-3;
    let set = part.volts + part.line_ratio * (u - part.volts - 5.0);
    let most = u - part.dropout_volts;
    let x = (set - most) / CORNER_V;
    let aim = set - CORNER_V * soft(x);
    let dropping =
        if x > 0.0 { 1.0 / (1.0 + math::exp(-x)) } else { 1.0 - 1.0 / (1.0 + math::exp(x)) };
    let ohms = part.output_ohms + dropping * part.dropout_ohms;
    let knee = KNEE_A * part.output_ohms;
    let asked = knee * soft((aim - w) / knee) / ohms;
    let over = asked / part.limit_amps;
    let bend = (1.0 + over * over * over * over).sqrt().sqrt();
    Flow { amps: asked / bend, siemens: 1.0 / ohms, lost_amps: 1e2 * asked / bend }
}

/// From a regulator's input to its common.
pub(crate) fn quiescent(part: &Regulator, volts: f64) -> Flow {
    let amps = (part.quiescent_amps - part.volts / 10e3).max(0.0);
    Flow { amps: amps * volts / (1.0 + volts * volts).sqrt(), siemens: amps, lost_amps: 0.0 }
}

pub(crate) fn output(logic: Logic, high: &[bool]) -> bool {
    let count = high.iter().filter(|&&high| high).count();
    match logic {
        Logic::Or | Logic::Buffer => count > 0,
        Logic::Nor | Logic::Not => count == 0,
        Logic::And => count == high.len(),
        Logic::Nand => count < high.len(),
        Logic::Xor => count % 2 == 1,
    }
}

/// A switching level is no lower, V; part of the model.
const DEAD_V: f64 = 0.05;

/// The inputs of a gate or of a switch's control.
#[derive(Debug)]
pub(crate) struct Watch {
    /// V.
    pub(crate) inputs: Vec<f64>,
    pub(crate) threshold: Threshold,
    /// V.
    pub(crate) supply: f64,
    /// An input this close to its switching level, relative to 1 V and the level, is either.
    pub(crate) doubt: f64,
}

impl Watch {
    /// Whether some reading of the inputs is as wished.
    pub(crate) fn allows(&self, wish: impl Fn(&[bool]) -> bool) -> bool {
        let level = match self.threshold {
            Threshold::Share { typical, .. } => (typical * self.supply).max(DEAD_V),
            Threshold::Fixed { typical, .. } => typical.max(DEAD_V),
        };
        let doubt = self.doubt * (1.0 + level.abs());
        (0..1_u32 << self.inputs.len()).any(|bits| {
            let read = |(at, volts): (usize, &f64)| {
                let over = volts - level;
                if over.abs() < doubt { bits >> at & 1 == 1 } else { over >= 0.0 }
            };
            wish(&self.inputs.iter().enumerate().map(read).collect::<Vec<bool>>())
        })
    }
}
