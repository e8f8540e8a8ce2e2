//! `[spread]`: what differs from one specimen of a board to the next.

use crate::base::math;
use crate::document::fields::Fields;
use crate::document::fields::as_list;
use crate::document::fields::as_quantity;
use crate::document::fields::hint;
use crate::document::problems::Problems;
use crate::document::quantity::CAPACITANCE;
use crate::document::quantity::FACTOR;
use crate::document::quantity::INDUCTANCE;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::Quantity;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::SHARE;
use crate::document::quantity::TEMPERATURE;
use crate::document::quantity::tolerance;
use crate::document::tree::Entry;
use crate::document::tree::Item;
use crate::document::tree::Table;
use crate::document::tree::Value;
use crate::network::circuit::Circuit;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::PinStage;
use crate::scenario::Specimen;
use crate::scenario::parts::main_key;
use crate::scenario::semiconductor::with_base_share;
use crate::scenario::temperature::bring_to;

/// Tolerances where nothing is said, as shares: carbon film, electrolytic, screw-core coil, the track of
/// a trimmer. Common practice, no source.
const RESISTORS: f64 = 0.05;
const CAPACITORS: f64 = 0.2;
const COILS: f64 = 0.1;
const TRIMMERS: f64 = 0.2;
/// Current gain of a small transistor of which the file says nothing.
///
/// # Source
///
/// Data sheets of the commonest small NPN type: 100 to 300 at 10 mA.
const GAIN: [f64; 2] = [100.0, 300.0];
/// How far a normal law reaches on either side: what lies beyond was sorted out by the maker.
const DEVIATIONS: f64 = 3.0;

/// One thing that differs.
#[derive(Clone, Debug, PartialEq)]
pub struct Factor {
    /// What it is called: a part, "gain of Q1", "pins", "temperature".
    pub name: String,
    /// What it does to the board.
    pub what: Varies,
    /// How its values are spread.
    pub law: Law,
}

/// What a factor's value does.
#[derive(Clone, Debug, PartialEq)]
pub enum Varies {
    /// The part's main value: Ω, F, H or V.
    Value(PartId),
    /// The forward gain of a transistor.
    Gain(PartId),
    /// All pins of the chip: −1 weak, 0 typical, 1 strong, geometrically between.
    Pins,
    /// The temperature of every junction, °C.
    Temperature,
}

/// How values are spread.
#[derive(Clone, Debug, PartialEq)]
pub enum Law {
    /// Anywhere between two ends alike.
    Uniform {
        /// Least.
        low: f64,
        /// Greatest.
        high: f64,
    },
    /// Normal about a middle, with nothing beyond a limit on either side.
    Normal {
        /// The middle.
        mean: f64,
        /// One deviation.
        deviation: f64,
        /// Nothing lies further from the middle.
        limit: f64,
    },
    /// One of these, each as likely: values that were measured.
    Listed(Vec<f64>),
}

impl Law {
    /// Least and greatest value.
    #[must_use]
    pub fn ends(&self) -> [f64; 2] {
        match self {
            Self::Uniform { low, high } => [*low, *high],
            Self::Normal { mean, limit, .. } => [mean - limit, mean + limit],
            Self::Listed(values) => values
                .iter()
                .fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], &v| [l.min(v), h.max(v)]),
        }
    }
}

impl Factor {
    /// The part that it changes, if it is one.
    pub(crate) fn part(&self) -> Option<PartId> {
        match self.what {
            Varies::Value(part) | Varies::Gain(part) => Some(part),
            Varies::Pins | Varies::Temperature => None,
        }
    }

    /// Gives the board this factor's `value`.
    pub(crate) fn apply(&self, value: f64, specimens: &[Specimen], circuit: &mut Circuit) {
        const FREEZING_KELVIN: f64 = 273.15;
        match self.what {
            Varies::Value(part) => {
                // Only parts with a main value get a factor, and no law reaches down to 0.
                let made = circuit.parts[part.0].set_value(value);
                debug_assert!(made.is_ok(), "{made:?}");
            }
            Varies::Gain(part) => {
                if let PartKind::Transistor { model, .. } = &mut circuit.parts[part.0].kind {
                    *model = with_base_share(*model, model.forward_gain / value);
                }
            }
            Varies::Pins => between(value, specimens, circuit),
            Varies::Temperature => bring_to(value + FREEZING_KELVIN, &mut circuit.parts),
        }
    }
}

/// Gives every pin the stages of a specimen between weak (−1), typical (0) and strong (1).
fn between(place: f64, specimens: &[Specimen], circuit: &mut Circuit) {
    let [weak, typical, strong] = specimens else { return };
    let (from, to, share) =
        if place < 0.0 { (weak, typical, place + 1.0) } else { (typical, strong, place) };
    let pins = circuit.parts.iter_mut().filter_map(|part| match &mut part.kind {
        PartKind::Pin(pin) => Some(&mut pin.levels),
        _ => None,
    });
    for (levels, (from, to)) in pins.zip(from.stages.iter().zip(&to.stages)) {
        for (level, (from, to)) in levels.iter_mut().zip(from.iter().zip(to)) {
            if !matches!(level, PinStage::Off { .. }) {
                *level = mixed(from, to, share);
            }
        }
    }
}

/// A stage between two of one kind: resistances and factors geometrically, volts linearly.
fn mixed(from: &PinStage, to: &PinStage, share: f64) -> PinStage {
    let ratio = |a: f64, b: f64| a * math::pow(b / a, share);
    match (*from, *to) {
        (
            PinStage::Linear { offset: o, share: s, ohms: r },
            PinStage::Linear { offset, share: of, ohms },
        ) => PinStage::Linear {
            offset: math::lerp(o, offset, share),
            share: math::lerp(s, of, share),
            ohms: ratio(r, ohms),
        },
        (PinStage::PullUp { k: a, threshold: t }, PinStage::PullUp { k, threshold }) => {
            PinStage::PullUp { k: ratio(a, k), threshold: math::lerp(t, threshold, share) }
        }
        (PinStage::PullDown { k: a, threshold: t }, PinStage::PullDown { k, threshold }) => {
            PinStage::PullDown { k: ratio(a, k), threshold: math::lerp(t, threshold, share) }
        }
        // Stages of different kinds have nothing between them: the nearer one.
        (from, to) => {
            if share < 0.5 {
                from
            } else {
                to
            }
        }
    }
}

/// What `[spread]` is read beside.
pub(crate) struct Known<'a> {
    pub(crate) circuit: &'a Circuit,
    pub(crate) board: Option<&'a Table>,
    pub(crate) specimens: &'a [Specimen],
}

/// Reads the table; the factors in the order of the parts, then gains, pins and temperature.
pub(crate) fn read(table: &Table, known: &Known<'_>, problems: &Problems) -> Vec<Factor> {
    let fields = Fields::open(table, "[spread]", problems);
    let reader = Reader {
        normal: fields.choice("law", &[("uniform", false), ("normal", true)]).unwrap_or(false),
        resistors: fields.quantity_or("resistors", &TOLERANCE, RESISTORS),
        capacitors: fields.quantity_or("capacitors", &TOLERANCE, CAPACITORS),
        coils: fields.quantity_or("coils", &TOLERANCE, COILS),
        trimmers: fields.quantity_or("trimmers", &TOLERANCE, TRIMMERS),
        own: fields.table("part"),
        known,
        problems,
    };
    let mut factors = reader.parts();
    reader.refuse_unknown();
    let gain = match fields.item("gain") {
        Some(item) => range(item, &FACTOR, problems),
        None => Some(GAIN),
    };
    for (index, part) in known.circuit.parts.iter().enumerate() {
        let written = known.board.and_then(|board| board.table(&part.name));
        let is_stated = ["gain", "forward_gain"]
            .iter()
            .any(|key| written.is_some_and(|table| table.get(key).is_some()));
        if is_stated && !fields.has("gain") {
            continue;
        }
        if let (PartKind::Transistor { .. }, Some([low, high])) = (&part.kind, gain) {
            let (name, what) = (format!("gain of {}", part.name), Varies::Gain(PartId(index)));
            factors.push(Factor { name, what, law: Law::Uniform { low, high } });
        }
    }
    let any = fields.choice("pins", &[("any", true), ("own", false)]).unwrap_or(true);
    if any && fields.has("pins") && known.specimens.len() != 3 {
        let message = "the chip does not say how weak or strong its pins can be".to_owned();
        problems.add(fields.place("pins"), message, "expected `pins = \"own\"`");
    }
    if any && known.specimens.len() == 3 {
        let law = Law::Uniform { low: -1.0, high: 1.0 };
        factors.push(Factor { name: "pins".to_owned(), what: Varies::Pins, law });
    }
    if let Some(item) = fields.item("temperature")
        && let Some([low, high]) = range(item, &TEMPERATURE, problems)
    {
        let (name, law) = ("temperature".to_owned(), Law::Uniform { low, high });
        factors.push(Factor { name, what: Varies::Temperature, law });
    }
    fields.close();
    factors.retain(|factor| factor.law.ends()[0] < factor.law.ends()[1]);
    factors
}

/// A tolerance: at most 80 %.
const TOLERANCE: Quantity = SHARE.within(1e-6, 0.8).or_zero();

struct Reader<'a> {
    normal: bool,
    resistors: f64,
    capacitors: f64,
    coils: f64,
    trimmers: f64,
    own: Option<&'a Table>,
    known: &'a Known<'a>,
    problems: &'a Problems,
}

impl Reader<'_> {
    fn parts(&self) -> Vec<Factor> {
        let mut factors = Vec::new();
        for (index, part) in self.known.circuit.parts.iter().enumerate() {
            let Some((value, quantity, usual)) = self.value(&part.kind) else { continue };
            let written = self.known.board.and_then(|board| board.table(&part.name));
            let own = self.own.and_then(|own| own.get(&part.name));
            let law = match (own, written) {
                (Some(entry), _) => self.own_law(entry, value, quantity),
                (None, Some(table)) => {
                    let share = stated(table).or(usual).unwrap_or(0.0);
                    Some(self.about(value, share))
                }
                // What the scenario does not write, strays and the set, is not made by hand.
                (None, None) => None,
            };
            let what = Varies::Value(PartId(index));
            factors.extend(law.map(|law| Factor { name: part.name.clone(), what, law }));
        }
        factors
    }

    /// The main value of a part, what it is, and its tolerance where nothing is said.
    fn value(&self, kind: &PartKind) -> Option<(f64, &'static Quantity, Option<f64>)> {
        Some(match kind {
            PartKind::Resistor { ohms, .. } => (*ohms, &RESISTANCE, Some(self.resistors)),
            PartKind::Trimmer { ohms, .. } => (*ohms, &RESISTANCE, Some(self.trimmers)),
            PartKind::Capacitor { farads, .. } => (*farads, &CAPACITANCE, Some(self.capacitors)),
            PartKind::RealCapacitor(part) => (part.farads, &CAPACITANCE, Some(self.capacitors)),
            PartKind::Inductor { henries, .. } | PartKind::LossyInductor { henries, .. } => {
                (*henries, &INDUCTANCE, Some(self.coils))
            }
            PartKind::Supply { volts, .. } if *volts > 0.0 => (*volts, &POSITIVE_VOLTAGE, None),
            PartKind::Adapter(part) => (part.volts, &POSITIVE_VOLTAGE, None),
            PartKind::Regulator(part) => (part.volts, &POSITIVE_VOLTAGE, None),
            _ => return None,
        })
    }

    fn about(&self, value: f64, share: f64) -> Law {
        let limit = value * share;
        if self.normal {
            Law::Normal { mean: value, deviation: limit / DEVIATIONS, limit }
        } else {
            Law::Uniform { low: value - limit, high: value + limit }
        }
    }

    /// "1 %", a list of measured values, or `{ from, to }`.
    fn own_law(&self, entry: &Entry, value: f64, quantity: &Quantity) -> Option<Law> {
        match &entry.item.value {
            Value::List(_) => {
                let expected = "expected measured values such as `[\"1.98 k\", \"2.01 k\"]`";
                let list = as_list(&entry.item, expected, self.problems)?;
                if list.is_empty() {
                    self.problems.add(&entry.item.span, "this list is empty".to_owned(), expected);
                    return None;
                }
                let read = |item| as_quantity(item, quantity, self.problems);
                let values: Option<Vec<f64>> = list.iter().map(read).collect();
                Some(Law::Listed(values?))
            }
            Value::Table(table) => {
                let fields = Fields::open(table, format!("`{}`", entry.key), self.problems);
                let low = fields.needed_quantity("from", quantity);
                let high = fields.needed_quantity("to", quantity);
                fields.close();
                let [low, high] = rising(&entry.item, [low?, high?], self.problems)?;
                Some(Law::Uniform { low, high })
            }
            _ => Some(self.about(value, as_quantity(&entry.item, &TOLERANCE, self.problems)?)),
        }
    }

    /// Names under `[spread.part]` that are no part with a value.
    fn refuse_unknown(&self) {
        let parts = &self.known.circuit.parts;
        let names: Vec<&str> = parts
            .iter()
            .filter(|part| self.value(&part.kind).is_some())
            .map(|part| part.name.as_str())
            .collect();
        for entry in self.own.into_iter().flat_map(|own| &own.entries) {
            if !names.contains(&entry.key.as_str()) {
                let message = format!("no part with a value is called `{}`", entry.key);
                let near = hint(&entry.key, &names);
                let expected = "expected a resistor, capacitor, coil, trimmer or supply";
                self.problems.add_hinted(&entry.key_span, message, expected, near);
            }
        }
    }
}

/// The tolerance written behind a part's value: "4k7 5%".
fn stated(table: &Table) -> Option<f64> {
    match &table.get(main_key(table)?)?.item.value {
        Value::Text(text) => tolerance(text),
        _ => None,
    }
}

fn range(item: &Item, quantity: &Quantity, problems: &Problems) -> Option<[f64; 2]> {
    let expected = format!("expected the least and the greatest, each {}", quantity.noun);
    let list = as_list(item, &expected, problems)?;
    let [low, high] = list else {
        let message = format!("this range has {} ends", list.len());
        problems.add(&item.span, message, &expected);
        return None;
    };
    let low = as_quantity(low, quantity, problems);
    let high = as_quantity(high, quantity, problems);
    rising(item, [low?, high?], problems)
}

fn rising(item: &Item, [low, high]: [f64; 2], problems: &Problems) -> Option<[f64; 2]> {
    if low > high {
        let message = "this range ends below its start".to_owned();
        problems.add(&item.span, message, "expected the least first, then the greatest");
        return None;
    }
    Some([low, high])
}
