//! Boards that a set does not take as they are, from the file to the picture.

use crate::boards::example;
use crate::boards::fields;
use crate::published::show;
use backporch::analysis::clock::Counts;
use backporch::analysis::clock::lock::Lines;
use backporch::analysis::clock::lock::Verdict;
use backporch::analysis::clock::lock::Windows;
use backporch::analysis::examine::examine;
use backporch::analysis::verdict::LockState;
use backporch::base::math;
use backporch::base::ticks::ClockRate;
use backporch::receiver::receive;
use backporch::scenario::Scenario;
use backporch::scenario::set_library::KINDS;
use backporch::scenario::set_library::Standard;
use backporch::signal::picture::Picture;
use backporch::signal::trace::Trace;

fn scenario(name: &str, sets: &[&str]) -> Scenario {
    example(&format!("scenarios/{name}.toml"), sets)
}

/// Rows that are light over more than half their width: the field lines.
fn light_rows(picture: &Picture) -> Vec<usize> {
    let rows = picture.luminance.chunks(picture.width).enumerate();
    let light = |row: &[f32]| row.iter().filter(|light| **light > 0.5).count() > row.len() / 2;
    rows.filter(|(_, row)| light(row)).map(|(at, _)| at).collect()
}

#[test]
fn every_story_has_the_state_that_it_tells() {
    for (name, states) in [
        ("chapel-follower", &[LockState::Locked][..]),
        ("shed-coil", &[LockState::Shifted]),
        ("loft-coil", &[LockState::Torn]),
        ("canteen-slow", &[LockState::Shifted, LockState::Bending]),
        ("harbour-import", &[LockState::Rolling]),
        ("mill-knob", &[LockState::Locked]),
        ("mill-panel", &[LockState::Refused]),
    ] {
        let scenario = scenario(name, &[]);
        let field = fields(&scenario, 1).remove(0);
        let reading = examine(&scenario, &field).unwrap();
        assert_eq!(reading.lock, states, "{name}: {:?}", field.reception.lock);
    }
}

#[test]
fn a_picture_that_was_in_its_place_stays_there() {
    for name in ["chapel-follower", "ferry-open-drain", "kiosk-solo", "library-combined"] {
        let lock = fields(&scenario(name, &[]), 1).remove(0).reception.lock;
        let phase = lock.phase.unwrap();
        for error_s in [phase.low_s, phase.high_s] {
            assert!(error_s.abs() < 0.1e-6, "{name}: {phase:?}");
        }
    }
}

#[test]
fn a_shifted_picture_stands_off_by_the_detuning_over_the_gain() {
    let scenario = scenario("shed-coil", &[]);
    let lock = fields(&scenario, 1).remove(0).reception.lock;
    let off = 1.0 - 1.95e6 / 128.0 / scenario.receiver.line_hz;
    let expected_s = -off / scenario.receiver.line_loop.gain;
    assert!((lock.phase.unwrap().mean_s - expected_s).abs() < 0.02e-6, "{lock:?} {expected_s}");
}

#[test]
fn a_rolling_picture_moves_by_the_difference_of_the_fields() {
    let scenario = scenario("harbour-import", &[]);
    let run = fields(&scenario, 6);
    // 262 lines are sent for each field; the set takes 1 / 45.54 s for its own.
    let line_s = 128.0 / 2.01216e6;
    let expected = (1.0 / scenario.receiver.field_hz - 262.0 * line_s) / line_s;
    let shown = f64::from(scenario.receiver.shown_lines);
    let hidden = math::round(0.5 * scenario.receiver.overscan * shown);
    let rows_a_line = 576.0 / (shown - 2.0 * hidden);
    let mut seen = 0;
    for pair in run.windows(2) {
        let [before, after] = [&pair[0], &pair[1]].map(|field| field.reception.lock);
        assert!((after.field_moves_lines - expected).abs() < 0.1, "{after:?} {expected}");
        let phases = before.field_phase_lines.zip(after.field_phase_lines);
        let turned = phases.is_some_and(|(from, to)| (to - from - expected).abs() < 0.1);
        // Or it has taken a trigger, or shows the same field again.
        if !turned {
            continue;
        }
        // Each row of a field line is higher by that, or comes in again at the bottom as the next field
        // that is sent; the screen is of whole lines.
        let [before, after] =
            [&pair[0], &pair[1]].map(|field| light_rows(&field.reception.picture));
        let turn = 262.0 * rows_a_line;
        assert!(!before.is_empty(), "no field line is seen");
        for row in &before {
            let row = math::from_usize(*row) - expected * rows_a_line;
            let row = row - turn * math::floor(row / turn);
            let near = after.iter().any(|other| (math::from_usize(*other) - row).abs() < 4.0);
            assert!(near || row > 570.0, "nothing at {row}: {after:?}");
        }
        seen += 1;
    }
    assert!(seen >= 3, "{seen}");
}

/// Whether a picture is what `clock` says of it. Between catch and hold it says that a set may hold once
/// it has caught: where it begins and what field sync does to it decide, and either is right.
fn agree(verdict: Verdict, states: &[LockState]) -> bool {
    let has = |state| states.contains(&state);
    if verdict.refuses || has(LockState::Refused) {
        return verdict.refuses && has(LockState::Refused);
    }
    let lines = match verdict.lines {
        Lines::Locked => !has(LockState::Torn) && !has(LockState::Shifted),
        Lines::Shifted => !has(LockState::Torn) && has(LockState::Shifted),
        Lines::MayHold => true,
        Lines::Torn => has(LockState::Torn),
    };
    lines && verdict.rolls == has(LockState::Rolling)
}

/// What `clock` says of a set and what its picture is: to either side of every edge of its windows. The
/// board is solved once; another clock is the same samples at another rate.
#[test]
fn the_windows_of_a_clock_end_where_the_word_for_the_picture_changes() {
    const APART: f64 = 0.002;
    for kind in KINDS {
        let kind_set = format!("receiver.kind={}", kind.name());
        let board = example("tests/gallery/base.toml", &[&kind_set]);
        let lines = board.received.lock;
        let counts = Counts::from(&board.raster.timing);
        let windows = Windows::of(&board.receiver, counts, &lines);
        assert_eq!(windows, Windows::of_kind(kind, Standard::Lines625, counts));
        let socket = fields(&board, 1).remove(0).traces.remove(0);
        let shown = |clock_hz: f64| {
            let rate = ClockRate::new(8 * u64::from(math::floor_u32(clock_hz)), 1).unwrap();
            let signal = Trace { rate, ..socket.clone() };
            lines.states_of(&receive(&signal, &board.receiver).unwrap())
        };
        let asked = windows.asks.unwrap_or(windows.catch);
        let edges = [windows.catch, windows.hold, windows.field, asked, windows.centred];
        let mut words = Vec::new();
        for edge_hz in edges.iter().flat_map(|window| [window.low_hz, window.high_hz]) {
            for clock_hz in [edge_hz * (1.0 - APART), edge_hz * (1.0 + APART)] {
                let (verdict, states) = (windows.verdict(clock_hz), shown(clock_hz));
                assert!(agree(verdict, &states), "{kind:?} at {clock_hz}: {verdict:?}, {states:?}");
                words.push(verdict.words());
            }
        }
        words.sort_unstable();
        words.dedup();
        show(&format!("{}: {}", kind.name(), words.join("; ")));
        assert!(words.len() >= 2, "{kind:?}: {words:?}");
        // Of those between catch and hold some are not caught, or the window would be too narrow.
        let missed = (1..8_u32).any(|eighth| {
            let share = f64::from(eighth) / 8.0;
            let clock_hz = math::lerp(windows.catch.high_hz, windows.hold.high_hz, share);
            let states = shown(clock_hz);
            states.contains(&LockState::Torn) || states.contains(&LockState::Refused)
        });
        assert!(missed, "{kind:?} catches all that it holds");
    }
}

#[test]
fn no_word_for_an_element_changes_because_a_picture_tears_or_rolls() {
    let set = "receiver.kind=tube-set";
    for (one, other) in [
        (
            scenario("barn-biased", &[set]),
            scenario("barn-biased", &[set, "receiver.field=40", "receiver.field_highest=50"]),
        ),
        (
            scenario("chapel-follower", &[]),
            scenario("chapel-follower", &["receiver.line=\"16.9 kHz\""]),
        ),
    ] {
        let [held, lost] = [&one, &other].map(|scenario| {
            let field = fields(scenario, 1).remove(0);
            examine(scenario, &field).unwrap()
        });
        assert_eq!(held.lock, [LockState::Locked]);
        assert!(lost.lock != held.lock && held.sync == lost.sync);
        assert_eq!(held.shapes.len(), lost.shapes.len());
        for (held, lost) in held.shapes.iter().zip(&lost.shapes) {
            assert_eq!((held.seen, &held.notes), (lost.seen, &lost.notes), "{}", held.shape);
            // The separator looks for line pulses around the set's own rate: a last bit may move.
            let apart_v = held.delta_v.unwrap() - lost.delta_v.unwrap();
            assert!(apart_v.abs() < 1e-5, "{}: {apart_v}", held.shape);
        }
    }
}

#[test]
fn the_same_run_gives_the_same_pictures_to_the_last_bit() {
    let scenario = scenario("harbour-import", &[]);
    let [one, other] = [fields(&scenario, 3), fields(&scenario, 3)];
    assert!(one.iter().zip(&other).all(|(a, b)| a.reception == b.reception));
}
