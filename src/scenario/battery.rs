//! Batteries: what a cell gives, by its chemistry and by what is left in it, and how much is in it.

use crate::base::math::interpolate;
use crate::document::fields::Fields;
use crate::document::quantity::CHARGE;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::SHARE;
use crate::document::tree::Value;

/// Voltage of a cell by its name, V; common practice, no source.
const CELL_VOLTS: f64 = 1.5;
/// Internal resistance of a cell of which nothing is said, Ω; from memory: makers' bulletins.
const CELL_OHMS: f64 = 0.3;
/// Internal resistance of an alkaline 9 V block, Ω: maker's data, fresh, 1 kHz.
const BLOCK_OHMS: f64 = 1.7;
const SECONDS_IN_AN_HOUR: f64 = 3600.0;

/// Open volts and internal ohms of a cell against the share of charge that is left.
struct Curves {
    volts: &'static [(f64, f64)],
    ohms: &'static [(f64, f64)],
    /// Internal resistance of a fresh 9 V block, which grows as a cell's does.
    block_ohms: f64,
}

/// Fresh 1.58 V: a battery maker's page; 0.15 Ω fresh and 0.9 Ω when 90 % is spent: from memory of
/// makers' bulletins; the points between and below from memory.
const ALKALINE: Curves = Curves {
    volts: &[(0.0, 1.1), (0.1, 1.18), (0.25, 1.25), (0.5, 1.33), (0.75, 1.43), (1.0, 1.58)],
    ohms: &[(0.0, 1.2), (0.1, 0.9), (0.5, 0.3), (1.0, 0.15)],
    block_ohms: BLOCK_OHMS,
};
/// Fresh 1.65 V: the middle of a vendor's 1.60 to 1.70 V; a block 20 to 40 Ω fresh and above 100 Ω
/// when spent, a cell 0.3 to 0.8 Ω fresh: from memory, as are the points between.
const ZINC_CARBON: Curves = Curves {
    volts: &[(0.0, 1.0), (0.25, 1.25), (0.5, 1.38), (0.75, 1.49), (1.0, 1.65)],
    ohms: &[(0.0, 2.5), (0.1, 2.0), (0.5, 0.9), (1.0, 0.5)],
    block_ohms: 30.0,
};

/// What a cell is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chemistry {
    /// Zinc and manganese dioxide in potassium hydroxide.
    Alkaline,
    /// Zinc and carbon in ammonium or zinc chloride.
    ZincCarbon,
}

impl Chemistry {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        CHEMISTRIES.iter().find(|(_, one)| *one == self).map_or("", |(word, _)| word)
    }

    fn curves(self) -> &'static Curves {
        match self {
            Self::Alkaline => &ALKALINE,
            Self::ZincCarbon => &ZINC_CARBON,
        }
    }
}

pub(super) const CHEMISTRIES: [(&str, Chemistry); 2] =
    [("alkaline", Chemistry::Alkaline), ("zinc-carbon", Chemistry::ZincCarbon)];

/// Size of a cell; IEC 60086 calls the alkaline ones LR03, LR6, LR14, LR20, the others R03 to R20.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// R03.
    Aaa,
    /// R6.
    Aa,
    /// R14.
    C,
    /// R20.
    D,
}

const SIZES: [(&str, Size); 4] =
    [("AAA", Size::Aaa), ("AA", Size::Aa), ("C", Size::C), ("D", Size::D)];

/// How the cells are put up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pack {
    /// So many of a size in series.
    Cells(u32, Size),
    /// A block named by its volts.
    Block(f64),
}

/// How much is in a battery.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Capacity {
    /// Charge from fresh to spent, Ah.
    pub ampere_hours: f64,
    /// Share by which it may be off to either side.
    pub off: f64,
    /// Where the numbers come from.
    pub source: &'static str,
}

/// A battery as the scenario has it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Battery {
    /// How its cells are put up.
    pub pack: Pack,
    /// What they are made of; alkaline where nothing is said.
    pub chemistry: Chemistry,
    /// Share of the charge that is left, 0 to 1.
    pub charge: f64,
    /// How much is in it.
    pub capacity: Capacity,
    /// Resistance in its lead and its contacts, Ω.
    pub contact_ohms: f64,
    /// Internal resistance, if it is stated, Ω.
    pub stated_ohms: Option<f64>,
    /// What a cell has with the charge that is left, if it is stated, V: the whole curve goes with it.
    pub stated_cell_volts: Option<f64>,
}

impl Battery {
    /// Open volts and all that is in series, V and Ω, with such a share of its charge left, by the
    /// curves of its chemistry. A resistance that is stated stays as it is; of cells whose volts are
    /// stated the curve is that much higher or lower all along.
    ///
    /// # Source
    ///
    /// Fresh volts and resistances: makers' data; the curves between from memory.
    #[must_use]
    pub fn at(&self, charge: f64) -> (f64, f64) {
        let curves = self.chemistry.curves();
        let by_curve = |charge: f64| interpolate(curves.volts, charge).0;
        let off = self.stated_cell_volts.map_or(1.0, |stated| stated / by_curve(self.charge));
        let cell_volts = off * by_curve(charge);
        let cell_ohms = interpolate(curves.ohms, charge).0;
        let (volts, ohms) = match self.pack {
            Pack::Cells(count, _) => (f64::from(count) * cell_volts, f64::from(count) * cell_ohms),
            Pack::Block(named) => {
                let aged = cell_ohms / interpolate(curves.ohms, 1.0).0;
                (named / CELL_VOLTS * cell_volts, curves.block_ohms * aged)
            }
        };
        (volts, self.stated_ohms.unwrap_or(ohms) + self.contact_ohms)
    }

    /// Seconds that a share of its charge lasts at a current, A.
    #[must_use]
    pub fn seconds(&self, share: f64, amps: f64) -> f64 {
        self.capacity.ampere_hours * SECONDS_IN_AN_HOUR * share / amps
    }
}

/// A battery, by its voltage or by its cells, with its open volts and its own ohms; with a chemistry
/// or a charge, by its data.
pub(crate) fn read(fields: &Fields<'_>, volts: Option<f64>, contact_ohms: f64) -> Option<Source> {
    let stated = fields.choice("chemistry", &CHEMISTRIES);
    let charge = fields.quantity("charge", &SHARE);
    let size = fields.choice("size", &SIZES);
    let by_curve = stated.is_some() || charge.is_some();
    let (chemistry, charge) = (stated.unwrap_or(Chemistry::Alkaline), charge.unwrap_or(1.0));
    let pack = match cells(fields) {
        Some(count) => Pack::Cells(count, size.unwrap_or(Size::Aa)),
        None if size.is_some() => {
            let message = "a battery that is named by its volts has no size of cells".to_owned();
            let expected = "expected `battery = \"6 cells\"` with it";
            fields.problems().add(fields.place("size"), message, expected);
            return None;
        }
        None => Pack::Block(volts.unwrap_or(0.0)),
    };
    let stated_cell_volts = fields.quantity("cell_volts", &POSITIVE_VOLTAGE);
    let stated_ohms = fields.quantity("resistance", &RESISTANCE.or_zero());
    let ampere_hours = fields.quantity("capacity", &CHARGE);
    let capacity = ampere_hours.map_or_else(|| usual(pack, chemistry), stated_capacity);
    let battery =
        Battery { pack, chemistry, charge, capacity, contact_ohms, stated_ohms, stated_cell_volts };
    let (mut volts, mut ohms) = battery.at(charge);
    if !by_curve {
        let plain = match pack {
            Pack::Cells(count, _) => (f64::from(count) * CELL_VOLTS, f64::from(count) * CELL_OHMS),
            Pack::Block(named) => (named, BLOCK_OHMS),
        };
        volts = if stated_cell_volts.is_some() { volts } else { plain.0 };
        ohms = stated_ohms.unwrap_or(plain.1) + contact_ohms;
    }
    Some(Source { battery, volts, ohms })
}

/// A battery as it stands.
pub(crate) struct Source {
    pub(crate) battery: Battery,
    pub(crate) volts: f64,
    pub(crate) ohms: f64,
}

/// "6 cells".
pub(crate) fn cells(fields: &Fields<'_>) -> Option<u32> {
    let (text, _) = match fields.item("battery").map(|item| &item.value) {
        Some(Value::Text(_)) => fields.text("battery")?,
        _ => return None,
    };
    let count = text.strip_suffix("cells").or_else(|| text.strip_suffix("cell"))?;
    count.trim().parse().ok().filter(|count| (1..=20).contains(count))
}

fn stated_capacity(ampere_hours: f64) -> Capacity {
    Capacity { ampere_hours, off: 0.0, source: "as stated for the part" }
}

/// What is in a battery of which nothing is said. Blocks: two pages of vendors, 550 and 400 mAh.
/// Cells at some tens of mA down to 0.9 V: from memory of makers' bulletins. How far they are off, by
/// make, age, warmth and pauses, from memory too.
fn usual(pack: Pack, chemistry: Chemistry) -> Capacity {
    const MEMORY: &str = "from memory of makers' bulletins";
    const PAGES: &str = "vendors' pages";
    let (ampere_hours, source) = match (pack, chemistry) {
        (Pack::Block(_), Chemistry::Alkaline) => (0.55, PAGES),
        (Pack::Block(_), Chemistry::ZincCarbon) => (0.40, PAGES),
        (Pack::Cells(_, Size::Aaa), Chemistry::Alkaline) => (1.1, MEMORY),
        (Pack::Cells(_, Size::Aa), Chemistry::Alkaline) => (2.5, MEMORY),
        (Pack::Cells(_, Size::C), Chemistry::Alkaline) => (7.0, MEMORY),
        (Pack::Cells(_, Size::D), Chemistry::Alkaline) => (14.0, MEMORY),
        (Pack::Cells(_, Size::Aaa), Chemistry::ZincCarbon) => (0.4, MEMORY),
        (Pack::Cells(_, Size::Aa), Chemistry::ZincCarbon) => (0.9, MEMORY),
        (Pack::Cells(_, Size::C), Chemistry::ZincCarbon) => (2.8, MEMORY),
        (Pack::Cells(_, Size::D), Chemistry::ZincCarbon) => (6.0, MEMORY),
    };
    let off = match chemistry {
        Chemistry::Alkaline => 0.25,
        Chemistry::ZincCarbon => 0.4,
    };
    Capacity { ampere_hours, off, source }
}

impl Size {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        SIZES.iter().find(|(_, size)| *size == self).map_or("", |(word, _)| word)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn block(chemistry: Chemistry) -> Battery {
        Battery {
            pack: Pack::Block(9.0),
            chemistry,
            charge: 1.0,
            capacity: usual(Pack::Block(9.0), chemistry),
            contact_ohms: 0.0,
            stated_ohms: None,
            stated_cell_volts: None,
        }
    }

    #[test]
    fn a_regulator_alone_drains_a_block_in_as_many_hours_as_its_data_sheet_makes_of_it() {
        // 550 mAh at the 5 to 8 mA that a regulator of the 1 A class takes for itself: 110 to 69 hours.
        let hours = |amps| block(Chemistry::Alkaline).seconds(1.0, amps) / 3600.0;
        assert!((hours(5e-3) - 110.0).abs() < 0.5, "{}", hours(5e-3));
        assert!((hours(8e-3) - 68.75).abs() < 0.5, "{}", hours(8e-3));
    }

    #[test]
    fn cells_whose_volts_are_stated_go_down_the_same_curve_from_there() {
        // Four fifths of 1.5 V: rechargeable cells.
        let fresh = block(Chemistry::Alkaline);
        let stated = Battery { stated_cell_volts: Some(1.2), ..fresh };
        let share = 1.2 / (fresh.at(1.0).0 / 6.0);
        for charge in [1.0, 0.6, 0.1] {
            assert!((stated.at(charge).0 - share * fresh.at(charge).0).abs() < 1e-12);
            assert!((stated.at(charge).1 - fresh.at(charge).1).abs() < 1e-12);
        }
        assert!((stated.at(1.0).0 - 7.2).abs() < 1e-12);
    }

    #[test]
    fn a_battery_falls_and_its_resistance_grows_as_it_empties() {
        for chemistry in [Chemistry::Alkaline, Chemistry::ZincCarbon] {
            let steps = (0..=50).map(|step| block(chemistry).at(1.0 - f64::from(step) / 50.0));
            let steps: Vec<(f64, f64)> = steps.collect();
            assert!(steps.windows(2).all(|pair| pair[1].0 < pair[0].0 && pair[1].1 >= pair[0].1));
        }
    }
}
