//! The three-terminal regulator.

use crate::base::math;
use crate::network::circuit::NodeId;
use crate::network::evaluation::Evaluation;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::at;
use crate::network::junctions::Junctions;
use crate::network::system::unknown;

/// A three-terminal positive regulator.
///
/// With u from common to input and w from common to output: it aims at the lower of
/// `volts` + `line_ratio` (u − `volts` − 5 V) and u − `dropout_volts`, behind `output_ohms`, to which
/// `dropout_ohms` is added as far as the second is the lower one. The current goes from input to
/// output only, and bends towards `limit_amps`: i = d / r / ⁴√(1 + (d / r / limit)⁴) at d below the
/// aim. `quiescent_amps` runs from input to common, of which a 10 kΩ divider at the output takes
/// its share. All corners are rounded, over 20 mV and 1 mA, so that Newton's method finds its way.
///
/// Not modelled: fold-back of the limit with dissipation, thermal shutdown, the loop's own speed.
///
/// # Source
///
/// The quantities of a 7805's data sheet (output, line and load regulation, dropout, quiescent
/// current, peak current); the shape of the bends is our own.
#[derive(Clone, Debug, PartialEq)]
pub struct Regulator {
    /// Input.
    pub input: NodeId,
    /// Output.
    pub output: NodeId,
    /// Common, at ground as a rule.
    pub common: NodeId,
    /// Output of this specimen with 5 V across it, V.
    pub volts: f64,
    /// Input less output at which it begins to fail, at no load, V.
    pub dropout_volts: f64,
    /// How the dropout grows with the current, Ω.
    pub dropout_ohms: f64,
    /// Output resistance: load regulation over current, Ω, above 0.
    pub output_ohms: f64,
    /// Most current, A.
    pub limit_amps: f64,
    /// Current into common, A.
    pub quiescent_amps: f64,
    /// Line regulation: output volts a volt of input.
    pub line_ratio: f64,
}

/// Input less output at which the output volts are stated, V; data sheets test a 5 V type at 10 V.
const TEST_VOLTS: f64 = 5.0;
/// Width of the corner between regulation and dropout, V.
const CORNER_VOLTS: f64 = 0.02;
/// Current below which regulation gives way, A.
const KNEE_AMPS: f64 = 1e-3;
/// The divider inside, Ω; from memory.
const DIVIDER_OHMS: f64 = 10e3;
/// Input at which the quiescent current has come up, V.
const AWAKE_VOLTS: f64 = 1.0;

/// ln(1 + e^x) and its slope, the logistic function of x.
pub(crate) fn soft_corner(x: f64) -> (f64, f64) {
    if x > 0.0 {
        let e = math::exp(-x);
        (x + math::log1p(e), 1.0 / (1.0 + e))
    } else {
        let e = math::exp(x);
        (math::log1p(e), e / (1.0 + e))
    }
}

/// What the regulator aims at for an input, with its slopes against the input.
struct Aim {
    volts: f64,
    volts_slope: f64,
    ohms: f64,
    ohms_slope: f64,
}

/// Current to the output, with its slopes.
struct Pass {
    amps: f64,
    per_shortfall: f64,
    per_ohm: f64,
}

impl Regulator {
    fn aim(&self, input: f64) -> Aim {
        let set = self.volts + self.line_ratio * (input - self.volts - TEST_VOLTS);
        let most = input - self.dropout_volts;
        let (excess, dropping) = soft_corner((set - most) / CORNER_VOLTS);
        let bend = dropping * (1.0 - dropping) / CORNER_VOLTS * (self.line_ratio - 1.0);
        Aim {
            volts: set - CORNER_VOLTS * excess,
            volts_slope: self.line_ratio * (1.0 - dropping) + dropping,
            ohms: self.output_ohms + dropping * self.dropout_ohms,
            ohms_slope: self.dropout_ohms * bend,
        }
    }

    fn pass(&self, shortfall: f64, ohms: f64) -> Pass {
        let knee = KNEE_AMPS * self.output_ohms;
        let (over, share) = soft_corner(shortfall / knee);
        let asked = knee * over / ohms;
        let x = asked / self.limit_amps;
        let bend = 1.0 + x * x * x * x;
        let root = bend.sqrt().sqrt();
        let slope = 1.0 / (bend * root);
        Pass {
            amps: asked / root,
            per_shortfall: share * slope / ohms,
            per_ohm: -asked / ohms * slope,
        }
    }

    /// How far the output lies below what is aimed at, V.
    fn shortfall(&self, x: &[f64]) -> f64 {
        let [input, output, common] = self.terminals().map(|terminal| at(x, terminal));
        self.aim(input - common).volts - (output - common)
    }

    /// Input, output and common.
    pub(crate) fn terminals(&self) -> [Unknown; 3] {
        [self.input, self.output, self.common].map(unknown)
    }

    /// The voltage that may move only so far in one iteration.
    pub(crate) fn corner_volts(&self, x: &[f64]) -> f64 {
        self.shortfall(x)
    }

    /// Adds its currents and slopes.
    pub(crate) fn evaluate(&self, x: &[f64], junctions: &mut Junctions, out: &mut Evaluation) {
        let [input, output, common] = self.terminals();
        let across = at(x, input) - at(x, common);
        let aim = self.aim(across);
        let asked = aim.volts - (at(x, output) - at(x, common));
        let used = junctions.approach_corner(asked);
        out.limited |= (asked - used).abs() > 1e-12;
        let pass = self.pass(used, aim.ohms);
        let amps = pass.amps + pass.per_shortfall * (asked - used);
        let per_input = pass.per_shortfall * aim.volts_slope + pass.per_ohm * aim.ohms_slope;
        let per_output = -pass.per_shortfall;
        for (row, sign) in [(input, 1.0), (output, -1.0)] {
            out.add_current(row, sign * amps);
            out.add_slope(row, input, sign * per_input, 0.0);
            out.add_slope(row, output, sign * per_output, 0.0);
            out.add_slope(row, common, -sign * (per_input + per_output), 0.0);
        }
        let divider = [output, common];
        let volts = at(x, output) - at(x, common);
        out.add_branch(divider, volts / DIVIDER_OHMS, 0.0);
        out.add_branch_slope(divider, 1.0 / DIVIDER_OHMS, 0.0);
        let awake = (AWAKE_VOLTS * AWAKE_VOLTS + across * across).sqrt();
        let quiescent = (self.quiescent_amps - self.volts / DIVIDER_OHMS).max(0.0);
        let slope = quiescent * AWAKE_VOLTS * AWAKE_VOLTS / (awake * awake * awake);
        out.add_branch([input, common], quiescent * across / awake, 0.0);
        out.add_branch_slope([input, common], slope, 0.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::circuit::PartKind;
    use crate::network::operating_point::Network;
    use crate::network::rig::circuit;

    /// A 7805 in the class of 1 A: typical values of a maker's data sheet.
    fn typical() -> Regulator {
        Regulator {
            input: NodeId(1),
            output: NodeId(2),
            common: NodeId::GROUND,
            volts: 5.0,
            dropout_volts: 1.5,
            dropout_ohms: 0.5,
            output_ohms: 6e-3,
            limit_amps: 2.2,
            quiescent_amps: 5e-3,
            line_ratio: 4e-3 / 18.0,
        }
    }

    /// Volts at the output and amps out of the input supply, with `load_amps` drawn.
    fn loaded(input_volts: f64, load: PartKind) -> (f64, f64) {
        let board = circuit(
            &["ground", "in", "out"],
            vec![
                PartKind::Supply { node: NodeId(1), volts: input_volts, ohms: 1e-3 },
                PartKind::Regulator(Box::new(typical())),
                load,
            ],
        );
        let point = Network::new(&board).unwrap().operating_point(&[]).unwrap();
        (point.volts(NodeId(2)), (input_volts - point.volts(NodeId(1))) / 1e-3)
    }

    fn draw(amps: f64) -> PartKind {
        PartKind::Draw { node: NodeId(2), amps }
    }

    fn resistor(ohms: f64) -> PartKind {
        PartKind::Resistor { ends: [NodeId(2), NodeId::GROUND], ohms }
    }

    #[test]
    fn the_typical_values_of_the_data_sheet_come_out() {
        // 7805, typical: 5.0 V; line regulation 4 mV over 7 to 25 V; load regulation 9 mV over
        // 5 mA to 1.5 A; quiescent 5 mA; ripple rejection 73 dB at 120 Hz (slow enough to stand).
        let volts = |input, amps| loaded(input, draw(amps)).0;
        assert!((volts(10.0, 0.5) - 5.0).abs() < 5e-3);
        let line = volts(25.0, 0.1) - volts(7.5, 0.1);
        assert!((line - 4e-3).abs() < 0.5e-3, "{line}");
        let load = volts(10.0, 5e-3) - volts(10.0, 1.5);
        assert!((load - 9e-3).abs() < 2e-3, "{load}");
        let (_, amps) = loaded(10.0, draw(0.2));
        assert!((amps - 0.205).abs() < 0.1e-3, "{amps}");
        let rejection = -20.0 * math::log10((volts(10.5, 0.1) - volts(9.5, 0.1)) / 1.0);
        assert!((rejection - 73.0).abs() < 1.0, "{rejection}");
    }

    #[test]
    fn it_drops_out_two_volts_above_its_output_at_one_ampere() {
        // 7805: dropout 2.0 V typical at 1 A. At 7.0 V in, the corner's rounding is left.
        let at_the_edge = loaded(7.0, draw(1.0)).0;
        assert!((4.9..5.0).contains(&at_the_edge), "{at_the_edge}");
        let starved = loaded(6.0, draw(1.0)).0;
        assert!((starved - 4.0).abs() < 0.02, "{starved}");
        assert!((loaded(6.0, draw(0.02)).0 - 4.49).abs() < 0.01);
    }

    #[test]
    fn a_short_takes_its_limit_and_no_more() {
        let (volts, amps) = loaded(10.0, resistor(0.01));
        assert!((amps - 2.205).abs() < 0.01, "{amps}");
        assert!((volts - 0.022).abs() < 1e-3, "{volts}");
    }

    #[test]
    fn standing_levels_are_found_for_every_input_and_load() {
        for input in [0.01, 0.5, 1.6, 3.0, 5.0, 6.4, 6.51, 7.0, 9.0, 35.0] {
            let mut last = 0.0;
            for ohms in [1e-3, 0.1, 1.0, 2.0, 2.2, 2.5, 3.0, 10.0, 100.0, 1e4, 1e9] {
                let (volts, _) = loaded(input, resistor(ohms));
                assert!(volts >= last - 1e-9 && volts < 5.05, "{input} {ohms} {volts}");
                last = volts;
            }
        }
    }

    #[test]
    fn a_voltage_forced_on_the_output_drives_nothing_back() {
        let board = circuit(
            &["ground", "in", "out"],
            vec![
                PartKind::Resistor { ends: [NodeId(1), NodeId::GROUND], ohms: 1e3 },
                PartKind::Regulator(Box::new(typical())),
                PartKind::Supply { node: NodeId(2), volts: 5.0, ohms: 1.0 },
            ],
        );
        let point = Network::new(&board).unwrap().operating_point(&[]).unwrap();
        assert!(point.volts(NodeId(1)).abs() < 1e-6);
        assert!((point.volts(NodeId(2)) - 5.0).abs() < 1e-3);
    }

    #[test]
    fn every_slope_is_the_derivative_of_its_value() {
        let part = typical();
        let step = 1e-7;
        for input in [0.2, 6.49, 6.5, 6.52, 9.0] {
            let aim = |volts| part.aim(volts);
            let (below, above, here) = (aim(input - step), aim(input + step), aim(input));
            let volts = (above.volts - below.volts) / (2.0 * step);
            let ohms = (above.ohms - below.ohms) / (2.0 * step);
            assert!((volts - here.volts_slope).abs() < 1e-6, "{input}");
            assert!((ohms - here.ohms_slope).abs() < 1e-5, "{input}");
        }
        for shortfall in [-1e-5, 0.0, 1e-5, 5e-3, 0.02] {
            let (step, ohms) = (1e-9, 6e-3);
            let amps = |shortfall, ohms| part.pass(shortfall, ohms).amps;
            let by_shortfall =
                (amps(shortfall + step, ohms) - amps(shortfall - step, ohms)) / (2.0 * step);
            let by_ohm =
                (amps(shortfall, ohms + step) - amps(shortfall, ohms - step)) / (2.0 * step);
            let here = part.pass(shortfall, ohms);
            assert!((by_shortfall / here.per_shortfall - 1.0).abs() < 1e-4, "{shortfall}");
            assert!((by_ohm - here.per_ohm).abs() < 1e-4 * here.per_ohm.abs() + 1e-6);
        }
    }
}
