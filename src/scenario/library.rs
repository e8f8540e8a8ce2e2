//! Diodes and transistors by name. Generic types carry the values of common small ones; registered
//! types are set so that they meet the stated points of their data sheets.

use crate::network::device::DiodeModel;
use crate::network::device::Junction;
use crate::network::device::Polarity;
use crate::network::device::TransistorModel;

/// A library entry.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Entry<T> {
    /// The name by which a scenario asks for it.
    pub(crate) name: &'static str,
    /// Its parameters.
    pub(crate) model: T,
}

/// Small silicon diode. Is and n give 0.60 V at 1 mA and 0.71 V at 10 mA, as the curves of 1N4148
/// data sheets do (from memory; the sheet itself states at most 1.0 V at 10 mA); recovery 4 ns and
/// at most 4 pF at 0 V are the sheet's.
const SILICON_SIGNAL: DiodeModel = DiodeModel {
    saturation_current: 2.5e-9,
    emission: 1.8,
    transit_time: 4e-9,
    junction: Junction { farads: 2e-12, potential: 0.75, grading: 0.33 },
};

/// Small Schottky diode: BAT85 data sheet, at most 0.24, 0.32 and 0.4 V at 0.1, 1 and 10 mA, which
/// is 80 mV a decade; 10 pF at 1 V reverse. No stored charge.
const SMALL_SCHOTTKY: DiodeModel = DiodeModel {
    saturation_current: 1e-7,
    emission: 1.344,
    transit_time: 0.0,
    junction: Junction { farads: 18.7e-12, potential: 0.4, grading: 0.5 },
};

/// Diodes.
pub(crate) const DIODES: [Entry<DiodeModel>; 5] = [
    Entry { name: "silicon signal", model: SILICON_SIGNAL },
    Entry { name: "1N4148", model: SILICON_SIGNAL },
    // 1N4448 data sheet: 0.62 to 0.72 V at 5 mA, which the same curve meets.
    Entry { name: "1N4448", model: SILICON_SIGNAL },
    Entry { name: "small Schottky", model: SMALL_SCHOTTKY },
    Entry { name: "BAT85", model: SMALL_SCHOTTKY },
];

/// The protection diodes of a CMOS input; common practice, no source.
pub(crate) const INPUT_CLAMP: DiodeModel = DiodeModel {
    saturation_current: 1e-14,
    emission: 1.0,
    transit_time: 0.0,
    junction: Junction { farads: 0.0, potential: 0.75, grading: 0.33 },
};

/// Small-signal transistor, common practice: Is 1e-14 A gives 0.72 V at 10 mA; gain 200 lies in the
/// data sheets' 100 to 300 at 10 mA; 8 pF and 4 pF are the sheets' greatest (2N3904: Cibo 8.0 pF at
/// 0.5 V, Cobo 4.0 pF at 5 V); 0.4 ns is 400 MHz, above the sheet's least of 300 MHz; 60 ns is the
/// order of the sheet's storage time (at most 200 ns).
const SMALL_NPN: TransistorModel = TransistorModel {
    polarity: Polarity::Npn,
    saturation_current: 1e-14,
    forward_gain: 200.0,
    reverse_gain: 4.0,
    forward_transit_time: 0.4e-9,
    reverse_transit_time: 60e-9,
    base_emitter: Junction { farads: 8e-12, potential: 0.75, grading: 0.33 },
    base_collector: Junction { farads: 4e-12, potential: 0.6, grading: 0.4 },
};

const SMALL_PNP: TransistorModel = TransistorModel { polarity: Polarity::Pnp, ..SMALL_NPN };

/// Transistors.
pub(crate) const TRANSISTORS: [Entry<TransistorModel>; 5] = [
    Entry { name: "small NPN", model: SMALL_NPN },
    Entry { name: "small PNP", model: SMALL_PNP },
    Entry { name: "2N3904", model: SMALL_NPN },
    // 2N3906 data sheet: fT at least 250 MHz, Cib at most 10 pF, Cob at most 4.5 pF.
    Entry {
        name: "2N3906",
        model: TransistorModel {
            forward_transit_time: 0.5e-9,
            base_emitter: Junction { farads: 10e-12, potential: 0.75, grading: 0.33 },
            base_collector: Junction { farads: 4.5e-12, potential: 0.6, grading: 0.4 },
            ..SMALL_PNP
        },
    },
    // BC547 data sheet, from memory: middle gain group about 290 at 2 mA, fT 300 MHz.
    Entry { name: "BC547", model: TransistorModel { forward_gain: 290.0, ..SMALL_NPN } },
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::math;
    use crate::network::device::THERMAL_VOLTS;

    fn forward_volts(model: DiodeModel, amps: f64) -> f64 {
        model.emission * THERMAL_VOLTS * math::log1p(amps / model.saturation_current)
    }

    #[test]
    fn diodes_meet_their_data_sheets() {
        let silicon = forward_volts(SILICON_SIGNAL, 5e-3);
        assert!((0.62..=0.72).contains(&silicon), "{silicon}");
        for (amps, volts) in [(1e-4, 0.24), (1e-3, 0.32), (1e-2, 0.4)] {
            let found = forward_volts(SMALL_SCHOTTKY, amps);
            assert!((found - volts).abs() < 1e-3, "{found} at {amps} A");
        }
    }

    #[test]
    fn the_small_transistors_lie_in_their_data_sheets_base_voltage() {
        let volts = THERMAL_VOLTS * math::log1p(10e-3 / SMALL_NPN.saturation_current);
        assert!((0.65..=0.85).contains(&volts), "{volts}");
    }
}
