//! The line oscillator and the loop that holds it in step with the line pulses.
//!
//! Once a line the phase detector tells how late the separated sync's edge comes after the line's
//! own start; a lag-lead filter turns that into a change of the oscillator's rate. All that a set
//! does with a clock that is off follows from it: within the loop's reach the picture is shifted by
//! the error that the detector needs to pull the oscillator over, outside it tears, and lines
//! without an edge are coasted through at the rate that the filter still holds.

use crate::base::math;
use std::f64::consts::TAU;

/// The loop of a line oscillator.
///
/// # Source
///
/// The second-order loop with a lag-lead filter of any text on phase-locked loops (F. M. Gardner,
/// *Phaselock Techniques*; R. E. Best, *Phase-Locked Loops*): K F(s), F = (1 + s t₂) / (1 + s t₁),
/// ωₙ² = K / t₁, 2 ζ ωₙ = (1 + K t₂) / t₁.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineLoop {
    /// Natural frequency, Hz.
    pub natural_hz: f64,
    /// Damping ratio.
    pub damping: f64,
    /// Gain at zero frequency, 1/s: share of the line rate for every second of phase error. A rate
    /// that is off by the share d is held with a standing phase error of d / gain.
    pub gain: f64,
    /// Largest phase error that the detector tells, s; gain times this is the range within which
    /// the loop holds.
    pub swing_s: f64,
}

impl LineLoop {
    /// Share of the line rate by which the loop can pull its oscillator: the hold range.
    #[must_use]
    pub fn hold(&self) -> f64 {
        self.gain * self.swing_s
    }

    /// Time constant of the filter's lag, t₁, s.
    #[must_use]
    pub fn lag_s(&self) -> f64 {
        let omega = TAU * self.natural_hz;
        self.gain / (omega * omega)
    }

    /// Share of the gain that is left at high frequency, t₂ / t₁.
    #[must_use]
    pub fn lead(&self) -> f64 {
        (2.0 * self.damping * TAU * self.natural_hz - 1.0 / self.lag_s()) / self.gain
    }
}

/// A line oscillator under way. Times are counted from the start of the waveform that comes next.
#[derive(Clone, Debug, PartialEq)]
pub struct LineOscillator {
    period_s: f64,
    fast: f64,
    slow: f64,
    keep: f64,
    swing_s: f64,
    hold: f64,
    /// Start of the next line, s.
    next_s: f64,
    /// What the filter's capacitor holds, as a share of the line rate.
    held: f64,
    /// Edges that the next line's detector has yet to see, s.
    waiting: Vec<f64>,
}

impl LineOscillator {
    /// An oscillator that would run at `free_hz`, as it is switched on: a quarter of a line out of
    /// step with a waveform that begins with a line, its filter empty.
    #[must_use]
    pub fn new(free_hz: f64, spec: &LineLoop) -> Self {
        let period_s = 1.0 / free_hz;
        let keep = math::exp(-period_s / spec.lag_s());
        let lead = spec.lead();
        Self {
            period_s,
            fast: spec.gain * lead,
            slow: spec.gain * (1.0 - lead) * (1.0 - keep),
            keep,
            swing_s: spec.swing_s,
            hold: spec.hold(),
            next_s: 0.25 * period_s,
            held: 0.0,
            waiting: Vec::new(),
        }
    }

    /// Lines that start within a waveform of `duration_s` whose separated sync has its leading
    /// edges at `edges_s`, in order, s.
    pub fn advance(&mut self, edges_s: &[f64], duration_s: f64) -> Vec<f64> {
        let half_s = 0.5 * self.period_s;
        let waiting = std::mem::take(&mut self.waiting);
        let mut edges = waiting.iter().chain(edges_s).copied().peekable();
        let mut starts = Vec::new();
        // A line that starts in the last half line is answered when what follows is known.
        while self.next_s + half_s <= duration_s {
            if self.next_s >= 0.0 {
                starts.push(self.next_s);
            }
            let mut told_s = 0.0;
            while let Some(edge_s) = edges.next_if(|edge_s| *edge_s < self.next_s + half_s) {
                told_s += self.detected(edge_s - self.next_s);
            }
            self.answer(told_s);
        }
        if (0.0..duration_s).contains(&self.next_s) {
            starts.push(self.next_s);
        }
        self.waiting = edges.map(|edge_s| edge_s - duration_s).collect();
        self.next_s -= duration_s;
        starts
    }

    /// Whether two oscillators are so near one another that nobody could tell them apart.
    #[must_use]
    pub fn is_like(&self, other: &Self) -> bool {
        (self.next_s - other.next_s).abs() < 1e-9 && (self.held - other.held).abs() < 1e-7
    }

    /// The detector: a sawtooth made from the flyback pulse, sampled by the edge. It is steep
    /// during the flyback and runs back over the rest of the line, with no mean.
    ///
    /// # Source
    ///
    /// A semiconductor maker's application note on horizontal APC loops (1970s) describes that
    /// sawtooth; straight flanks are the usual approximation.
    fn detected(&self, error_s: f64) -> f64 {
        let size_s = error_s.abs();
        if size_s <= self.swing_s {
            return error_s;
        }
        let half_s = 0.5 * self.period_s;
        let back_s = self.swing_s * (half_s - size_s) / (half_s - self.swing_s);
        error_s.signum() * back_s.max(0.0)
    }

    /// The filter's answer to what the detector told in one line, and the next line's start. A line
    /// without an edge tells nothing: the capacitor leaks, and the direct part is missing.
    fn answer(&mut self, told_s: f64) {
        self.held = self.keep * self.held + self.slow * told_s;
        let pull = (self.held + self.fast * told_s).clamp(-self.hold, self.hold);
        self.next_s += self.period_s / (1.0 - pull);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SENT_HZ: f64 = 15_625.0;
    const SENT_S: f64 = 1.0 / SENT_HZ;
    /// A tube set's.
    const SET: LineLoop = LineLoop { natural_hz: 250.0, damping: 1.0, gain: 12e3, swing_s: 4.8e-6 };
    const LINES: u32 = 300;

    /// A pulse train that goes on, and a loop that follows it.
    struct Watch {
        loop_: LineOscillator,
        /// The next edge, s from the start of what comes next.
        edge_s: f64,
    }

    impl Watch {
        fn new(spec: &LineLoop) -> Self {
            Self { loop_: LineOscillator::new(SENT_HZ, spec), edge_s: 5e-6 }
        }

        /// Lines of pulses `period_s` apart; how far each line starts before its edge, s.
        fn follow(&mut self, period_s: f64, lines: u32, seen: impl Fn(u32) -> bool) -> Vec<f64> {
            let edges: Vec<f64> =
                (0..lines).map(|line| self.edge_s + f64::from(line) * period_s).collect();
            let duration_s = f64::from(lines) * period_s;
            let all = (0..).zip(&edges).filter(|(line, _)| seen(*line)).map(|(_, edge_s)| *edge_s);
            let starts = self.loop_.advance(&all.collect::<Vec<f64>>(), duration_s);
            let before = |start_s: &f64| {
                let turns = (start_s - self.edge_s) / period_s;
                (math::round(turns) - turns) * period_s
            };
            starts.iter().map(before).collect()
        }

        /// Whether it holds pulses that come at a rate lower by the share `off`, after a while.
        fn holds(&mut self, off: f64) -> bool {
            let period_s = SENT_S / (1.0 - off);
            (0..20).for_each(|_| drop(self.follow(period_s, LINES, |_| true)));
            let last = self.follow(period_s, LINES, |_| true);
            let (low, high) = last
                .iter()
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), e| (a.min(*e), b.max(*e)));
            high - low < 1e-7
        }
    }

    /// The largest share for which `holds` says yes, to 2⁻¹² of a fifth.
    fn edge_of(mut holds: impl FnMut(f64) -> bool) -> f64 {
        let (mut low, mut high) = (0.0, 0.2);
        for _ in 0..12 {
            let middle = 0.5 * (low + high);
            if holds(middle) { low = middle } else { high = middle }
        }
        low
    }

    fn catch(spec: &LineLoop) -> f64 {
        edge_of(|off| Watch::new(spec).holds(off))
    }

    /// Led outward from a clock that it holds, a thousandth at a time.
    fn hold(spec: &LineLoop) -> f64 {
        let mut watch = Watch::new(spec);
        let mut off = 0.0;
        while watch.holds(off) {
            off += 1e-3;
        }
        off
    }

    /// The pull-in range of a loop with a lag-lead filter and this detector, as a share. Out of lock
    /// the filter's capacitor moves slowly, so that over a beat at the rate W = off − held the mean
    /// of the detector is W / b − 2 w / ln((W + b w) / (W − b w)), b the gain at high frequency and w
    /// the swing: its output is spread evenly over ± w, weighted with the time it stays there. The
    /// loop hangs where W + (K − b) mean = off; it pulls in where no W above b w does.
    ///
    /// # Source
    ///
    /// The averaging by which texts on phase-locked loops come to 2 √(ζ ωₙ K) for a sine detector
    /// (F. M. Gardner, *Phaselock Techniques*), done for a triangle.
    fn pull_in(spec: &LineLoop) -> f64 {
        let (fast, swing_s) = (spec.gain * spec.lead(), spec.swing_s);
        let hangs_at = |beat: f64| {
            let ratio = (beat + fast * swing_s) / (beat - fast * swing_s);
            beat + (spec.gain - fast) * (beat / fast - 2.0 * swing_s / math::ln(ratio))
        };
        let beats = (1..20_000_u32).map(|step| fast * swing_s * (1.0 + 1e-3 * f64::from(step)));
        beats.map(hangs_at).fold(f64::INFINITY, f64::min)
    }

    #[test]
    fn a_step_of_phase_is_answered_as_the_second_order_loop_does() {
        // Slow against the line rate, so that steps of a line are small: ωₙ T = 0.008.
        let spec = LineLoop { natural_hz: 20.0, damping: 0.7, gain: 5e3, swing_s: 4.8e-6 };
        let mut watch = Watch::new(&spec);
        (0..20).for_each(|_| drop(watch.follow(SENT_S, LINES, |_| true)));
        watch.edge_s += 1e-6;
        let found = watch.follow(SENT_S, 2000, |_| true);
        let omega = TAU * spec.natural_hz;
        let (fade, turn) =
            (spec.damping * omega, omega * (1.0 - spec.damping * spec.damping).sqrt());
        for (line, found_s) in (0..).zip(&found).skip(1) {
            // Gardner: 1 / (1 + K F(s) / s) of a step, with the lag's finite gain left in.
            let t = f64::from(line) * SENT_S;
            let lag = (1.0 / spec.lag_s() - fade) / turn;
            let error = math::exp(-fade * t) * (math::cos(turn * t) + lag * math::sin(turn * t));
            assert!((found_s / 1e-6 - error).abs() < 0.01, "line {line}: {found_s} {error}");
        }
    }

    #[test]
    fn a_standing_error_is_what_pulls_the_oscillator_over() {
        for off in [-0.025, 0.006, 0.025] {
            let mut watch = Watch::new(&SET);
            assert!(watch.holds(off));
            let last = watch.follow(SENT_S / (1.0 - off), LINES, |_| true);
            assert!((last[200] - off / SET.gain).abs() < 1e-9, "{off}: {}", last[200]);
        }
    }

    #[test]
    fn hold_is_the_gain_times_the_swing_and_catch_is_less() {
        for gain in [6e3, 12e3, 24e3] {
            let spec = LineLoop { gain, ..SET };
            let (catch, hold) = (catch(&spec), hold(&spec));
            assert!((hold / spec.hold() - 1.0).abs() < 0.04, "{gain}: {hold}");
            // The averaging takes no account of the quarter line it starts from, nor of lines.
            let share = catch / pull_in(&spec);
            assert!((0.9..1.0).contains(&share), "{gain}: {catch}, {share} of the closed form");
            assert!(catch < 0.8 * hold);
        }
    }

    #[test]
    fn half_the_gain_halves_hold_and_moves_catch_as_the_closed_form_does() {
        let half = LineLoop { gain: 0.5 * SET.gain, ..SET };
        let holds = hold(&half) / hold(&SET);
        assert!((holds - 0.5).abs() < 0.02, "{holds}");
        let catches = catch(&half) / catch(&SET);
        let expected = pull_in(&half) / pull_in(&SET);
        assert!((catches / expected - 1.0).abs() < 0.05, "{catches} {expected}");
        // Not half: the natural frequency and the damping are kept.
        assert!(catches > 0.6);
    }

    #[test]
    fn missing_pulses_are_coasted_through_at_the_rate_that_the_filter_holds() {
        let (off, missing) = (0.02, 100..108_u32);
        let mut watch = Watch::new(&SET);
        assert!(watch.holds(off));
        let period_s = SENT_S / (1.0 - off);
        let found = watch.follow(period_s, LINES, |line| !missing.contains(&line));
        // Without its direct part and with a leaking capacitor it runs fast, line by line.
        let leak = math::exp(-SENT_S / SET.lag_s());
        let mut held = off * (1.0 - SET.lead());
        let mut expected_s = off / SET.gain;
        for _ in missing.clone() {
            held *= leak;
            expected_s += period_s - SENT_S / (1.0 - held);
        }
        let at = found.iter().position(|e| (e - off / SET.gain).abs() > 1e-9).unwrap();
        let drift = found[at..at + 8].iter().position(|e| (e - expected_s).abs() < 2e-8);
        assert_eq!(drift, Some(7), "{expected_s} {:?}", &found[at..at + 8]);
        assert!((found[250] - off / SET.gain).abs() < 1e-9);
    }

    #[test]
    fn an_edge_in_the_wrong_place_is_an_error_and_one_in_mid_line_is_none() {
        let moved = |extra_s: f64| {
            let mut watch = Watch::new(&SET);
            assert!(watch.holds(0.0));
            let edge_s = |line: u32| watch.edge_s + f64::from(line) * SENT_S;
            let mut edges: Vec<f64> = (0..LINES).map(edge_s).collect();
            edges.insert(101, edges[100] + extra_s);
            let starts = watch.loop_.advance(&edges, f64::from(LINES) * SENT_S);
            starts[101] - starts[100] - SENT_S
        };
        assert!((moved(4.5e-6) / SENT_S - (SET.gain * SET.lead() * 4.5e-6)).abs() < 1e-3);
        assert!(moved(0.499_99 * SENT_S).abs() < 1e-9);
    }
}
