//! Boards written as scenario text, read by the product's own reader from memory.

use backporch::analysis::ladder::LadderLevel;
use backporch::analysis::ladder::LoadLadder;
use backporch::analysis::ladder::SyncSide;
use backporch::analysis::ladder::ladder;
use backporch::network::operating_point::Network;
use backporch::scenario;
use backporch::scenario::Scenario;
use backporch::signal::element::ElementId;
use backporch::signal::element::ElementSet;
use backporch::signal::pulse_train::Level;
use backporch::simulate::Bench;
use backporch::simulate::FieldRun;
use std::io;
use std::path::Path;
use std::path::PathBuf;

/// The elements of [`Pins::chip`], by [`ElementId`].
pub(crate) const ELEMENTS: [&str; 4] = ["field", "ball", "right", "left"];

/// Chip pins of fixed volts behind a resistance.
#[derive(Clone, Debug)]
pub(crate) struct Pins {
    pub(crate) high_volts: f64,
    pub(crate) high_ohms: f64,
    pub(crate) low_ohms: f64,
}

/// The stand-in for a pin that every table of levels uses: 5.4 V behind 3.0 kΩ and 0 V behind
/// 0.8 kΩ, neither following the chip's supply.
pub(crate) const COMMON_PINS: Pins = Pins { high_volts: 5.4, high_ohms: 3e3, low_ohms: 800.0 };

impl Pins {
    /// A chip with a pin for sync and one for each of [`ELEMENTS`]; nothing says when they are lit
    /// in time, for levels do not ask.
    pub(crate) fn chip(&self) -> String {
        let Self { high_volts, high_ohms, low_ohms } = self;
        chip_driven_by(&format!(
            "kind = \"fixed\"\nhigh_volts = {high_volts}\nhigh_ohms = {high_ohms}\n\
             low_volts = 0\nlow_ohms = {low_ohms}"
        ))
    }
}

/// As [`Pins::chip`], with any output stage.
pub(crate) fn chip_driven_by(drive: &str) -> String {
    let mut text = format!("{TIMING}[chip.drive]\n{drive}\n");
    for (index, element) in ELEMENTS.iter().enumerate() {
        let (line, clock) = (40 + 40 * index, 30 + 20 * index);
        text += &format!(
            "[chip.pattern.{element}]\n\
             active = [{{ lines = [{line}, {}], clocks = [{clock}, {}] }}]\n",
            line + 20,
            clock + 10
        );
    }
    text
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

/// A board as it is written, part by part.
#[derive(Clone, Debug)]
pub(crate) struct Board {
    chip: String,
    parts: String,
    count: usize,
}

impl Board {
    pub(crate) fn new(chip: &str) -> Self {
        Self { chip: chip.to_owned(), parts: String::new(), count: 0 }
    }

    /// The stand-in pins and nothing on the board.
    pub(crate) fn common() -> Self {
        Self::new(&COMMON_PINS.chip())
    }

    /// Any part, by the lines of its table.
    pub(crate) fn part(mut self, prefix: &str, lines: &str) -> Self {
        self.count += 1;
        self.parts += &format!("[board.{prefix}{}]\n{lines}\n", self.count);
        self
    }

    pub(crate) fn resistor(self, ohms: f64, from: &str, to: &str) -> Self {
        self.part("R", &format!("resistor = {ohms}\nfrom = \"{from}\"\nto = \"{to}\""))
    }

    /// An ideal source from ground.
    pub(crate) fn supply(self, volts: f64, node: &str) -> Self {
        self.part("V", &format!("supply = {volts}\nnode = \"{node}\""))
    }

    /// Is 2.5 nA, n 1.8.
    pub(crate) fn diode(self, anode: &str, cathode: &str) -> Self {
        let lines = format!(
            "diode = \"silicon signal\"\nsaturation_current = \"2.5 nA\"\nemission = 1.8\n\
             anode = \"{anode}\"\ncathode = \"{cathode}\""
        );
        self.part("D", &lines)
    }

    /// 50 Ω, a sharp threshold at half the supply, no input current.
    pub(crate) fn gate(self, logic: &str, inputs: &[&str], output: &str, supply: &str) -> Self {
        let lines = format!(
            "gate = \"{logic}\"\nfamily = \"plain\"\ninputs = {inputs:?}\noutput = \"{output}\"\n\
             supply = \"{supply}\""
        );
        self.part("U", &lines)
    }

    pub(crate) fn npn(self, [collector, base, emitter]: [&str; 3]) -> Self {
        self.transistor("small NPN", 200.0, [collector, base, emitter])
    }

    /// Is 1e-14 A, reverse gain 4.
    pub(crate) fn transistor(
        self,
        kind: &str,
        gain: f64,
        [collector, base, emitter]: [&str; 3],
    ) -> Self {
        let lines = format!(
            "transistor = \"{kind}\"\nsaturation_current = 1e-14\nforward_gain = {gain}\n\
             reverse_gain = 4\ncollector = \"{collector}\"\nbase = \"{base}\"\n\
             emitter = \"{emitter}\""
        );
        self.part("Q", &lines)
    }

    /// The whole text, with the set at `node` and `more` tables at the end.
    pub(crate) fn text(&self, node: &str, load_ohms: f64, more: &str) -> String {
        format!(
            "title = \"test board\"\n{}{}[output]\nnode = \"{node}\"\nload = {load_ohms}\n{more}",
            self.chip, self.parts
        )
    }

    pub(crate) fn scenario(&self, node: &str, load_ohms: f64) -> Scenario {
        read(&self.text(node, load_ohms, ""))
    }
}

/// Reads a scenario that is right, from memory.
pub(crate) fn read(text: &str) -> Scenario {
    let mut fetch = |name: &str| match name {
        "board.toml" => Ok(text.to_owned()),
        _ => Err(io::Error::from(io::ErrorKind::NotFound)),
    };
    scenario::load("board.toml", &[], &mut fetch).unwrap_or_else(|problems| {
        let messages: Vec<String> = problems
            .iter()
            .map(|problem| {
                let place = problem.span.as_ref().map(|span| span.text().to_owned());
                format!("{} at {place:?}: {}", problem.message, problem.expected)
            })
            .collect();
        panic!("{}\n\n{text}", messages.join("\n"))
    })
}

/// Reads a scenario that is right from its file, with settings.
pub(crate) fn example(path: &str, sets: &[&str]) -> Scenario {
    let sets: Vec<String> = sets.iter().map(|&set| set.to_owned()).collect();
    scenario::load(path, &sets, &mut |path| std::fs::read_to_string(path)).unwrap()
}

/// All example boards, in the order of their names.
pub(crate) fn examples() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut paths: Vec<PathBuf> =
        entries.filter(|path| path.extension().is_some_and(|end| end == "toml")).collect();
    paths.sort();
    assert!(paths.len() >= 20, "example boards are missing");
    paths
}

/// An example board, read from its file.
pub(crate) fn load(path: &Path) -> Scenario {
    example(path.to_str().unwrap(), &[])
}

/// The first fields of a board.
pub(crate) fn fields(scenario: &Scenario, count: usize) -> Vec<FieldRun> {
    let bench = Bench::new(scenario, &[]).unwrap();
    let mut run = bench.run().unwrap();
    (0..count).map(|_| run.advance_field(&mut |_| {}).unwrap()).collect()
}

/// The ladder of a scenario under its own load.
pub(crate) fn own_ladder(scenario: &Scenario) -> LoadLadder {
    ladder(scenario).unwrap().loads.swap_remove(0)
}

/// What the tables print of a ladder.
pub(crate) const COLUMNS: [&str; 9] =
    ["tip", "black", "depth", "field", "ball", "right", "left", "field+ball", "field+left"];

/// The columns of a ladder, mV; elements against black.
pub(crate) fn columns_mv(scenario: &Scenario) -> [f64; 9] {
    let solved = own_ladder(scenario);
    let black_v = solved.sync.black_v;
    let above_mv = |names: &[&str]| 1e3 * (level(scenario, &solved, names).volts - black_v);
    let alone_mv = |name: &str| {
        let element = element(scenario, name);
        1e3 * solved.elements[usize::from(element.0)].delta_v
    };
    [
        1e3 * solved.sync.tip_v,
        1e3 * black_v,
        1e3 * solved.sync.depth_v,
        alone_mv("field"),
        alone_mv("ball"),
        alone_mv("right"),
        alone_mv("left"),
        above_mv(&["field", "ball"]),
        above_mv(&["field", "left"]),
    ]
}

fn element(scenario: &Scenario, name: &str) -> ElementId {
    let index = scenario.raster.elements.iter().position(|known| known == name).unwrap();
    ElementId(u8::try_from(index).unwrap())
}

/// The level with these elements lit and sync released.
fn level(scenario: &Scenario, solved: &LoadLadder, names: &[&str]) -> LadderLevel {
    let lit = names.iter().fold(ElementSet::EMPTY, |set, name| set.with(element(scenario, name)));
    let mut levels = solved.levels.iter();
    *levels.find(|level| level.sync == SyncSide::Picture && level.on == lit).unwrap()
}

/// The standing voltage of a node, V, with each named pin high and all others low.
pub(crate) fn standing_volts(scenario: &Scenario, high: &[&str], node: &str) -> f64 {
    let pins = scenario.raster.pins.iter();
    let levels: Vec<Level> = pins
        .map(|pin| if high.contains(&pin.name.as_str()) { Level::HIGH } else { Level::LOW })
        .collect();
    let solved = Network::new(&scenario.circuit).unwrap().operating_point(&levels).unwrap();
    solved.volts(scenario.circuit.node(node).unwrap())
}
