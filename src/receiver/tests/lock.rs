//! What a set that is out of step shows, read off its picture.

use super::*;
use crate::receiver::demands::Answer;
use crate::receiver::demands::Demand;
use crate::receiver::demands::Origin;
use crate::receiver::demands::Property;
use crate::receiver::line_oscillator::LineLoop;
use crate::receiver::set::Set;

/// Mean column of what is brighter than its row's darkest place, if there is anything.
fn columns(reception: &Reception) -> Vec<Option<f64>> {
    let picture = &reception.picture;
    let rows = picture.luminance.chunks(picture.width);
    rows.map(|row| {
        let dark = row.iter().copied().fold(f32::INFINITY, f32::min);
        let light = |(column, light): (usize, &f32)| {
            let light = f64::from(light - dark);
            (light * (math::from_usize(column) + 0.5), light)
        };
        let (moment, sum) = row
            .iter()
            .enumerate()
            .map(light)
            .fold((0.0, 0.0), |all, one| (all.0 + one.0, all.1 + one.1));
        (sum > 1.0).then(|| moment / sum)
    })
    .collect()
}

/// First row with light in it.
fn top(reception: &Reception) -> usize {
    columns(reception).iter().position(Option::is_some).unwrap()
}

/// A bar from the top of the picture to its bottom, away from both sides.
const BAR: Bench = Bench { bar: ((30e-6, 34e-6), (0, 312), 0.7), ..FIFTY };

#[test]
fn a_line_rate_one_percent_off_without_a_loop_gives_three_slanted_bands_at_50_hz() {
    // A loop that can pull by 0.001 %: the set runs at its own rate.
    let line_loop = LineLoop { swing_s: 1e-9, gain: 10e3, ..set().line_loop };
    let spec = ReceiverSpec { line_hz: 15_625.0 * 1.01, line_loop, ..set() };
    let reception = receive(&BAR.field(), &spec).unwrap();
    // The reader: how far the bar moves from row to row, a picture two rows a line, less jumps.
    let moves: Vec<f64> = columns(&reception)
        .windows(3)
        .filter_map(|rows| Some((rows[0]?, rows[2]?)))
        // Whole bars only: half of one lies elsewhere than its middle.
        .filter(|(upper, lower)| [upper, lower].iter().all(|at| (50.0..718.0).contains(*at)))
        .map(|(upper, lower)| lower - upper)
        .filter(|columns| columns.abs() < 20.0)
        .collect();
    let per_line = moves.iter().sum::<f64>() / math::from_usize(moves.len());
    let line_columns = 768.0 * 64.0 / 52.0;
    let bands = (per_line / line_columns).abs() * 312.0;
    // 156 Hz of 50 fields: 3.12.
    assert!((bands - 3.12).abs() < 0.06, "{bands}");
    assert!((reception.lock.slips.unwrap() - 3.12).abs() < 0.06, "{:?}", reception.lock);
}

#[test]
fn a_field_sync_held_low_bends_the_top_by_the_phase_that_the_loop_is_off_there() {
    let bench = Bench { form: FieldForm::Held, form_lines: 8, line_s: 65.3e-6, ..BAR };
    let line_loop = LineLoop { natural_hz: 100.0, damping: 0.5, gain: 5e3, swing_s: 12e-6 };
    let spec = ReceiverSpec { line_loop, field_hz: 45.0, ..set() };
    let reception = receive(&bench.field(), &spec).unwrap();
    let phase = reception.lock.phase.unwrap();
    assert!(reception.lock.slips.unwrap() < 0.05 && phase.spread_s() > 0.5e-6, "{phase:?}");
    let (sent, own) = (&reception.time_base, &reception.own_base);
    let columns = columns(&reception);
    let columns_per_s = 768.0 / 52e-6;
    let mut bend = (f64::INFINITY, f64::NEG_INFINITY);
    for line in 24..300 {
        let sent_s = sent.line_starts_s[line];
        let late_s = own.line_starts_s.iter().map(|start_s| start_s - sent_s);
        let late_s = late_s.min_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap();
        // Behind a filter of 5 MHz the bar's middle is its delay late, as is the line's start.
        let expected = (32e-6 - late_s - spec.active_start_s) * columns_per_s;
        let found = columns[2 * (line - 24)].unwrap();
        assert!((found - expected).abs() < 1.0, "line {line}: {found} {expected}");
        bend = (bend.0.min(found), bend.1.max(found));
    }
    assert!(bend.1 - bend.0 > 7.0, "{bend:?}");
}

#[test]
fn an_edge_that_is_in_its_place_through_field_sync_bends_nothing() {
    let bench = Bench { form: FieldForm::Broad, ..BAR };
    let phase = receive(&bench.field(), &set()).unwrap().lock.phase.unwrap();
    assert!(phase.spread_s() < 0.1e-6, "{phase:?}");
}

#[test]
fn a_field_rate_outside_the_catch_rolls_by_the_difference_of_the_fields() {
    // 60 fields a second on a set that takes 46 to 54: 262 lines of 63.6 µs.
    let bench =
        Bench { line_s: 63.6e-6, lines: 262, bar: ((20e-6, 50e-6), (100, 110), 0.7), ..FIFTY };
    let field_loop = FieldLoop { highest_hz: 54.0, ..set().field_loop };
    let spec = ReceiverSpec { field_loop, ..set() };
    let mut set = Set::new(&spec);
    let fields: Vec<Reception> = (0..40).map(|_| set.receive(&bench.field()).unwrap()).collect();
    let field_s = 262.0 * 63.6e-6;
    let mut pairs = 0;
    for pair in fields.windows(2) {
        let moves = pair[1].lock.field_moves_lines;
        let [before, after] = [&pair[0], &pair[1]].map(top);
        // The set's field is 1 / 46 s, so that the field sent comes earlier in it every time.
        let turned = (1.0 / spec.field_hz - field_s) / 63.6e-6;
        assert!(moves.abs() > 1.0, "{moves}");
        let rolled = (math::from_usize(before) - math::from_usize(after)) / 2.0;
        // Not where the bar is cut by the top, or has left at the top and come back below.
        if (moves - turned).abs() < 0.01 && before.min(after) > 0 && rolled > 0.0 {
            assert!((rolled - turned).abs() < 1.5, "{rolled} {turned}");
            pairs += 1;
        }
    }
    assert!(pairs >= 3, "{pairs}");
}

#[test]
fn a_set_carries_on_from_field_to_field_as_it_did_in_one_waveform() {
    let bench = Bench { form: FieldForm::Held, ..BAR };
    let spec = ReceiverSpec { line_hz: 15_500.0, ..set() };
    let mut set = Set::new(&spec);
    let first = set.receive(&bench.field()).unwrap();
    let second = set.receive(&bench.field()).unwrap();
    assert_eq!(second.lock.settled_fields, None);
    assert!(first.lock.settled_fields.is_some_and(|fields| fields < 8), "{:?}", first.lock);
    let starts = |reception: &Reception| reception.own_base.line_starts_s.clone();
    assert_eq!(starts(&first).len(), 312);
    let pairs = starts(&first).into_iter().zip(starts(&second));
    let worst = pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    assert!(worst < 2e-9, "{worst}");
}

#[test]
fn a_set_that_nothing_holds_has_no_phase_and_moves() {
    let bench = Bench { tip_v: 0.3, ..BAR };
    let spec = ReceiverSpec { line_hz: 15_400.0, ..set() };
    let lock = receive(&bench.field(), &spec).unwrap().lock;
    assert_eq!((lock.phase, lock.slips, lock.sent_line_hz), (None, None, None));
    assert!((lock.line_hz - 15_400.0).abs() < 1e-6);
    // Its field of 1 / 46 s, less what was sent, in lines of its own.
    let moves = (1.0 / 46.0 - 312.0 * 64e-6) * 15_400.0;
    assert!((lock.field_moves_lines - moves).abs() < 0.01, "{lock:?} {moves}");
}

#[test]
fn a_clamp_keyed_beside_the_porch_takes_what_is_there_for_black() {
    // The bar lies where a set that runs free keys its clamp on some of its lines.
    let line_loop = LineLoop { swing_s: 1e-9, gain: 10e3, ..set().line_loop };
    let spec = ReceiverSpec { line_hz: 15_625.0 * 1.01, line_loop, ..set() };
    let grey = Bench { bar: ((20e-6, 60e-6), (0, 312), 0.3), ..FIFTY };
    let light = |reception: &Reception| {
        let all = &reception.picture.luminance;
        all.iter().map(|&light| f64::from(light)).sum::<f64>() / math::from_usize(all.len())
    };
    let held = light(&receive(&grey.field(), &set()).unwrap());
    let torn = light(&receive(&grey.field(), &spec).unwrap());
    assert!(torn < 0.8 * held, "{torn} {held}");
}

#[test]
fn a_panel_measures_what_it_asks_and_refuses_only_for_what_is_known() {
    let ask = |property, low, high, origin| Demand { property, low, high, origin };
    let demands = vec![
        ask(Property::LineRate, -0.04, 0.04, Origin::Data),
        ask(Property::FieldRate, 45.0, 64.5, Origin::Data),
        ask(Property::Lines, 244.0, 361.0, Origin::Data),
        ask(Property::Depth, 0.05, 1.0, Origin::Data),
        ask(Property::Offset, -1.0, 1.0, Origin::Data),
        ask(Property::Porches, -0.05, 0.05, Origin::Memory),
        ask(Property::LineEdges, 0.5, 1.0, Origin::Memory),
        ask(Property::Interlace, 0.0, 0.05, Origin::Memory),
        ask(Property::Jitter, 0.0, 0.111e-6, Origin::Detail),
    ];
    let spec = ReceiverSpec { demands, ..set() };
    let measured = |bench: &Bench| receive(&bench.field(), &spec).unwrap();
    let good = measured(&FIFTY);
    let expected = [0.0, 50.080_1, 312.0, 0.3, 0.3, 0.0, 0.0, 0.5, 0.0];
    let within = [1e-5, 1e-3, 0.01, 1e-3, 1e-3, 1e-3, 1e-9, 0.01, 63e-9];
    for ((answer, expected), within) in good.answers.iter().zip(expected).zip(within) {
        let found = answer.measured.unwrap();
        assert!((found - expected).abs() < within, "{answer:?}, expected {expected}");
    }
    // Inverted pulses and no interlace: a look, and a picture all the same.
    assert!(!good.refused() && !good.answers[6].is_met() && !good.answers[7].is_met());
    assert!(measured(&Bench { form: FieldForm::Broad, ..FIFTY }).answers[6].is_met());
    for (bench, at) in [
        (Bench { line_s: 64e-6 * 1.05, ..FIFTY }, 0),
        (Bench { lines: 243, ..FIFTY }, 2),
        (Bench { tip_v: 1.1, black_v: 1.4, ..FIFTY }, 4),
    ] {
        let reception = measured(&bench);
        let refusing = reception.answers.iter().position(Answer::refuses);
        assert_eq!(refusing, Some(at), "{:?}", reception.answers);
        let light = &reception.picture.luminance;
        assert!(light.iter().all(|pixel| (pixel - light[0]).abs() < 1e-9));
    }
    let nothing = measured(&Bench { tip_v: 0.3, ..FIFTY });
    assert!(nothing.refused() && nothing.answers.iter().all(|answer| answer.margin().is_none()));
}
