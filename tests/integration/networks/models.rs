//! Parameters of random parts: what drawers hold, and a good deal beyond.

use crate::networks::chance::Chance;
use backporch::network::bipolar::Polarity;
use backporch::network::bipolar::TransistorModel;
use backporch::network::circuit::PinStage;
use backporch::network::circuit::Threshold;
use backporch::network::device::Breakdown;
use backporch::network::device::DiodeModel;
use backporch::network::device::OutputCurve;
use backporch::network::field_effect::Channel;
use backporch::network::field_effect::FieldEffectModel;
use backporch::network::field_effect::FieldGate;

/// Silicon, germanium, Schottky, one that hardly leaks, zener.
pub(crate) fn diode(chance: &mut Chance) -> DiodeModel {
    let (amps, emission) =
        chance.pick(&[(2.5e-9, 1.8), (2e-6, 1.3), (1e-7, 1.05), (1e-14, 1.0), (1e-12, 1.6)]);
    let breakdown = chance.percent(35).then(|| Breakdown {
        volts: chance.decades(2.4, 75.0),
        amps: 5e-3,
        slope_volts: 5e-3 * chance.decades(2.0, 100.0),
    });
    let series_ohms = if chance.percent(35) { chance.decades(1e-2, 100.0) } else { 0.0 };
    let model = DiodeModel { series_ohms, breakdown, ..DiodeModel::ideal(amps, emission) };
    if chance.percent(10) { model.at_temperature(chance.between(253.0, 343.0)) } else { model }
}

/// A diode as gates have them at their inputs: without resistance or breakdown.
pub(crate) fn clamp(chance: &mut Chance) -> DiodeModel {
    DiodeModel { series_ohms: 0.0, breakdown: None, ..diode(chance) }
}

pub(crate) fn transistor(chance: &mut Chance, polarity: Polarity) -> TransistorModel {
    let gains = [chance.decades(20.0, 800.0), chance.decades(0.5, 20.0)];
    let mut model = TransistorModel::ideal(polarity, chance.decades(1e-16, 1e-12), gains);
    if chance.percent(50) {
        model.early_volts = chance.decades(15.0, 200.0);
    }
    if chance.percent(30) {
        model.knee_amps = chance.decades(0.01, 1.0);
    }
    if chance.percent(30) {
        model.base_leakage = chance.decades(1e-15, 1e-11);
    }
    for ohms in [&mut model.base_ohms, &mut model.collector_ohms, &mut model.emitter_ohms] {
        if chance.percent(25) {
            *ohms = chance.decades(0.05, 300.0);
        }
    }
    if chance.percent(10) { model.at_temperature(chance.between(253.0, 343.0)) } else { model }
}

pub(crate) fn field_effect(chance: &mut Chance) -> FieldEffectModel {
    let gate = if chance.percent(50) {
        FieldGate::Junction(clamp(chance))
    } else {
        FieldGate::Insulated { source_farads: 1e-11, drain_farads: 1e-12, body: clamp(chance) }
    };
    FieldEffectModel {
        channel: if chance.percent(50) { Channel::N } else { Channel::P },
        k: chance.decades(1e-4, 1.0),
        threshold: chance.between(-4.0, 4.0),
        off_ohms: chance.decades(1e7, 1e12),
        gate,
    }
}

pub(crate) fn output_curve(chance: &mut Chance) -> OutputCurve {
    if chance.percent(60) {
        return OutputCurve::Resistance(chance.decades(5.0, 5e3));
    }
    let weak = chance.decades(1e-4, 1e-2);
    let k = vec![(3.0, weak), (5.0, 2.0 * weak), (15.0, 2.5 * weak)];
    OutputCurve::Saturating { threshold: chance.between(0.6, 1.8), k }
}

pub(crate) fn threshold(chance: &mut Chance) -> Threshold {
    if chance.percent(70) {
        Threshold::Share { low: 0.3, typical: chance.between(0.3, 0.7), high: 0.7 }
    } else {
        Threshold::Fixed { low: 0.8, typical: chance.between(0.8, 2.0), high: 2.0 }
    }
}

pub(crate) fn pin_stage(chance: &mut Chance) -> PinStage {
    let k = chance.decades(1e-5, 1e-2);
    let threshold = chance.between(0.5, 2.5);
    match chance.below(5) {
        0 => {
            let (offset, ohms) = (chance.between(0.0, 6.0), chance.decades(10.0, 1e5));
            PinStage::Linear { offset, share: 0.0, ohms }
        }
        1 => {
            let (offset, share) = (chance.between(-1.5, 0.0), chance.between(0.5, 1.0));
            PinStage::Linear { offset, share, ohms: chance.decades(10.0, 1e5) }
        }
        2 => PinStage::PullUp { k, threshold },
        3 => PinStage::PullDown { k, threshold },
        _ => PinStage::Off { ohms: chance.decades(1e6, 1e12) },
    }
}
