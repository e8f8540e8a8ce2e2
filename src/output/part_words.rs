//! Parts and pins in the words of a parts list.

use crate::analysis::cause::farads;
use crate::analysis::cause::ohms;
use crate::network::bipolar::Polarity;
use crate::network::circuit::Circuit;
use crate::network::circuit::Gate;
use crate::network::circuit::Logic;
use crate::network::circuit::PartKind;
use crate::network::circuit::PinStage;
use crate::network::circuit::Threshold;
use crate::network::device::DiodeModel;
use crate::network::field_effect::Channel;
use crate::network::field_effect::FieldGate;
use crate::network::passive::ContactState;
use crate::network::ripple::Adapter;
use crate::network::schedule::Openings;
use crate::network::stage::open_volts;
use crate::network::terminal::terminals;
use crate::output::axis::trimmed;

/// What a part is: "resistor", "PNP transistor".
pub(crate) fn kind_words(kind: &PartKind) -> &'static str {
    match kind {
        PartKind::Resistor { .. } => "resistor",
        PartKind::Trimmer { .. } => "trimmer",
        PartKind::Capacitor { .. } | PartKind::RealCapacitor(_) => "capacitor",
        PartKind::Inductor { .. } | PartKind::LossyInductor { .. } => "coil",
        PartKind::Contact { .. } => "switch or jumper",
        PartKind::Diode { model, .. } if model.breakdown.is_some() => "zener",
        PartKind::Diode { .. } => "diode",
        PartKind::Transistor { model, .. } => match model.polarity {
            Polarity::Npn => "NPN transistor",
            Polarity::Pnp => "PNP transistor",
        },
        PartKind::FieldEffect { model, .. } => match (&model.gate, model.channel) {
            (FieldGate::Junction(_), Channel::N) => "n-channel junction FET",
            (FieldGate::Junction(_), Channel::P) => "p-channel junction FET",
            (FieldGate::Insulated { .. }, Channel::N) => "n-channel MOS FET",
            (FieldGate::Insulated { .. }, Channel::P) => "p-channel MOS FET",
        },
        PartKind::Gate(gate) => gate_words(gate.logic),
        PartKind::AnalogueSwitch(_) => "analogue switch",
        PartKind::Pin(_) => "pin of the chip",
        PartKind::Supply { .. } => "supply",
        PartKind::Adapter(part) if part.ripple_volts > 0.0 => "adapter",
        PartKind::Adapter(_) => "supply whose contact opens",
        PartKind::Sounder(_) => "loudspeaker and its driver",
        PartKind::Regulator(_) => "regulator",
        PartKind::Cable(_) => "cable",
        PartKind::VideoDriver(_) => "video driver",
        PartKind::Consumption { .. } => "the chip's own current",
        PartKind::Draw { .. } => "current drawn",
    }
}

/// What a gate is called: "OR gate".
pub(crate) fn gate_words(logic: Logic) -> &'static str {
    match logic {
        Logic::Or => "OR gate",
        Logic::Nor => "NOR gate",
        Logic::And => "AND gate",
        Logic::Nand => "NAND gate",
        Logic::Xor => "exclusive-OR gate",
        Logic::Not => "inverter",
        Logic::Buffer => "buffer",
    }
}

/// Its main value, short enough to stand beside it on a drawing: "1.5 kΩ", "5 V"; empty where one
/// number does not say what it is.
pub(crate) fn short_value(kind: &PartKind) -> String {
    match kind {
        PartKind::Resistor { ohms: value, .. } | PartKind::Trimmer { ohms: value, .. } => {
            ohms(*value)
        }
        PartKind::Capacitor { farads: value, .. } => farads(*value),
        PartKind::RealCapacitor(part) => farads(part.farads),
        PartKind::Inductor { henries: value, .. }
        | PartKind::LossyInductor { henries: value, .. } => henries(*value),
        PartKind::Contact { state: ContactState::Open, .. } => "open".to_owned(),
        PartKind::Contact { state: ContactState::Closed, .. } => "closed".to_owned(),
        PartKind::Diode { model: DiodeModel { breakdown: Some(zener), .. }, .. } => {
            volts(zener.volts)
        }
        PartKind::Supply { volts: value, .. } => volts(*value),
        PartKind::Adapter(part) => volts(part.volts),
        PartKind::Sounder(part) => ohms(part.ohms),
        PartKind::Regulator(part) => volts(part.volts),
        PartKind::Cable(part) => ohms(part.impedance_ohms),
        PartKind::VideoDriver(part) => format!("× {}", trimmed(part.gain, 2)),
        PartKind::Consumption { amps, .. } | PartKind::Draw { amps, .. } => milliamps(*amps),
        PartKind::Diode { .. }
        | PartKind::Transistor { .. }
        | PartKind::FieldEffect { .. }
        | PartKind::Gate(_)
        | PartKind::AnalogueSwitch(_)
        | PartKind::Pin(_) => String::new(),
    }
}

/// All that one would look for in the drawer: the main value and what goes with it.
pub(crate) fn long_value(kind: &PartKind) -> String {
    let short = short_value(kind);
    match kind {
        PartKind::Trimmer { position, .. } => format!("{short}, at {} %", percent(*position)),
        PartKind::RealCapacitor(part) => {
            let rated = part.rated_volts.map(|rated| format!(", rated {}", volts(rated)));
            let left = (part.farads_left < 1.0)
                .then(|| format!(", {} % of it left", percent(part.farads_left)));
            format!("{short}{}{}", rated.unwrap_or_default(), left.unwrap_or_default())
        }
        PartKind::Supply { ohms: inside, .. } if *inside > 0.0 => {
            format!("{short} behind {}", ohms(*inside))
        }
        PartKind::Adapter(part) => adapter_value(part),
        PartKind::Sounder(part) => format!("{short}, {} Hz", trimmed(part.tone_hertz, 0)),
        PartKind::Cable(part) => format!("{short}, {} m", trimmed(part.metres, 2)),
        PartKind::Transistor { model, .. } => {
            format!("current gain {}", trimmed(model.forward_gain, 0))
        }
        PartKind::FieldEffect { model, .. } => format!("threshold {}", volts(model.threshold)),
        PartKind::Gate(gate) => gate_value(gate),
        _ => short,
    }
}

fn adapter_value(part: &Adapter) -> String {
    let mut words = format!("{} behind {}", volts(part.volts), ohms(part.ohms));
    if part.ripple_volts > 0.0 {
        words += &format!(", ripple {}", volts(part.ripple_volts));
    }
    if let Some(openings) = part.openings {
        words += &openings_words(openings);
    }
    words
}

fn openings_words(openings: Openings) -> String {
    let milliseconds = |seconds: f64| trimmed(1e3 * seconds, 2);
    match openings {
        Openings::Often { per_second, open_s, .. } => format!(
            ", its contact opens {} times a second for {} ms",
            trimmed(per_second, 2),
            milliseconds(open_s)
        ),
        Openings::Once { at_s, open_s } => format!(
            ", its contact opens after {} ms for {} ms",
            milliseconds(at_s),
            milliseconds(open_s)
        ),
    }
}

fn gate_value(gate: &Gate) -> String {
    let inputs = match gate.inputs.len() {
        1 => "1 input".to_owned(),
        count => format!("{count} inputs"),
    };
    match gate.threshold {
        Threshold::Share { typical, .. } => {
            format!("{inputs}, switches at {} % of its supply", percent(typical))
        }
        Threshold::Fixed { typical, .. } => format!("{inputs}, switches at {}", volts(typical)),
    }
}

/// What it is tied to, terminal by terminal: "from white, to mix".
pub(crate) fn ties(circuit: &Circuit, kind: &PartKind) -> String {
    let all = terminals(kind).into_iter();
    let named = all.map(|(name, node)| format!("{name} {}", circuit.node_name(node)));
    named.collect::<Vec<_>>().join(", ")
}

/// An output stage in words: its kind, and its volts with nothing on it and its resistance, or the
/// factor of its square law. `supply_v` is what the chip's supply stands at, V.
pub(crate) fn stage_words(stage: &PinStage, supply_v: f64) -> String {
    match *stage {
        PinStage::Linear { offset, share, ohms: inside } => {
            format!("{} behind {}", volts(open_volts(offset, share, supply_v)), ohms(inside))
        }
        PinStage::PullUp { k, threshold } => format!(
            "square-law pull-up, {} open, k {}, threshold {}",
            volts((supply_v - threshold).max(0.0)),
            factor(k),
            volts(threshold)
        ),
        PinStage::PullDown { k, threshold } => {
            format!("square-law pull-down, k {}, threshold {}", factor(k), volts(threshold))
        }
        PinStage::Off { ohms: leakage } => format!("lets go, leakage {}", ohms(leakage)),
    }
}

/// "6.5 V", three decimals at most.
pub(crate) fn volts(value: f64) -> String {
    format!("{} V", trimmed(value, 3))
}

fn milliamps(amps: f64) -> String {
    format!("{} mA", trimmed(1e3 * amps, 2))
}

fn henries(value: f64) -> String {
    match value {
        value if value >= 0.9995e-3 => format!("{} mH", trimmed(1e3 * value, 2)),
        value => format!("{} µH", trimmed(1e6 * value, 2)),
    }
}

fn factor(k: f64) -> String {
    format!("{} mA/V²", trimmed(1e3 * k, 3))
}

fn percent(share: f64) -> String {
    trimmed(1e2 * share, 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::circuit::NodeId;

    #[test]
    fn an_output_stage_is_said_by_its_volts_and_its_resistance_or_factor() {
        let linear = PinStage::Linear { offset: -1.1, share: 1.0, ohms: 3e3 };
        assert_eq!(stage_words(&linear, 6.5), "5.4 V behind 3 kΩ");
        let pull_up = PinStage::PullUp { k: 0.4e-3, threshold: 1.5 };
        let words = "square-law pull-up, 5 V open, k 0.4 mA/V², threshold 1.5 V";
        assert_eq!(stage_words(&pull_up, 6.5), words);
        assert_eq!(stage_words(&PinStage::Off { ohms: 1e8 }, 6.5), "lets go, leakage 100 MΩ");
    }

    #[test]
    fn a_part_is_said_by_its_value_and_what_it_is_tied_to() {
        let ends = [NodeId(1), NodeId(0)];
        let trimmer = PartKind::Trimmer {
            ends,
            wiper: NodeId(0),
            ohms: 1e4,
            position: 0.39,
            middle: 0.5,
            contact_ohms: 0.0,
        };
        let circuit = Circuit { nodes: vec!["ground".into(), "mix".into()], parts: Vec::new() };
        assert_eq!(long_value(&trimmer), "10 kΩ, at 39 %");
        assert_eq!(ties(&circuit, &trimmer), "from mix, to ground, wiper ground");
        let coil = PartKind::Inductor { ends, henries: 47e-6, ohms: 1.0 };
        assert_eq!(short_value(&coil), "47 µH");
    }
}
