//! The parts that make a board what is asked of it, against trying every board by the ladder.

use crate::program::backporch;
use backporch::analysis::choose::Move;
use backporch::analysis::choose::MoveError;
use backporch::analysis::choose::Search;
use backporch::analysis::choose::SearchSpec;
use backporch::analysis::choose::check_apart;
use backporch::analysis::choose::search;
use backporch::analysis::ladder::ladder;
use backporch::analysis::spread::Look;
use backporch::analysis::spread::Run;
use backporch::analysis::spread::RunSpec;
use backporch::base::choices::Choices;
use backporch::document::values::choices;
use backporch::scenario;
use backporch::scenario::Scenario;

const TABLE: &str = "scenarios/table-follower.toml";
const BUFFERED: &str = "scenarios/shapes/buffered-follower.toml";

fn load(path: &str, set: &[String]) -> Scenario {
    scenario::load(path, set, &mut |path| std::fs::read_to_string(path)).unwrap()
}

fn moves(path: &str, texts: &[&str], drawer: &[String]) -> (Scenario, Vec<Choices>, Vec<Move>) {
    let base = load(path, &[]);
    let settings: Vec<Choices> =
        texts.iter().map(|text| choices(text, 11, drawer).unwrap()).collect();
    let one = |setting: &Choices| {
        let boards: Vec<Scenario> = setting
            .values
            .iter()
            .map(|value| load(path, &[format!("{}={}", setting.path, value.text)]))
            .collect();
        Move::new(&setting.path, &base, &boards).unwrap()
    };
    let moves = settings.iter().map(one).collect();
    (base, settings, moves)
}

fn found(base: &Scenario, moves: &[Move], budget: u64) -> Search {
    let spec = SearchSpec { seed: 1, budget, keep: 10 };
    search(base, moves, spec, &mut |_, _| true).unwrap()
}

/// How far off a board of the kitchen table is, by its own ladder and by the ranges in its file.
fn cost(scenario: &Scenario) -> f64 {
    let levels = &ladder(scenario).unwrap().loads[0];
    let delta = |name: &str| {
        let place = scenario.raster.elements.iter().position(|one| one == name).unwrap();
        levels.elements[place].delta_v
    };
    let off = |value: f64, low: f64, high: f64| {
        let off = (value - 0.5 * (low + high)) / (0.5 * (high - low));
        off * off
    };
    let word = |met: bool| if met { 0.0 } else { 4.0 };
    let clear = |name: &str| delta(name).abs() >= 0.14;
    word(levels.sync.depth_v >= 0.2)
        + off(levels.sync.black_v, 0.31, 0.36)
        + off(levels.sync.depth_v, 0.28, 0.32)
        + off(delta("field"), 0.66, 0.74)
        + off(delta("right"), 0.66, 0.74)
        + off(delta("left"), 0.25, 0.33)
        + word(clear("field"))
        + word(clear("right"))
        + word(clear("left"))
        + word((delta("left") - delta("field")).abs() > 0.07 || !clear("left"))
}

#[test]
fn of_four_parts_the_nearest_is_the_one_that_trying_all_finds() {
    let texts = ["R1=1k8,2k,2k4", "R2=1k8,2k2,2k7", "R3=3k3,3k9,4k7", "R4=1k6,2k,2k4"];
    let (base, settings, moves) = moves(TABLE, &texts, &[]);
    let search = found(&base, &moves, 1000);
    assert!(search.exhaustive);
    assert_eq!((search.tried, search.of), (81, 81));
    let mut all = Vec::new();
    for number in 0..81_usize {
        let picks = [number / 27, number / 9 % 3, number / 3 % 3, number % 3];
        let pairs = settings.iter().zip(picks);
        let set: Vec<String> =
            pairs.map(|(one, pick)| format!("{}={}", one.path, one.values[pick].text)).collect();
        all.push((cost(&load(TABLE, &set)), picks.to_vec()));
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (candidate, (cost, picks)) in search.ranked.iter().zip(&all) {
        assert_eq!(&candidate.picks, picks);
        assert!((candidate.cost - cost).abs() < 1e-6, "{} {cost}", candidate.cost);
    }
}

#[test]
fn a_small_drawer_gives_what_full_enumeration_gives_and_a_climb_finds_it_too() {
    let drawer: Vec<String> = ["1k8", "2k", "2k2", "3k3", "3k9"].map(str::to_owned).into();
    let texts = ["R1=drawer", "R2=drawer", "R3=drawer", "R4=drawer"];
    let (base, _, moves) = moves(TABLE, &texts, &drawer);
    let every = found(&base, &moves, 625);
    assert!(every.exhaustive);
    let climbed = found(&base, &moves, 400);
    assert!(!climbed.exhaustive && climbed.tried >= 400);
    assert_eq!(climbed.ranked[0], every.ranked[0]);
    // 2 k, 2.2 k, 3.9 k and 2 k are in it, and are the table's own.
    let best = &every.ranked[0].picks;
    assert_eq!(best, &[1, 2, 4, 1]);
    assert_eq!(found(&base, &moves, 400), climbed, "the same seed, the same way");
}

/// The board whose levels were asked for is among those that are tried.
#[test]
fn asked_for_a_boards_own_levels_it_finds_one_at_least_as_close() {
    let texts = ["R1=E24:1k5..2k7", "R2=E24:1k8..2k7", "R3=E24:3k3..4k7"];
    let (base, _, moves) = moves(TABLE, &texts, &[]);
    let search = found(&base, &moves, 100_000);
    assert!(search.exhaustive);
    assert!(search.ranked[0].cost <= cost(&base) + 1e-9);
}

/// From the pins as the class has them, 75 Ω behind the socket: good over 5 % parts, pins from weak to
/// strong, gains of 100 to 300, a chip supply of 6 to 7 V.
#[test]
fn a_composite_output_that_nobody_need_trim() {
    let texts = ["R1=1k8,2k2", "R2=3k9,4k7", "R3=4k7,5k6", "R4=3k9,4k7", "R5=1k5,1k8"];
    let (base, settings, moves) = moves(BUFFERED, &texts, &[]);
    let search = found(&base, &moves, 1000);
    let best = search.ranked.iter().map(|candidate| {
        let pairs = settings.iter().zip(&candidate.picks);
        let set: Vec<String> =
            pairs.map(|(one, &pick)| format!("{}={}", one.path, one.values[pick].text)).collect();
        let board = load(BUFFERED, &set);
        let names: Vec<&str> = board.spread.iter().map(|factor| factor.name.as_str()).collect();
        for name in ["V1", "V2", "R1", "R7", "gain of Q1", "pins"] {
            assert!(names.contains(&name), "{names:?}");
        }
        let run = Run::new(&board, RunSpec { seed: 7, look: Look::Levels }).unwrap();
        assert!(run.judged().contains(&"source"));
        (0..1000).filter(|&k| run.board(k).measured.is_some_and(|found| found.is_good())).count()
    });
    let best = best.take(3).max().unwrap();
    assert!(best >= 950, "{best} of 1000");
}

#[test]
fn what_cannot_be_moved_is_refused() {
    let base = load(TABLE, &[]);
    let with = |text: &str| [load(TABLE, &[text.to_owned()]), load(TABLE, &[text.to_owned()])];
    let of = |path: &str, text: &str| Move::new(path, &base, &with(text)).unwrap_err();
    assert!(matches!(of("game.left", "game.left=0.1"), MoveError::NotAPart { .. }));
    assert!(matches!(of("output.node", "output.node=base"), MoveError::NotAPart { .. }));
    assert!(matches!(of("title", "title=x"), MoveError::Nothing { .. }));
    let same = [load(TABLE, &["R1=1k".to_owned()])];
    let two = [Move::new("R1", &base, &same).unwrap(), Move::new("R1", &base, &same).unwrap()];
    assert!(matches!(check_apart(&base, &two), Err(MoveError::Clash { .. })));
}

#[test]
fn the_program_ranks_boards_and_never_one_at_stop() {
    let json = backporch(&[
        "choose",
        TABLE,
        "--move",
        "R1=1k8,2k",
        "--move",
        "R2=2k2,2k4",
        "--move",
        "R3=3k9",
        "--move",
        "R4=2k",
        "--boards",
        "50",
        "--most",
        "2",
        "--json",
    ]);
    let text = String::from_utf8(json.stdout).unwrap();
    let report: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(report["found"].as_array().unwrap().len(), 2, "{text}");
    // A gate of the fast family on 9 V is at stop whatever its levels.
    let stopped = backporch(&[
        "choose",
        TABLE,
        "--set",
        "U1.family=74HC",
        "--set",
        "V2=9 V",
        "--move",
        "R1=1k8,2k",
        "--move",
        "R2=2k2",
        "--move",
        "R3=3k9",
        "--move",
        "R4=2k",
        "--boards",
        "20",
    ]);
    let said = String::from_utf8(stopped.stdout).unwrap();
    assert!(said.contains("No such board"), "{said}");
    assert!(said.contains("gate supply"), "{said}");
    let nothing = backporch(&["choose", "scenarios/lodge-joined.toml"]);
    assert_eq!(nothing.status.code(), Some(2));
}
