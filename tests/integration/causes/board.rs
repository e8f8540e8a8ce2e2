//! Boards as the tests see them, and as scenario text.

use chacha20::ChaCha8Rng;
use chacha20::rand_core::Rng;

/// A node by its place in [`Board::nodes`]; 0 is ground.
pub(crate) type Node = usize;

/// A chip output: volts behind a resistance, or a resistance to ground.
#[derive(Clone, Debug)]
pub(crate) struct Pin {
    pub(crate) name: String,
    pub(crate) node: Node,
    pub(crate) high_volts: f64,
    pub(crate) high_ohms: f64,
    pub(crate) low_ohms: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Logic {
    Or,
    Nor,
    And,
    Nand,
    Buffer,
    Not,
}

/// Every gate is 50 Ω and switches at half its supply.
pub(crate) const GATE_OHMS: f64 = 50.0;

#[derive(Clone, Debug)]
pub(crate) enum Part {
    Resistor { ends: [Node; 2], ohms: f64 },
    Diode { anode: Node, cathode: Node },
    Transistor { pnp: bool, collector: Node, base: Node, emitter: Node },
    Gate { logic: Logic, inputs: Vec<Node>, output: Node, supply: Node },
    Supply { node: Node, volts: f64 },
}

impl Part {
    fn terminals(&mut self) -> Vec<&mut Node> {
        match self {
            Self::Resistor { ends: [a, b], .. } => vec![a, b],
            Self::Diode { anode, cathode } => vec![anode, cathode],
            Self::Transistor { collector, base, emitter, .. } => vec![collector, base, emitter],
            Self::Gate { inputs, output, supply, .. } => {
                inputs.iter_mut().chain([output, supply]).collect()
            }
            Self::Supply { node, .. } => vec![node],
        }
    }
}

/// A mixer with its chip and its load.
#[derive(Clone, Debug)]
pub(crate) struct Board {
    pub(crate) kind: &'static str,
    pub(crate) nodes: Vec<String>,
    /// Sync first, then an element each.
    pub(crate) pins: Vec<Pin>,
    pub(crate) parts: Vec<(String, Part)>,
    pub(crate) plug: Node,
    pub(crate) load_ohms: f64,
}

pub(crate) fn below(rng: &mut ChaCha8Rng, count: usize) -> usize {
    usize::try_from(rng.next_u32()).unwrap() % count
}

/// A share from 0 to 1.
fn share(rng: &mut ChaCha8Rng) -> f64 {
    f64::from(rng.next_u32()) / f64::from(u32::MAX)
}

/// A value within a quarter of the usual one.
fn around(rng: &mut ChaCha8Rng, usual: f64) -> f64 {
    usual * (0.8 + 0.45 * share(rng))
}

pub(crate) fn between(rng: &mut ChaCha8Rng, least: f64, most: f64) -> f64 {
    least + (most - least) * share(rng)
}

const SYLLABLES: [&str; 12] =
    ["ba", "ke", "lo", "mi", "nu", "ra", "se", "to", "vi", "wo", "xa", "zu"];

fn fresh_name(rng: &mut ChaCha8Rng, taken: &[String], prefix: &str) -> String {
    loop {
        let mut name = prefix.to_owned();
        for _ in 0..3 {
            name += SYLLABLES[below(rng, SYLLABLES.len())];
        }
        if !taken.contains(&name) {
            return name;
        }
    }
}

impl Board {
    fn new(kind: &'static str, rng: &mut ChaCha8Rng) -> Self {
        let mut board = Self {
            kind,
            nodes: vec!["ground".to_owned()],
            pins: Vec::new(),
            parts: Vec::new(),
            plug: 0,
            load_ohms: 75.0,
        };
        for name in ["sync", "field", "ball", "left", "right"] {
            let node = board.node(rng);
            board.pins.push(Pin {
                name: name.to_owned(),
                node,
                high_volts: around(rng, 5.4).clamp(5.0, 5.8),
                high_ohms: around(rng, 3e3),
                low_ohms: around(rng, 800.0),
            });
        }
        board.plug = board.node(rng);
        board
    }

    pub(crate) fn node(&mut self, rng: &mut ChaCha8Rng) -> Node {
        let name = fresh_name(rng, &self.nodes, "");
        self.nodes.push(name);
        self.nodes.len() - 1
    }

    pub(crate) fn fresh_part(&self, rng: &mut ChaCha8Rng, letter: &str) -> String {
        let names: Vec<String> = self.parts.iter().map(|(name, _)| name.clone()).collect();
        loop {
            let name = format!("{letter}{}", 1 + below(rng, 90));
            if !names.contains(&name) {
                return name;
            }
        }
    }

    fn add(&mut self, rng: &mut ChaCha8Rng, letter: &str, part: Part) {
        let name = self.fresh_part(rng, letter);
        self.parts.push((name, part));
    }

    fn resistor(&mut self, rng: &mut ChaCha8Rng, usual: f64, a: Node, b: Node) {
        let ohms = around(rng, usual);
        self.add(rng, "R", Part::Resistor { ends: [a, b], ohms });
    }

    fn rail(&mut self, rng: &mut ChaCha8Rng) -> Node {
        let node = self.node(rng);
        self.add(rng, "V", Part::Supply { node, volts: 5.0 });
        node
    }

    fn gate(&mut self, rng: &mut ChaCha8Rng, logic: Logic, inputs: &[Node], supply: Node) -> Node {
        let output = self.node(rng);
        self.add(rng, "U", Part::Gate { logic, inputs: inputs.to_vec(), output, supply });
        output
    }

    fn diode(&mut self, rng: &mut ChaCha8Rng, anode: Node, cathode: Node) {
        self.add(rng, "D", Part::Diode { anode, cathode });
    }

    fn transistor(&mut self, rng: &mut ChaCha8Rng, pnp: bool, cbe: [Node; 3]) {
        let [collector, base, emitter] = cbe;
        self.add(rng, "Q", Part::Transistor { pnp, collector, base, emitter });
    }

    /// Ties all that is at one node to another.
    pub(crate) fn join(&mut self, from: Node, to: Node) {
        let parts = self.parts.iter_mut().flat_map(|(_, part)| part.terminals());
        for terminal in parts.chain(self.pins.iter_mut().map(|pin| &mut pin.node)) {
            if *terminal == from {
                *terminal = to;
            }
        }
    }

    /// The scenario text.
    pub(crate) fn toml(&self) -> String {
        let name = |node: Node| &self.nodes[node];
        let mut text = String::from(TIMING);
        for pin in &self.pins {
            if pin.name != "sync" {
                text += &format!(
                    "[chip.pattern.{}]\nactive = [{{ lines = [40, 60], clocks = [30, 40] }}]\n",
                    pin.name
                );
            }
            text += &format!(
                "[chip.pin.{}]\nkind = \"fixed\"\nhigh_volts = {}\nhigh_ohms = {}\nlow_ohms = {}\n",
                pin.name, pin.high_volts, pin.high_ohms, pin.low_ohms
            );
        }
        text += "[chip.pins]\n";
        for pin in &self.pins {
            text += &format!("{} = \"{}\"\n", pin.name, name(pin.node));
        }
        for (part_name, part) in &self.parts {
            text += &format!("[board.{part_name}]\n{}\n", self.part_toml(part));
        }
        text + &format!("[output]\nnode = \"{}\"\nload = {}\n", name(self.plug), self.load_ohms)
    }

    fn part_toml(&self, part: &Part) -> String {
        let name = |node: &Node| &self.nodes[*node];
        match part {
            Part::Resistor { ends: [a, b], ohms } => {
                format!("resistor = {ohms}\nfrom = \"{}\"\nto = \"{}\"", name(a), name(b))
            }
            Part::Diode { anode, cathode } => format!(
                "diode = \"silicon signal\"\nsaturation_current = 2.5e-9\nemission = 1.8\n\
                 anode = \"{}\"\ncathode = \"{}\"",
                name(anode),
                name(cathode)
            ),
            Part::Transistor { pnp, collector, base, emitter } => format!(
                "transistor = \"small {}\"\nsaturation_current = 1e-14\nforward_gain = 200\n\
                 reverse_gain = 4\ncollector = \"{}\"\nbase = \"{}\"\nemitter = \"{}\"",
                if *pnp { "PNP" } else { "NPN" },
                name(collector),
                name(base),
                name(emitter)
            ),
            Part::Gate { logic, inputs, output, supply } => {
                let inputs: Vec<String> =
                    inputs.iter().map(|input| format!("\"{}\"", name(input))).collect();
                format!(
                    "gate = \"{}\"\nfamily = \"plain\"\noutput_resistance = {GATE_OHMS}\n\
                     threshold = \"50 %\"\ninputs = [{}]\noutput = \"{}\"\nsupply = \"{}\"",
                    format!("{logic:?}").to_lowercase(),
                    inputs.join(", "),
                    name(output),
                    name(supply)
                )
            }
            Part::Supply { node, volts } => format!("supply = {volts}\nnode = \"{}\"", name(node)),
        }
    }
}

const TIMING: &str = r#"
[chip.timing]
clock = "2 MHz"
clocks_per_line = 128
lines = 312
sync = 9
back_porch = 12
front_porch = 3
field_sync = "inverted"
first_active_line = 24
"#;

/// A working mixer of a kind drawn by lot. `whites` and `grey` are the elements in a drawn order.
pub(crate) fn healthy(rng: &mut ChaCha8Rng) -> Board {
    let build = KINDS[below(rng, KINDS.len())];
    build(rng)
}

type Build = fn(&mut ChaCha8Rng) -> Board;
const KINDS: [Build; 11] = [
    adder,
    diode_adder,
    all_in_one_gate,
    separate_grey,
    biased_follower,
    low_follower,
    two_greys,
    pnp_follower,
    sync_pull_down,
    dark_player,
    two_gates,
];

/// Nodes of the sync pin and of the elements' pins, these in a drawn order.
fn pins(board: &Board, rng: &mut ChaCha8Rng) -> (Node, [Node; 4]) {
    let mut order = [1, 2, 3, 4];
    for last in (1..4).rev() {
        order.swap(last, below(rng, last + 1));
    }
    (board.pins[0].node, order.map(|pin| board.pins[pin].node))
}

fn adder(rng: &mut ChaCha8Rng) -> Board {
    let mut board = Board::new("adder", rng);
    board.load_ohms = around(rng, 2.2e3);
    let (sync, [a, b, c, grey]) = pins(&board, rng);
    let plug = board.plug;
    for white in [a, b, c] {
        board.resistor(rng, 4.7e3, white, plug);
    }
    board.resistor(rng, 12e3, grey, plug);
    board.resistor(rng, 12e3, sync, plug);
    board
}

fn diode_adder(rng: &mut ChaCha8Rng) -> Board {
    let mut board = Board::new("diode adder", rng);
    board.load_ohms = around(rng, 1e3);
    let (sync, [a, b, c, grey]) = pins(&board, rng);
    let (bus, inner, plug) = (board.node(rng), board.node(rng), board.plug);
    for white in [a, b, c, inner] {
        board.diode(rng, white, bus);
    }
    board.resistor(rng, 4.7e3, grey, inner);
    board.resistor(rng, 4.7e3, bus, 0);
    board.resistor(rng, 5.6e3, sync, bus);
    board.resistor(rng, 1.8e3, bus, plug);
    board
}

fn all_in_one_gate(rng: &mut ChaCha8Rng) -> Board {
    let mut board = Board::new("all in one gate", rng);
    let (sync, elements) = pins(&board, rng);
    let (rail, plug) = (board.rail(rng), board.plug);
    let white = board.gate(rng, Logic::Or, &elements, rail);
    let sync_out = board.gate(rng, Logic::Buffer, &[sync], rail);
    board.resistor(rng, 470.0, white, plug);
    board.resistor(rng, 1e3, sync_out, plug);
    board
}

fn separate_grey(rng: &mut ChaCha8Rng) -> Board {
    let mut board = Board::new("separate grey", rng);
    let (sync, [a, b, c, grey]) = pins(&board, rng);
    let (rail, plug) = (board.rail(rng), board.plug);
    let white = board.gate(rng, Logic::Or, &[a, b, c], rail);
    let grey_out = board.gate(rng, Logic::Buffer, &[grey], rail);
    let sync_out = board.gate(rng, Logic::Buffer, &[sync], rail);
    board.resistor(rng, 400.0, white, plug);
    board.resistor(rng, 1e3, grey_out, plug);
    board.resistor(rng, 1e3, sync_out, plug);
    board
}

/// An NPN follower with its output resistors.
fn follower(board: &mut Board, rng: &mut ChaCha8Rng, base: Node, rail: Node) {
    let (drive, plug) = (board.node(rng), board.plug);
    board.transistor(rng, false, [rail, base, drive]);
    board.resistor(rng, 1e3, drive, 0);
    board.resistor(rng, 75.0, drive, plug);
}

fn biased_follower(rng: &mut ChaCha8Rng) -> Board {
    let mut board = Board::new("biased follower", rng);
    let (sync, [a, b, c, grey]) = pins(&board, rng);
    let (rail, base) = (board.rail(rng), board.node(rng));
    let white = board.gate(rng, Logic::Or, &[a, b, c], rail);
    board.resistor(rng, 2e3, white, base);
    board.resistor(rng, 2.2e3, sync, base);
    board.resistor(rng, 3.3e3, grey, base);
    board.resistor(rng, 3.9e3, rail, base);
    board.resistor(rng, 2e3, base, 0);
    follower(&mut board, rng, base, rail);
    board
}

/// As the biased follower, with so little sync and grey at the base that nothing but its bias keeps
/// them out of the dead zone.
fn low_follower(rng: &mut ChaCha8Rng) -> Board {
    let mut board = Board::new("low follower", rng);
    let (sync, [a, b, c, grey]) = pins(&board, rng);
    let (rail, base) = (board.rail(rng), board.node(rng));
    let white = board.gate(rng, Logic::Or, &[a, b, c], rail);
    board.resistor(rng, 1.5e3, white, base);
    board.resistor(rng, 8.2e3, sync, base);
    board.resistor(rng, 4.7e3, grey, base);
    board.resistor(rng, 2.2e3, rail, base);
    board.resistor(rng, 1.5e3, base, 0);
    follower(&mut board, rng, base, rail);
    board
}

/// As the biased follower, with two elements in the gate and two greyed apart.
fn two_greys(rng: &mut ChaCha8Rng) -> Board {
    let mut board = Board::new("two greys", rng);
    let (sync, [a, b, c, d]) = pins(&board, rng);
    let (rail, base) = (board.rail(rng), board.node(rng));
    let white = board.gate(rng, Logic::Or, &[a, b], rail);
    board.resistor(rng, 1.8e3, white, base);
    board.resistor(rng, 2.2e3, sync, base);
    board.resistor(rng, 2.7e3, c, base);
    board.resistor(rng, 2.7e3, d, base);
    board.resistor(rng, 3.3e3, rail, base);
    board.resistor(rng, 2.7e3, base, 0);
    follower(&mut board, rng, base, rail);
    board
}

fn pnp_follower(rng: &mut ChaCha8Rng) -> Board {
    let mut board = Board::new("PNP follower", rng);
    let (sync, [a, b, c, grey]) = pins(&board, rng);
    let (rail, base, drive) = (board.rail(rng), board.node(rng), board.node(rng));
    let plug = board.plug;
    let white = board.gate(rng, Logic::Or, &[a, b, c], rail);
    board.resistor(rng, 2.2e3, white, base);
    board.resistor(rng, 3.3e3, sync, base);
    board.resistor(rng, 3.9e3, grey, base);
    board.resistor(rng, 1.5e3, base, 0);
    board.transistor(rng, true, [0, base, drive]);
    board.resistor(rng, 120.0, rail, drive);
    board.resistor(rng, 75.0, drive, plug);
    board
}

fn sync_pull_down(rng: &mut ChaCha8Rng) -> Board {
    let mut board = Board::new("sync pull-down", rng);
    let (sync, [a, b, c, grey]) = pins(&board, rng);
    let (rail, base, plug) = (board.rail(rng), board.node(rng), board.plug);
    let white = board.gate(rng, Logic::Or, &[a, b, c], rail);
    let grey_out = board.gate(rng, Logic::Buffer, &[grey], rail);
    let inverse = board.gate(rng, Logic::Not, &[sync], rail);
    board.resistor(rng, 1.1e3, rail, plug);
    board.resistor(rng, 430.0, white, plug);
    board.resistor(rng, 1e3, grey_out, plug);
    board.resistor(rng, 4.7e3, inverse, base);
    board.transistor(rng, false, [plug, base, 0]);
    board
}

fn dark_player(rng: &mut ChaCha8Rng) -> Board {
    let mut board = Board::new("dark player", rng);
    let (sync, [a, b, c, dark]) = pins(&board, rng);
    let (rail, base, collector) = (board.rail(rng), board.node(rng), board.node(rng));
    let plug = board.plug;
    let white = board.gate(rng, Logic::Or, &[a, b, c], rail);
    let sync_out = board.gate(rng, Logic::Buffer, &[sync], rail);
    let dark_out = board.gate(rng, Logic::Buffer, &[dark], rail);
    board.resistor(rng, 560.0, sync_out, plug);
    board.resistor(rng, 750.0, white, plug);
    board.resistor(rng, 4.7e3, dark_out, base);
    board.transistor(rng, false, [collector, base, 0]);
    board.resistor(rng, 91.0, collector, plug);
    board
}

/// Two gates one after the other and a PNP follower.
fn two_gates(rng: &mut ChaCha8Rng) -> Board {
    let mut board = Board::new("two gates", rng);
    let (sync, [a, b, c, grey]) = pins(&board, rng);
    let (rail, base, drive) = (board.rail(rng), board.node(rng), board.node(rng));
    let plug = board.plug;
    let marks = board.gate(rng, Logic::Or, &[a, b], rail);
    let white = board.gate(rng, Logic::Or, &[marks, c], rail);
    board.resistor(rng, 1.5e3, white, base);
    board.resistor(rng, 2.7e3, sync, base);
    board.resistor(rng, 3.3e3, grey, base);
    board.resistor(rng, 1.5e3, base, 0);
    board.transistor(rng, true, [0, base, drive]);
    board.resistor(rng, 120.0, rail, drive);
    board.resistor(rng, 75.0, drive, plug);
    board
}
