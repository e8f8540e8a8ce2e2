//! The controls of a part, by its kind.

use crate::base::preferred::Series;
use crate::document::quantity::CAPACITANCE;
use crate::document::quantity::FACTOR;
use crate::document::quantity::INDUCTANCE;
use crate::document::quantity::LENGTH;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::Quantity;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::SHARE;
use crate::document::quantity::read;
use crate::network::circuit::Gate;
use crate::network::circuit::Logic;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::scenario::Scenario;
use crate::scenario::analogue_switch;
use crate::scenario::battery::CHEMISTRIES;
use crate::scenario::change::Change;
use crate::scenario::control::Control;
use crate::scenario::control::ControlKind;
use crate::scenario::control::Entries;
use crate::scenario::control::FITTED;
use crate::scenario::control::Group;
use crate::scenario::control::Step;
use crate::scenario::control::steps::even;
use crate::scenario::control::steps::series;
use crate::scenario::entries::main_path;
use crate::scenario::field_effect;
use crate::scenario::gate::LOGIC;
use crate::scenario::gate_library::FAMILIES;
use crate::scenario::gate_library::GRADES;
use crate::scenario::library::DIODES;
use crate::scenario::library::TRANSISTORS;
use crate::scenario::overlay::TOP;
use crate::scenario::passive::CONDITIONS;
use crate::scenario::semiconductor::GAINS;
use crate::scenario::semiconductor::ZENER;
use crate::scenario::supply::SPECIMENS;

/// How far to either side of its value a part can be stepped, as a factor; a coil whose quality is
/// stated besides its resistance cannot be any.
const REACH: f64 = 30.0;
const REACH_OF_COIL: f64 = 5.0;

/// A group for each part of the file.
pub(super) fn groups(scenario: &Scenario, written: Entries<'_>) -> Vec<Group> {
    let parts = scenario.circuit.parts.iter().enumerate();
    parts
        .filter(|(index, _)| scenario.part_spans[*index].is_some())
        .filter_map(|(index, part)| {
            let id = PartId(index);
            // `--set` takes a dot for the end of a name.
            let name = &part.name;
            if name.contains(['.', '=']) || TOP.contains(&name.as_str()) {
                return None;
            }
            let path = main_path(written.0, name)?;
            let main = path.get(name.len() + 1..)?;
            let mut controls = of_part(name, main, &part.kind, written);
            controls.extend(fault(scenario, id, written));
            Some(Group { name: name.clone(), part: Some(id), controls })
        })
        .filter(|group| !group.controls.is_empty())
        .collect()
}

/// Open, or shorted where the part has two terminals. A part that the file itself calls failed stays so.
fn fault(scenario: &Scenario, id: PartId, written: Entries<'_>) -> Option<Control> {
    let name = &scenario.circuit.parts[id.0].name;
    if written.text(name).is_some() {
        return None;
    }
    let mut words = vec![FITTED.to_owned(), "open".to_owned()];
    if scenario.changed(&Change::Short(id)).is_ok() {
        words.push("short".to_owned());
    }
    Some(Control {
        path: name.clone(),
        label: "fault",
        text: FITTED.to_owned(),
        is_written: false,
        kind: ControlKind::Fault(words),
    })
}

fn of_part(name: &str, main: &str, kind: &PartKind, written: Entries<'_>) -> Vec<Control> {
    let of = Part { name, main, written };
    match (main, kind) {
        ("resistor", _) => vec![of.preferred("value", Series::E24, RESISTANCE)],
        ("trimmer" | "potentiometer", _) => vec![
            of.share("position", "position", "0.5"),
            of.preferred("track", Series::E12, RESISTANCE),
        ],
        ("capacitor", _) => of.capacitor(),
        ("inductor", _) => vec![of.preferred("value", Series::E12, INDUCTANCE)],
        ("lead" | "cable", _) => vec![of.preferred("length in metres", Series::E12, LENGTH)],
        ("switch" | "jumper", _) => vec![of.worded(main, "contact", ["closed", "open"], "closed")],
        ("diode", _) => vec![of.worded(main, "type", DIODES.map(|entry| entry.name), "")],
        ("zener", _) => vec![of.preferred("volts", Series::E24, ZENER)],
        ("gate", PartKind::Gate(gate)) => of.gate(gate),
        ("transistor", PartKind::Transistor { model, .. }) => {
            let same = TRANSISTORS.iter().filter(|one| one.model.model.polarity == model.polarity);
            vec![of.worded(main, "type", same.map(|one| one.name), ""), of.gain()]
        }
        ("junction_fet" | "mos_fet", PartKind::FieldEffect { model, .. }) => {
            vec![of.worded(main, "type", field_effect::names(main, model.channel), "")]
        }
        ("analogue_switch", _) => vec![
            of.worded(main, "type", analogue_switch::names(), ""),
            of.worded("grade", "grade", GRADES.map(|(word, _)| word), "typical"),
        ],
        ("driver", _) => vec![of.even(main, "gain", (0.5, 5.0, 0.05), (FACTOR, "2"))],
        ("regulator", _) => vec![
            of.around("volts"),
            of.worded("specimen", "specimen", SPECIMENS.map(|(word, _)| word), "typical"),
        ],
        ("battery", _) => vec![
            of.share("charge", "charge left", "1"),
            of.worded("chemistry", "chemistry", CHEMISTRIES.map(|(word, _)| word), "alkaline"),
        ],
        ("adapter", _) => vec![
            of.around("volts"),
            of.even("ripple", "ripple", (0.0, 2.0, 0.05), (POSITIVE_VOLTAGE.or_zero(), "0")),
        ],
        _ => vec![of.around("volts")],
    }
}

/// A part of the file.
#[derive(Clone, Copy)]
struct Part<'a> {
    name: &'a str,
    /// The key that says what it is.
    main: &'a str,
    written: Entries<'a>,
}

impl Part<'_> {
    fn path(self, key: &str) -> String {
        format!("{}.{key}", self.name)
    }

    /// The main value as it stands in the file.
    fn value(self, quantity: &Quantity) -> Option<f64> {
        read(self.written.text(&self.path(self.main))?, quantity).ok()
    }

    fn preferred(self, label: &'static str, row: Series, quantity: Quantity) -> Control {
        let value = self.value(&quantity);
        let is_coil = self.written.text(&self.path("quality")).is_some();
        let reach = if is_coil { REACH_OF_COIL } else { REACH };
        let ends = value.map(|value| (value / reach, value * reach));
        let steps = ends.map_or_else(Vec::new, |(low, high)| {
            let (low, high) = (low.max(quantity.low), high.min(quantity.high));
            series(row, low, high, &quantity)
        });
        self.written.stepped(self.path(self.main), label, (steps, quantity), "")
    }

    fn share(self, key: &str, label: &'static str, default: &str) -> Control {
        self.even(key, label, (0.0, 1.0, 0.01), (SHARE, default))
    }

    fn even(
        self,
        key: &str,
        label: &'static str,
        (low, high, step): (f64, f64, f64),
        (quantity, default): (Quantity, &str),
    ) -> Control {
        let steps: Vec<Step> = even(low, high, step);
        self.written.stepped(self.path(key), label, (steps, quantity), default)
    }

    /// Half to one and a half times the volts.
    fn around(self, label: &'static str) -> Control {
        let volts = self.value(&POSITIVE_VOLTAGE).unwrap_or(5.0);
        let ends = ((0.5 * volts).max(0.05), 1.5 * volts, 0.05);
        self.even(self.main, label, ends, (POSITIVE_VOLTAGE, ""))
    }

    fn worded<'b>(
        self,
        key: &str,
        label: &'static str,
        words: impl IntoIterator<Item = &'b str>,
        default: &str,
    ) -> Control {
        self.written.worded(self.path(key), label, words, default)
    }

    fn capacitor(self) -> Vec<Control> {
        let mut controls = vec![self.preferred("value", Series::E12, CAPACITANCE)];
        if self.written.text(&self.path("kind")) == Some("electrolytic") {
            controls.push(self.worded(
                "condition",
                "condition",
                CONDITIONS.map(|(word, _)| word),
                "new",
            ));
        }
        controls
    }

    /// What takes as many inputs as are tied.
    fn gate(self, gate: &Gate) -> Vec<Control> {
        let takes = |logic: Logic| match logic {
            Logic::Not | Logic::Buffer => gate.inputs.len() == 1,
            _ => true,
        };
        let words = LOGIC.iter().filter(|(_, logic)| takes(*logic)).map(|(word, _)| *word);
        vec![
            self.worded("gate", "kind", words, ""),
            self.worded("family", "family", FAMILIES.map(|(word, _)| word), ""),
            self.worded("grade", "grade", GRADES.map(|(word, _)| word), "typical"),
        ]
    }

    /// The gain as a number where the file states one, else a specimen of the type.
    fn gain(self) -> Control {
        if self.written.text(&self.path("forward_gain")).is_none() {
            return self.worded("gain", "gain", GAINS.map(|(word, _)| word), "typical");
        }
        let steps = series(Series::E24, 10.0, 1000.0, &FACTOR);
        self.written.stepped(self.path("forward_gain"), "gain", (steps, FACTOR), "")
    }
}
