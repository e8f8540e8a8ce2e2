//! Logic families: switching levels, output stages and speeds from data-sheet points.

use crate::network::circuit::GateSpeed;
use crate::network::circuit::Threshold;
use crate::network::device::DiodeModel;
use crate::network::device::OutputCurve;
use crate::scenario::library::INPUT_CLAMP;

/// Logic families.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Family {
    /// The old 3 to 15 V kind.
    Cmos4000,
    /// The fast 2 to 6 V kind.
    HighSpeed,
    /// The same with TTL input levels.
    HighSpeedTtl,
    /// A named stand-in for hand calculation: 50 Ω, half the supply, nothing else.
    Plain,
}

pub(crate) const FAMILIES: [(&str, Family); 4] = [
    ("4000B", Family::Cmos4000),
    ("74HC", Family::HighSpeed),
    ("74HCT", Family::HighSpeedTtl),
    ("plain", Family::Plain),
];

/// Which column of the data sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Grade {
    /// Typical values.
    Typical,
    /// Guaranteed ones.
    Worst,
}

pub(crate) const GRADES: [(&str, Grade); 2] =
    [("typical", Grade::Typical), ("worst", Grade::Worst)];

/// What a family says of one gate.
#[derive(Clone, Debug)]
pub(crate) struct FamilyModel {
    pub(crate) threshold: Threshold,
    pub(crate) input_farads: f64,
    pub(crate) clamp: Option<DiodeModel>,
    pub(crate) high: OutputCurve,
    pub(crate) low: OutputCurve,
    pub(crate) speed: Vec<GateSpeed>,
}

/// A data-sheet point of an output: at `supply` V it gives `amps` at a drop of `drop` V.
struct OutputPoint {
    supply: f64,
    drop: f64,
    amps: f64,
}

/// Resistance of a plain gate, Ω.
const PLAIN_OHMS: f64 = 50.0;
/// Threshold of the output transistors, V; common practice, no source.
const CMOS4000_THRESHOLD: f64 = 1.5;
const HIGH_SPEED_THRESHOLD: f64 = 0.7;

/// The family's values.
pub(crate) fn model(family: Family, grade: Grade) -> FamilyModel {
    match family {
        Family::Cmos4000 => cmos4000(grade),
        Family::HighSpeed => {
            // JESD7A, from memory: 0.3 and 0.7 of the supply.
            let threshold = Threshold::Share { low: 0.3, typical: 0.5, high: 0.7 };
            high_speed(threshold, high_speed_speed(grade))
        }
        Family::HighSpeedTtl => {
            let threshold = Threshold::Fixed { low: 0.8, typical: 1.4, high: 2.0 };
            high_speed(threshold, high_speed_speed(grade))
        }
        Family::Plain => FamilyModel {
            threshold: Threshold::Share { low: 0.5, typical: 0.5, high: 0.5 },
            input_farads: 0.0,
            clamp: None,
            high: OutputCurve::Resistance(PLAIN_OHMS),
            low: OutputCurve::Resistance(PLAIN_OHMS),
            speed: vec![speed([5.0, 0.0, 0.0])],
        },
    }
}

/// The 4000B family.
///
/// # Source
///
/// CD4071B data sheet, commercial grade, 25 °C: output current at 0.4, 0.5 and 1.5 V from the rail
/// at 5, 10 and 15 V, typical 0.88, 2.25 and 8.8 mA, least 0.44, 1.1 and 3.0 mA, high and low
/// alike; delay typical 100, 40 and 30 ns, at most 250, 100 and 70 ns; transition 90, 50 and 40 ns,
/// at most 200, 100 and 80 ns; input 5 pF. Switching levels JESD13-B, about 0.3 and 0.7 of the
/// supply.
fn cmos4000(grade: Grade) -> FamilyModel {
    let (milliamps, speeds) = match grade {
        Grade::Typical => {
            ([0.88, 2.25, 8.8], [[5.0, 100.0, 90.0], [10.0, 40.0, 50.0], [15.0, 30.0, 40.0]])
        }
        Grade::Worst => {
            ([0.44, 1.1, 3.0], [[5.0, 250.0, 200.0], [10.0, 100.0, 100.0], [15.0, 70.0, 80.0]])
        }
    };
    let places = [(5.0, 0.4), (10.0, 0.5), (15.0, 1.5)];
    let points: Vec<OutputPoint> = places
        .iter()
        .zip(milliamps)
        .map(|(&(supply, drop), milliamps)| OutputPoint { supply, drop, amps: milliamps * 1e-3 })
        .collect();
    let curve = saturating(CMOS4000_THRESHOLD, &points);
    FamilyModel {
        threshold: Threshold::Share { low: 0.3, typical: 0.5, high: 0.7 },
        input_farads: 5e-12,
        clamp: Some(INPUT_CLAMP),
        high: curve.clone(),
        low: curve,
        speed: speeds.map(speed).to_vec(),
    }
}

/// The 74HC and 74HCT families.
///
/// # Source
///
/// 74HCT32 data sheets, 4.5 V, 25 °C: at 4 mA high at least 3.98 V, low at most 0.26 V. These are
/// guaranteed values; both grades use them, for no typical ones were at hand. Input 3.5 pF
/// (74HC4075). Switching levels of HCT: TTL, 0.8 and 2.0 V.
fn high_speed(threshold: Threshold, speed: Vec<GateSpeed>) -> FamilyModel {
    let point = |drop| [OutputPoint { supply: 4.5, drop, amps: 4e-3 }];
    FamilyModel {
        threshold,
        input_farads: 3.5e-12,
        clamp: Some(INPUT_CLAMP),
        high: saturating(HIGH_SPEED_THRESHOLD, &point(0.52)),
        low: saturating(HIGH_SPEED_THRESHOLD, &point(0.26)),
        speed,
    }
}

/// Delays: 74HC2G32 data sheet, 2, 4.5 and 6 V, typical 24, 9 and 7 ns, at most 75, 15 and 13 ns.
/// Transitions from memory: typical 19, 7 and 6 ns, at most 75, 15 and 13 ns.
fn high_speed_speed(grade: Grade) -> Vec<GateSpeed> {
    let speeds = match grade {
        Grade::Typical => [[2.0, 24.0, 19.0], [4.5, 9.0, 7.0], [6.0, 7.0, 6.0]],
        Grade::Worst => [[2.0, 75.0, 75.0], [4.5, 15.0, 15.0], [6.0, 13.0, 13.0]],
    };
    speeds.map(speed).to_vec()
}

/// Supply in volts, delay and transition in nanoseconds.
fn speed([supply_volts, delay_ns, transition_ns]: [f64; 3]) -> GateSpeed {
    GateSpeed { supply_volts, delay_s: delay_ns * 1e-9, transition_s: transition_ns * 1e-9 }
}

/// The curve i = k((vs − threshold) d − d²/2) through each point.
fn saturating(threshold: f64, points: &[OutputPoint]) -> OutputCurve {
    let k = points
        .iter()
        .map(|point| {
            let shape = (point.supply - threshold) * point.drop - point.drop * point.drop / 2.0;
            (point.supply, point.amps / shape)
        })
        .collect();
    OutputCurve::Saturating { threshold, k }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn output_curves_pass_through_their_data_sheet_points() {
        let OutputCurve::Saturating { threshold, k } = model(Family::Cmos4000, Grade::Typical).high
        else {
            panic!("a saturating stage")
        };
        for ((supply, k), (drop, amps)) in
            k.into_iter().zip([(0.4, 0.88e-3), (0.5, 2.25e-3), (1.5, 8.8e-3)])
        {
            let current: f64 = k * ((supply - threshold) * drop - drop * drop / 2.0);
            assert!((current - amps).abs() < 1e-9, "{current} A at {supply} V");
        }
    }

    #[test]
    fn the_old_family_at_5_v_is_about_455_ohm_near_its_rail() {
        let OutputCurve::Saturating { threshold, k } = model(Family::Cmos4000, Grade::Typical).low
        else {
            panic!("a saturating stage")
        };
        let chord = 0.4 / (k[0].1 * ((5.0 - threshold) * 0.4 - 0.08));
        assert!((chord - 454.5).abs() < 0.1, "{chord}");
    }
}
