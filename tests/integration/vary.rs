//! Levels while a setting goes through its values.

use crate::boards::example;
use crate::program::backporch;
use backporch::analysis::vary::points;
use backporch::analysis::verdict::Seen;
use backporch::scenario::Scenario;

const TABLE: &str = "scenarios/table-follower.toml";

/// The trade's figures for the grey player's trimmer on the biased follower (computed independently by
/// nodal analysis): black, depth, white, grey in mV at 500 Ω, 3.3 kΩ and 22 kΩ.
#[test]
fn the_trimmer_of_the_biased_follower_reacts_as_printed() {
    let printed = [
        ("500", [182.0, 181.0, 526.0, 564.0]),
        ("3k3", [334.0, 302.0, 695.0, 290.0]),
        ("22k", [421.0, 355.0, 790.0, 71.0]),
    ];
    // A wiper at the end of its track leaves 0.1 Ω of it.
    let board = |ohms| example(TABLE, &[&format!("P1={ohms}"), "P1.position=1"]);
    let boards: Vec<Scenario> = printed.iter().map(|(ohms, _)| board(*ohms)).collect();
    for (found, (ohms, expected)) in points(&boards, false).into_iter().zip(printed) {
        let levels: Vec<f64> =
            found.unwrap().levels.iter().map(|level| 1e3 * level.unwrap()).collect();
        let [_, black, depth, field, _, left, _] = levels[..] else { panic!("{levels:?}") };
        for (found, expected) in [black, depth, field, left].into_iter().zip(expected) {
            assert!((found - expected).abs() < 0.6, "{ohms}: {found}, printed {expected}");
        }
    }
}

/// What takes time does not show in standing levels, and does in the waveform: a metre of screened lead
/// on a high-impedance node dims a narrow paddle.
#[test]
fn a_lead_shows_in_time_only() {
    let long = ["game.left=0.4", "wiring.stray=300 pF"];
    let boards = [example(TABLE, &["game.left=0.4"]), example(TABLE, &long)];
    let levels = |in_time: bool| -> Vec<f64> {
        let found = points(&boards, in_time);
        found.into_iter().map(|point| point.unwrap().levels[5].unwrap()).collect()
    };
    let [rest, time] = [levels(false), levels(true)];
    assert!((rest[0] - rest[1]).abs() < 1e-9);
    assert!(time[0] - time[1] > 5e-3, "{time:?}");
}

#[test]
fn a_board_that_cannot_be_solved_leaves_the_others() {
    let boards = [example(TABLE, &["R6=open"]), example(TABLE, &[])];
    for in_time in [false, true] {
        let found = points(&boards, in_time);
        let first = found[0].as_ref().unwrap();
        assert!(first.seen.iter().all(|seen| seen.is_none_or(|seen| seen == Seen::Missing)));
        assert!(first.unmet.contains(&"left.seen".to_owned()), "{:?}", first.unmet);
        assert!(found[1].as_ref().unwrap().unmet.is_empty());
    }
}

#[test]
fn the_program_writes_a_picture_a_table_and_frames() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let run = |more: &[&str]| {
        let base = ["vary", TABLE, "P1.position=0..1:3", "R1=E6:1k5..3k3", "-o", out];
        backporch(&[&base[..], more].concat())
    };
    let done = run(&["--frames", "--json"]);
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let report: serde_json::Value = serde_json::from_slice(&done.stdout).unwrap();
    assert_eq!(report["points"].as_array().unwrap().len(), 9);
    let rows = std::fs::read_to_string(folder.path().join("vary.csv")).unwrap();
    assert_eq!(rows.matches("\r\n").count(), 10);
    for name in ["vary.png", "frames.png"] {
        assert!(image::open(folder.path().join(name)).is_ok(), "{name}");
    }
    let wrong = backporch(&["vary", TABLE, "P9.position=0..1", "-o", out]);
    assert_eq!(wrong.status.code(), Some(2));
    let said = String::from_utf8(wrong.stderr).unwrap();
    assert!(said.contains("did you mean `P1`"), "{said}");
}
