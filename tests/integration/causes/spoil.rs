//! What can be wrong with a step of a mixer.

use crate::causes::board::Board;
use crate::causes::board::Logic;
use crate::causes::board::Node;
use crate::causes::board::Part;
use crate::causes::board::below;
use crate::causes::board::between;
use chacha20::ChaCha8Rng;

/// A step spoilt: what is done to it, and the parts any of which names it.
#[derive(Clone, Debug)]
pub(crate) struct Step {
    /// What sort of fault it is.
    pub(crate) sort: &'static str,
    pub(crate) label: String,
    pub(crate) names: Vec<String>,
    edit: Edit,
}

#[derive(Clone, Debug)]
enum Edit {
    /// A part becomes another.
    Part(usize, Part),
    /// A part more.
    More(String, Part),
    /// A pin of another strength.
    PinOhms(usize, f64),
    /// All that was at the first node is at the second.
    Joined(Node, Node),
    Load(f64),
}

impl Step {
    pub(crate) fn apply(&self, board: &mut Board) {
        match &self.edit {
            Edit::Part(index, part) => board.parts[*index].1 = part.clone(),
            Edit::More(name, part) => board.parts.push((name.clone(), part.clone())),
            Edit::PinOhms(pin, factor) => {
                board.pins[*pin].high_ohms *= factor;
                board.pins[*pin].low_ohms *= factor;
            }
            Edit::Joined(from, to) => board.join(*from, *to),
            Edit::Load(ohms) => board.load_ohms = *ohms,
        }
    }

    fn touches(&self, other: &Self) -> bool {
        self.names.iter().any(|name| other.names.contains(name))
    }
}

/// What is left of an open part, Ω.
const OPEN_OHMS: f64 = 1e9;

/// One step badly spoilt.
pub(crate) fn severe(board: &Board, rng: &mut ChaCha8Rng) -> Step {
    loop {
        let found = match below(rng, 11) {
            0 => joined_pins(board, rng),
            1 => joined_by_resistor(board, rng),
            2 => old_network(board, rng),
            3 => wrong_gate(board, rng),
            4 => resistor(board, rng),
            5 => junction(board, rng),
            6 => Some(heavy_load(board, rng)),
            7 => weak_pin(board, rng),
            8 => rail_too_high(board, rng),
            9 => unbiased(board, rng),
            _ => stuck_input(board, rng),
        };
        if let Some(step) = found {
            return step;
        }
    }
}

/// Up to two other steps a little off.
pub(crate) fn mild(board: &Board, fault: &Step, rng: &mut ChaCha8Rng) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    for _ in 0..below(rng, 3) {
        let factor = between(rng, 1.15, 1.4);
        let step = if below(rng, 3) == 0 {
            let pin = below(rng, board.pins.len());
            pin_step(board, pin, factor)
        } else {
            let resistors = resistors(board);
            let index = resistors[below(rng, resistors.len())];
            let factor = if below(rng, 2) == 0 { factor } else { 1.0 / factor };
            resistor_step(board, index, factor)
        };
        if !step.touches(fault) && !steps.iter().any(|other| other.touches(&step)) {
            steps.push(step);
        }
    }
    steps
}

fn resistors(board: &Board) -> Vec<usize> {
    indices(board, |part| matches!(part, Part::Resistor { .. }))
}

fn indices(board: &Board, wanted: impl Fn(&Part) -> bool) -> Vec<usize> {
    let parts = board.parts.iter().enumerate();
    parts.filter(|(_, (_, part))| wanted(part)).map(|(index, _)| index).collect()
}

fn one_of(rng: &mut ChaCha8Rng, all: &[usize]) -> Option<usize> {
    if all.is_empty() { None } else { Some(all[below(rng, all.len())]) }
}

/// Pins that feed a gate's input, by index, the sync pin left out.
fn gated_pins(board: &Board) -> Vec<usize> {
    let feeds = |node: Node| {
        board.parts.iter().any(|(_, part)| match part {
            Part::Gate { inputs, .. } => inputs.contains(&node),
            _ => false,
        })
    };
    (1..board.pins.len()).filter(|&pin| feeds(board.pins[pin].node)).collect()
}

fn two_of(rng: &mut ChaCha8Rng, all: &[usize]) -> Option<(usize, usize)> {
    if all.len() < 2 {
        return None;
    }
    let first = below(rng, all.len());
    let second = (first + 1 + below(rng, all.len() - 1)) % all.len();
    Some((all[first], all[second]))
}

/// Two pins on one input of a gate.
fn joined_pins(board: &Board, rng: &mut ChaCha8Rng) -> Option<Step> {
    let gate = one_of(rng, &indices(board, |part| matches!(part, Part::Gate { .. })))?;
    let Part::Gate { inputs, .. } = &board.parts[gate].1 else { return None };
    let pins: Vec<usize> =
        (1..board.pins.len()).filter(|&pin| inputs.contains(&board.pins[pin].node)).collect();
    let (first, second) = two_of(rng, &pins)?;
    let names = [first, second].map(|pin| board.pins[pin].name.clone()).to_vec();
    let label = format!("{} tied to {}'s node", names[0], names[1]);
    Some(Step {
        sort: "pins joined",
        label,
        names,
        edit: Edit::Joined(board.pins[first].node, board.pins[second].node),
    })
}

fn joined_by_resistor(board: &Board, rng: &mut ChaCha8Rng) -> Option<Step> {
    let (first, second) = two_of(rng, &gated_pins(board))?;
    let name = board.fresh_part(rng, "R");
    let ends = [board.pins[first].node, board.pins[second].node];
    let ohms = between(rng, 1.0, 1e3);
    let label =
        format!("{} joined to {} by {ohms:.0}", board.pins[first].name, board.pins[second].name);
    Some(Step {
        sort: "pins joined by a resistor",
        label,
        names: vec![name.clone()],
        edit: Edit::More(name, Part::Resistor { ends, ohms }),
    })
}

fn old_network(board: &Board, rng: &mut ChaCha8Rng) -> Option<Step> {
    let pin = one_of(rng, &gated_pins(board))?;
    let name = board.fresh_part(rng, "R");
    let ohms = between(rng, 330.0, 1.2e3);
    let part = Part::Resistor { ends: [board.pins[pin].node, 0], ohms };
    let label = format!("{} loaded by {ohms:.0}", board.pins[pin].name);
    Some(Step {
        sort: "old network",
        label,
        names: vec![name.clone()],
        edit: Edit::More(name, part),
    })
}

fn wrong_gate(board: &Board, rng: &mut ChaCha8Rng) -> Option<Step> {
    let index =
        one_of(rng, &indices(board, |part| matches!(part, Part::Gate { logic: Logic::Or, .. })))?;
    let (name, Part::Gate { inputs, output, supply, .. }) = board.parts[index].clone() else {
        return None;
    };
    let logic = [Logic::And, Logic::Nand, Logic::Nor][below(rng, 3)];
    let label = format!("{name} {logic:?} for OR");
    let part = Part::Gate { logic, inputs, output, supply };
    Some(Step { sort: "wrong gate", label, names: vec![name], edit: Edit::Part(index, part) })
}

fn resistor_step(board: &Board, index: usize, factor: f64) -> Step {
    let (name, part) = &board.parts[index];
    let Part::Resistor { ends, ohms } = part else { panic!("a resistor") };
    let part = Part::Resistor { ends: *ends, ohms: (ohms * factor).min(OPEN_OHMS) };
    let label = format!("{name} {ohms:.0} x{factor:.3}");
    Step { sort: "resistor", label, names: vec![name.clone()], edit: Edit::Part(index, part) }
}

fn resistor(board: &Board, rng: &mut ChaCha8Rng) -> Option<Step> {
    let index = one_of(rng, &resistors(board))?;
    let factor = [30.0, 10.0, OPEN_OHMS, 0.03][below(rng, 4)];
    Some(resistor_step(board, index, factor))
}

/// A diode or a transistor the wrong way round.
fn junction(board: &Board, rng: &mut ChaCha8Rng) -> Option<Step> {
    let all = indices(board, |part| matches!(part, Part::Diode { .. } | Part::Transistor { .. }));
    let index = one_of(rng, &all)?;
    let (name, part) = board.parts[index].clone();
    let turned = match part {
        Part::Diode { anode, cathode } => Part::Diode { anode: cathode, cathode: anode },
        Part::Transistor { pnp, collector, base, emitter } if below(rng, 2) == 0 => {
            Part::Transistor { pnp, collector, base: emitter, emitter: base }
        }
        Part::Transistor { pnp, collector, base, emitter } => {
            Part::Transistor { pnp, collector: base, base: collector, emitter }
        }
        _ => return None,
    };
    let label = format!("{name} turned");
    Some(Step { sort: "part turned", label, names: vec![name], edit: Edit::Part(index, turned) })
}

/// The resistor that biases a base is open. It names the step, and so does the transistor that is
/// left in its dead zone.
fn unbiased(board: &Board, rng: &mut ChaCha8Rng) -> Option<Step> {
    let is_rail = |node: Node| {
        board.parts.iter().any(|(_, part)| match part {
            Part::Supply { node: rail, .. } => *rail == node,
            _ => false,
        })
    };
    let biases = |board: &Board, of: Node| {
        indices(board, |part| match part {
            Part::Resistor { ends, .. } => is_rail(ends[0]) && ends[1] == of,
            _ => false,
        })
    };
    let transistors = indices(board, |part| matches!(part, Part::Transistor { .. }));
    let index = one_of(rng, &transistors)?;
    let (name, Part::Transistor { base, .. }) = &board.parts[index] else { return None };
    let mut step = resistor_step(board, one_of(rng, &biases(board, *base))?, OPEN_OHMS);
    step.sort = "no bias";
    step.names.push(name.clone());
    Some(step)
}

fn heavy_load(board: &Board, rng: &mut ChaCha8Rng) -> Step {
    let ohms = board.load_ohms * between(rng, 0.05, 0.33);
    let label = format!("load {ohms:.1}");
    Step { sort: "heavy load", label, names: vec!["load".to_owned()], edit: Edit::Load(ohms) }
}

fn pin_step(board: &Board, pin: usize, factor: f64) -> Step {
    let name = board.pins[pin].name.clone();
    let label = format!("pin {name} x{factor:.2}");
    Step { sort: "weak pin", label, names: vec![name], edit: Edit::PinOhms(pin, factor) }
}

fn weak_pin(board: &Board, rng: &mut ChaCha8Rng) -> Option<Step> {
    let pin = 1 + below(rng, board.pins.len() - 1);
    let factor = between(rng, 4.0, 12.0);
    Some(pin_step(board, pin, factor))
}

/// A gate on the raw 12 V: it switches at 6 V, which no pin reaches.
fn rail_too_high(board: &Board, rng: &mut ChaCha8Rng) -> Option<Step> {
    let all = indices(board, |part| matches!(part, Part::Supply { .. }));
    let index = one_of(rng, &all)?;
    let (rail_name, Part::Supply { node, .. }) = board.parts[index].clone() else { return None };
    let mut names = vec![rail_name.clone()];
    for (name, part) in &board.parts {
        if matches!(part, Part::Gate { .. }) {
            names.push(name.clone());
        }
    }
    let part = Part::Supply { node, volts: 12.0 };
    Some(Step {
        sort: "rail too high",
        label: format!("{rail_name} 12 V"),
        names,
        edit: Edit::Part(index, part),
    })
}

fn stuck_input(board: &Board, rng: &mut ChaCha8Rng) -> Option<Step> {
    let all = indices(board, |part| match part {
        Part::Gate { logic: Logic::Or, inputs, .. } => inputs.len() < 4,
        _ => false,
    });
    let index = one_of(rng, &all)?;
    let (name, Part::Gate { logic, mut inputs, output, supply }) = board.parts[index].clone()
    else {
        return None;
    };
    inputs.push(supply);
    let part = Part::Gate { logic, inputs, output, supply };
    Some(Step {
        sort: "stuck input",
        label: format!("{name} input tied high"),
        names: vec![name],
        edit: Edit::Part(index, part),
    })
}
