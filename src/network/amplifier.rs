//! The video driver: a ready-made amplifier of fixed gain.

use crate::network::circuit::NodeId;
use crate::network::device::consumption;
use crate::network::evaluation::Evaluation;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::at;
use crate::network::regulator::soft_corner;
use crate::network::system::unknown;
use std::f64::consts::TAU;

/// A video driver: gain, one pole, an output that cannot leave its supply, an output resistance.
///
/// A voltage y inside follows y + dy/dt / (2π `pole_hertz`) = limit(`gain` v + `offset_volts`),
/// held between `lowest_volts` and the supply less `headroom_volts`, never below ground, corners
/// rounded over 20 mV.
/// The output delivers (y − vo) / `ohms`: from the supply what flows out, into ground what flows in.
///
/// # Source
///
/// One-pole amplifier with an ideal limiter, any text; the rounding is our own.
#[derive(Clone, Debug, PartialEq)]
pub struct VideoDriver {
    /// Input.
    pub input: NodeId,
    /// Output.
    pub output: NodeId,
    /// Supply.
    pub supply: NodeId,
    /// Gain, open circuit.
    pub gain: f64,
    /// Output with the input at ground, V.
    pub offset_volts: f64,
    /// Lowest output, V.
    pub lowest_volts: f64,
    /// Highest output, below the supply, V.
    pub headroom_volts: f64,
    /// Output resistance, Ω, above 0.
    pub ohms: f64,
    /// Frequency at which the response is 3 dB down, Hz.
    pub pole_hertz: f64,
    /// Input resistance to ground, Ω.
    pub input_ohms: f64,
    /// Current drawn from the supply at rest, A; it fades as that of a chip does.
    pub quiescent_amps: f64,
}

/// Width of the limiter's corners, V.
const CORNER_VOLTS: f64 = 0.02;
/// Current below which both halves of the output conduct, A.
const CLASS_A_AMPS: f64 = 1e-4;

/// The greater of two, rounded where they meet, and its slope against the first.
fn soft_greater(a: f64, b: f64) -> (f64, f64) {
    let (excess, slope) = soft_corner((a - b) / CORNER_VOLTS);
    (b + CORNER_VOLTS * excess, slope)
}

impl VideoDriver {
    /// Limited output for an input and a supply, with its slopes against both.
    fn limited(&self, input: f64, supply: f64) -> (f64, f64, f64) {
        let wanted = self.gain * input + self.offset_volts;
        let (above, per_wanted) = soft_greater(wanted, self.lowest_volts);
        let (most, per_supply) = soft_greater(supply - self.headroom_volts, 0.0);
        let (below, per_above) = soft_greater(-above, -most);
        (-below, self.gain * per_wanted * per_above, (1.0 - per_above) * per_supply)
    }

    /// Adds its currents, charges and slopes; `inside` is the unknown of y.
    pub(crate) fn evaluate(&self, x: &[f64], inside: usize, out: &mut Evaluation) {
        let [input, output, supply] = [self.input, self.output, self.supply].map(unknown);
        let (volts, per_input, per_supply) = self.limited(at(x, input), at(x, supply));
        let row: Unknown = Some(inside);
        let lag_s = 1.0 / (TAU * self.pole_hertz);
        out.add_current(row, x[inside] - volts);
        out.q[inside] += lag_s * x[inside];
        out.add_slope(row, row, 1.0, lag_s);
        out.add_slope(row, input, -per_input, 0.0);
        out.add_slope(row, supply, -per_supply, 0.0);
        let siemens = 1.0 / self.ohms;
        let amps = siemens * (x[inside] - at(x, output));
        out.add_current(output, -amps);
        out.add_slope(output, row, -siemens, 0.0);
        out.add_slope(output, output, siemens, 0.0);
        let root = (amps * amps + CLASS_A_AMPS * CLASS_A_AMPS).sqrt();
        let share = 0.5 + 0.5 * amps / root;
        let drawn = consumption(self.quiescent_amps, at(x, supply));
        out.add_current(supply, drawn.value + 0.5 * (amps + root));
        out.add_slope(supply, supply, drawn.slope, 0.0);
        out.add_slope(supply, row, share * siemens, 0.0);
        out.add_slope(supply, output, -share * siemens, 0.0);
        out.add_branch([input, None], at(x, input) / self.input_ohms, 0.0);
        out.add_branch_slope([input, None], 1.0 / self.input_ohms, 0.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::math;
    use crate::network::circuit::Circuit;
    use crate::network::circuit::PartKind;
    use crate::network::operating_point::Network;
    use crate::network::rig::circuit;
    use crate::network::rig::pin;
    use crate::network::rig::step_error;
    use crate::signal::pulse_train::Level;

    const SUPPLY_VOLTS: f64 = 5.0;

    /// Pin of 0 and 5 V through 9 kΩ into 1 kΩ: 0 and 0.5 V at the driver's input.
    fn board(input_ohms: f64) -> Circuit {
        let driver = VideoDriver {
            input: NodeId(1),
            output: NodeId(2),
            supply: NodeId(3),
            gain: 2.0,
            offset_volts: 0.0,
            lowest_volts: -0.5,
            headroom_volts: 1.0,
            ohms: 1.0,
            pole_hertz: 5e6,
            input_ohms,
            quiescent_amps: 5e-3,
        };
        circuit(
            &["ground", "in", "out", "rail"],
            vec![
                pin(1, 9e3),
                PartKind::VideoDriver(Box::new(driver)),
                PartKind::Supply { node: NodeId(3), volts: SUPPLY_VOLTS, ohms: 0.0 },
                PartKind::Resistor { ends: [NodeId(2), NodeId::GROUND], ohms: 150.0 },
            ],
        )
    }

    #[test]
    fn a_step_is_doubled_and_rises_as_one_pole() {
        let lag_s = 1.0 / (TAU * 5e6);
        let error = step_error(&board(1e3), 2, |t| 150.0 / 151.0 * (1.0 - math::exp(-t / lag_s)));
        assert!(error < 50e-6, "{error}");
    }

    #[test]
    fn the_output_stays_a_headroom_below_its_supply() {
        let network = Network::new(&board(1e6)).unwrap();
        let volts = network.operating_point(&[Level::HIGH]).unwrap().volts(NodeId(2));
        assert!((volts - 4.0 * 150.0 / 151.0).abs() < 1e-3, "{volts}");
    }

    #[test]
    fn without_a_supply_it_pulls_nothing_below_ground() {
        let mut dead = board(1e3);
        dead.parts[2].kind = PartKind::Resistor { ends: [NodeId(3), NodeId::GROUND], ohms: 1e9 };
        let point = Network::new(&dead).unwrap().operating_point(&[Level::HIGH]).unwrap();
        assert!(point.volts(NodeId(2)).abs() < 0.03, "{}", point.volts(NodeId(2)));
        assert!(point.volts(NodeId(3)).abs() < 0.03, "{}", point.volts(NodeId(3)));
    }

    #[test]
    fn the_limiter_has_the_slopes_of_its_values() {
        let PartKind::VideoDriver(driver) = &board(1e3).parts[1].kind else { panic!("a driver") };
        let step = 1e-6;
        for input in [-0.3, -0.2, 0.3, 1.74, 1.75, 1.76, 3.0] {
            let of = |input, supply| driver.limited(input, supply).0;
            let (_, per_input, per_supply) = driver.limited(input, 5.0);
            let by_input = (of(input + step, 5.0) - of(input - step, 5.0)) / (2.0 * step);
            let by_supply = (of(input, 5.0 + step) - of(input, 5.0 - step)) / (2.0 * step);
            assert!((by_input - per_input).abs() < 1e-5 && (by_supply - per_supply).abs() < 1e-5);
        }
    }
}
