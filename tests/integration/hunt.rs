//! The hunt, given what the one-fault table's rows and random boards would show.

use crate::boards::Board;
use crate::boards::COMMON_PINS;
use crate::causes::board::below;
use crate::causes::board::between;
use crate::causes::board::healthy;
use crate::published::one_fault;
use crate::published::show;
use backporch::analysis::hunt::Hunt;
use backporch::analysis::hunt::confirm::InTime;
use backporch::analysis::hunt::confirm::confirm;
use backporch::analysis::hunt::fault::Fault;
use backporch::analysis::hunt::faults::single_faults;
use backporch::analysis::hunt::hunt;
use backporch::analysis::hunt::hunt_pairs;
use backporch::analysis::hunt::observe::Look;
use backporch::analysis::hunt::observe::Measured;
use backporch::analysis::hunt::observe::Observation;
use backporch::analysis::hunt::predict::State;
use backporch::analysis::hunt::predict::Volts;
use backporch::analysis::hunt::predict::levels;
use backporch::analysis::hunt::try_singles;
use backporch::analysis::hunt::weigh;
use backporch::analysis::verdict::Seen;
use backporch::base::math;
use backporch::network::circuit::NodeId;
use backporch::network::circuit::PartKind;
use backporch::scenario::Scenario;
use backporch::scenario::load;
use backporch::signal::element::ElementId;
use chacha20::ChaCha8Rng;
use chacha20::rand_core::SeedableRng;

/// The table's board, its grey player through a trimmer.
fn sound() -> Scenario {
    Board::new(&COMMON_PINS.chip())
        .supply(5.0, "rail5")
        .gate("or", &["field", "ball", "right"], "white", "rail5")
        .resistor(2000.0, "white", "base")
        .resistor(2200.0, "sync", "base")
        .resistor(3900.0, "rail5", "base")
        .resistor(2000.0, "base", "ground")
        .resistor(1000.0, "emitter", "ground")
        .resistor(75.0, "emitter", "plug")
        .part(
            "P",
            "trimmer = 10000\nposition = 0.33\nfrom = \"left\"\nwiper = \"base\"\nto = \"base\"",
        )
        .transistor("small NPN", 200.0, ["rail5", "base", "emitter"])
        .scenario("plug", 75.0)
}

/// What each row of the table is called in the list. The 44th row is two faults at once
/// and is no single fault's.
const ROWS: [(&str, &str); 43] = [
    ("none", "no fault"),
    ("left trimmer at 0", "P9 at one end"),
    ("left trimmer at 10 k", "P9 at the other end"),
    ("left trimmer wiper open", "P9 open"),
    ("white resistor 20 k instead of 2 k", "R3 ten times too large"),
    ("white resistor open", "R3 open"),
    ("white resistor shorted", "R3 shorted"),
    ("sync resistor open", "R4 open"),
    ("sync resistor 22 k instead of 2.2 k", "R4 ten times too large"),
    ("sync resistor shorted", "R4 shorted"),
    ("bias pull-up open", "R5 open"),
    ("bias pull-up 390 instead of 3.9 k", "R5 ten times too small"),
    ("base pull-down open", "R6 open"),
    ("base pull-down 200 instead of 2 k", "R6 ten times too small"),
    ("emitter resistor open", "R7 open"),
    ("collector and emitter swapped", "Q10 with collector and emitter"),
    ("emitter and base swapped", "Q10 with base and emitter"),
    ("collector and base swapped", "Q10 with collector and base"),
    ("PNP fitted by mistake", "Q10 of the other polarity"),
    ("base-emitter short", "Q10 shorted from base to emitter"),
    ("base-collector short", "Q10 shorted from collector to base"),
    ("transistor open", "Q10 open"),
    ("series 75 shorted", "R8 shorted"),
    ("series 75 is 750", "R8 ten times too large"),
    ("series 75 open", "R8 open"),
    ("two terminations (37.5)", "two terminations"),
    ("no termination (1 M)", "no termination"),
    ("output shorted to ground (0.1)", "socket or cable shorted"),
    ("NOR instead of OR", "U2 is NOR"),
    ("AND instead of OR", "U2 is AND"),
    ("right input floating, reads low", "U2 input for right floating or unwired, reads low"),
    ("right input floating, reads high", "U2 input for right floating or unwired, reads high"),
    ("right pin still loaded by 1 k of the old network", "right still loaded by 1 k"),
    ("right pin loaded by 3.3 k", "right still loaded by 3.3 k"),
    ("right and left pins bridged", "right and left joined|left and right joined"),
    ("left also into the gate", "U2 has left wired to it and nowhere else"),
    ("sync and left wires exchanged", "wires of sync and left|wires of left and sync"),
    ("sync inverted", "sync upside down"),
    ("gate on raw 9 V: threshold 4.5 V, output 9 V", "U2 on a raw 9 V"),
    ("gate rail 4.0 V (regulator dropping out), VH 4.4", "V1 low: 4.0 V"),
    ("weak battery: rail 3.3 V, VH 3.0", "battery flat"),
    ("aged chip: RH 8 k", "chip aged"),
    ("low-gain transistor (40)", "Q10 with a fifth"),
];

/// Words for every element, and the socket's tip, black and white.
fn row_observed(scenario: &Scenario, mv: &[f64]) -> Observation {
    let socket = scenario.output.node;
    let mut seen = Observation { bounces: Some(true), ..Observation::default() };
    let field = State::Lit(ElementId(0));
    for (state, mv) in [(State::Tip, mv[0]), (State::Black, mv[1]), (field, mv[1] + mv[3])] {
        seen.measured.push(Measured { node: socket, state, volts: 1e-3 * mv });
    }
    seen.seen =
        (0..4).map(|at| (ElementId(at), look(scenario, 1e-3 * mv[3 + usize::from(at)]))).collect();
    seen.sync = Some(scenario.verdict.sync(1e-3 * mv[2]));
    seen
}

fn look(scenario: &Scenario, delta_v: f64) -> Look {
    match scenario.verdict.seen(delta_v) {
        Seen::Missing => Look::Missing,
        _ if delta_v < 0.0 => Look::Dark,
        Seen::Faint => Look::Faint,
        Seen::Clear => Look::Clear,
    }
}

fn place(hunt: &Hunt, names: &str) -> Option<usize> {
    let is = |name: &str| names.split('|').any(|want| name.starts_with(want));
    hunt.suspects.iter().position(|suspect| is(&suspect.fault.name))
}

#[test]
fn the_tables_rows_are_hunted_down() {
    let scenario = sound();
    let tried = try_singles(&scenario).unwrap();
    let (mut lost, mut first, mut third) = (Vec::new(), 0, 0);
    for (row, name) in ROWS {
        let hunt = weigh(&scenario, &row_observed(&scenario, &one_fault(row)), &tried);
        let at = place(&hunt, name);
        let best = hunt.suspects.first().map_or("nothing", |one| &one.fault.name);
        show(&format!("{row}: {at:?} of {}, first {best}", hunt.suspects.len()));
        first += usize::from(at == Some(0));
        third += usize::from(at.is_some_and(|at| at < 3));
        if at.is_none() {
            lost.push(row);
        }
    }
    show(&format!("{} faults, first {first}, in three {third}, lost {lost:?}", tried.len()));
    assert_eq!(lost, Vec::<&str>::new());
    assert!(first * 100 >= 60 * ROWS.len(), "first {first}");
    assert!(third * 100 >= 90 * ROWS.len(), "in the first three {third}");
}
/// A board with 5 % parts.
fn spread(sound: &Scenario, rng: &mut ChaCha8Rng) -> Scenario {
    let mut scenario = sound.clone();
    for (index, part) in scenario.circuit.parts.iter_mut().enumerate() {
        if let PartKind::Resistor { ohms, .. } = &mut part.kind
            && index != sound.output.load.0
        {
            *ohms *= between(rng, 0.95, 1.05);
        }
    }
    scenario
}

/// Words for what the real board shows.
fn words(scenario: &Scenario, levels: &Volts, fault: &Fault) -> Observation {
    let socket = scenario.output.node.0;
    let black = levels[1][socket];
    let mut seen = Observation { bounces: Some(!fault.controller), ..Observation::default() };
    seen.sync = Some(scenario.verdict.sync(black - levels[0][socket]));
    for at in 0..4_u8 {
        let delta_v = levels[2 + usize::from(at)][socket] - black;
        seen.seen.push((ElementId(at), look(scenario, delta_v)));
    }
    seen
}

/// How a trial ended.
#[derive(Debug, Default)]
struct Tally {
    trials: usize,
    /// The true fault is first and nothing is like it.
    alone: usize,
    /// It is the first or like the first, in a set that no level tells apart: sizes of the sets.
    sets: Vec<usize>,
    /// Another is held for it.
    missed: Vec<String>,
}

impl Tally {
    fn isolated(&self) -> usize {
        self.alone + self.sets.len()
    }

    fn add(&mut self, fault: &Fault, found: &Hunt, asked: &[String]) {
        self.trials += 1;
        let set = found.suspects.iter().filter(|one| one.alike).count();
        let at = found.suspects.iter().position(|one| one.fault == *fault);
        match at {
            Some(at) if found.suspects[at].alike && set == 1 => self.alone += 1,
            Some(at) if found.suspects[at].alike => self.sets.push(set),
            _ => {
                let first = found.suspects.first().map_or("nothing", |one| &one.fault.name);
                let name = &fault.name;
                self.missed.push(format!("{name}: {at:?}, first {first}, set {set}, {asked:?}"));
            }
        }
    }
}

/// Boards on which the hunt was not looked at while it was made.
const UNSEEN: std::ops::Range<u64> = 1979..1982;

/// Random single faults of a board: all, and those of which anything is seen. Beside the words the
/// hunt is told tip, black and white at the socket if `socket`.
fn trials(seed: u64, socket: bool, [all, shown]: [&mut Tally; 2]) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let board = healthy(&mut rng);
    let text = board.toml();
    let scenario = load("random.toml", &[], &mut |_| Ok(text.clone())).unwrap();
    let tried = try_singles(&scenario).unwrap();
    let sound = words(&scenario, &levels(&scenario, &Fault::none(), 1.0).unwrap(), &Fault::none());
    show(&format!("{} with {} faults", board.kind, tried.len()));
    let mut left = 100;
    while left > 0 {
        let real = spread(&scenario, &mut rng);
        let strength = 0.5 * math::exp(between(&mut rng, 0.0, math::ln(4.0)));
        let fault: &Fault = &tried[1 + below(&mut rng, tried.len() - 1)].0;
        let Ok(volts) = levels(&real, fault, strength) else { continue };
        left -= 1;
        let mut seen = words(&scenario, &volts, fault);
        let something = seen != sound;
        if socket {
            let states = [State::Tip, State::Black, State::Lit(ElementId(0))];
            seen.measured.extend(states.map(|state| read(&volts, scenario.output.node, state)));
        }
        let mut asked = Vec::new();
        let mut found = weigh(&scenario, &seen, &tried);
        for _ in 0..3 {
            let Some(next) = &found.next else { break };
            let node = scenario.circuit.node_name(next.node);
            asked.push(format!("{node}@{}", next.state.name(&scenario)));
            seen.measured.push(read(&volts, next.node, next.state));
            found = weigh(&scenario, &seen, &tried);
        }
        all.add(fault, &found, &asked);
        if something {
            shown.add(fault, &found, &asked);
        }
    }
}

fn read(levels: &Volts, node: NodeId, state: State) -> Measured {
    Measured { node, state, volts: levels[state.index()][node.0] }
}

/// After at most three proposed measurements: the true fault is first, or in the set that is said
/// to be alike with the first.
fn isolated(socket: bool) -> [Tally; 2] {
    let (mut all, mut shown) = (Tally::default(), Tally::default());
    for seed in UNSEEN {
        trials(seed, socket, [&mut all, &mut shown]);
    }
    for (what, tally) in [("any fault", &all), ("faults that show", &shown)] {
        let (count, isolated) = (tally.trials, tally.isolated());
        let (sets, largest) = (tally.sets.len(), tally.sets.iter().max());
        show(&format!("{what}: {isolated} of {count}; {sets} in sets, the largest of {largest:?}"));
        tally.missed.iter().for_each(|line| show(line));
    }
    [all, shown]
}

/// The bars are what was reached when these boards were first tried, in whole percent. The aim is
/// 95 %. By words alone it is met for faults of which anything is seen and missed for any fault: where
/// all looks right there is a pin to measure for every suspect, and there are more than three.
#[test]
fn random_single_faults_are_isolated_by_the_proposed_measurements() {
    let held = |tally: &Tally, percent: usize| {
        assert!(tally.isolated() * 100 >= percent * tally.trials, "{tally:?}");
    };
    let [all, shown] = isolated(false);
    held(&all, 90);
    held(&shown, 97);
    let [all, shown] = isolated(true);
    held(&all, 97);
    held(&shown, 99);
}

#[test]
fn the_answer_does_not_depend_on_the_number_of_threads() {
    let scenario = sound();
    let mut seen = Observation::default();
    let missing = |at| (ElementId(at), Look::Missing);
    seen.seen = vec![missing(2), missing(3)];
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| hunt(&scenario, &seen).unwrap())
    };
    assert_eq!(on(1), on(3));
}

#[test]
fn every_pair_is_tried_and_a_pair_is_found() {
    let scenario = sound();
    let singles = single_faults(&scenario);
    let named = |name: &str| singles.iter().find(|fault| fault.name.starts_with(name)).unwrap();
    let pair = named("R8 ten times too large").and(named("U2 is AND"), 1.0).unwrap();
    let volts = levels(&scenario, &pair, 1.0).unwrap();
    let mut seen = words(&scenario, &volts, &pair);
    for at in ["base", "white", "emitter"] {
        let node = scenario.circuit.nodes.iter().position(|name| name == at).map(NodeId).unwrap();
        seen.measured
            .extend(State::all(&scenario).into_iter().map(|state| read(&volts, node, state)));
    }
    let mut last = (0, 0);
    let found = hunt_pairs(&scenario, &seen, &mut |done, of| last = (done, of)).unwrap();
    assert_eq!(last, (found.tried, found.tried));
    assert!(found.tried > 10_000, "{} tried", found.tried);
    let first = &found.suspects[0].fault;
    assert_eq!(first.name, "U2 is AND by mistake, and R8 ten times too large");
}

/// A pulse that is slowed down beyond its width has the level of a clear one at rest; only the field
/// that is run for it shows that it is not seen.
#[test]
fn a_suspect_whose_pulse_is_too_slow_is_told_of_in_time() {
    let text = "base = \"scenarios/chapel-follower.toml\"\n\
                [board.C9]\ncapacitor = \"22 n\"\nfrom = \"mix\"\nto = \"ground\"\n";
    let slow = load("slow.toml", &[], &mut |path| match path {
        "slow.toml" => Ok(text.to_owned()),
        path => std::fs::read_to_string(path),
    });
    let sound =
        load("scenarios/chapel-follower.toml", &[], &mut |path| std::fs::read_to_string(path));
    for (scenario, agrees) in [(slow.unwrap(), false), (sound.unwrap(), true)] {
        let seen =
            scenario.raster.elements.iter().zip(0..).map(|(_, at)| (ElementId(at), Look::Clear));
        let known = Observation { seen: seen.collect(), ..Observation::default() };
        let mut hunt = hunt(&scenario, &known).unwrap();
        confirm(&scenario, &known, &mut hunt, 1);
        assert_eq!(hunt.suspects[0].fault.name, "no fault: the board as drawn");
        let in_time = hunt.suspects[0].in_time.clone().unwrap();
        assert_eq!(in_time == InTime::Agrees, agrees, "{in_time:?}");
    }
}
