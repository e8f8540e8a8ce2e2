//! The whole set on waveforms of a bench generator.

mod lock;

use super::*;
use crate::base::math;
use crate::base::ticks::ClockRate;
use crate::receiver::field_oscillator::FieldLoop;
use crate::receiver::sample::set;
use crate::receiver::spec::Clamp;
use crate::receiver::spec::Reception;
use proptest::prelude::*;

const RATE_HZ: u32 = 16_000_000;

#[derive(Clone, Copy)]
enum FieldForm {
    Held,
    Inverted,
    Broad,
}

/// A waveform from a bench generator: sharp edges, levels by hand, no board behind it.
#[derive(Clone, Copy)]
struct Bench {
    line_s: f64,
    lines: u32,
    form: FieldForm,
    form_lines: u32,
    tip_v: f64,
    black_v: f64,
    /// Bar: first and last moment in the line, s; first line and the line after; V over black.
    bar: ((f64, f64), (u32, u32), f64),
}

const SYNC_S: f64 = 4.7e-6;

const FIFTY: Bench = Bench {
    line_s: 64e-6,
    lines: 312,
    form: FieldForm::Inverted,
    form_lines: 4,
    tip_v: 0.0,
    black_v: 0.3,
    bar: ((30e-6, 34e-6), (100, 150), 0.7),
};

const SIXTY: Bench = Bench { line_s: 1.0 / 15_734.0, lines: 262, ..FIFTY };

impl Bench {
    fn at(&self, time_s: f64) -> f64 {
        let number = math::floor(time_s / self.line_s + 1e-9);
        let in_line_s = time_s - number * self.line_s;
        let line = math::floor_index(number) % usize::try_from(self.lines).unwrap();
        let line = u32::try_from(line).unwrap();
        if self.low(line, in_line_s) {
            return self.tip_v;
        }
        let ((from_s, to_s), (first, after), volts) = self.bar;
        let in_bar = (from_s..to_s).contains(&in_line_s) && (first..after).contains(&line);
        self.black_v + if in_bar { volts } else { 0.0 }
    }

    fn low(&self, line: u32, in_line_s: f64) -> bool {
        if line >= self.form_lines {
            return in_line_s < SYNC_S;
        }
        match self.form {
            FieldForm::Held => true,
            FieldForm::Inverted => in_line_s >= SYNC_S,
            FieldForm::Broad => {
                let half_s = 0.5 * self.line_s;
                let in_half_s = if in_line_s < half_s { in_line_s } else { in_line_s - half_s };
                in_half_s < half_s - SYNC_S
            }
        }
    }

    fn trace(&self, from_s: f64, length_s: f64) -> Trace {
        self.trace_with(from_s, length_s, |_| 0.0)
    }

    fn trace_with(&self, from_s: f64, length_s: f64, extra: impl Fn(usize) -> f64) -> Trace {
        let rate_hz = f64::from(RATE_HZ);
        let volts = (0..math::floor_index(length_s * rate_hz))
            .map(|k| self.at(from_s + math::from_usize(k) / rate_hz) + extra(k))
            .map(math::to_f32)
            .collect();
        let rate = ClockRate::new(u64::from(RATE_HZ), 1).unwrap();
        Trace { node: "socket".to_owned(), rate, volts }
    }

    fn field(&self) -> Trace {
        self.trace(0.0, self.line_s * f64::from(self.lines))
    }
}

fn set_60() -> ReceiverSpec {
    ReceiverSpec { line_hz: 15_734.0, field_hz: 56.0, first_line: 20, shown_lines: 242, ..set() }
}

/// Columns and rows of the light patch: first, and the one after the last.
fn light_patch(reception: &Reception) -> ((usize, usize), (usize, usize)) {
    let picture = &reception.picture;
    let lit = |(at, _): &(usize, &f32)| (at % picture.width, at / picture.width);
    let places: Vec<(usize, usize)> = picture
        .luminance
        .iter()
        .enumerate()
        .filter(|(_, light)| **light > 0.2)
        .map(|place| lit(&place))
        .collect();
    let columns = || places.iter().map(|place| place.0);
    let rows = || places.iter().map(|place| place.1);
    (
        (columns().min().unwrap(), columns().max().unwrap() + 1),
        (rows().min().unwrap(), rows().max().unwrap() + 1),
    )
}

fn expected_patch(bench: &Bench, spec: &ReceiverSpec) -> ((f64, f64), (f64, f64)) {
    let ((from_s, to_s), (first, after), _) = bench.bar;
    let (width, height) = (math::from_usize(spec.frame.0), math::from_usize(spec.frame.1));
    let start_s = spec.active_start_s + 0.5 * spec.overscan * spec.active_s;
    let column = |t: f64| (t - start_s) / (spec.active_s * (1.0 - spec.overscan)) * width;
    let hidden = 0.5 * spec.overscan * f64::from(spec.shown_lines);
    let row = |line: u32| {
        (f64::from(line) - f64::from(spec.first_line) - hidden) * height
            / (f64::from(spec.shown_lines) - 2.0 * hidden)
    };
    ((column(from_s), column(to_s)), (row(first), row(after)))
}

fn assert_bar_in_place(bench: &Bench, spec: &ReceiverSpec, signal: &Trace) -> Reception {
    let reception = receive(signal, spec).unwrap();
    let ((left, right), (top, bottom)) = light_patch(&reception);
    let ((x0, x1), (y0, y1)) = expected_patch(bench, spec);
    let near = |found: usize, expected: f64, by: f64| {
        assert!((math::from_usize(found) - expected).abs() <= by, "{found} is not {expected}");
    };
    near(left, x0, 1.5);
    near(right, x1, 1.5);
    near(top, y0, 2.0);
    near(bottom, y1, 2.0);
    reception
}

#[test]
fn a_bar_lies_where_it_was_put_in_every_form_of_field_sync_at_50_and_60_hz() {
    for form in [FieldForm::Held, FieldForm::Inverted, FieldForm::Broad] {
        for (bench, spec) in [(FIFTY, set()), (SIXTY, set_60())] {
            let bench = Bench { form, ..bench };
            let reception = assert_bar_in_place(&bench, &spec, &bench.field());
            assert_eq!(reception.time_base.field_starts_s.len(), 1);
            let lines = usize::try_from(bench.lines).unwrap();
            assert_eq!(reception.time_base.line_starts_s.len(), lines);
            let sync = reception.sync.unwrap();
            assert!((sync.line_period_s - bench.line_s).abs() < 5e-9);
            assert!((sync.line_sync_s - SYNC_S).abs() < 70e-9);
        }
    }
}

#[test]
fn every_row_of_the_frame_belongs_to_one_line_and_hidden_lines_have_none() {
    let spec = ReceiverSpec { overscan: 0.1, ..set() };
    let (first, visible) = screen::visible_lines(&spec);
    let rows: Vec<usize> = (0..312).flat_map(|line| scan::rows_of_line(line, &spec)).collect();
    assert!(rows.into_iter().eq(0..spec.frame.1));
    let last = u32::try_from(first + visible - 1).unwrap();
    assert!(!scan::rows_of_line(last, &spec).is_empty());
    assert!(scan::rows_of_line(last + 1, &spec).is_empty());
    assert_eq!(scan::rows_of_line(0, &spec), 0..0);
    let seen = scan::visible_time(&set());
    assert!((seen.end - seen.start - 52e-6).abs() < 1e-12);
}

#[test]
fn line_starts_are_the_pulses_edges_delayed_by_the_filter() {
    let reception = receive(&FIFTY.field(), &set()).unwrap();
    for (line, start_s) in reception.time_base.line_starts_s.iter().enumerate() {
        let sent_s = math::from_usize(line) * FIFTY.line_s;
        // The bench's edges lie anywhere within a sample of 62.5 ns.
        assert!((start_s - reception.delay_s - sent_s).abs() < 65e-9, "line {line}");
    }
}

#[test]
fn the_levels_at_the_socket_are_reported() {
    let bench = Bench { tip_v: -0.05, black_v: 0.2, ..FIFTY };
    let spec = ReceiverSpec { coupling_hz: Some(2.2575), ..set() };
    let sync = receive(&bench.field(), &spec).unwrap().sync.unwrap();
    assert!((sync.tip_v + 0.05).abs() < 1e-6);
    assert!((sync.porch_v - 0.2).abs() < 1e-6);
    assert!((sync.slice_v - 0.075).abs() < 1e-6);
}

#[test]
fn line_rates_three_percent_off_are_followed_and_ten_percent_off_measured() {
    for factor in [0.97, 1.03, 0.9, 1.1] {
        let bench = Bench { line_s: 64e-6 * factor, ..FIFTY };
        let reception = receive(&bench.field(), &set()).unwrap();
        assert!((reception.sync.unwrap().line_period_s - bench.line_s).abs() < 5e-9);
        let slips = reception.lock.slips.unwrap();
        if (factor - 1.0_f64).abs() < 0.05 {
            // Off by the share d the loop stands at d / gain.
            let phase = reception.lock.phase.unwrap();
            let held_s = (1.0 - 1.0 / factor) / set().line_loop.gain;
            assert!((phase.mean_s + held_s).abs() < 0.05e-6, "{factor}: {phase:?}");
            assert!(slips < 0.05, "{factor}: {slips}");
        } else {
            // 312 lines at a rate that is off by 10 %, the loop's own pull taken off.
            assert!((15.0..40.0).contains(&slips), "{factor}: {slips}");
        }
    }
}

#[test]
fn overscan_hides_the_edges_and_magnifies_the_rest() {
    let spec = ReceiverSpec { overscan: 0.08, ..set() };
    assert_bar_in_place(&FIFTY, &spec, &FIFTY.field());
}

#[test]
fn a_waveform_that_begins_in_mid_line_and_runs_for_several_fields_is_one_picture() {
    let field_s = FIFTY.line_s * f64::from(FIFTY.lines);
    let signal = FIFTY.trace(200.37 * FIFTY.line_s, 2.8 * field_s);
    let reception = assert_bar_in_place(&FIFTY, &set(), &signal);
    assert_eq!(reception.time_base.field_starts_s.len(), 3);
    assert!((reception.time_base.line_starts_s[0] - 0.63 * FIFTY.line_s).abs() < 0.2e-6);
}

#[test]
fn direct_voltage_at_the_input_is_no_matter() {
    for offset_v in [-1.0, 0.7, 2.0] {
        let bench = Bench { tip_v: offset_v, black_v: 0.3 + offset_v, ..FIFTY };
        assert_bar_in_place(&bench, &set(), &bench.field());
    }
}

#[test]
fn weak_sync_is_found_down_to_50_millivolts_under_a_bright_picture() {
    let weak = Bench { black_v: 0.06, bar: ((30e-6, 34e-6), (30, 290), 0.7), ..FIFTY };
    assert_bar_in_place(&weak, &set(), &weak.field());
    for depth_v in [0.0, 0.01, 0.04] {
        let bench = Bench { black_v: depth_v, ..FIFTY };
        assert_eq!(receive(&bench.field(), &set()).unwrap().sync, None);
    }
}

#[test]
fn sync_upside_down_is_not_sync() {
    let bench = Bench { tip_v: 0.3, black_v: 0.0, ..FIFTY };
    for form in [FieldForm::Held, FieldForm::Inverted, FieldForm::Broad] {
        let bench = Bench { form, bar: ((30e-6, 31e-6), (30, 290), -0.6), ..bench };
        assert_eq!(receive(&bench.field(), &set()).unwrap().sync, None);
        let bench = Bench { form, ..FIFTY };
        let bench = Bench { tip_v: 0.3, black_v: 0.0, ..bench };
        assert_eq!(receive(&bench.field(), &set()).unwrap().sync, None);
    }
}

#[test]
fn elements_darker_than_black_do_not_disturb_the_sync() {
    let bench = Bench { bar: ((30e-6, 34e-6), (30, 290), -0.14), ..FIFTY };
    let reception = receive(&bench.field(), &set()).unwrap();
    assert_eq!(reception.time_base.line_starts_s.len(), 312);
    assert_eq!(reception.time_base.field_starts_s.len(), 1);
}

#[test]
fn noise_of_30_millivolts_moves_the_bar_by_no_more_than_a_pixel() {
    let mut state = 1_u32;
    let noise: Vec<f64> = (0..320_000)
        .map(|_| {
            let mut sum = 0.0;
            for _ in 0..12 {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                sum += f64::from(state >> 8) / f64::from(1 << 24) - 0.5;
            }
            0.03 * sum
        })
        .collect();
    let signal = FIFTY.trace_with(0.0, 0.019_968, |k| noise.get(k).copied().unwrap_or_default());
    let reception = receive(&signal, &set()).unwrap();
    assert_eq!(reception.time_base.line_starts_s.len(), 312);
    for (line, start_s) in reception.time_base.line_starts_s.iter().enumerate() {
        let sent_s = math::from_usize(line) * FIFTY.line_s + reception.delay_s;
        assert!((start_s - sent_s).abs() < 0.15e-6, "line {line}: {start_s}");
    }
}

#[test]
fn a_coupled_input_shows_the_same_picture_with_a_keyed_clamp_and_a_darker_one_without() {
    let bench = Bench { bar: ((15e-6, 55e-6), (30, 290), 0.7), ..FIFTY };
    let direct = receive(&bench.field(), &set()).unwrap();
    let coupled = ReceiverSpec { coupling_hz: Some(2.2575), ..set() };
    let keyed = receive(&bench.field(), &coupled).unwrap();
    let worst = greatest_difference(&direct, &keyed);
    assert!(worst < 0.01, "{worst}");
    let open = ReceiverSpec { clamp: Clamp::None, ..coupled };
    let unclamped = receive(&bench.field(), &open).unwrap();
    let middle = 288 * 768 + 384;
    assert!(direct.picture.luminance[middle] > 0.99);
    assert!(unclamped.picture.luminance[middle] < 0.4);
}

#[test]
fn a_tip_clamp_takes_black_at_the_nominal_depth() {
    let spec = ReceiverSpec { clamp: Clamp::SyncTip, ..set() };
    let nominal = receive(&FIFTY.field(), &spec).unwrap();
    assert!(nominal.video.volts[200 * 1024 + 900].abs() < 1e-4);
    let shallow = Bench { black_v: 0.2, ..FIFTY };
    let shallow = receive(&shallow.field(), &spec).unwrap();
    assert!((shallow.video.volts[200 * 1024 + 900] + 0.1).abs() < 1e-4);
}

#[test]
fn a_bar_of_half_the_span_has_the_light_of_half_the_drive() {
    let bench = Bench { bar: ((20e-6, 50e-6), (60, 200), 0.35), ..FIFTY };
    let reception = receive(&bench.field(), &set()).unwrap();
    let light = reception.picture.luminance[200 * 768 + 384];
    assert!((f64::from(light) - 0.189_465).abs() < 1e-4, "{light}");
}

#[test]
fn without_sync_the_set_runs_at_its_own_rates() {
    let bench = Bench { tip_v: 0.3, ..FIFTY };
    let spec = ReceiverSpec { line_hz: 15_400.0, ..set() };
    let reception = receive(&bench.field(), &spec).unwrap();
    assert_eq!(reception.sync, None);
    let starts = &reception.time_base.line_starts_s;
    assert!((starts[100] - 100.0 / 15_400.0).abs() < 1e-12);
    // The bar slants: every line starts 0.94 µs, 14 columns, later in the waveform.
    let first_lit = |row: usize| {
        let row = &reception.picture.luminance[row * 768..][..768];
        row.iter().position(|&light| light > 0.2)
    };
    let (upper, lower) = (first_lit(182).unwrap(), first_lit(202).unwrap());
    assert!((130..150).contains(&(upper - lower)), "{upper} {lower}");
}

#[test]
fn what_cannot_be_received_is_refused() {
    let mut signal = FIFTY.trace(0.0, 1e-3);
    signal.volts[32] = f32::NAN;
    assert_eq!(receive(&signal, &set()), Err(ReceiverError::NotANumber { at_s: 2e-6 }));
    signal.volts.clear();
    assert_eq!(receive(&signal, &set()), Err(ReceiverError::NoSamples));
}

#[test]
fn samples_that_were_not_received_are_dark() {
    let bench = Bench { bar: ((11e-6, 62e-6), (20, 312), 0.7), ..FIFTY };
    let reception = receive(&bench.trace(0.0, 200.5 * 64e-6), &set()).unwrap();
    let light = |row: usize, column: usize| reception.picture.luminance[row * 768 + column];
    assert!(light(350, 200) > 0.9 && light(352, 200) > 0.9);
    assert!(light(352, 600) < 0.01 && light(356, 200) < 0.01);
}

fn greatest_difference(a: &Reception, b: &Reception) -> f32 {
    let pairs = a.picture.luminance.iter().zip(&b.picture.luminance);
    pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f32::max)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn any_samples_give_a_finite_picture(
        volts in prop::collection::vec(-10.0_f32..10.0, 1..4000),
        rate in 1_000_000_u64..20_000_000,
        coupled in any::<bool>(),
        clamp in prop::sample::select(vec![Clamp::BackPorch, Clamp::SyncTip, Clamp::None]),
    ) {
        let rate = ClockRate::new(rate, 1).unwrap();
        let signal = Trace { node: "socket".to_owned(), rate, volts };
        let coupling_hz = coupled.then_some(2.0);
        let spec = ReceiverSpec { frame: (64, 48), coupling_hz, clamp, ..set() };
        let reception = receive(&signal, &spec).unwrap();
        prop_assert_eq!(reception.picture.luminance.len(), 64 * 48);
        prop_assert!(reception.picture.luminance.iter().all(|light| light.is_finite()));
        prop_assert!(reception.video.volts.iter().all(|volts| volts.is_finite()));
    }

    #[test]
    fn a_constant_added_to_the_waveform_does_not_change_the_picture(offset_v in -2.0..2.0_f64) {
        let bench = Bench { tip_v: offset_v, black_v: 0.3 + offset_v, ..FIFTY };
        let length_s = 130.0 * FIFTY.line_s;
        let plain = receive(&FIFTY.trace(0.0, length_s), &set()).unwrap();
        let moved = receive(&bench.trace(0.0, length_s), &set()).unwrap();
        prop_assert!(greatest_difference(&plain, &moved) < 1e-4);
    }
}
