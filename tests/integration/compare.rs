//! Two boards side by side: what the differences do one by one, and that nothing is made up.

use crate::boards::example;
use crate::boards::examples;
use crate::boards::load;
use backporch::analysis::compare::CompareError;
use backporch::analysis::compare::Comparison;
use backporch::analysis::compare::Move;
use backporch::analysis::compare::Share;
use backporch::analysis::compare::compare;
use backporch::scenario;
use std::fs;

const CHAPEL: &str = "scenarios/chapel-follower.toml";

fn alone(share: &Share) -> &Move {
    share.alone.as_ref().unwrap()
}

fn last(share: &Share) -> &Move {
    share.last.as_ref().unwrap()
}

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
        let comparison = compare(&example(CHAPEL, &[]), &example(CHAPEL, &[set])).unwrap();
        let [share] = &comparison.shares[..] else { panic!("{:?}", comparison.shares) };
        assert!(share.words.contains(parts), "{}", share.words);
        for (own, left) in alone(share).deltas_v.iter().zip(&last(share).deltas_v) {
            assert!((own - left).abs() < 1e-9);
        }
        assert!(comparison.unexplained.deltas_v.iter().all(|left| left.abs() < 1e-6));
        assert!(comparison.unexplained.depth_v.abs() < 1e-6);
    }
}

/// Two resistors that stand in one divider: what each does depends on the other, and the sums show
/// how much is left over, exactly.
#[test]
fn what_two_differences_do_together_is_told_and_adds_up() {
    let second = example(CHAPEL, &["R1=3k3", "R3=3k3"]);
    let comparison = compare(&example(CHAPEL, &[]), &second).unwrap();
    assert_eq!(comparison.shares.len(), 2);
    let field = element(&comparison, "field");
    let summed: f64 = comparison.shares.iter().map(|share| alone(share).deltas_v[field]).sum();
    let (total, left) = (comparison.total.deltas_v[field], comparison.unexplained.deltas_v[field]);
    assert!((summed + left - total).abs() < 1e-9);
    assert!(left.abs() > 1e-3, "{left}");
    // First the one, then the other leads from the first board to the second.
    let [a, b] = [&comparison.shares[0], &comparison.shares[1]];
    for (first, then) in [(a, b), (b, a)] {
        let way = alone(first).deltas_v[field] + last(then).deltas_v[field];
        assert!((way - total).abs() < 1e-6, "{way} {total}");
    }
}

/// The twin boards: joining the combined pin brings its own sync and its own picture, so that
/// everything else moves too. The first board's stand-in is the pin itself, so that nothing is lost
/// by it.
#[test]
fn the_combined_pin_brings_a_sync_and_a_picture_of_its_own() {
    let twins = ["scenarios/garage-own-pin.toml", "scenarios/garage-swapped.toml"];
    let comparison = compare(&example(twins[0], &[]), &example(twins[1], &[])).unwrap();
    let share =
        |words: &str| comparison.shares.iter().find(|share| share.words.contains(words)).unwrap();
    let (field, left) = (element(&comparison, "field"), element(&comparison, "left"));
    let most_of = |part: f64, whole: f64| part / whole > 0.45;
    assert!(most_of(alone(share("its sync")).depth_v, comparison.total.depth_v));
    assert!(alone(share("its sync")).deltas_v[field].abs() < 1e-9);
    let picture = share("the rest of its picture");
    assert!(most_of(alone(picture).deltas_v[field], comparison.total.deltas_v[field]));
    assert!(alone(picture).deltas_v[left].abs() < 1e-9);
    assert!(most_of(alone(share("its own")).deltas_v[left], comparison.total.deltas_v[left]));
    assert!(alone(share("its DC bias")).black_v > 0.5 * comparison.total.black_v);
    assert_eq!(comparison.worse, ["left was clear and is faint"]);
    assert_eq!(comparison.shares.len(), 6);
}

#[test]
fn parts_more_and_parts_less_are_differences_too() {
    let comparison =
        compare(&example(CHAPEL, &[]), &example("scenarios/chapel-follower.toml", &["R3=open"]));
    assert_eq!(comparison.unwrap().shares.len(), 1);
    let more = "base = \"scenarios/chapel-follower.toml\"\nremove = [\"R3\"]\n\
                [board.R9]\nresistor = \"1k\"\nfrom = \"mix\"\nto = \"ground\"\n";
    let more = scenario::load("more.toml", &[], &mut |path| match path {
        "more.toml" => Ok(more.to_owned()),
        path => fs::read_to_string(path),
    });
    let comparison = compare(&example(CHAPEL, &[]), &more.unwrap()).unwrap();
    let words: Vec<&str> = comparison.shares.iter().map(|share| share.words.as_str()).collect();
    assert_eq!(words, ["without R3 (1.5 kΩ)", "with R9 (1 kΩ)"]);
    // Without R3 and with R9 is what the second board is.
    let [without, with] = &comparison.shares[..] else { panic!() };
    let way = alone(without).depth_v + last(with).depth_v;
    assert!((way - comparison.total.depth_v).abs() < 1e-5);
}

#[test]
fn chips_with_other_pins_are_refused() {
    let other = example("scenarios/library-combined.toml", &[]);
    let error = compare(&example(CHAPEL, &[]), &other).unwrap_err();
    assert_eq!(error, CompareError::OtherChip);
}

/// Two boards of one chip that have next to nothing in common: between them lie boards on which nodes
/// lead nowhere, and still most differences are told of.
#[test]
fn boards_with_little_in_common_can_be_compared() {
    let comparison =
        compare(&example(CHAPEL, &[]), &example("scenarios/barn-biased.toml", &[])).unwrap();
    assert!(comparison.shares.len() > 5, "{}", comparison.shares.len());
    let told = comparison.shares.iter().filter(|share| share.alone.is_some()).count();
    assert!(2 * told > comparison.shares.len(), "{told}");
}
