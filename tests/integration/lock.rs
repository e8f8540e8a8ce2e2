//! Boards that a set does not take as they are, from the file to the picture.

use crate::boards::example;
use backporch::analysis::examine::examine;
use backporch::analysis::verdict::LockState;
use backporch::base::math;
use backporch::scenario::Scenario;
use backporch::signal::picture::Picture;
use backporch::simulate::Bench;
use backporch::simulate::FieldRun;

fn scenario(name: &str, sets: &[&str]) -> Scenario {
    example(&format!("scenarios/{name}.toml"), sets)
}

fn fields(scenario: &Scenario, count: usize) -> Vec<FieldRun> {
    let bench = Bench::new(scenario, &[]).unwrap();
    let mut run = bench.run().unwrap();
    (0..count).map(|_| run.advance_field(&mut |_| {}).unwrap()).collect()
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
    let run = fields(&scenario, 4);
    // 262 lines are sent for each field; the set takes 1 / 45.54 s for its own.
    let line_s = 128.0 / 2.01216e6;
    let expected = (1.0 / scenario.receiver.field_hz - 262.0 * line_s) / line_s;
    let shown = f64::from(scenario.receiver.shown_lines);
    let hidden = math::round(0.5 * scenario.receiver.overscan * shown);
    let rows_a_line = 576.0 / (shown - 2.0 * hidden);
    let top = |field: &FieldRun| light_rows(&field.reception.picture);
    let mut seen = 0;
    for pair in run.windows(2) {
        let lock = pair[1].reception.lock;
        assert!((lock.field_moves_lines - expected).abs() < 0.1, "{lock:?} {expected}");
        let (before, after) = (top(&pair[0]), top(&pair[1]));
        // Two field lines, 196 lines apart or 66; either may be the one that moved.
        let moved = before.iter().flat_map(|from| after.iter().map(move |to| (from, to)));
        let near = moved.filter(|(from, to)| {
            let lines = (math::from_usize(**from) - math::from_usize(**to)) / rows_a_line;
            (lines - expected).abs() < 1.0
        });
        seen += usize::from(near.count() > 0);
    }
    assert!(seen >= 2, "{seen}");
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
