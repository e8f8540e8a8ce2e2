//! `waveform.wav` as somebody else's program would read it: pulses where the chip's clock puts them
//! and levels as Millman's theorem gives them, for a chip driven by patterns and for every built-in
//! one. The pins have no rise time and no capacitance, and go to the set through resistors.
//!
//! An edge without rise time lies between two samples, and interpolation at half its height puts it
//! between the same two: off by less than a sample, and so is a distance between two edges, since
//! all edges lie on ticks and so in the same place between their samples.

use crate::boards::read;
use crate::broadcast;
use crate::broadcast::Measured;
use crate::crossings::crossings;
use crate::instant_pins::CLOCKS_PER_LINE;
use crate::instant_pins::Case;
use crate::instant_pins::LINE_SYNC;
use crate::instant_pins::Mark;
use crate::instant_pins::cases;
use crate::instant_pins::pattern;
use crate::instant_pins::pulses_of_field;
use crate::riff;
use backporch::base::math;
use backporch::output::png::write_frame;
use backporch::output::wav::WavSink;
use backporch::receiver::receive;
use backporch::scenario::Scenario;
use backporch::signal::picture::Picture;
use backporch::signal::trace::Trace;
use backporch::simulate::Bench;
use std::io::Cursor;

const FIELDS: usize = 2;
/// Where the solver stops, V.
const LEVEL_V: f64 = 20e-6;

/// The waveform of two fields, through a file and back; the picture of the first field.
fn through_a_file(case: &Case, scenario: &Scenario) -> (Trace, Picture) {
    let bench = Bench::new(scenario, &[]).unwrap();
    let mut run = bench.run().unwrap();
    let samples = case.lines * CLOCKS_PER_LINE * case.samples_per_clock;
    let mut file = Vec::new();
    let total = u64::try_from(FIELDS * samples).unwrap();
    let mut sink = WavSink::new(Cursor::new(&mut file), bench.rate(), 1, total).unwrap();
    let mut first = None;
    for _ in 0..FIELDS {
        let field = run.advance_field(&mut |_| {}).unwrap();
        sink.write_field(&field.traces).unwrap();
        first.get_or_insert(field.reception.picture);
    }
    sink.finish().unwrap();
    let mut wave = riff::read(&file);
    let hertz = case.clock_hz * u64::try_from(case.samples_per_clock).unwrap();
    assert_eq!(u64::from(wave.whole_hertz), hertz, "{}", case.name);
    assert_eq!(bench.rate().ratio(), (hertz, 1), "{}", case.name);
    let volts = wave.channels.remove(0);
    assert_eq!(volts.len(), FIELDS * samples, "{}", case.name);
    (Trace { node: "plug".to_owned(), rate: bench.rate(), volts }, first.unwrap())
}

/// The sync pulses, checked one by one against ticks: their beginnings and ends, in samples.
fn check_pulses(case: &Case, trace: &Trace) -> Vec<(f64, f64)> {
    let (falling, rising) = crossings(&trace.volts, 0.5 * (case.tip_v + case.black_v));
    let field = case.lines * CLOCKS_PER_LINE;
    let expected: Vec<(usize, usize)> = (0..FIELDS)
        .flat_map(|at| {
            pulses_of_field(case).into_iter().map(move |(a, b)| (at * field + a, at * field + b))
        })
        .collect();
    assert_eq!(falling.len(), expected.len(), "{}", case.name);
    assert_eq!(rising.len(), expected.len(), "{}", case.name);
    let found: Vec<(f64, f64)> = falling.into_iter().zip(rising).collect();
    let samples = |ticks: usize| math::from_usize(ticks * case.samples_per_clock);
    for (&(start, end), &(start_tick, end_tick)) in found.iter().zip(&expected) {
        let place = format!("{}: pulse at tick {start_tick}", case.name);
        assert!((0.0..=1.0).contains(&(start - samples(start_tick))), "{place} is at {start}");
        assert!((0.0..=1.0).contains(&(end - samples(end_tick))), "{place} ends at {end}");
        // Both edges lie in the same place between their samples, so that the width is exact but
        // for the 24 bits of a sample.
        assert!(((end - start) - samples(end_tick - start_tick)).abs() < 1e-4, "{place}");
    }
    found
}

/// The level in the middle of some clocks of a line in the second field.
fn level_v(case: &Case, trace: &Trace, line: usize, clocks: (usize, usize)) -> f64 {
    let tick = (case.lines + line) * CLOCKS_PER_LINE + usize::midpoint(clocks.0, clocks.1);
    f64::from(trace.volts[tick * case.samples_per_clock])
}

fn check_levels(case: &Case, trace: &Trace) {
    let Mark { line, clocks, level_v: mark_v, .. } = case.mark;
    for (what, found_v, expected_v) in [
        ("tip", level_v(case, trace, line, (0, LINE_SYNC)), case.tip_v),
        ("porch", level_v(case, trace, line, (LINE_SYNC, 21)), case.black_v),
        ("mark", level_v(case, trace, line, clocks), mark_v),
    ] {
        let place = format!("{}: {what} is {found_v} V, formula {expected_v} V", case.name);
        assert!((found_v - expected_v).abs() < LEVEL_V, "{place}");
    }
}

/// The samples on both sides of each sync edge: none between 10 % and 90 % of sync, for pins without
/// rise time.
fn check_edges(case: &Case, trace: &Trace, pulses: &[(f64, f64)]) {
    let share =
        |sample: usize| (f64::from(trace.volts[sample]) - case.tip_v) / (case.black_v - case.tip_v);
    for at in pulses.iter().flat_map(|pulse| [pulse.0, pulse.1]) {
        let before = math::floor_index(at);
        for sample in [before, before + 1] {
            assert!(!(0.1..0.9).contains(&share(sample)), "{}: sample {sample}", case.name);
        }
    }
}

/// The two edges of the mark, checked against ticks, in samples.
fn check_mark(case: &Case, trace: &Trace) -> (f64, f64) {
    let Mark { line, clocks, beside_v, level_v, .. } = case.mark;
    let line_tick = (case.lines + line) * CLOCKS_PER_LINE;
    let sample = |clock: usize| (line_tick + clock) * case.samples_per_clock;
    // One clock past the sync pulse, whose own edge is not the mark's.
    let from = sample(LINE_SYNC + 1);
    let volts = &trace.volts[from..sample(CLOCKS_PER_LINE)];
    let (falling, rising) = crossings(volts, 0.5 * (beside_v + level_v));
    let (starts, stops) = if level_v > beside_v { (rising, falling) } else { (falling, rising) };
    assert_eq!((starts.len(), stops.len()), (1, 1), "{}", case.name);
    let [start, stop] = [starts[0], stops[0]].map(|at| at + math::from_usize(from));
    for (found, clock) in [(start, clocks.0), (stop, clocks.1)] {
        let late = found - math::from_usize(sample(clock));
        assert!((0.0..=1.0).contains(&late), "{}: {found} is not clock {clock}", case.name);
    }
    (start, stop)
}

/// Lines of one kind: a period and a count, checked against the clock; in samples.
fn check_rates(case: &Case, trace: &Trace, line_starts: &[f64]) -> (f64, f64) {
    let step_s = trace.step_s();
    let per_field = line_starts.len() / FIELDS;
    let intervals = math::from_usize(per_field - 1);
    let line = (line_starts[per_field - 1] - line_starts[0]) / intervals;
    let field = line_starts[per_field] - line_starts[0];
    let line_s = math::from_usize(CLOCKS_PER_LINE) / math::from_u64(case.clock_hz);
    let field_s = math::from_usize(case.lines) * line_s;
    assert!((line * step_s - line_s).abs() < step_s / intervals, "{}: {line}", case.name);
    assert!((field * step_s - field_s).abs() < step_s, "{}: {field}", case.name);
    assert!((field / line - math::from_usize(case.lines)).abs() < 0.01, "{}", case.name);
    (line, field)
}

/// What a broadcaster would ask of the waveform, in the units of the table.
fn measure(case: &Case, trace: &Trace, pulses: &[(f64, f64)]) -> Measured {
    let width = math::from_usize(LINE_SYNC * case.samples_per_clock);
    let is_line = |pulse: &&(f64, f64)| (pulse.1 - pulse.0 - width).abs() < 1.0;
    let line_pulses: Vec<(f64, f64)> = pulses.iter().filter(is_line).copied().collect();
    let starts: Vec<f64> = line_pulses.iter().map(|pulse| pulse.0).collect();
    let (line, field) = check_rates(case, trace, &starts);
    let (mark_start, mark_stop) = check_mark(case, trace);
    let next = starts.partition_point(|&start| start < mark_stop);
    let front = starts[next] - mark_stop;
    let back = mark_start - starts[next - 1];
    let microseconds = |samples: f64| samples * trace.step_s() * 1e6;
    let porch = |samples: f64| case.mark.fills_line.then(|| microseconds(samples));
    let (depth_v, white_v) = (case.black_v - case.tip_v, case.mark.level_v - case.tip_v);
    Measured {
        board: case.name,
        standard: if case.lines == 312 { "625" } else { "525" },
        values: vec![
            ("line period", Some(microseconds(line))),
            ("line period within catch", Some(microseconds(line))),
            ("line sync width", Some(microseconds(line_pulses[0].1 - line_pulses[0].0))),
            ("front porch", porch(front)),
            ("line blanking", porch(front + back)),
            // Instant pins: 0.8 of a sample is what a straight line between two samples shows.
            ("sync edge 10-90 %", Some(microseconds(0.8))),
            // Only this board is made to give the standard's levels.
            (
                "sync share of sync and white",
                (case.name == "pattern").then_some(100.0 * depth_v / white_v),
            ),
            ("lines a field", Some(field / line)),
            ("field rate", Some(1e6 / microseconds(field))),
        ],
    }
}

#[test]
fn the_waveform_file_has_every_pulse_on_its_tick_and_every_level() {
    let mut measured = Vec::new();
    for case in cases() {
        let scenario = read(&case.text);
        let (trace, _) = through_a_file(&case, &scenario);
        let pulses = check_pulses(&case, &trace);
        check_levels(&case, &trace);
        check_edges(&case, &trace, &pulses);
        measured.push(measure(&case, &trace, &pulses));
    }
    broadcast::report(&measured);
}

#[test]
fn the_waveform_file_gives_the_same_picture_when_it_is_received_again() {
    for case in cases() {
        let scenario = read(&case.text);
        let (mut trace, picture) = through_a_file(&case, &scenario);
        trace.volts.truncate(trace.volts.len() / FIELDS);
        let again = receive(&trace, &scenario.receiver).unwrap().picture;
        let [mut ours, mut theirs] = [Vec::new(), Vec::new()];
        write_frame(&picture, &mut ours).unwrap();
        write_frame(&again, &mut theirs).unwrap();
        assert!(ours.len() > 500, "{}: {} bytes", case.name, ours.len());
        assert_eq!(ours, theirs, "{}", case.name);
    }
}

#[test]
fn a_pins_own_edges_have_the_times_that_are_stated() {
    let case = Case { samples_per_clock: 32, ..pattern() };
    let text = case
        .text
        .replace("samples_per_clock = 16", "samples_per_clock = 32")
        .replace("[chip.pins]", "rise = \"150 ns\"\nfall = \"250 ns\"\n[chip.pins]");
    let (trace, _) = through_a_file(&case, &read(&text));
    let at = |share: f64| crossings(&trace.volts, case.tip_v + share * (case.black_v - case.tip_v));
    let ((low_falls, low_rises), (high_falls, high_rises)) = (at(0.1), at(0.9));
    assert_eq!(low_falls.len(), high_falls.len());
    // Equal resistances high and low make the edge a straight line, on which interpolation is exact
    // wherever samples lie: 15.6 ns apart, and 10 % of the shorter edge is 18.75 ns. What is left
    // is the solver's 20 µV at both ends of 0.24 V.
    let width_s = |from: &[f64], to: &[f64]| {
        from.iter().zip(to).map(|(from, to)| (to - from) * trace.step_s()).collect::<Vec<f64>>()
    };
    for (stated_s, found) in
        [(250e-9, width_s(&high_falls, &low_falls)), (150e-9, width_s(&low_rises, &high_rises))]
    {
        let worst = found.iter().map(|found| (found - stated_s).abs()).fold(0.0, f64::max);
        assert!(worst < stated_s * 2.0 * LEVEL_V / 0.24, "{stated_s} s: off by {worst} s");
    }
}
