//! A set at work: what it carries from one waveform to the next.

use crate::base::math;
use crate::base::parallel;
use crate::receiver::ReceiverError;
use crate::receiver::amplifier;
use crate::receiver::clamp;
use crate::receiver::demands;
use crate::receiver::demands::Answer;
use crate::receiver::demands::Sent;
use crate::receiver::field_oscillator::FieldOscillator;
use crate::receiver::line_oscillator::LineOscillator;
use crate::receiver::lock;
use crate::receiver::lock::Lock;
use crate::receiver::lock::Phase;
use crate::receiver::scan;
use crate::receiver::screen::Screen;
use crate::receiver::slicer::Pulse;
use crate::receiver::spec::ReceiverSpec;
use crate::receiver::spec::Reception;
use crate::receiver::spec::TimeBase;
use crate::receiver::sync;
use crate::receiver::sync::Separated;
use crate::receiver::tape::Tape;
use crate::receiver::time_base;
use crate::receiver::transfer::Curve;
use crate::signal::trace::Trace;

/// Fields after which a set that has not settled is looked at all the same: a second of watching.
pub(super) const FIELDS: u32 = 50;

/// A set that is switched on.
#[derive(Clone, Debug)]
pub struct Set {
    spec: ReceiverSpec,
    line: LineOscillator,
    field: FieldOscillator,
    curve: Curve,
    past: Option<Past>,
    /// The last waveform behind the amplifier, black not restored, V.
    video: Vec<f32>,
}

/// The sync of the last waveform, and what the set made of it, on the axis of the next one.
#[derive(Clone, Debug, Default)]
struct Past {
    own: TimeBase,
    sent: TimeBase,
    ends_low: bool,
}

/// The separated sync of a waveform as the oscillators take it.
struct SyncInput<'a> {
    pulses: &'a [Pulse],
    edges_s: Vec<f64>,
    duration_s: f64,
}

impl Set {
    /// A set that has received nothing yet.
    #[must_use]
    pub fn new(spec: &ReceiverSpec) -> Self {
        Self {
            line: LineOscillator::new(spec.line_hz, &spec.line_loop),
            field: FieldOscillator::new(spec.field_hz, spec.field_loop),
            curve: Curve::new(spec.transfer),
            spec: spec.clone(),
            past: None,
            video: Vec::new(),
        }
    }

    /// Receives a waveform that follows the last one without a break. Before the first one the set
    /// has been receiving its sync over and over, until one round was like the one before.
    ///
    /// # Errors
    ///
    /// [`ReceiverError`] if there are no samples or one of them is infinite or not a number.
    pub fn receive(&mut self, signal: &Trace) -> Result<Reception, ReceiverError> {
        let (step_s, duration_s) = (signal.step_s(), signal.duration_s());
        let (volts, delay_s) = amplifier::amplify(signal, &self.spec)?;
        let separated = sync::separate(&volts, step_s, &self.spec);
        let lines = match &separated {
            Some(sync) => time_base::direct(sync, &self.spec, duration_s),
            None => time_base::free(&self.spec, duration_s),
        };
        let sent = separated.as_ref().map_or_else(TimeBase::default, |sync| TimeBase {
            field_starts_s: sync.field_starts_s.clone(),
            ..lines.time_base()
        });
        let is_first = self.past.is_none();
        let sync = separated.as_ref();
        let (past, settled_fields) = self.before(sync, &sent, (delay_s, duration_s));
        let input = SyncInput::new(sync, Some(&past), delay_s, duration_s);
        let own = self.advance(&input);
        let seen = Seen { own: past.own.with(&own), sent: past.sent.with(&sent), duration_s };
        let earlier = if is_first { &volts } else { &self.video };
        let tape = Tape { earlier, now: &volts, step_s };
        let screen = Screen::new(&seen.own, &tape, &self.spec);
        let measure = sync.and_then(|sync| amplifier::measure(signal, sync, delay_s, &self.spec));
        let sent_signal = sync.zip(measure.as_ref()).map(|(sync, measure)| Sent {
            field_s: seen.sent_field_s(),
            nominal_hz: self.spec.nominal_line_hz,
            lines: &lines,
            signal,
            sync,
            measure,
            delay_s,
        });
        let answers = demands::answers(&self.spec.demands, sent_signal.as_ref());
        let is_refused = answers.iter().any(Answer::refuses);
        let (picture, restored) = parallel::two(
            || match is_refused {
                true => scan::plain(&self.spec),
                false => scan::scan(&tape, &screen.lines_s, &self.spec, &self.curve),
            },
            || clamp::restored(&volts, step_s, &lines, &self.spec),
        );
        let lock = Lock { settled_fields, ..self.lock(&seen, &screen, sync) };
        let ends_low = input.ends_low();
        let (own_past, sent_past) = (own.earlier(duration_s), sent.earlier(duration_s));
        self.past = Some(Past { own: own_past, sent: sent_past, ends_low });
        self.video = volts;
        Ok(Reception {
            video: Trace { node: signal.node.clone(), rate: signal.rate, volts: restored },
            delay_s,
            sync: measure,
            time_base: lines.time_base(),
            own_base: own,
            lock,
            answers,
            picture,
        })
    }

    /// What came before a waveform, and how many fields it took to settle if nothing did.
    fn before(
        &mut self,
        separated: Option<&Separated>,
        sent: &TimeBase,
        (delay_s, duration_s): (f64, f64),
    ) -> (Past, Option<u32>) {
        if let Some(past) = self.past.take() {
            return (past, None);
        }
        let input = SyncInput::new(separated, None, delay_s, duration_s);
        let (own, fields) = self.settle(&input);
        let sent = sent.earlier(duration_s);
        (Past { own, sent, ends_low: input.ends_low() }, fields)
    }

    /// Takes the sync round and round; what the set made of the last round, on the axis of the next
    /// one, and how many it took with the one to come.
    fn settle(&mut self, input: &SyncInput<'_>) -> (TimeBase, Option<u32>) {
        let mut own = TimeBase::default();
        for fields in 2..=FIELDS {
            let (line, field) = (self.line.clone(), self.field);
            own = self.advance(input).earlier(input.duration_s);
            if self.line.is_like(&line) && self.field.is_like(&field) {
                return (own, Some(fields));
            }
        }
        (own, None)
    }

    fn advance(&mut self, input: &SyncInput<'_>) -> TimeBase {
        TimeBase {
            line_starts_s: self.line.advance(&input.edges_s, input.duration_s),
            field_starts_s: self.field.advance(input.pulses, input.duration_s),
        }
    }

    fn lock(&self, seen: &Seen, screen: &Screen, sync: Option<&Separated>) -> Lock {
        let own = &seen.own;
        let field_s = last_interval(&own.field_starts_s).unwrap_or(1.0 / self.spec.field_hz);
        let line_s = mean_interval(&own.line_starts_s).unwrap_or(1.0 / self.spec.line_hz);
        let edges_s = &seen.sent.line_starts_s;
        let shown = screen.lines_s.iter().flatten().copied();
        let fields_sent_s = &seen.sent.field_starts_s;
        let sent_field_s = seen.sent_field_s();
        let period_s = sync.map_or(line_s, |sync| sync.period_s);
        let before = own.line_starts_s.partition_point(|start_s| *start_s < -period_s);
        let in_field = &own.line_starts_s[before..];
        let started =
            fields_sent_s.iter().rev().find(|start_s| **start_s <= screen.start_s + 0.5 * period_s);
        Lock {
            phase: sync.and_then(|_| Phase::of(shown, edges_s)),
            slips: sync.map(|sync| lock::slips(in_field, edges_s, sync.period_s)),
            line_hz: 1.0 / line_s,
            sent_line_hz: sync.map(|sync| 1.0 / sync.period_s),
            field_hz: 1.0 / field_s,
            field_phase_lines: started.map(|start_s| (screen.start_s - start_s) / period_s),
            field_moves_lines: (field_s - sent_field_s) / period_s,
            settled_fields: None,
        }
    }
}

impl<'a> SyncInput<'a> {
    fn new(
        separated: Option<&'a Separated>,
        past: Option<&Past>,
        delay_s: f64,
        duration_s: f64,
    ) -> Self {
        let pulses = separated.map_or(&[][..], |sync| &sync.pulses);
        let mut input = Self { pulses, edges_s: Vec::with_capacity(pulses.len()), duration_s };
        let ended_low = past.map_or_else(|| input.ends_low(), |past| past.ends_low);
        // A pulse that the waveform begins with fell at its very start, unless it is the rest of
        // one that was under way.
        let first = |at: usize| (at == 0 && !ended_low).then_some(delay_s);
        let edges = pulses.iter().enumerate();
        input.edges_s = edges.filter_map(|(at, pulse)| pulse.leading_s.or(first(at))).collect();
        input
    }

    fn ends_low(&self) -> bool {
        self.pulses.last().is_some_and(|pulse| pulse.trailing_s.is_none())
    }
}

/// Both waveforms' lines and fields: the set's own, and those that were sent.
struct Seen {
    own: TimeBase,
    sent: TimeBase,
    duration_s: f64,
}

impl Seen {
    /// Time between the fields that were sent, s; the waveform's length where that cannot be told.
    fn sent_field_s(&self) -> f64 {
        mean_interval(&self.sent.field_starts_s).unwrap_or(self.duration_s)
    }
}

fn last_interval(times_s: &[f64]) -> Option<f64> {
    let [.., before, last] = times_s else { return None };
    Some(last - before)
}

fn mean_interval(times_s: &[f64]) -> Option<f64> {
    let intervals = math::from_usize(times_s.len().checked_sub(1).filter(|count| *count > 0)?);
    Some((times_s.last()? - times_s.first()?) / intervals)
}
