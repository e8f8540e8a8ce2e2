//! The output pins of a profile and what each carries.

use crate::document::fields::Fields;
use crate::document::fields::as_list;
use crate::document::fields::as_table;
use crate::document::fields::as_text;
use crate::document::fields::index_of;
use crate::document::tree::Entry;
use crate::document::tree::Item;
use crate::document::tree::Table;
use crate::document::tree::Value;
use crate::profile::drive;
use crate::profile::drive::Layer;
use crate::raster::plan::Carries;
use crate::raster::plan::CombinedLevels;
use crate::raster::plan::PinPlan;
use crate::raster::plan::Sense;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;

/// How strong a specimen of the chip is: its pins are known only once they are measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Strength {
    /// The weakest to be expected.
    Weak,
    /// As most are.
    Typical,
    /// The strongest to be expected.
    Strong,
}

/// The words for the strengths.
pub const STRENGTHS: [(&str, Strength); 3] =
    [("weak", Strength::Weak), ("typical", Strength::Typical), ("strong", Strength::Strong)];

impl Strength {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Weak => "weak",
            Self::Typical => "typical",
            Self::Strong => "strong",
        }
    }
}

/// The words for the senses.
pub const SENSES: [(&str, Sense); 2] = [("high", Sense::ActiveHigh), ("low", Sense::ActiveLow)];

/// Keys of a pin that say nothing about its output stage.
pub const PIN_KEYS: [&str; 4] = ["carries", "sense", "shows", "strength"];

/// An output pin of a profile.
#[derive(Clone, Debug, PartialEq)]
pub struct ProfilePin {
    /// Name, sense and what it carries.
    pub plan: PinPlan,
    /// The output stage as written, for weak, typical and strong specimens; the scenario may still
    /// put its own words over it.
    drives: [Table; 3],
}

impl ProfilePin {
    /// The output stage as written for one strength.
    #[must_use]
    pub fn drive(&self, strength: Strength) -> &Table {
        match strength {
            Strength::Weak => &self.drives[0],
            Strength::Typical => &self.drives[1],
            Strength::Strong => &self.drives[2],
        }
    }
}

/// The element of an index; at most 32 are ever read.
#[must_use]
pub fn element_id(index: usize) -> ElementId {
    ElementId(u8::try_from(index).unwrap_or(u8::MAX))
}

/// Reads the names of the elements.
#[must_use]
pub fn elements(fields: &Fields<'_>) -> Vec<String> {
    let expected = "expected a list of 1 to 32 names such as `[\"field\", \"ball\"]`";
    let list = fields.needed("elements", expected, fields.list("elements", expected));
    let mut names: Vec<String> = Vec::new();
    for item in list.unwrap_or_default() {
        let Some((name, span)) = as_text(item, fields.problems()) else { continue };
        if names.iter().any(|known| known == name) {
            fields.problems().add(span, format!("element `{name}` is given twice"), expected);
        } else if names.len() == 32 {
            fields.problems().add(span, "there are more than 32 elements".to_owned(), expected);
        } else {
            names.push(name.to_owned());
        }
    }
    names
}

/// Reads `[pins]` and `[strength]`.
#[must_use]
pub fn read(
    fields: &Fields<'_>,
    elements: &[String],
    nominal_volts: f64,
) -> Option<Vec<ProfilePin>> {
    let problems = fields.problems();
    let strengths = strengths(fields);
    let pins = fields.table("pins");
    let pins = fields.needed("pins", "expected tables such as `[pins.ball]`", pins)?;
    let read_one = |entry: &Entry| {
        let what = format!("pin `{}`", entry.key);
        let table = as_table(&entry.item, &what, problems)?;
        let pin = Fields::open(table, what, problems);
        let plan = plan(&pin, &entry.key, elements)?;
        let drives = drives(&strengths, &pin, table)?;
        for drive in &drives {
            let context = drive::Context { nominal_volts, plan: &plan, known: &PIN_KEYS };
            let _ = drive::read(drive, &context, problems)?;
        }
        Some(ProfilePin { plan, drives })
    };
    let read: Vec<Option<ProfilePin>> = pins.entries.iter().map(read_one).collect();
    read.into_iter().collect()
}

/// The tables `[strength.weak]` and so on that hold for every pin; absent ones are empty.
fn strengths(fields: &Fields<'_>) -> [Option<Table>; 3] {
    let Some(table) = fields.table("strength") else { return [None, None, None] };
    let inner = Fields::open(table, "[strength]", fields.problems());
    let found = STRENGTHS.map(|(word, _)| inner.table(word).cloned());
    inner.close();
    found
}

fn drives(below: &[Option<Table>; 3], pin: &Fields<'_>, table: &Table) -> Option<[Table; 3]> {
    let own = strengths(pin);
    let mut drives = Vec::new();
    for (below, own) in below.iter().zip(&own) {
        let mut layers = Layer::default();
        for table in [below.as_ref(), Some(table), own.as_ref()].into_iter().flatten() {
            layers.put(table);
        }
        drives.push(layers.into_table(&table.span));
    }
    drives.try_into().ok()
}

fn plan(pin: &Fields<'_>, name: &str, elements: &[String]) -> Option<PinPlan> {
    let expected = "expected `\"sync\"`, `\"combined\"` or a list of elements";
    let carries = pin.needed("carries", expected, pin.item("carries"));
    let carries = carries.and_then(|item| carries_of(pin, item, elements, expected))?;
    let sense = pin.choice("sense", &SENSES).unwrap_or(default_sense(&carries));
    Some(PinPlan { name: name.to_owned(), carries, sense })
}

/// Sync is low in the pulse and elements are high when lit, unless the chip says otherwise.
#[must_use]
pub fn default_sense(carries: &Carries) -> Sense {
    match carries {
        Carries::Sync => Sense::ActiveLow,
        Carries::Elements(_) | Carries::Combined(_) => Sense::ActiveHigh,
    }
}

fn carries_of(
    pin: &Fields<'_>,
    item: &Item,
    elements: &[String],
    expected: &str,
) -> Option<Carries> {
    match &item.value {
        Value::Text(word) if word == "sync" => Some(Carries::Sync),
        Value::Text(word) if word == "combined" => combined(pin, elements).map(Carries::Combined),
        _ => {
            let mut set = ElementSet::EMPTY;
            for one in as_list(item, expected, pin.problems())? {
                let name = as_text(one, pin.problems())?;
                set = set.with(element_id(index_of(name, "element", elements, pin.problems())?));
            }
            Some(Carries::Elements(set))
        }
    }
}

/// Which level of a combined pin each element shows, first come first served.
fn combined(pin: &Fields<'_>, elements: &[String]) -> Option<CombinedLevels> {
    let expected = "expected a table such as `{ ball = \"white\", left = \"grey\" }`";
    let shows = pin.needed("shows", expected, pin.table("shows"))?;
    let words = Fields::open(shows, "`shows`", pin.problems());
    let mut lit = Vec::new();
    for entry in &shows.entries {
        let name = (entry.key.as_str(), &entry.key_span);
        let element = index_of(name, "element", elements, pin.problems());
        let level = words.choice(&entry.key, &drive::LEVEL_WORDS);
        lit.push((element_id(element?), level?));
    }
    let [tip, blanking, black, ..] = drive::LEVEL_WORDS.map(|(_, level)| level);
    Some(CombinedLevels { tip, blanking, black, lit })
}
