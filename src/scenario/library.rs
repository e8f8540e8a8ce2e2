//! Diodes and transistors by name. Generic types carry the values of common small ones; registered
//! types are set so that they meet the stated points of their data sheets (`library_tests.rs`).

use crate::base::math::interpolate;
use crate::network::bipolar::Polarity;
use crate::network::bipolar::TransistorModel;
use crate::network::device::Breakdown;
use crate::network::device::DiodeModel;
use crate::network::device::Junction;
use crate::network::device::Material;

/// A library entry.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Entry<T> {
    /// The name by which a scenario asks for it.
    pub(crate) name: &'static str,
    /// Its parameters.
    pub(crate) model: T,
}

/// A transistor with the spread of its gain.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Transistor {
    /// The typical specimen.
    pub(crate) model: TransistorModel,
    /// Base current of a specimen of least and of greatest gain, as a share of the typical one's.
    pub(crate) base_share: [f64; 2],
}

/// Small silicon diode. Is and n give 0.60 V at 1 mA and 0.71 V at 10 mA, as the curves of 1N4148
/// data sheets do (from memory; the sheet itself states at most 1.0 V at 10 mA); recovery 4 ns and
/// at most 4 pF at 0 V are the sheet's.
const SILICON_SIGNAL: DiodeModel = DiodeModel {
    transit_time: 4e-9,
    junction: Junction { farads: 2e-12, potential: 0.75, grading: 0.33 },
    ..DiodeModel::ideal(2.5e-9, 1.8)
};

/// Small Schottky diode: BAT85 data sheet, at most 0.24, 0.32 and 0.4 V at 0.1, 1 and 10 mA, which
/// is 80 mV a decade; 10 pF at 1 V reverse. No stored charge.
const SMALL_SCHOTTKY: DiodeModel = DiodeModel {
    junction: Junction { farads: 18.7e-12, potential: 0.4, grading: 0.5 },
    material: Material::Schottky,
    ..DiodeModel::ideal(1e-7, 1.344)
};

/// BAT85 up to 100 mA: the same points, and 0.5 V typical at 30 mA and at most 0.8 V at 100 mA,
/// which want a resistance in series.
const BAT85: DiodeModel =
    DiodeModel { saturation_current: 2.05e-8, emission: 1.092, series_ohms: 3.0, ..SMALL_SCHOTTKY };

/// Germanium point contact: 0.233 V at a hand meter's current, taken as 1 mA (textbook
/// measurement), and 1 V at 5 to 10 mA (from memory), which want a large resistance in series. 1 pF
/// from memory.
const GERMANIUM: DiodeModel = DiodeModel {
    junction: Junction { farads: 1e-12, potential: 0.4, grading: 0.33 },
    series_ohms: 80.0,
    material: Material::Germanium,
    ..DiodeModel::ideal(1.05e-5, 1.3)
};

/// Diodes.
pub(crate) const DIODES: [Entry<DiodeModel>; 7] = [
    Entry { name: "silicon signal", model: SILICON_SIGNAL },
    Entry { name: "1N4148", model: SILICON_SIGNAL },
    // 1N4448 data sheet: 0.62 to 0.72 V at 5 mA, which the same curve meets.
    Entry { name: "1N4448", model: SILICON_SIGNAL },
    Entry { name: "small Schottky", model: SMALL_SCHOTTKY },
    Entry { name: "BAT85", model: BAT85 },
    Entry { name: "germanium point-contact", model: GERMANIUM },
    Entry { name: "1N34A", model: GERMANIUM },
];

/// Test current of small zeners, A, BZX79 data sheet, from memory.
pub(crate) const ZENER_AMPS: f64 = 5e-3;

/// Typical dynamic resistance of small zeners at that current: (V, Ω); BZX79 data sheet, from
/// memory. Lowest where the two kinds of breakdown meet.
const ZENER_OHMS: [(f64, f64); 12] = [
    (2.4, 70.0),
    (3.3, 85.0),
    (3.9, 85.0),
    (4.7, 50.0),
    (5.1, 40.0),
    (5.6, 15.0),
    (6.2, 6.0),
    (8.2, 6.0),
    (9.1, 6.0),
    (10.0, 8.0),
    (12.0, 10.0),
    (24.0, 25.0),
];

/// Typical dynamic resistance of a small zener of so many volts, Ω, at [`ZENER_AMPS`].
pub(crate) fn zener_ohms(volts: f64) -> f64 {
    interpolate(&ZENER_OHMS, volts).0
}

/// A small zener: forwards a silicon junction of 0.71 V at 10 mA (data sheets: at most 0.9 V);
/// 150 pF at 0 V; both from memory.
pub(crate) fn zener(breakdown: Breakdown) -> DiodeModel {
    DiodeModel {
        junction: Junction { farads: 150e-12, potential: 0.75, grading: 0.33 },
        breakdown: Some(breakdown),
        ..DiodeModel::ideal(1e-14, 1.0)
    }
}

/// The protection diodes of a CMOS input; common practice, no source.
pub(crate) const INPUT_CLAMP: DiodeModel = DiodeModel {
    junction: Junction { farads: 0.0, potential: 0.75, grading: 0.33 },
    ..DiodeModel::ideal(1e-14, 1.0)
};

/// Small-signal transistor, common practice: Is 1e-14 A gives 0.72 V at 10 mA; gain 200 lies in the
/// data sheets' 100 to 300 at 10 mA; 8 pF and 4 pF are the sheets' greatest (2N3904: Cibo 8.0 pF at
/// 0.5 V, Cobo 4.0 pF at 5 V); 0.4 ns is 400 MHz, above the sheet's least of 300 MHz; 60 ns is the
/// order of the sheet's storage time (at most 200 ns). Neither resistances nor a fall of gain: the
/// transistor of hand calculation.
pub(crate) const SMALL_NPN: TransistorModel = TransistorModel {
    forward_transit_time: 0.4e-9,
    reverse_transit_time: 60e-9,
    base_emitter: Junction { farads: 8e-12, potential: 0.75, grading: 0.33 },
    base_collector: Junction { farads: 4e-12, potential: 0.6, grading: 0.4 },
    ..TransistorModel::ideal(Polarity::Npn, 1e-14, [200.0, 4.0])
};

const SMALL_PNP: TransistorModel = TransistorModel { polarity: Polarity::Pnp, ..SMALL_NPN };

/// 2N3904. Data sheet: hFE at 1 V at least 40, 70, 100 (to 300), 60 and 30 at 0.1, 1, 10, 50 and
/// 100 mA; VCE(sat) at most 0.2 V at 10/1 mA and 0.3 V at 50/5 mA; VBE(sat) 0.65 to 0.85 V and at
/// most 0.95 V there; fT at least 300 MHz at 10 mA; Cobo at most 4 pF at 5 V, Cibo at most 8 pF at
/// 0.5 V. Output conductance 1 to 40 µS at 1 mA, 10 V from memory.
const T_2N3904: TransistorModel = TransistorModel {
    forward_gain: 205.0,
    early_volts: 100.0,
    knee_amps: 0.1,
    base_leakage: 4e-12,
    base_ohms: 10.0,
    collector_ohms: 3.0,
    base_emitter: Junction { farads: 6e-12, potential: 0.75, grading: 0.33 },
    base_collector: Junction { farads: 5e-12, potential: 0.6, grading: 0.4 },
    ..SMALL_NPN
};

/// 2N3906. Data sheet: hFE at least 60, 80, 100 (to 300), 60 and 30 at 0.1, 1, 10, 50 and 100 mA;
/// VCE(sat) at most 0.25 V at 10/1 mA and 0.4 V at 50/5 mA; VBE(sat) as 2N3904; fT at least 250
/// MHz; Cob at most 4.5 pF, Cib at most 10 pF. Output conductance 3 to 60 µS from memory.
const T_2N3906: TransistorModel = TransistorModel {
    polarity: Polarity::Pnp,
    forward_gain: 196.0,
    early_volts: 50.0,
    base_leakage: 2e-12,
    collector_ohms: 4.0,
    forward_transit_time: 0.5e-9,
    base_emitter: Junction { farads: 8e-12, potential: 0.75, grading: 0.33 },
    base_collector: Junction { farads: 6.5e-12, potential: 0.6, grading: 0.4 },
    ..T_2N3904
};

/// BC547. Data sheet, all from memory: middle gain group 200 to 450, typically 290, at 2 mA, 5 V
/// and typically 150 at 10 µA; VBE 0.58 to 0.70 V, typically 0.66 V, at 2 mA; VCE(sat) at most 0.25
/// V at 10/0.5 mA and 0.6 V at 100/5 mA; fT typically 300 MHz at 10 mA; Cob at most 6 pF at 10 V,
/// Cib typically 9 pF at 0.5 V; output conductance typically 30 µS at 2 mA.
const T_BC547: TransistorModel = TransistorModel {
    saturation_current: 1.6e-14,
    forward_gain: 300.0,
    early_volts: 65.0,
    knee_amps: 0.2,
    base_leakage: 1.33e-12,
    base_ohms: 10.0,
    collector_ohms: 1.2,
    base_emitter: Junction { farads: 11e-12, potential: 0.75, grading: 0.33 },
    base_collector: Junction { farads: 5.5e-12, potential: 0.6, grading: 0.4 },
    ..SMALL_NPN
};

/// Gains of 100 and 300 where the typical specimen has 173, their geometric mean.
const ONE_TO_THREE: [f64; 2] = [1.732, 0.577];

/// Transistors. Spreads are the data sheets' own, BC547's over all its gain groups.
pub(crate) const TRANSISTORS: [Entry<Transistor>; 6] = [
    Entry { name: "small NPN", model: Transistor { model: SMALL_NPN, base_share: [2.0, 0.667] } },
    Entry { name: "small PNP", model: Transistor { model: SMALL_PNP, base_share: [2.0, 0.667] } },
    Entry { name: "2N3904", model: Transistor { model: T_2N3904, base_share: ONE_TO_THREE } },
    Entry { name: "2N3906", model: Transistor { model: T_2N3906, base_share: ONE_TO_THREE } },
    Entry {
        name: "BC547",
        model: Transistor { model: T_BC547, base_share: [290.0 / 110.0, 290.0 / 800.0] },
    },
    Entry {
        name: "BC547B",
        model: Transistor { model: T_BC547, base_share: [290.0 / 200.0, 290.0 / 450.0] },
    },
];
