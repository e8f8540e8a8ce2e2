//! Output stages: what a chip pin or a gate's output pushes into its node in each of its states.

use crate::base::math;
use crate::network::circuit::PinStage;
use crate::network::device::OutputCurve;
use crate::network::device::saturating;

/// One state of a driver.
#[derive(Clone, Debug)]
pub(crate) enum Stage {
    /// A chip pin's.
    Pin(PinStage),
    /// A gate's, pulling up to the supply.
    GateHigh(OutputCurve),
    /// A gate's, pulling down to ground.
    GateLow(OutputCurve),
}

/// Current that leaves the node through the stage, with its slopes.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct StageLoad {
    /// A.
    pub(crate) amps: f64,
    /// Slope against the node's voltage, S.
    pub(crate) per_node: f64,
    /// Slope against the supply's voltage, S.
    pub(crate) per_supply: f64,
}

/// A driver whose current is a straight line of its node's and its supply's voltage, from a supply of
/// `least_supply` on.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Straight {
    /// At 0 V, A.
    pub(crate) amps: f64,
    /// Slopes, S.
    pub(crate) per_node: f64,
    pub(crate) per_supply: f64,
    /// Leakage to ground, S.
    pub(crate) leakage: f64,
    /// What of this comes out of the supply.
    pub(crate) returned_amps: f64,
    pub(crate) returned_per_node: f64,
    pub(crate) returned_per_supply: f64,
    /// V; minus infinity if there is no corner.
    pub(crate) least_supply: f64,
}

impl Straight {
    /// A driver that pushes nothing.
    pub(crate) const NOTHING: Self = Self {
        amps: 0.0,
        per_node: 0.0,
        per_supply: 0.0,
        leakage: 0.0,
        returned_amps: 0.0,
        returned_per_node: 0.0,
        returned_per_supply: 0.0,
        least_supply: f64::NEG_INFINITY,
    };

    /// This and so much of a stage; `None` if that is curved.
    pub(crate) fn with(self, stage: &Stage, weight: f64) -> Option<Self> {
        let (line, least_supply) = stage.line()?;
        let [amps, per_node, per_supply] =
            [line.amps, line.per_node, line.per_supply].map(|value| weight * value);
        let share = if stage.returns_to_supply() { 1.0 } else { 0.0 };
        Some(Self {
            amps: self.amps + amps,
            per_node: self.per_node + per_node,
            per_supply: self.per_supply + per_supply,
            leakage: self.leakage + weight * stage.leakage_siemens(),
            returned_amps: self.returned_amps + share * amps,
            returned_per_node: self.returned_per_node + share * per_node,
            returned_per_supply: self.returned_per_supply + share * per_supply,
            least_supply: self.least_supply.max(least_supply),
        })
    }
}

/// Leakage of a MOS output stage to ground, through the junctions of its drains, S: it keeps a node
/// that nothing else loads from being undetermined once its pull-up has cut off. 1 GΩ; from memory,
/// far below anything on a board.
const LEAKAGE_SIEMENS: f64 = 1e-9;

/// Width of the corner at ground of a linear stage that stops short of its supply, V: from 0.5 V on
/// it has vanished, to below 1e-10 V.
const CORNER_V: f64 = 0.025;
/// So many widths from its corner a curve is a straight line, to the last bit.
const STRAIGHT: f64 = 40.0;

/// Volts of a linear stage with nothing on it: `offset + share * supply`, but a pull-up that stops
/// short of its supply (offset below 0) does not pull below ground when there is no supply.
pub(crate) fn open_volts(offset: f64, share: f64, supply: f64) -> f64 {
    offset + share * supply + lifted(offset, share, supply).0
}

/// By how much the corner lifts a linear stage over its straight line, V, and its slope against the
/// supply: w ln(1 + e^(-x / w)) with x on the line.
fn lifted(offset: f64, share: f64, supply: f64) -> (f64, f64) {
    let line = (offset + share * supply) / CORNER_V;
    if offset >= 0.0 || share <= 0.0 || line > STRAIGHT {
        return (0.0, share);
    }
    let small = math::exp(-line.abs());
    let excess = CORNER_V * ((-line).max(0.0) + math::log1p(small));
    let kept = if line > 0.0 { 1.0 } else { small } / (1.0 + small);
    (excess, share * kept)
}

impl Stage {
    /// Whether the channel's current flows into the supply node rather than into ground.
    pub(crate) fn returns_to_supply(&self) -> bool {
        match self {
            Self::Pin(PinStage::Linear { share, .. }) => *share > 0.0,
            Self::Pin(PinStage::PullUp { .. }) | Self::GateHigh(_) => true,
            Self::Pin(PinStage::PullDown { .. } | PinStage::Off { .. }) | Self::GateLow(_) => false,
        }
    }

    /// What leaks from the node to ground beside the channel, S.
    pub(crate) fn leakage_siemens(&self) -> f64 {
        match self {
            Self::Pin(PinStage::Linear { .. } | PinStage::Off { .. }) => 0.0,
            _ => LEAKAGE_SIEMENS,
        }
    }

    /// The resistance by which it holds its node once that is where it belongs, Ω; of a MOS stage with
    /// 1 V of overdrive.
    pub(crate) fn held_ohms(&self) -> f64 {
        const OVERDRIVE_V: f64 = 1.0;
        match self {
            Self::Pin(PinStage::Linear { ohms, .. } | PinStage::Off { ohms })
            | Self::GateHigh(OutputCurve::Resistance(ohms))
            | Self::GateLow(OutputCurve::Resistance(ohms)) => *ohms,
            Self::Pin(PinStage::PullUp { k, .. } | PinStage::PullDown { k, .. }) => {
                1.0 / (k * OVERDRIVE_V)
            }
            Self::GateHigh(OutputCurve::Saturating { k, .. })
            | Self::GateLow(OutputCurve::Saturating { k, .. }) => {
                let least = k.iter().map(|&(_, k)| k).fold(f64::INFINITY, f64::min);
                1.0 / (least * OVERDRIVE_V)
            }
        }
    }

    /// The channel's current at 0 V and its slopes, and the least supply, V, from which it is that
    /// straight line; `None` if it is curved.
    fn line(&self) -> Option<(StageLoad, f64)> {
        const ANY: f64 = f64::NEG_INFINITY;
        match self {
            Self::Pin(PinStage::Linear { offset, share, ohms }) => {
                let has_corner = *offset < 0.0 && *share > 0.0;
                let least = if has_corner { (STRAIGHT * CORNER_V - offset) / share } else { ANY };
                let (per_node, per_supply) = (1.0 / ohms, -share / ohms);
                Some((StageLoad { amps: -offset / ohms, per_node, per_supply }, least))
            }
            Self::Pin(PinStage::Off { ohms }) => {
                Some((StageLoad { amps: 0.0, per_node: 1.0 / ohms, per_supply: 0.0 }, ANY))
            }
            Self::GateLow(OutputCurve::Resistance(ohms)) => {
                Some((StageLoad { amps: 0.0, per_node: 1.0 / ohms, per_supply: 0.0 }, ANY))
            }
            Self::GateHigh(OutputCurve::Resistance(ohms)) => {
                let (per_node, per_supply) = (1.0 / ohms, -1.0 / ohms);
                Some((StageLoad { amps: 0.0, per_node, per_supply }, ANY))
            }
            _ => None,
        }
    }

    /// The channel's current out of a node at `node` volts with the supply at `supply` volts.
    pub(crate) fn load(&self, node: f64, supply: f64) -> StageLoad {
        match self {
            Self::Pin(PinStage::Linear { offset, share, ohms }) => {
                let (excess, slope) = lifted(*offset, *share, supply);
                StageLoad {
                    amps: (node - offset - share * supply - excess) / ohms,
                    per_node: 1.0 / ohms,
                    per_supply: -slope / ohms,
                }
            }
            Self::Pin(PinStage::PullUp { k, threshold }) => {
                // The pull-up's gate and drain are both at the supply: always saturated.
                let overdrive = (supply - threshold - node).max(0.0);
                StageLoad {
                    amps: -0.5 * k * overdrive * overdrive,
                    per_node: k * overdrive,
                    per_supply: -k * overdrive,
                }
            }
            Self::Pin(PinStage::PullDown { k, threshold }) => {
                let unit = saturating(node, supply - threshold);
                StageLoad {
                    amps: k * unit.amps,
                    per_node: k * unit.per_drop,
                    per_supply: k * unit.per_supply,
                }
            }
            Self::Pin(PinStage::Off { ohms }) => {
                StageLoad { amps: node / ohms, per_node: 1.0 / ohms, per_supply: 0.0 }
            }
            Self::GateLow(curve) => {
                let current = curve.current(node, supply);
                StageLoad {
                    amps: current.amps,
                    per_node: current.per_drop,
                    per_supply: current.per_supply,
                }
            }
            Self::GateHigh(curve) => {
                let current = curve.current(supply - node, supply);
                StageLoad {
                    amps: -current.amps,
                    per_node: current.per_drop,
                    per_supply: -current.per_drop - current.per_supply,
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::circuit::NodeId;
    use crate::network::circuit::PartKind;
    use crate::network::circuit::Pin;
    use crate::network::operating_point::Network;
    use crate::network::rig::circuit;
    use crate::signal::pulse_train::Level;

    #[test]
    fn a_pull_up_that_has_cut_off_leaks_to_ground_and_not_into_its_supply() {
        let pin = Pin {
            node: NodeId(1),
            supply: NodeId(2),
            levels: vec![PinStage::PullUp { k: 5e-4, threshold: 1.2 }],
            delay_s: 0.0,
            rise_s: 0.0,
            fall_s: 0.0,
            farads: 0.0,
        };
        let supply = |node, volts, ohms| PartKind::Supply { node: NodeId(node), volts, ohms };
        let kinds = vec![PartKind::Pin(Box::new(pin)), supply(1, 10.0, 1e9), supply(2, 5.0, 1e6)];
        let board = circuit(&["ground", "pin", "rail"], kinds);
        let point = Network::new(&board).unwrap().operating_point(&[Level(0)]).unwrap();
        assert!((point.volts(NodeId(1)) - 5.0).abs() < 1e-6, "{}", point.volts(NodeId(1)));
        assert!((point.volts(NodeId(2)) - 5.0).abs() < 1e-6, "{}", point.volts(NodeId(2)));
    }

    fn slopes_match(stage: &Stage, node: f64, supply: f64) {
        let step = 1e-6;
        let at = stage.load(node, supply);
        let by_node = (stage.load(node + step, supply).amps - stage.load(node - step, supply).amps)
            / (2.0 * step);
        let by_supply = (stage.load(node, supply + step).amps
            - stage.load(node, supply - step).amps)
            / (2.0 * step);
        assert!((by_node - at.per_node).abs() < 1e-8, "{stage:?} {by_node} {}", at.per_node);
        assert!((by_supply - at.per_supply).abs() < 1e-8, "{stage:?} {by_supply}");
    }

    #[test]
    fn every_stage_gives_the_slopes_of_its_current() {
        let curve =
            OutputCurve::Saturating { threshold: 1.5, k: vec![(5.0, 6.7e-4), (10.0, 5.5e-4)] };
        let stages = [
            Stage::Pin(PinStage::Linear { offset: -1.1, share: 1.0, ohms: 3e3 }),
            Stage::Pin(PinStage::PullUp { k: 5e-4, threshold: 1.2 }),
            Stage::Pin(PinStage::PullDown { k: 1.5e-3, threshold: 1.0 }),
            Stage::Pin(PinStage::Off { ohms: 1e8 }),
            Stage::GateHigh(curve.clone()),
            Stage::GateLow(curve),
        ];
        for stage in &stages {
            for (node, supply) in
                [(0.3, 6.5), (2.2, 6.0), (4.9, 5.5), (-0.4, 7.0), (0.2, 1.09), (0.1, 1.2)]
            {
                slopes_match(stage, node, supply);
            }
        }
    }

    #[test]
    fn a_linear_pull_up_without_a_supply_stands_at_ground_and_is_straight_from_half_a_volt_on() {
        assert!(open_volts(-1.1, 1.0, 0.0).abs() < 1e-12);
        assert!(open_volts(-1.1, 1.0, -3.0).abs() < 1e-12);
        // In the middle of the corner: w ln 2.
        assert!((open_volts(-1.1, 1.0, 1.1) - CORNER_V * math::ln(2.0)).abs() < 1e-12);
        assert!((open_volts(-1.1, 1.0, 1.6) - 0.5).abs() < 1e-10);
        assert!((open_volts(-1.1, 1.0, 6.5) - (-1.1 + 6.5)).abs() < f64::EPSILON);
        // What is a share of the supply or does not follow it has no corner.
        assert!((open_volts(0.0, 0.1, 0.2) - 0.02).abs() < f64::EPSILON);
        assert!((open_volts(-0.3, 0.0, 6.5) + 0.3).abs() < f64::EPSILON);
    }

    /// 6.5 V chip, pull-up 0.5 mA/V², 1.2 V: the loads of the linear and the square-law stand-in
    /// computed with a separate nodal solver.
    #[test]
    fn a_square_law_pin_sags_under_load_as_computed_by_hand() {
        let stage = Stage::Pin(PinStage::PullUp { k: 0.5e-3, threshold: 1.2 });
        for (ohms, volts) in [(100e3, 4.86), (10e3, 4.03), (2.2e3, 2.97), (1e3, 2.28), (75.0, 0.44)]
        {
            let (mut low, mut high) = (0.0, 6.5);
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                let balance = stage.load(middle, 6.5).amps + middle / ohms;
                if balance < 0.0 { low = middle } else { high = middle }
            }
            assert!((low - volts).abs() < 0.006, "{ohms}: {low}");
        }
    }
}
