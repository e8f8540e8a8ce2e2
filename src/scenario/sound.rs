//! `[sound]`: the chip's sound pin, its driver and the loudspeaker, a small board of their own.

use crate::document::fields::Fields;
use crate::document::problems::Problems;
use crate::document::quantity::FACTOR;
use crate::document::quantity::INDUCTANCE;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::VOLTAGE;
use crate::document::tree::Table;
use crate::network::bipolar::TransistorModel;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::network::circuit::PinStage;
use crate::profile::NOMINAL_VOLTS;
use crate::scenario::library::SMALL_NPN;

/// The linear stand-in for a pin of the class; common practice, no source.
const PIN_HIGH_V: f64 = 5.4;
const PIN_HIGH_OHMS: f64 = 3e3;
const PIN_LOW_OHMS: f64 = 800.0;
/// Into the base of one transistor, Ω; common practice, no source.
const BASE_OHMS: f64 = 4.7e3;
/// In series with a loudspeaker of 8 to 64 Ω, Ω: 100 to 330; common practice, no source.
pub const SERIES_OHMS: f64 = 220.0;
const SPEAKER_OHMS: f64 = 32.0;
/// The loudspeaker of the class that draws most; common practice, no source.
pub const LEAST_SPEAKER_OHMS: f64 = 8.0;
/// Of a small loudspeaker's voice coil, and what its iron loses; common practice, no source.
const SPEAKER_HENRIES: f64 = 0.3e-3;
const SPEAKER_LOSS_OHMS: f64 = 50.0;
/// What stands for the whole sound of the set where a buzz is mixed in, V; our own choice.
const SET_V: f64 = 1.0;

/// What makes the sound.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound {
    /// The board: its only pin is the chip's sound pin.
    pub circuit: Circuit,
    /// The loudspeaker's ends: the volts of the first against the second are what is heard.
    pub speaker: [NodeId; 2],
    /// Volts that stand for the whole sound of the set, against which its buzz is told.
    pub set_v: f64,
}

const SUPPLY: NodeId = NodeId(1);
const PIN: NodeId = NodeId(2);
const BASE: NodeId = NodeId(3);
const SPEAKER: NodeId = NodeId(4);
const COLLECTOR: NodeId = NodeId(5);
const NODES: [&str; 6] = ["ground", "supply", "sound pin", "base", "speaker", "collector"];

/// Reads the table; one that is empty is the usual board.
pub(crate) fn read(table: &Table, problems: &Problems) -> Sound {
    let fields = Fields::open(table, "[sound]", problems);
    let ohms = |key, usual| fields.quantity_or(key, &RESISTANCE, usual);
    let supply_v = fields.quantity_or("supply", &POSITIVE_VOLTAGE, NOMINAL_VOLTS);
    let high_v = fields.quantity_or("pin_high_volts", &POSITIVE_VOLTAGE, PIN_HIGH_V);
    let low_v = fields.quantity_or("pin_low_volts", &VOLTAGE, 0.0);
    let high_ohms = ohms("pin_high_ohms", PIN_HIGH_OHMS);
    let low_ohms = ohms("pin_low_ohms", PIN_LOW_OHMS);
    let gain = FACTOR.within(1.0, 1e4);
    let gain = fields.quantity_or("gain", &gain, SMALL_NPN.forward_gain);
    let resistor = |from, to, ohms| PartKind::Resistor { ends: [from, to], ohms };
    let base = resistor(PIN, BASE, ohms("base", BASE_OHMS));
    let series = resistor(SUPPLY, SPEAKER, ohms("series", SERIES_OHMS));
    let coil = PartKind::LossyInductor {
        ends: [SPEAKER, COLLECTOR],
        henries: fields.quantity_or("inductance", &INDUCTANCE, SPEAKER_HENRIES),
        ohms: ohms("speaker", SPEAKER_OHMS),
        parallel_ohms: ohms("loss", SPEAKER_LOSS_OHMS),
    };
    let set_v = fields.quantity_or("set", &POSITIVE_VOLTAGE, SET_V);
    fields.close();
    let stage = |volts, ohms| PinStage::Linear { offset: volts, share: 0.0, ohms };
    let pin = PartKind::Pin(Box::new(Pin {
        node: PIN,
        supply: SUPPLY,
        levels: vec![stage(low_v, low_ohms), stage(high_v, high_ohms)],
        delay_s: 0.0,
        rise_s: 0.0,
        fall_s: 0.0,
        farads: 0.0,
    }));
    let driver = PartKind::Transistor {
        collector: COLLECTOR,
        base: BASE,
        emitter: NodeId::GROUND,
        model: TransistorModel { forward_gain: gain, ..SMALL_NPN },
    };
    let source = PartKind::Supply { node: SUPPLY, volts: supply_v, ohms: 0.0 };
    let parts = [
        ("sound", pin),
        ("V1", source),
        ("R1", base),
        ("R2", series),
        ("LS1", coil),
        ("Q1", driver),
    ];
    let parts = parts.map(|(name, kind)| Part { name: name.to_owned(), kind });
    Sound {
        circuit: Circuit { nodes: NODES.map(str::to_owned).into(), parts: parts.into() },
        speaker: [SPEAKER, COLLECTOR],
        set_v,
    }
}
