//! The way of a pulse, on every example board: the ledger agrees with the ladder and with Kirchhoff,
//! its edges with the waveform; and what `why` names cures.

use crate::boards::example;
use crate::boards::examples;
use crate::boards::load;
use backporch::analysis::cause::Subject;
use backporch::analysis::ladder::ladder;
use backporch::analysis::verdict::Seen;
use backporch::analysis::verdict::SyncState;
use backporch::analysis::why::Pulse;
use backporch::analysis::why::Why;
use backporch::analysis::why::edges::Idle;
use backporch::analysis::why::why;
use backporch::scenario;
use backporch::scenario::Scenario;
use backporch::signal::element::ElementId;
use std::fs;

fn all(scenario: &Scenario) -> Vec<Why> {
    let elements = scenario.raster.elements.iter().zip(0..);
    let elements: Vec<ElementId> = elements.map(|(_, index)| ElementId(index)).collect();
    why(scenario, &elements).unwrap()
}

fn check_ledger(scenario: &Scenario, why: &Why, delta_v: f64) {
    let what = format!("{}: {}", scenario.title, why.element);
    assert!((why.delta_v - delta_v).abs() < 1e-6, "{what}");
    let Some(last) = why.steps.last() else { return assert_ne!(why.seen, Seen::Clear, "{what}") };
    assert!((last.pulse_v() - delta_v).abs() < 1e-6, "{what}");
    for (pulse, step) in why.pulses.iter().zip(&why.steps[1..]) {
        assert_eq!(pulse.node, step.node, "{what}");
        let edges = [&pulse.lead, &pulse.trail].into_iter().flatten();
        for edge in edges {
            assert!(edge.delay_s >= 0.0 && edge.time_s > 0.0, "{what}: {edge:?}");
            let waited: f64 = edge.waits.iter().map(|wait| wait.time_s).sum();
            assert!(waited <= edge.delay_s + pulse.step_s, "{what}: {edge:?}");
        }
        // A wide pulse that comes up and goes again in time has, at its end, settled at rest.
        let settled = pulse.lead.as_ref().is_some_and(|edge| {
            pulse.width_s > 2e-6 && edge.delay_s + 3.0 * edge.time_s < 0.5 * pulse.width_s
        });
        if settled {
            let at = |time_s: f64| {
                let place = (time_s - pulse.start_s) / pulse.step_s;
                f64::from(pulse.volts[backporch::base::math::floor_index(place)])
            };
            let moved_v = at(0.95 * pulse.width_s) - at(-0.2e-6);
            let close = 0.03 * step.pulse_v().abs() + 2e-3;
            assert!((moved_v - step.pulse_v()).abs() < close, "{what}: {}: {moved_v}", step.node);
        }
    }
}

#[test]
fn on_every_example_the_ledger_ends_at_the_ladders_level() {
    let mut told = 0;
    for path in examples() {
        let scenario = load(&path);
        let ladder = ladder(&scenario).unwrap();
        for (why, level) in all(&scenario).iter().zip(&ladder.loads[0].elements) {
            check_ledger(&scenario, why, level.delta_v);
            assert_eq!(why.seen, level.seen);
            let in_hand = why.strengths.iter().any(|s| s.from <= 1.0 && 1.0 <= s.to);
            assert_eq!(in_hand, why.seen == Seen::Clear, "{}: {}", scenario.title, why.element);
            told += why.steps.len();
        }
    }
    assert!(told > 300, "{told}");
}

#[test]
fn on_every_example_the_sync_is_followed_to_the_ladders_depth() {
    let mut shallow = 0;
    for path in examples() {
        let scenario = load(&path);
        let sync = ladder(&scenario).unwrap().loads[0].sync;
        let all = why(&scenario, &[Subject::Sync]).unwrap();
        let [why] = &all[..] else { panic!("{}", scenario.title) };
        check_ledger(&scenario, why, -sync.depth_v);
        assert_eq!(why.word(why.seen), sync.state.word(), "{}", scenario.title);
        let in_hand = why.strengths.iter().any(|s| s.from <= 1.0 && 1.0 <= s.to);
        assert_eq!(in_hand, sync.state == SyncState::Good, "{}", scenario.title);
        assert!(!why.pulses.is_empty(), "{}: a line pulse stands alone", scenario.title);
        if sync.state != SyncState::Good {
            assert!(why.cause.is_some(), "{}", scenario.title);
            shallow += 1;
        }
    }
    assert!(shallow > 1, "{shallow}");
}

/// The grey diode drops half a volt; the rest of what is lost goes by before the bus is reached.
#[test]
fn a_diode_that_waits_for_the_bus_is_told_so() {
    let caravan = example("scenarios/caravan-diodes.toml", &[]);
    let all = all(&caravan);
    let left = all.iter().find(|why| why.element == "left").unwrap();
    let words = &left.steps.iter().find(|step| step.node == "bus").unwrap().words;
    assert_eq!(
        words,
        "D4 (a diode) blocks until `grey` comes up to the 873 mV of `bus`, and drops 541 mV then: \
         422 mV of 1.84 V passes"
    );
}

/// 1 nF at the mixing node: there the edge becomes long, and that node and part are named.
#[test]
fn the_node_that_makes_a_pulse_slow_is_where_its_edge_becomes_long() {
    let slow = "base = \"scenarios/chapel-follower.toml\"\n\
                [board.C9]\ncapacitor = \"1 n\"\nfrom = \"mix\"\nto = \"ground\"\n";
    let scenario = scenario::load("slow.toml", &[], &mut |path| match path {
        "slow.toml" => Ok(slow.to_owned()),
        path => fs::read_to_string(path),
    });
    let all = all(&scenario.unwrap());
    let slow = all.iter().find(|why| why.element == "right").unwrap();
    let cause = slow.cause.as_ref().unwrap();
    assert_eq!((cause.part.as_str(), cause.node.as_str()), ("C9", "mix"));
    let time = |pulse: &Pulse| {
        let edges = [&pulse.lead, &pulse.trail].into_iter().flatten();
        edges.map(|edge| edge.time_s).fold(0.0, f64::max)
    };
    let at = slow.pulses.iter().position(|pulse| pulse.node == "mix").unwrap();
    for pulse in &slow.pulses[..at] {
        assert!(time(pulse) < 0.3 * time(&slow.pulses[at]), "{}", pulse.node);
    }
}

#[test]
fn a_biased_follower_waits_for_nothing_and_an_unbiased_one_for_its_base() {
    for why in all(&example("scenarios/chapel-follower.toml", &[])) {
        for edge in why.pulses.iter().flat_map(|pulse| [&pulse.lead, &pulse.trail]).flatten() {
            assert_eq!(edge.waits, [], "{}", why.element);
        }
    }
    let cellar = all(&example("scenarios/cellar-unbiased.toml", &[]));
    // Unbiased, the same kind of stage has first to be driven out of cut-off.
    let field = cellar.iter().find(|why| why.element == "field").unwrap();
    let edges = field.pulses.iter().filter_map(|pulse| pulse.lead.as_ref());
    let waits: Vec<_> = edges.flat_map(|edge| &edge.waits).collect();
    assert!(waits.iter().any(|wait| wait.part == "Q1" && wait.state == Idle::CutOff), "{waits:?}");
}
