//! The output stage of a pin, in the words of a profile or a scenario.

use crate::base::diagnostic::Span;
use crate::document::fields::Fields;
use crate::document::problems::Problems;
use crate::document::quantity::CAPACITANCE;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::TIME;
use crate::document::quantity::TRANSCONDUCTANCE;
use crate::document::quantity::VOLTAGE;
use crate::document::tree::Table;
use crate::network::circuit::PinStage;
use crate::raster::plan::Carries;
use crate::raster::plan::PinPlan;
use crate::signal::pulse_train::Level;

/// The output stage of a pin, ready for the circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct PinDrive {
    /// One stage for each level.
    pub levels: Vec<PinStage>,
    /// Delay, s.
    pub delay_s: f64,
    /// Rising edge, 10–90 %, s.
    pub rise_s: f64,
    /// Falling edge, 10–90 %, s.
    pub fall_s: f64,
    /// Capacitance to ground, F.
    pub farads: f64,
}

impl PinDrive {
    /// Whether any level follows the chip's supply.
    #[must_use]
    pub fn follows_supply(&self) -> bool {
        self.levels.iter().any(|stage| match *stage {
            PinStage::Linear { share, .. } => share != 0.0,
            PinStage::PullUp { .. } | PinStage::PullDown { .. } => true,
            PinStage::Off { .. } => false,
        })
    }
}

/// What has to be known to read an output stage.
#[derive(Clone, Copy, Debug)]
pub struct Context<'a> {
    /// Supply at which volts are stated, V.
    pub nominal_volts: f64,
    /// The pin.
    pub plan: &'a PinPlan,
    /// Keys of the same table that others read.
    pub known: &'a [&'a str],
}

/// The levels of a combined pin, by name.
pub const LEVEL_WORDS: [(&str, Level); 5] = [
    ("tip", Level(0)),
    ("blanking", Level(1)),
    ("black", Level(2)),
    ("grey", Level(3)),
    ("white", Level(4)),
];

/// Leakage of an output that is off, Ω; common practice, no source.
const LEAKAGE_OHMS: f64 = 100e6;

/// Keys that stay when another kind of stage is put over the old one.
const EVERY_KIND: [&str; 4] = ["delay", "rise", "fall", "capacitance"];

/// Tables put over each other, the last word counting.
#[derive(Debug, Default)]
pub struct Layer {
    table: Option<Table>,
}

impl Layer {
    /// Puts a table on top. A new `kind` takes the words of the old kind away.
    pub fn put(&mut self, above: &Table) {
        let merged = match self.table.take() {
            None => above.clone(),
            Some(mut below) => {
                let kind = |table: &Table| table.get("kind").map(|entry| entry.item.value.clone());
                if kind(above).is_some() && kind(above) != kind(&below) {
                    below.entries.retain(|entry| EVERY_KIND.contains(&entry.key.as_str()));
                }
                below.overlaid(above)
            }
        };
        self.table = Some(merged);
    }

    /// The merged table; mistakes that have no key point to `span`.
    #[must_use]
    pub fn into_table(self, span: &Span) -> Table {
        let entries = self.table.map(|table| table.entries).unwrap_or_default();
        Table { entries, span: span.clone() }
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Linear,
    Fixed,
    SquareLaw,
    OpenDrain,
    OpenSource,
    Measured,
    Combined,
}

const KINDS: [(&str, Kind); 7] = [
    ("linear", Kind::Linear),
    ("fixed", Kind::Fixed),
    ("square-law", Kind::SquareLaw),
    ("open-drain", Kind::OpenDrain),
    ("open-source", Kind::OpenSource),
    ("measured", Kind::Measured),
    ("combined", Kind::Combined),
];

/// Reads an output stage.
#[must_use]
pub fn read(table: &Table, context: &Context<'_>, problems: &Problems) -> Option<PinDrive> {
    let fields = Fields::open(table, format!("pin `{}`", context.plan.name), problems);
    for key in context.known {
        let _ = fields.entry(key);
    }
    let delay_s = fields.quantity_or("delay", &TIME, 0.0);
    let rise_s = fields.quantity_or("rise", &TIME, 0.0);
    let fall_s = fields.quantity_or("fall", &TIME, 0.0);
    let farads = fields.quantity_or("capacitance", &CAPACITANCE.or_zero(), 0.0);
    let kind = fields.needed_choice("kind", &KINDS)?;
    let levels = Stages { fields: &fields, context }.read(kind);
    fields.close();
    Some(PinDrive { levels: levels?, delay_s, rise_s, fall_s, farads })
}

struct Stages<'a> {
    fields: &'a Fields<'a>,
    context: &'a Context<'a>,
}

impl Stages<'_> {
    /// Low and high, or the levels of a combined pin.
    fn read(&self, kind: Kind) -> Option<Vec<PinStage>> {
        let combined = matches!(self.context.plan.carries, Carries::Combined(_));
        if combined != (kind == Kind::Combined) {
            let message = if combined {
                "a pin that carries the combined picture needs a stage for each of its levels"
            } else {
                "only a pin that carries the combined picture has such a stage"
            };
            let expected = "expected `kind = \"combined\"` with `carries = \"combined\"`";
            self.fields.problems().add(self.fields.place("kind"), message.to_owned(), expected);
            return None;
        }
        let (low, high) = match kind {
            Kind::Combined => return self.combined(),
            Kind::Linear | Kind::Fixed => {
                let (low, high) = (self.linear_low(), self.linear_high(kind));
                (low?, high?)
            }
            Kind::SquareLaw => {
                let (low, high) = (self.pull_down(), self.pull_up());
                (low?, high?)
            }
            Kind::OpenDrain if self.fields.has("k_low") => (self.pull_down()?, self.off()),
            Kind::OpenDrain => (self.linear_low()?, self.off()),
            Kind::OpenSource if self.fields.has("k_high") => (self.off(), self.pull_up()?),
            Kind::OpenSource => (self.off(), self.linear_high(Kind::Linear)?),
            Kind::Measured => {
                let (low, high) = (self.measured_low(), self.measured_high());
                (low?, high?)
            }
        };
        Some(vec![low, high])
    }

    fn off(&self) -> PinStage {
        PinStage::Off { ohms: self.fields.quantity_or("leakage", &RESISTANCE, LEAKAGE_OHMS) }
    }

    fn linear_low(&self) -> Option<PinStage> {
        let offset = self.fields.quantity_or("low_volts", &VOLTAGE, 0.0);
        let ohms = self.fields.needed_quantity("low_ohms", &RESISTANCE)?;
        Some(PinStage::Linear { offset, share: 0.0, ohms })
    }

    fn linear_high(&self, kind: Kind) -> Option<PinStage> {
        let volts = self.fields.needed_quantity("high_volts", &VOLTAGE);
        let ohms = self.fields.needed_quantity("high_ohms", &RESISTANCE);
        let (volts, ohms) = (volts?, ohms?);
        if kind == Kind::Fixed {
            return Some(PinStage::Linear { offset: volts, share: 0.0, ohms });
        }
        self.below_supply("high_volts", volts)?;
        Some(PinStage::Linear { offset: volts - self.context.nominal_volts, share: 1.0, ohms })
    }

    /// A level that follows the supply cannot lie above it.
    fn below_supply(&self, key: &str, volts: f64) -> Option<()> {
        let nominal = self.context.nominal_volts;
        if volts <= nominal {
            return Some(());
        }
        let message = format!("a pin cannot rise to {volts} V from a supply of {nominal} V");
        let expected = "expected at most the nominal supply, or `kind = \"fixed\"`";
        self.fields.problems().add(self.fields.place(key), message, expected);
        None
    }

    fn pull_up(&self) -> Option<PinStage> {
        let k = self.fields.needed_quantity("k_high", &TRANSCONDUCTANCE);
        let threshold = self.fields.needed_quantity("threshold_high", &VOLTAGE);
        Some(PinStage::PullUp { k: k?, threshold: threshold? })
    }

    fn pull_down(&self) -> Option<PinStage> {
        let k = self.fields.needed_quantity("k_low", &TRANSCONDUCTANCE);
        let threshold = self.fields.needed_quantity("threshold_low", &VOLTAGE);
        Some(PinStage::PullDown { k: k?, threshold: threshold? })
    }

    /// R = Rload (Vopen / Vloaded − 1).
    fn measured_high(&self) -> Option<PinStage> {
        let open = self.fields.needed_quantity("high_open_volts", &POSITIVE_VOLTAGE);
        let loaded = self.fields.needed_quantity("high_loaded_volts", &POSITIVE_VOLTAGE);
        let load = self.fields.needed_quantity("high_load", &RESISTANCE);
        let (open, loaded, load) = (open?, loaded?, load?);
        self.below_supply("high_open_volts", open)?;
        let ohms = load * (open / loaded - 1.0);
        self.readings_agree("high_loaded_volts", ohms, "below", open)?;
        Some(PinStage::Linear { offset: open - self.context.nominal_volts, share: 1.0, ohms })
    }

    /// The pull-up goes to a stated rail: R = Rload (Vloaded − Vopen) / (Vrail − Vloaded).
    fn measured_low(&self) -> Option<PinStage> {
        let open = self.fields.quantity_or("low_open_volts", &VOLTAGE, 0.0);
        let loaded = self.fields.needed_quantity("low_loaded_volts", &VOLTAGE);
        let load = self.fields.needed_quantity("low_load", &RESISTANCE);
        let rail = self.fields.needed_quantity("low_rail", &POSITIVE_VOLTAGE);
        let (loaded, load, rail) = (loaded?, load?, rail?);
        let ohms = load * (loaded - open) / (rail - loaded);
        self.readings_agree("low_loaded_volts", ohms, "above", open)?;
        Some(PinStage::Linear { offset: open, share: 0.0, ohms })
    }

    fn readings_agree(&self, key: &str, ohms: f64, side: &str, open: f64) -> Option<()> {
        if ohms.is_finite() && ohms > 0.0 {
            return Some(());
        }
        let message = "no resistance gives these two readings".to_owned();
        let expected = format!("expected the loaded reading {side} the open one of {open} V");
        self.fields.problems().add(self.fields.place(key), message, &expected);
        None
    }

    fn combined(&self) -> Option<Vec<PinStage>> {
        let stages = LEVEL_WORDS.map(|(word, _)| self.level(word));
        let [tip, blanking, black, grey, white] = stages;
        let (tip, black) = (self.given("tip", tip), self.given("black", black));
        self.shown_levels_are_given()?;
        let (tip, black) = (tip?, black?);
        // A level that no element shows is never put out; blanking is black unless stated.
        Some(vec![
            tip,
            blanking.unwrap_or(black),
            black,
            grey.unwrap_or(black),
            white.unwrap_or(black),
        ])
    }

    fn given(&self, word: &str, stage: Option<PinStage>) -> Option<PinStage> {
        self.fields.needed(word, "expected `{ volts = ..., ohms = ... }`", stage)
    }

    fn shown_levels_are_given(&self) -> Option<()> {
        let Carries::Combined(levels) = &self.context.plan.carries else { return Some(()) };
        let mut complete = Some(());
        for (word, level) in LEVEL_WORDS {
            if levels.lit.iter().any(|(_, shown)| *shown == level) && !self.fields.has(word) {
                self.fields.missing(word, "expected the volts and ohms of a level that is shown");
                complete = None;
            }
        }
        complete
    }

    fn level(&self, word: &str) -> Option<PinStage> {
        let table = self.fields.table(word)?;
        let fields = Fields::open(table, format!("level `{word}`"), self.fields.problems());
        let volts = fields.needed_quantity("volts", &VOLTAGE);
        let ohms = fields.needed_quantity("ohms", &RESISTANCE);
        fields.close();
        let (volts, ohms) = (volts?, ohms?);
        self.below_supply(word, volts)?;
        let share = volts / self.context.nominal_volts;
        Some(PinStage::Linear { offset: 0.0, share, ohms })
    }
}
