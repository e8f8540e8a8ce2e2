//! Many boards off by their tolerances: against exact distributions and derivatives, split and joined,
//! alone and together.

use crate::boards::example;
use crate::boards::read;
use crate::program::backporch;
use crate::running::Running;
use backporch::analysis::ladder::ladder;
use backporch::analysis::spread::Board;
use backporch::analysis::spread::Look;
use backporch::analysis::spread::Run;
use backporch::analysis::spread::RunSpec;
use backporch::analysis::spread::level_names;
use backporch::analysis::spread::part_of;
use backporch::analysis::spread::tally::Tally;
use backporch::analysis::verdict::Seen;
use backporch::output::spread_file::JoinError;
use backporch::output::spread_file::SpreadFile;
use backporch::scenario::Scenario;
use std::ops::ControlFlow;
use std::ops::Range;
use std::process::Command;

const SPEC: RunSpec = RunSpec { seed: 1, look: Look::Levels };

/// A pin of 5 V behind 1 mΩ over R1 and R2; the socket, open, is between them.
fn divider(spread: &str) -> Scenario {
    read(&format!(
        "[chip]\n\
         [chip.timing]\nclock = \"2 MHz\"\nclocks_per_line = 128\nlines = 312\nsync = 9\n\
         back_porch = 12\nfront_porch = 3\nfield_sync = \"held\"\nfirst_active_line = 24\n\
         [chip.drive]\nkind = \"fixed\"\nhigh_volts = 5\nhigh_ohms = 0.001\nlow_ohms = 0.001\n\
         [chip.pattern.left]\nactive = [{{ lines = [50, 60], clocks = [40, 50] }}]\n\
         [board.R1]\nresistor = \"3k\"\nfrom = \"left\"\nto = \"plug\"\n\
         [board.R2]\nresistor = \"1k 10%\"\nfrom = \"plug\"\nto = \"ground\"\n\
         [board.R3]\nresistor = \"1 M\"\nfrom = \"sync\"\nto = \"ground\"\n\
         [output]\nnode = \"plug\"\nload = \"open\"\n\
         [spread]\nresistors = \"5 %\"\n{spread}"
    ))
}

fn boards(scenario: &Scenario, spec: RunSpec, range: Range<u64>) -> Vec<Board> {
    let run = Run::new(scenario, spec).unwrap();
    let mut all = Vec::new();
    let mut take = |boards: &[Board]| -> Result<ControlFlow<()>, ()> {
        all.extend_from_slice(boards);
        Ok(ControlFlow::Continue(()))
    };
    run.boards(range, &mut take).unwrap();
    all
}

fn file(scenario: &Scenario, of: u64, range: Range<u64>) -> SpreadFile {
    let run = Run::new(scenario, SPEC).unwrap();
    let mut file = SpreadFile::new(scenario, &run, of);
    for board in boards(scenario, SPEC, range.clone()) {
        file.tally.add(scenario, &board);
    }
    file.cover(range);
    file
}

fn bytes(file: &SpreadFile) -> Vec<u8> {
    let mut bytes = Vec::new();
    file.write(&mut bytes).unwrap();
    bytes
}

/// Share of dividers at or below `volts`, for resistors anywhere within their tolerances alike: the
/// area of R1 against R2 where 5 V R2 / (R1 + R2) ≤ v, cut into strips of R1 on which R2's bound is a
/// straight line (any text on probability). The meter's 1 MΩ at the socket lowers R2.
fn share_below(volts: f64) -> f64 {
    const STRIPS: u32 = 200_000;
    let (low1, high1) = (3e3 * 0.95, 3e3 * 1.05);
    let (low2, high2) = (1e3 * 0.90, 1e3 * 1.10);
    let strip = |index: u32| {
        let r1 = low1 + (high1 - low1) * (f64::from(index) + 0.5) / f64::from(STRIPS);
        let parallel = r1 * volts / (5.0 - volts);
        let r2 = 1.0 / (1.0 / parallel - 1e-6);
        ((r2 - low2) / (high2 - low2)).clamp(0.0, 1.0)
    };
    (0..STRIPS).map(strip).sum::<f64>() / f64::from(STRIPS)
}

#[test]
fn a_divider_of_uniform_resistors_has_its_exact_distribution() {
    const BOARDS: u32 = 20_000;
    let scenario = divider("");
    let left = level_names(&scenario).iter().position(|name| name == "left").unwrap();
    let all = boards(&scenario, SPEC, 0..u64::from(BOARDS));
    for volts in [1.16, 1.20, 1.24, 1.28, 1.33] {
        let exact = share_below(volts);
        let below = |board: &&Board| board.measured.as_ref().unwrap().levels[left] <= volts;
        let count = u32::try_from(all.iter().filter(below).count()).unwrap();
        let found = f64::from(count) / f64::from(BOARDS);
        // Four deviations of a count by lot.
        let deviation = (exact * (1.0 - exact) / f64::from(BOARDS)).sqrt();
        assert!((found - exact).abs() < 4.0 * deviation, "{volts} V: {found}, exactly {exact}");
    }
}

/// To first order the variance that a part brings is (∂v/∂R · σ)²; for v = V R2 / (R1 + R2) the
/// relative slopes of both resistors are equal and opposite, so that the shares go as the squares of
/// the tolerances: 5² : 10² (any text on errors).
#[test]
fn what_decides_is_what_the_derivatives_say() {
    let scenario = divider("");
    let file = file(&scenario, 20_000, 0..20_000);
    let left = file.levels.iter().position(|name| name == "left").unwrap();
    let shares = file.tally.shares(left);
    let share = |name: &str| shares[file.factors.iter().position(|one| one == name).unwrap()];
    assert!((share("R1") - 0.2).abs() < 0.012, "{shares:?}");
    assert!((share("R2") - 0.8).abs() < 0.012, "{shares:?}");
    assert!(share("R3") < 1e-3, "{shares:?}");
    let figures = file.tally.figures(left).unwrap();
    // σ/v = R1/(R1+R2) · √(5² + 10²) % / √3.
    let expected = figures.mean_v * 0.75 * (0.05_f64 * 0.05 + 0.1 * 0.1).sqrt() / 3.0_f64.sqrt();
    assert!((figures.deviation_v / expected - 1.0).abs() < 0.02, "{figures:?}");
}

#[test]
fn normal_measured_and_ranged_parts_stay_where_they_are_said_to() {
    let scenario = divider(
        "law = \"normal\"\n[spread.part]\nR1 = [\"2.9 k\", \"3.1 k\"]\nR2 = { from = \"0.9 k\", to = \"1.0 k\" }\n",
    );
    let names: Vec<&str> = scenario.spread.iter().map(|factor| factor.name.as_str()).collect();
    assert_eq!(names, ["R1", "R2", "R3"]);
    for board in boards(&scenario, SPEC, 0..500) {
        assert!([2900.0, 3100.0].iter().any(|ohms| (board.draws[0] - ohms).abs() < 1e-9));
        assert!((900.0..=1000.0).contains(&board.draws[1]));
        assert!((board.draws[2] / 1e6 - 1.0).abs() <= 0.05);
    }
}

fn chapel() -> Scenario {
    example("scenarios/chapel-follower.toml", &[])
}

#[test]
fn a_run_split_in_sixteen_and_joined_is_the_whole_to_the_byte() {
    const BOARDS: u64 = 400;
    let scenario = chapel();
    let whole = file(&scenario, BOARDS, 0..BOARDS);
    assert!(whole.is_whole());
    let mut joined = file(&scenario, BOARDS, 0..0);
    // The last first: the order does not matter.
    for part in (1..=16).rev() {
        let one = file(&scenario, BOARDS, part_of(BOARDS, part, 16));
        assert!(!one.is_whole());
        let text = String::from_utf8(bytes(&one)).unwrap();
        let one = SpreadFile::read(&text).unwrap();
        joined.join(&one).unwrap();
        assert_eq!(joined.join(&one), Err(JoinError::Overlap));
        let mut damaged = one.clone();
        damaged.tally.sync[0] += 1;
        assert_eq!(joined.join(&damaged), Err(JoinError::Damaged));
    }
    assert!(bytes(&joined) == bytes(&whole));
    let mut other = chapel();
    other.spread.pop();
    assert_eq!(joined.join(&file(&other, BOARDS, 0..10)), Err(JoinError::OtherRun));
}

#[test]
fn board_k_alone_is_board_k_of_the_run_whatever_the_number_of_threads() {
    let scenario = chapel();
    let run = Run::new(&scenario, SPEC).unwrap();
    let together = boards(&scenario, SPEC, 100..140);
    for board in &together {
        assert_eq!(run.board(board.number), *board);
    }
    for threads in [1, 3] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        assert!(pool.install(|| boards(&scenario, SPEC, 100..140)) == together);
    }
    let seeded = boards(&scenario, RunSpec { seed: 2, ..SPEC }, 100..140);
    assert!(seeded.iter().zip(&together).all(|(a, b)| a.draws != b.draws));
}

/// In time all of `[expect]` is judged, at rest what standing levels tell of it; where both judge, a
/// board that is bad at rest is bad in time.
#[test]
fn good_is_every_expectation_in_the_file() {
    let scenario = chapel();
    let at_rest = Run::new(&scenario, SPEC).unwrap();
    let in_time = Run::new(&scenario, RunSpec { look: Look::Field, ..SPEC }).unwrap();
    assert_eq!(in_time.judged().len(), scenario.expect.len());
    assert!(in_time.not_judged().is_empty());
    let counted = at_rest.judged().len() + at_rest.not_judged().len();
    assert_eq!(counted, scenario.expect.len());
    for number in 0..12 {
        let [rest, time] = [&at_rest, &in_time].map(|run| run.board(number).measured.unwrap());
        let depth = at_rest.judged().iter().position(|name| *name == "sync_depth").unwrap();
        let depth_in_time = in_time.judged().iter().position(|name| *name == "sync_depth").unwrap();
        assert_eq!(rest.met[depth], time.met[depth_in_time], "board {number}");
        assert!(rest.is_good() || !time.is_good(), "board {number}");
    }
}

/// A wide element has in the line what it has standing, and a narrow one on a slow board less.
#[test]
fn a_line_shows_what_stands_and_what_is_too_slow_to_stand() {
    let with = |set: &[&str]| example("scenarios/table-follower.toml", set);
    let levels = |scenario: &Scenario, look| {
        let run = Run::new(scenario, RunSpec { look, ..SPEC }).unwrap();
        run.board(3).measured.unwrap().levels
    };
    let quick = with(&[]);
    let (rest, line) = (levels(&quick, Look::Levels), levels(&quick, Look::Line(None)));
    for (rest, line) in rest.iter().zip(&line) {
        assert!((rest - line).abs() < 2e-3, "{rest} {line}");
    }
    let slow = with(&["wiring.stray=500 pF"]);
    let (rest, line) = (levels(&slow, Look::Levels), levels(&slow, Look::Line(None)));
    assert!(rest[5] - line[5] > 5e-3, "{rest:?} {line:?}");
}

/// What is broken stays broken on every board of a run.
#[test]
fn a_defect_is_on_every_board() {
    for (board, defect) in
        [("table-follower", "R1=open"), ("table-follower", "P1=open"), ("hotel-coupled", "C1=open")]
    {
        let scenario = example(&format!("scenarios/{board}.toml"), &[defect]);
        let words: Vec<_> =
            ladder(&scenario).unwrap().loads[0].elements.iter().map(|one| one.seen).collect();
        assert!(words.contains(&Seen::Missing), "{board} {defect}: {words:?}");
        let run = Run::new(&scenario, SPEC).unwrap();
        let found = run.board(1).measured.unwrap();
        for (seen, expected) in found.seen.iter().zip(words) {
            assert_eq!(*seen == Seen::Missing, expected == Seen::Missing, "{board} {defect}");
        }
    }
}

/// A board too slow for its elements is bad in time, whether anything is expected of it or not.
#[test]
fn in_time_the_levels_are_those_that_a_set_receives() {
    let mut board = example("scenarios/table-follower.toml", &["wiring.stray=2 nF"]);
    board.expect.clear();
    let of = |look| Run::new(&board, RunSpec { look, ..SPEC }).unwrap().board(0).measured.unwrap();
    let [rest, time] = [of(Look::Levels), of(Look::Field)];
    assert!(rest.levels[5] - time.levels[5] > 20e-3, "{rest:?} {time:?}");
    let refused = Run::new(&board, RunSpec { look: Look::Line(Some(2)), ..SPEC }).unwrap_err();
    assert_eq!(refused.to_string(), "line 2 has no picture: lines 24 to 311 have");
}

#[test]
fn a_tally_of_nothing_has_no_figures() {
    let scenario = divider("");
    assert_eq!(Tally::new(&scenario, 0).figures(0), None);
}

#[test]
fn the_program_splits_joins_and_writes_a_row_for_each_board() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let base = ["spread", "scenarios/table-follower.toml", "--boards", "90", "-o", out];
    for (k, part) in (1..).zip(["1/3", "2/3", "3/3"]) {
        let run = backporch(&[&base[..], &["--part", part, "--csv"]].concat());
        assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
        let rows = folder.path().join(format!("boards-0{k}-of-03.csv"));
        assert_eq!(std::fs::read_to_string(rows).unwrap().matches("\r\n").count(), 31);
    }
    let parts: Vec<String> = (1..=3).map(|k| format!("{out}/spread-0{k}-of-03.json")).collect();
    let parts: Vec<&str> = parts.iter().map(String::as_str).collect();
    let joined = backporch(&[&base[..], &["--join"], &parts].concat());
    assert!(joined.status.success(), "{}", String::from_utf8_lossy(&joined.stderr));
    let joined = std::fs::read(folder.path().join("spread.json")).unwrap();
    assert!(backporch(&[&base[..], &["--csv"]].concat()).status.success());
    assert!(std::fs::read(folder.path().join("spread.json")).unwrap() == joined);
    let rows = std::fs::read_to_string(folder.path().join("boards.csv")).unwrap();
    assert_eq!(rows.matches("\r\n").count(), 91);
    let wrong = backporch(&[&base[..], &["--part", "4/3"]].concat());
    assert_eq!(wrong.status.code(), Some(2));
}

/// Ctrl-C leaves what is done, whole, and says so.
#[cfg(unix)]
#[test]
fn an_interrupted_run_keeps_what_is_done() {
    use std::process::Stdio;
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let arguments =
        ["spread", "scenarios/chapel-follower.toml", "--boards", "1000000000", "-o", out];
    let mut child = Running::new(
        Command::new(env!("CARGO_BIN_EXE_backporch")).args(arguments).stdout(Stdio::piped()),
    );
    std::thread::sleep(std::time::Duration::from_millis(1500));
    child.interrupt();
    let done = child.output();
    let said = String::from_utf8(done.stdout).unwrap();
    assert!(done.status.success(), "{said}");
    assert!(said.starts_with("Ended early, as asked, after "), "{said}");
    let text = std::fs::read_to_string(folder.path().join("spread.json")).unwrap();
    let file = SpreadFile::read(&text).unwrap();
    assert!(file.tally.boards > 0 && file.covers == [[0, file.tally.boards]]);
    assert!(said.contains(&format!("{} boards of 1000000000", file.tally.boards)), "{said}");
}
