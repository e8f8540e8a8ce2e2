//! Two boards side by side: what the differences do one by one, and that nothing is made up.

use crate::counts::examples;
use crate::counts::load;
use backporch::analysis::compare::CompareError;
use backporch::analysis::compare::Comparison;
use backporch::analysis::compare::compare;
use backporch::scenario;
use backporch::scenario::Scenario;
use std::fs;

fn scenario(name: &str, set: &[&str]) -> Scenario {
    let set: Vec<String> = set.iter().map(|&text| text.to_owned()).collect();
    scenario::load(name, &set, &mut |path| fs::read_to_string(path)).unwrap()
}

const CHAPEL: &str = "scenarios/chapel-follower.toml";

fn element(comparison: &Comparison, name: &str) -> usize {
    comparison.boards[0].field.trains.map.elements.iter().position(|own| own == name).unwrap()
}

#[test]
fn a_board_does_not_differ_from_itself() {
    for path in examples() {
        let board = load(&path);
        let comparison = compare(&board, &board).unwrap();
        assert!(comparison.shares.is_empty(), "{}", board.title);
        assert!(comparison.better.is_empty() && comparison.worse.is_empty());
        assert!(comparison.total.depth_v.abs() < 1e-12);
    }
}

#[test]
fn one_difference_alone_is_all_there_is() {
    for (set, parts) in [("R1=2k2", "R1"), ("U1b.gate=nor", "U1b"), ("P1.position=0.8", "P1")] {
        let comparison = compare(&scenario(CHAPEL, &[]), &scenario(CHAPEL, &[set])).unwrap();
        let [share] = &comparison.shares[..] else { panic!("{:?}", comparison.shares) };
        assert!(share.words.contains(parts), "{}", share.words);
        for (alone, last) in share.alone.deltas_v.iter().zip(&share.last.deltas_v) {
            assert!((alone - last).abs() < 1e-9);
        }
        assert!(comparison.unexplained.deltas_v.iter().all(|left| left.abs() < 1e-6));
        assert!(comparison.unexplained.depth_v.abs() < 1e-6);
    }
}

/// Two resistors that stand in one divider: what each does depends on the other, and the sums show
/// how much is left over, exactly.
#[test]
fn what_two_differences_do_together_is_told_and_adds_up() {
    let second = scenario(CHAPEL, &["R1=3k3", "R3=3k3"]);
    let comparison = compare(&scenario(CHAPEL, &[]), &second).unwrap();
    assert_eq!(comparison.shares.len(), 2);
    let field = element(&comparison, "field");
    let alone: f64 = comparison.shares.iter().map(|share| share.alone.deltas_v[field]).sum();
    let (total, left) = (comparison.total.deltas_v[field], comparison.unexplained.deltas_v[field]);
    assert!((alone + left - total).abs() < 1e-9);
    assert!(left.abs() > 1e-3, "{left}");
    // First the one, then the other leads from the first board to the second.
    let [a, b] = [&comparison.shares[0], &comparison.shares[1]];
    for (first, then) in [(a, b), (b, a)] {
        let way = first.alone.deltas_v[field] + then.last.deltas_v[field];
        assert!((way - total).abs() < 1e-6, "{way} {total}");
    }
}

/// The twin boards: joining the combined pin brings its own sync and its own picture, so that
/// everything else moves too. The first board's stand-in is the pin itself, so that nothing is lost
/// by it.
#[test]
fn the_combined_pin_brings_a_sync_and_a_picture_of_its_own() {
    let twins = ["scenarios/garage-own-pin.toml", "scenarios/garage-swapped.toml"];
    let comparison = compare(&scenario(twins[0], &[]), &scenario(twins[1], &[])).unwrap();
    let share =
        |words: &str| comparison.shares.iter().find(|share| share.words.contains(words)).unwrap();
    let (field, left) = (element(&comparison, "field"), element(&comparison, "left"));
    let most_of = |part: f64, whole: f64| part / whole > 0.45;
    assert!(most_of(share("its sync").alone.depth_v, comparison.total.depth_v));
    assert!(share("its sync").alone.deltas_v[field].abs() < 1e-9);
    let picture = share("the rest of its picture");
    assert!(most_of(picture.alone.deltas_v[field], comparison.total.deltas_v[field]));
    assert!(picture.alone.deltas_v[left].abs() < 1e-9);
    assert!(most_of(share("its own").alone.deltas_v[left], comparison.total.deltas_v[left]));
    assert!(share("its DC bias").alone.black_v > 0.5 * comparison.total.black_v);
    assert_eq!(comparison.worse, ["left was clear and is faint"]);
    assert_eq!(comparison.shares.len(), 6);
}

#[test]
fn parts_more_and_parts_less_are_differences_too() {
    let comparison =
        compare(&scenario(CHAPEL, &[]), &scenario("scenarios/chapel-follower.toml", &["R3=open"]));
    assert_eq!(comparison.unwrap().shares.len(), 1);
    let more = "base = \"scenarios/chapel-follower.toml\"\nremove = [\"R3\"]\n\
                [board.R9]\nresistor = \"1k\"\nfrom = \"mix\"\nto = \"ground\"\n";
    let more = scenario::load("more.toml", &[], &mut |path| match path {
        "more.toml" => Ok(more.to_owned()),
        path => fs::read_to_string(path),
    });
    let comparison = compare(&scenario(CHAPEL, &[]), &more.unwrap()).unwrap();
    let words: Vec<&str> = comparison.shares.iter().map(|share| share.words.as_str()).collect();
    assert_eq!(words, ["without R3 (1.5 kΩ)", "with R9 (1 kΩ)"]);
    // Without R3 and with R9 is what the second board is.
    let [without, with] = &comparison.shares[..] else { panic!() };
    let way = without.alone.depth_v + with.last.depth_v;
    assert!((way - comparison.total.depth_v).abs() < 1e-5);
}

#[test]
fn chips_with_other_pins_are_refused() {
    let other = scenario("scenarios/library-combined.toml", &[]);
    let error = compare(&scenario(CHAPEL, &[]), &other).unwrap_err();
    assert_eq!(error, CompareError::OtherChip);
}
