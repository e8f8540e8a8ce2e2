//! The adapter: a supply whose voltage moves with the mains.

use crate::base::math;
use crate::network::circuit::NodeId;
use crate::network::evaluation::MAX_STATES;
use crate::network::evaluation::Weights;
#[cfg(doc)]
use crate::network::passive::OPEN_CONTACT_OHMS;
use crate::network::schedule::Openings;
use crate::network::schedule::TURNED;

/// A plug-in adapter: an open voltage with a ripple on it, behind a resistance; or any source whose
/// contact opens now and then.
///
/// The ripple is that of a rectifier into a reservoir capacitor under steady load: it rises
/// straight while the rectifier conducts and falls straight while the capacitor feeds the load.
/// `volts` is its mean; `ripple_volts` is stated from peak to peak and does not follow the load.
///
/// # Source
///
/// The usual first approximation of a capacitor-input rectifier (straight charge, straight
/// discharge), any text on power supplies.
#[derive(Clone, Debug, PartialEq)]
pub struct Adapter {
    /// Positive terminal; the negative one is at ground.
    pub node: NodeId,
    /// Mean open voltage, V.
    pub volts: f64,
    /// Internal resistance, Ω, above 0.
    pub ohms: f64,
    /// Peak to peak, V, 0 or more.
    pub ripple_volts: f64,
    /// Ripple frequency: once the mains with one rectifier, twice with a bridge, Hz.
    pub ripple_hertz: f64,
    /// Where in its period the ripple is at the start of the run, 0 to 1; at 0 it begins to rise.
    pub phase: f64,
    /// Share of the period in which the rectifier conducts, above 0 and below 1.
    pub conduction: f64,
    /// When its contact opens, which leaves [`OPEN_CONTACT_OHMS`]; `None` if it never does.
    pub openings: Option<Openings>,
}

impl Adapter {
    /// A source of fixed volts, whose contact opens so; `ohms` is all that is in series.
    #[must_use]
    pub fn behind_contact(node: NodeId, volts: f64, ohms: f64, openings: Openings) -> Self {
        /// A node that is let go of has to be held by something until then, Ω.
        const LEAST_OHMS: f64 = 1e-3;
        Self {
            node,
            volts,
            ohms: ohms.max(LEAST_OHMS),
            ripple_volts: 0.0,
            // Of no ripple.
            ripple_hertz: 1.0,
            phase: 0.0,
            conduction: 0.5,
            openings: Some(openings),
        }
    }
}

/// Where a ripple is, and how fast it goes.
#[derive(Clone, Debug)]
pub(crate) struct Ripple {
    own_hertz: f64,
    hertz: f64,
    /// At the start of the field, 0 to 1.
    phase: f64,
    conduction: f64,
    /// The driver that opens its contact.
    contact: Option<usize>,
    /// From trough to crest, V; at 0 there is no ripple at all.
    volts: f64,
    /// The piece that it goes on along for ever; `None` if it turns at its corners.
    held_to: Option<Piece>,
}

/// A straight piece of a ripple.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Piece {
    Rise,
    Fall,
}

impl Ripple {
    /// At the start of a run.
    pub(crate) fn new(adapter: &Adapter, contact: Option<usize>) -> Self {
        let Adapter { ripple_hertz: hertz, phase, conduction, ripple_volts: volts, .. } = *adapter;
        Self { own_hertz: hertz, hertz, phase, conduction, contact, volts, held_to: None }
    }

    /// Whether it stands, but for its contact.
    pub(crate) fn is_still(&self) -> bool {
        self.volts <= 0.0
    }

    /// The driver that opens its contact, if it has one.
    pub(crate) fn contact(&self) -> Option<usize> {
        self.contact
    }

    /// Pulled to the nearest whole number of periods in a field, so that the field can repeat.
    pub(crate) fn pull(&mut self, field_s: f64) {
        self.hertz = math::round(self.own_hertz * field_s).max(1.0) / field_s;
    }

    /// Let go again, at the phase that a field starts with.
    pub(crate) fn release(&mut self, phase: f64) {
        self.hertz = self.own_hertz;
        self.phase = phase;
    }

    /// At the start of the field, 0 to 1.
    pub(crate) fn phase(&self) -> f64 {
        self.phase
    }

    fn phase_at(&self, time_s: f64) -> f64 {
        let turns = self.phase + self.hertz * time_s;
        if self.held_to.is_some() { turns } else { turns - math::floor(turns) }
    }

    /// The straight piece that begins or lies at `time_s`.
    fn piece(&self, time_s: f64) -> Piece {
        self.held_to.unwrap_or_else(|| self.piece_of(self.phase_at(time_s + CORNER_S)))
    }

    fn piece_of(&self, phase: f64) -> Piece {
        if phase < self.conduction { Piece::Rise } else { Piece::Fall }
    }

    /// The same along the piece that begins or lies here, without its corners: what a stretch sees that
    /// no corner falls into.
    pub(crate) fn straight(&self) -> Self {
        // Just before a corner the phase is that of the piece to come, from before its start.
        let phase = self.phase_at(CORNER_S) - self.hertz * CORNER_S;
        Self { phase, held_to: Some(self.piece(0.0)), ..self.clone() }
    }

    /// The same from a later moment on.
    pub(crate) fn later(&self, by_s: f64) -> Self {
        Self { phase: self.phase_at(by_s), ..self.clone() }
    }

    /// Lifts a straight one to so many volts above its trough.
    pub(crate) fn lift(&mut self, height_v: f64) {
        let height = height_v / self.volts;
        self.phase = match self.piece(0.0) {
            Piece::Rise => height * self.conduction,
            Piece::Fall => 1.0 - height * (1.0 - self.conduction),
        };
    }

    /// What has to agree exactly in two ripples that are the same: whether it rises.
    pub(crate) fn kind(&self) -> usize {
        usize::from(!self.is_still() && self.piece(0.0) == Piece::Rise)
    }

    /// How far it comes above another one in so many seconds if both set out at one height, V.
    pub(crate) fn gains_v(&self, other: &Self, in_s: f64) -> f64 {
        (self.rate(0.0) - other.rate(0.0)) * self.volts * in_s
    }

    /// Shares of the trough and the crest, and their change.
    pub(crate) fn motion(&self, time_s: f64) -> Motion {
        Motion { weights: self.weights(time_s), rates: self.rates(time_s) }
    }

    /// Shares of the trough and the crest.
    fn weights(&self, time_s: f64) -> Weights {
        if self.is_still() {
            return mean();
        }
        let height = self.height(time_s);
        shares(1.0 - height, height)
    }

    /// From 0 at the trough to 1 at the crest, and beyond if it is held to a piece.
    fn height(&self, time_s: f64) -> f64 {
        let phase = self.phase_at(time_s);
        match self.held_to.unwrap_or_else(|| self.piece_of(phase)) {
            Piece::Rise => phase / self.conduction,
            Piece::Fall => (1.0 - phase) / (1.0 - self.conduction),
        }
    }

    /// Their change a second, on the straight piece that begins or lies at `time_s`.
    fn rates(&self, time_s: f64) -> Weights {
        if self.is_still() {
            return [0.0; MAX_STATES];
        }
        let rate = self.rate(time_s);
        shares(-rate, rate)
    }

    /// Change of its height a second, on the straight piece that begins or lies at `time_s`.
    fn rate(&self, time_s: f64) -> f64 {
        match self.piece(time_s) {
            Piece::Rise => self.hertz / self.conduction,
            Piece::Fall => -self.hertz / (1.0 - self.conduction),
        }
    }

    /// The next corner after `time_s`, s.
    pub(crate) fn next_corner_s(&self, time_s: f64) -> f64 {
        if self.is_still() || self.held_to.is_some() {
            return f64::INFINITY;
        }
        let phase = self.phase_at(time_s + CORNER_S);
        let ahead = if phase < self.conduction { self.conduction - phase } else { 1.0 - phase };
        time_s + CORNER_S + ahead / self.hertz
    }

    /// Moves the origin of time forward.
    pub(crate) fn rebase(&mut self, by_s: f64) {
        *self = self.later(by_s);
    }
}

/// Those that move, above their troughs, V.
pub(crate) fn heights_v(ripples: &[Ripple]) -> impl Iterator<Item = f64> {
    let moving = ripples.iter().filter(|ripple| !ripple.is_still());
    moving.map(|ripple| ripple.volts * ripple.height(0.0))
}

/// The state of a source whose contact is open, behind trough and crest.
const OPENED: usize = 2;
/// A corner this close is passed already, s.
const CORNER_S: f64 = 1e-12;

/// A mixture of states, and its change a second.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Motion {
    pub(crate) weights: Weights,
    pub(crate) rates: Weights,
}

/// A source behind a contact that moves so: the source's mixture w times the share c for which the
/// contact is closed, which changes by w′c + wc′.
pub(crate) fn behind(source: Motion, contact: Option<Motion>) -> Motion {
    let Some(contact) = contact else { return source };
    let (closed, closes) = (contact.weights[0], contact.rates[0]);
    let mut behind = Motion {
        weights: source.weights.map(|weight| weight * closed),
        rates: std::array::from_fn(|state| {
            source.rates[state] * closed + source.weights[state] * closes
        }),
    };
    behind.weights[OPENED] = contact.weights[TURNED];
    behind.rates[OPENED] = contact.rates[TURNED];
    behind
}

/// The mean of a ripple, which standing levels take.
pub(crate) fn mean() -> Weights {
    shares(0.5, 0.5)
}

fn shares(trough: f64, crest: f64) -> Weights {
    let mut weights = [0.0; MAX_STATES];
    weights[0] = trough;
    weights[1] = crest;
    weights
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::ticks::TickSpan;
    use crate::network::circuit::PartKind;
    use crate::network::operating_point::Network;
    use crate::network::rig::circuit;
    use crate::network::rig::pin;
    use crate::network::rig::spec;
    use crate::network::slew::Slew;
    use crate::network::transient::Transient;
    use crate::signal::pulse_train::Level;
    use crate::signal::pulse_train::PulseTrain;

    fn ripple() -> Ripple {
        let adapter = Adapter {
            node: NodeId(1),
            volts: 9.0,
            ohms: 4.0,
            ripple_volts: 1.0,
            ripple_hertz: 100.0,
            phase: 0.1,
            conduction: 0.2,
            openings: None,
        };
        Ripple::new(&adapter, None)
    }

    #[test]
    fn it_is_straight_between_its_corners_and_comes_round() {
        let ripple = ripple();
        let mut time_s = 0.0;
        for (corner_s, height) in [(1e-3, 1.0), (9e-3, 0.0), (11e-3, 1.0)] {
            let next_s = ripple.next_corner_s(time_s);
            assert!((next_s - corner_s).abs() < 1e-11, "{next_s}");
            let rise = (next_s - time_s) * ripple.rates(time_s)[1];
            let (here, there) = (ripple.weights(time_s)[1], ripple.weights(next_s)[1]);
            assert!((there - height).abs() < 1e-6, "{there}");
            assert!((here + rise - there).abs() < 1e-6);
            time_s = next_s;
        }
    }

    #[test]
    fn pulled_it_repeats_with_the_field_and_released_it_goes_its_own_way() {
        let mut ripple = ripple();
        let field_s = 19.968e-3;
        ripple.pull(field_s);
        ripple.rebase(field_s);
        assert!((ripple.phase() - 0.1).abs() < 1e-9);
        ripple.release(0.1);
        ripple.rebase(field_s);
        assert!((ripple.phase() - (0.1 + 1.9968 - 2.0)).abs() < 1e-9);
    }

    #[test]
    fn held_to_its_piece_it_goes_straight_on_and_is_lifted_as_it_stands() {
        // In the rise, in the fall, and where the rise turns into the fall.
        for (at_s, piece) in [(0.5e-3, Piece::Rise), (4e-3, Piece::Fall), (1e-3, Piece::Fall)] {
            let ripple = ripple().later(at_s);
            let straight = ripple.straight();
            assert_eq!(straight.piece(0.0), piece, "{at_s}");
            assert!(straight.next_corner_s(0.0).is_infinite());
            let by_s = 0.9 * ripple.next_corner_s(0.0);
            for time_s in [0.0, by_s] {
                let (own, held) = (ripple.weights(time_s)[1], straight.weights(time_s)[1]);
                assert!((own - held).abs() < 1e-9, "{at_s} {time_s}: {own} {held}");
            }
            // Beyond the crest or the trough it goes on, up and down by as much in as much time.
            let rate = straight.rates(0.0)[1];
            let height = straight.height(0.0) + rate * 20e-3;
            assert!((straight.later(20e-3).height(0.0) - height).abs() < 1e-9, "{at_s}");
            let mut lifted = straight.clone();
            lifted.lift(1.25);
            assert!((lifted.height(0.0) - 1.25).abs() < 1e-9, "{at_s}: 1 V from trough to crest");
            assert!((lifted.rates(0.0)[1] - rate).abs() < 1e-9, "{at_s}");
        }
    }

    #[test]
    fn what_a_faster_one_gains_is_the_difference_of_their_heights_later() {
        let own = ripple().later(4e-3).straight();
        let mut pulled = ripple();
        pulled.pull(19.9e-3);
        let pulled = pulled.later(4e-3 * own.hertz / pulled.hertz).straight();
        let [apart, later] = [0.0, 1e-3].map(|s| pulled.height(s) - own.height(s));
        assert!(apart.abs() < 1e-9 && later.abs() > 1e-4, "{apart} {later}");
        assert!((pulled.gains_v(&own, 1e-3) - later).abs() < 1e-9);
    }

    #[test]
    fn behind_a_turning_contact_it_changes_as_differences_say() {
        // A ramp that opens and one that closes, over the rise and over the fall of the ripple.
        for (opens, start_s) in [(true, 0.2e-3), (false, 0.2e-3), (true, 2e-3), (false, 2e-3)] {
            let ripple = ripple();
            let mut contact = Slew::rest(usize::from(!opens));
            contact.turn(usize::from(opens), start_s, 0.5e-3);
            let at = |time_s: f64| {
                let weights = contact.weights(time_s);
                let contact = Motion { weights, rates: contact.rates(time_s) };
                behind(ripple.motion(time_s), Some(contact))
            };
            let (middle_s, step_s) = (start_s + 0.2e-3, 1e-8);
            let [before, after] = [-step_s, step_s].map(|by_s| at(middle_s + by_s).weights);
            for (state, rate) in at(middle_s).rates.into_iter().enumerate() {
                let difference = (after[state] - before[state]) / (2.0 * step_s);
                assert!((rate - difference).abs() < 1e-3, "{opens} {start_s} {state} {rate}");
            }
            let weights: f64 = at(middle_s).weights.iter().sum();
            assert!((weights - 1.0).abs() < 1e-12, "{weights}");
        }
    }

    /// 9 V and 1 V of ripple behind 4 Ω into 36 Ω and a capacitor; 100 µs fields of a pin that
    /// stands, sampled at 16 MHz.
    fn settled(hertz: f64, farads: f64) -> Vec<f64> {
        let adapter = Adapter {
            node: NodeId(1),
            volts: 9.0,
            ohms: 4.0,
            ripple_volts: 1.0,
            ripple_hertz: hertz,
            phase: 0.25,
            conduction: 0.5,
            openings: None,
        };
        let ends = [NodeId(1), NodeId::GROUND];
        let board = circuit(
            &["ground", "a", "pin"],
            vec![
                pin(2, 1e3),
                PartKind::Adapter(Box::new(adapter)),
                PartKind::Resistor { ends, ohms: 36.0 },
                PartKind::Capacitor { ends, farads },
            ],
        );
        let network = Network::new(&board).unwrap();
        let start = network.operating_point(&[Level::LOW]).unwrap();
        assert!((start.volts(NodeId(1)) - 8.1).abs() < 1e-9, "standing levels take the mean");
        let spec = spec(8, 20e-6, vec![NodeId(1)]);
        let mut run = Transient::new(&network, &board, &start, &[Level::LOW], spec);
        let train = PulseTrain::new(Level::LOW, [], TickSpan(200));
        let (mut samples, fields) = run.settle(std::slice::from_ref(&train)).unwrap();
        assert!(fields < 20, "{fields}");
        samples[0].extend(run.advance_field(&[train]).unwrap().swap_remove(0));
        samples[0].iter().map(|&volts| f64::from(volts)).collect()
    }

    #[test]
    fn a_settled_board_follows_the_ripple_at_its_own_frequency_field_after_field() {
        // A picofarad against 3.6 Ω has no say; half up, half down.
        let hertz = 10_400.0;
        for (k, volts) in settled(hertz, 1e-12).into_iter().enumerate() {
            let turns = 0.25 + hertz * math::from_usize(k) / 16e6;
            let phase = turns - math::floor(turns);
            let height = 2.0 * phase.min(1.0 - phase) - 0.5;
            assert!((volts - 0.9 * (9.0 + height)).abs() < 20e-6, "{k} {volts}");
        }
    }

    #[test]
    fn a_reservoir_is_settled_at_the_mean() {
        // 100 µF behind 3.6 Ω is 360 µs against 96 µs of ripple: the triangle becomes parabolas of
        // 1 V × 96 µs / (16 × 360 µs) about its mean, to first order.
        let volts = settled(10_400.0, 100e-6);
        let mean = volts.iter().sum::<f64>() / math::from_usize(volts.len());
        assert!((mean - 8.1).abs() < 2e-3, "{mean}");
        let crest = volts.iter().copied().fold(0.0, f64::max);
        let trough = volts.iter().copied().fold(10.0, f64::min);
        assert!((crest - trough - 2.0 * 0.9 / 60.0).abs() < 1e-3, "{}", crest - trough);
    }
}
