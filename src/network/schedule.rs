//! What turns by itself at moments that are known in advance: a contact that opens now and then, a
//! sounder that beeps.

use crate::base::math;
use crate::base::random::Draws;
use crate::network::circuit::NodeId;

/// When a contact opens, and for how long.
///
/// # Source
///
/// Our own; nobody has measured it. It opens as often as is stated and keeps no time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Openings {
    /// Now and then. Time is cut into spans of 1 / `per_second`. In each of them the contact opens
    /// once, at a moment drawn evenly over the span, for a time drawn exponentially about `open_s`, no
    /// longer than a span. What is drawn for a span depends on the seed and the number of the span
    /// alone.
    Often {
        /// Openings a second, above 0.
        per_second: f64,
        /// How long one lasts in the mean, s, above 0.
        open_s: f64,
        /// Another number, other moments.
        seed: u64,
    },
    /// Once.
    Once {
        /// When, seconds from the first field's start.
        at_s: f64,
        /// How long, s.
        open_s: f64,
    },
}

/// A loudspeaker and its driver: a resistance from a rail to ground while the driver conducts, which
/// in a beep is the first half of every period of the tone.
///
/// # Source
///
/// Ohm's law; the driver is a switch (one transistor, driven into saturation).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sounder {
    /// What feeds it.
    pub node: NodeId,
    /// Loudspeaker and what is in series with it, Ω, above 0.
    pub ohms: f64,
    /// Tone, Hz, above 0.
    pub tone_hertz: f64,
    /// Start of the first beep, seconds from the first field's start.
    pub first_s: f64,
    /// Length of a beep, s.
    pub beep_s: f64,
    /// From the start of a beep to that of the next, s; `None` if there is but one.
    pub every_s: Option<f64>,
}

/// How long a contact or a driver takes to turn, s: its conductance goes from one value to the other in a
/// straight line; from memory.
pub(crate) const TURN_S: f64 = 100e-9;
/// State of a contact that has opened, or of a driver that conducts.
pub(crate) const TURNED: usize = 1;

/// What turns, and when. Its state is 0 while nothing happens.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Schedule {
    Contact(Openings),
    Beeps(Sounder),
}

impl Schedule {
    /// The spans of time, from the run's start, in which it is turned, as far as they touch
    /// `from_s` to `until_s`; in their order, apart from one another. One that ends at `from_s` is among
    /// them, for the stretch before does not reach that moment: it has yet to turn back.
    pub(crate) fn spans(&self, from_s: f64, until_s: f64) -> Vec<(f64, f64)> {
        match self {
            Self::Contact(openings) => openings.spans(from_s, until_s),
            Self::Beeps(sounder) => sounder.spans(from_s, until_s),
        }
    }
}

/// The whole number at or below a share, none below 0.
fn count(share: f64) -> u64 {
    u64::from(math::floor_u32(share.max(0.0)))
}

impl Openings {
    fn spans(&self, from_s: f64, until_s: f64) -> Vec<(f64, f64)> {
        let mut spans: Vec<(f64, f64)> = Vec::new();
        match *self {
            Self::Once { at_s, open_s } => spans.push((at_s, at_s + open_s)),
            Self::Often { per_second, open_s, seed } => {
                // An opening may last into the next span and no further.
                let first = count(from_s * per_second).saturating_sub(1);
                for span in first..=count(until_s * per_second) {
                    let (start_s, end_s) = drawn(span, (per_second, open_s, seed));
                    match spans.last_mut() {
                        Some(before) if start_s <= before.1 => before.1 = before.1.max(end_s),
                        _ => spans.push((start_s, end_s)),
                    }
                }
            }
        }
        spans.retain(|&(start_s, end_s)| end_s >= from_s && start_s < until_s);
        spans
    }
}

/// The opening of one span.
fn drawn(span: u64, (per_second, open_s, seed): (f64, f64, u64)) -> (f64, f64) {
    let span_s = 1.0 / per_second;
    let mut draws = Draws::new(seed, span);
    let start_s = (math::from_u64(span) + draws.uniform()) * span_s;
    (start_s, start_s + draws.exponential(open_s).min(span_s))
}

impl Sounder {
    fn spans(&self, from_s: f64, until_s: f64) -> Vec<(f64, f64)> {
        let mut spans = Vec::new();
        for beep_s in self.beeps(from_s, until_s) {
            let periods = |time_s: f64| count((time_s - beep_s) * self.tone_hertz);
            for period in periods(from_s)..=periods(until_s.min(beep_s + self.beep_s)) {
                let start_s = beep_s + math::from_u64(period) / self.tone_hertz;
                let end_s = (start_s + 0.5 / self.tone_hertz).min(beep_s + self.beep_s);
                if end_s > start_s && end_s >= from_s && start_s < until_s {
                    spans.push((start_s, end_s));
                }
            }
        }
        spans
    }

    /// When the beeps begin that may be heard in a stretch of time.
    fn beeps(&self, from_s: f64, until_s: f64) -> Vec<f64> {
        let Some(every_s) = self.every_s else { return vec![self.first_s] };
        let number = |time_s: f64| count((time_s - self.first_s) / every_s);
        let numbers = number(from_s)..=number(until_s);
        numbers.map(|number| self.first_s + math::from_u64(number) * every_s).collect()
    }
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
    use crate::network::ripple::Adapter;
    use crate::network::transient::Transient;
    use crate::signal::pulse_train::Level;
    use crate::signal::pulse_train::PulseTrain;

    const FIELD_S: f64 = 19.968e-3;

    fn openings(seed: u64) -> Openings {
        Openings::Often { per_second: 20.0, open_s: 3e-3, seed }
    }

    #[test]
    fn a_contact_opens_as_often_and_as_long_as_is_stated() {
        // 20 a second for 3 ms each over 100 s: 2000, and 6 s in all; the deviation of a sum of 2000
        // exponentials is 0.134 s, a twentieth of the openings meet and few are cut short.
        let spans = openings(1).spans(0.0, 100.0);
        let open_s: f64 = spans.iter().map(|(start_s, end_s)| end_s - start_s).sum();
        assert!((1800..=2000).contains(&spans.len()), "{}", spans.len());
        assert!((5.3..6.5).contains(&open_s), "{open_s}");
        assert!(spans.windows(2).all(|pair| pair[0].1 < pair[1].0));
    }

    #[test]
    fn field_by_field_it_opens_as_in_one_piece() {
        let whole = openings(3).spans(0.0, 40.0 * FIELD_S);
        let is_open = |spans: &[(f64, f64)], at_s: f64| {
            spans.iter().any(|&(start_s, end_s)| (start_s..end_s).contains(&at_s))
        };
        for field in 0..40 {
            let from_s = f64::from(field) * FIELD_S;
            let spans = openings(3).spans(from_s, from_s + FIELD_S);
            for step in 0..200 {
                let at_s = from_s + f64::from(step) / 200.0 * FIELD_S;
                assert_eq!(is_open(&spans, at_s), is_open(&whole, at_s), "{field} {step}");
            }
        }
        assert_ne!(openings(3).spans(0.0, 1.0), openings(4).spans(0.0, 1.0));
    }

    #[test]
    fn a_beep_conducts_in_the_first_half_of_each_period_of_its_tone() {
        let sounder = Sounder {
            node: NodeId(1),
            ohms: 228.0,
            tone_hertz: 1000.0,
            first_s: 5e-3,
            beep_s: 3.25e-3,
            every_s: Some(0.1),
        };
        let spans = Schedule::Beeps(sounder).spans(0.0, 0.2);
        let wanted = [5.0, 6.0, 7.0, 8.0, 105.0, 106.0, 107.0, 108.0];
        assert_eq!(spans.len(), wanted.len(), "{spans:?}");
        for ((start_s, end_s), wanted) in spans.iter().zip(wanted) {
            assert!((1e3 * start_s - wanted).abs() < 1e-9, "{start_s}");
            let length = if wanted.rem_euclid(100.0) > 7.5 { 0.25 } else { 0.5 };
            assert!((1e3 * (end_s - start_s) - length).abs() < 1e-9, "{start_s} {end_s}");
        }
        let later = Schedule::Beeps(sounder).spans(6.2e-3, 7.1e-3);
        assert_eq!(later.len(), 2, "{later:?}");
    }

    /// Four fields of 100 µs at the first node of a board whose only pin, at the second, stands; the
    /// largest distance from `expected`, V against s from the first field's start, but for where something
    /// turns.
    fn error(parts: Vec<PartKind>, turns: &[f64], expected: impl Fn(f64) -> f64) -> f64 {
        let board = circuit(&["ground", "a", "pin"], [vec![pin(2, 1e3)], parts].concat());
        let network = Network::new(&board).unwrap();
        let start = network.operating_point(&[Level::LOW]).unwrap();
        let spec = spec(8, 20e-6, vec![NodeId(1)]);
        let plain = Transient::new(&network, &board, &start, &[Level::LOW], spec);
        let train = [PulseTrain::new(Level::LOW, [], TickSpan(200))];
        let mut run = plain.with_recall();
        let (mut samples, _) = run.settle(&train).unwrap();
        for _ in 0..3 {
            samples[0].extend(run.advance_field(&train).unwrap().swap_remove(0));
        }
        let samples = samples[0].iter().enumerate();
        let samples = samples.map(|(k, &volts)| (math::from_usize(k) / 16e6, f64::from(volts)));
        let is_turning =
            |at_s: f64| turns.iter().any(|turn| (0.0..TURN_S).contains(&(at_s - turn)));
        samples
            .filter(|&(at_s, _)| !is_turning(at_s))
            .fold(0.0, |worst, (at_s, volts)| worst.max((volts - expected(at_s)).abs()))
    }

    /// How far 10 V behind 2 Ω into 98 Ω and 1 µF is from its closed form, V, with a contact that is open so:
    /// v falls by e^(-t / 98 µs), and comes back by e^(-t / 1.96 µs).
    fn contact_error_v(open_s: f64, close_s: f64) -> f64 {
        let standing_v = 9.8;
        let adapter = Adapter {
            node: NodeId(1),
            volts: 10.0,
            ohms: 2.0,
            ripple_volts: 0.0,
            ripple_hertz: 50.0,
            phase: 0.0,
            conduction: 0.2,
            openings: Some(Openings::Once { at_s: open_s, open_s: close_s - open_s }),
        };
        let ends = [NodeId(1), NodeId::GROUND];
        let parts = vec![
            PartKind::Adapter(Box::new(adapter)),
            PartKind::Resistor { ends, ohms: 98.0 },
            PartKind::Capacitor { ends, farads: 1e-6 },
        ];
        let lowest_v = standing_v * math::exp(-(close_s - open_s) / 98e-6);
        error(parts, &[open_s, close_s], |at_s| {
            // What it does while it turns comes to half the time.
            let at_s = at_s - 0.5 * TURN_S;
            if at_s < open_s {
                standing_v
            } else if at_s < close_s {
                standing_v * math::exp(-(at_s - open_s) / 98e-6)
            } else {
                standing_v - (standing_v - lowest_v) * math::exp(-(at_s - close_s) / 1.96e-6)
            }
        })
    }

    #[test]
    fn while_a_contact_is_open_the_reservoir_feeds_the_board_and_then_fills_again() {
        // Over the end of the first field.
        let worst_v = contact_error_v(70e-6, 130e-6);
        assert!(worst_v < 3e-3, "{worst_v}");
    }

    #[test]
    fn a_contact_that_closes_on_the_boundary_of_two_fields_is_closed_in_the_second() {
        // 50 µs and as much again is the field's 100 µs to the last bit.
        let worst_v = contact_error_v(50e-6, 100e-6);
        assert!(worst_v < 3e-3, "{worst_v}");
    }

    #[test]
    fn what_turns_back_on_the_boundary_of_two_stretches_turns_back_in_the_second() {
        let contact = Schedule::Contact(Openings::Once { at_s: 0.25, open_s: 0.25 });
        let beeps = Schedule::Beeps(Sounder {
            node: NodeId(1),
            ohms: 228.0,
            tone_hertz: 2.0,
            first_s: 0.25,
            beep_s: 0.25,
            every_s: Some(4.0),
        });
        for schedule in [contact, beeps] {
            for (from_s, until_s) in [(0.0, 0.5), (0.5, 1.0)] {
                assert_eq!(schedule.spans(from_s, until_s), [(0.25, 0.5)], "{schedule:?}");
            }
            assert_eq!(schedule.spans(0.5 + f64::EPSILON, 1.0), []);
        }
    }

    #[test]
    fn a_sounder_divides_the_rail_while_its_driver_conducts() {
        // 10 V behind 10 Ω into 90 Ω: 9 V in the first half of each period of 25 kHz, for 110 µs.
        let sounder = Sounder {
            node: NodeId(1),
            ohms: 90.0,
            tone_hertz: 25e3,
            first_s: 50.01e-6,
            beep_s: 110e-6,
            every_s: None,
        };
        let parts = vec![
            PartKind::Supply { node: NodeId(1), volts: 10.0, ohms: 10.0 },
            PartKind::Sounder(Box::new(sounder)),
        ];
        let turns: Vec<f64> =
            sounder.spans(0.0, 400e-6).iter().flat_map(|&(a, b)| [a, b]).collect();
        let worst_v = error(parts, &turns, |at_s| {
            let since_s = at_s - sounder.first_s;
            let conducts = (0.0..sounder.beep_s).contains(&since_s)
                && (since_s * sounder.tone_hertz).fract() < 0.5;
            if conducts { 9.0 } else { 10.0 }
        });
        assert!(worst_v < 1e-6, "{worst_v}");
    }
}
