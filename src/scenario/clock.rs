//! `[chip.clock]`: the chip's clock as a number, or as the coil and capacitors that make it.

use crate::base::math;
use crate::base::ticks::ClockRate;
use crate::document::fields::Fields;
use crate::document::fields::as_quantity;
use crate::document::quantity::CAPACITANCE;
use crate::document::quantity::DRIFT;
use crate::document::quantity::FACTOR;
use crate::document::quantity::INDUCTANCE;
use crate::document::quantity::Quantity;
use crate::document::quantity::SHARE;
use crate::document::quantity::TEMPERATURE;
use crate::document::tree::Value;
use crate::profile::timing::CLOCK;
use crate::signal::tank::Coil;
use crate::signal::tank::STATED_CELSIUS;
use crate::signal::tank::Tank;
use crate::signal::tank::TankCapacitor;
use crate::signal::tank::Tap;
use crate::signal::tank::USUAL_CORE_RANGE;
use crate::signal::tank::USUAL_STRAY_FARADS;

/// How far a core moves the inductance to either side: 45 % is the widest in parts lists; 0 for a
/// fixed coil.
pub const CORE_RANGE: Quantity = SHARE.within(1e-3, 0.9).or_zero();
/// Reactance over series resistance of a coil that rings at all.
pub const QUALITY: Quantity = FACTOR.within(2.0, 1e6);
/// Parts in a million.
const PPM: f64 = 1e-6;

/// A clock that the scenario states itself.
pub(crate) struct Clock {
    /// Its rate; a tank's is rounded to a whole hertz.
    pub(crate) rate: ClockRate,
    /// What makes it, if that is stated.
    pub(crate) tank: Option<Tank>,
}

/// Reads `clock` of the chip, if it is there.
pub(crate) fn read(chip: &Fields<'_>) -> Option<Clock> {
    let item = chip.item("clock")?;
    let Value::Table(table) = &item.value else {
        let (numerator, denominator) = chip.ratio("clock", &CLOCK)?;
        return Some(Clock { rate: ClockRate::new(numerator, denominator)?, tank: None });
    };
    let fields = Fields::open(table, "[chip.clock]", chip.problems());
    let tank = tank(&fields);
    fields.close();
    let tank = tank?;
    let hertz = tank.hertz();
    if !(CLOCK.low..=CLOCK.high).contains(&hertz) {
        let message = format!("this tank makes {:.4} MHz", hertz / 1e6);
        let expected = format!("expected {} to {} MHz", CLOCK.low / 1e6, CLOCK.high / 1e6);
        chip.problems().add(&table.span, message, &expected);
        return None;
    }
    let rate = ClockRate::new(u64::from(math::floor_u32(hertz + 0.5)), 1)?;
    Some(Clock { rate, tank: Some(tank) })
}

fn tank(fields: &Fields<'_>) -> Option<Tank> {
    let henries = fields.needed_quantity("coil", &INDUCTANCE);
    let capacitor = capacitor(fields);
    let drift = |key| PPM * fields.quantity_or(key, &DRIFT, 0.0);
    let tap = tap(fields);
    let coil = Coil {
        henries: 0.0,
        range: fields.quantity_or("core_range", &CORE_RANGE, USUAL_CORE_RANGE),
        core: fields.quantity_or("core", &SHARE, 0.5),
        quality: fields.quantity("quality", &QUALITY),
        per_kelvin: drift("coil_drift"),
    };
    let stray_farads = fields.quantity_or("stray", &CAPACITANCE.or_zero(), USUAL_STRAY_FARADS);
    let capacitor_per_kelvin = drift("capacitor_drift");
    let celsius = fields.quantity_or("temperature", &TEMPERATURE, STATED_CELSIUS);
    let (coil, capacitor) = (Coil { henries: henries?, ..coil }, capacitor?);
    Some(Tank { coil, capacitor, stray_farads, tap, celsius, capacitor_per_kelvin })
}

fn capacitor(fields: &Fields<'_>) -> Option<TankCapacitor> {
    const PAIR: &str = "expected two capacitors in series such as `[\"470 pF\", \"470 pF\"]`";
    if !fields.has("capacitors") {
        return fields.needed_quantity("capacitor", &CAPACITANCE).map(TankCapacitor::One);
    }
    if fields.has("capacitor") {
        let message = "a tank has a `capacitor` or two `capacitors` in series, not both".to_owned();
        fields.problems().add(fields.place("capacitors"), message, "expected one of the two");
        let _ = fields.entry("capacitor");
    }
    let pair = fields.items("capacitors", PAIR)?;
    let [first, second] = pair.map(|item| as_quantity(item, &CAPACITANCE, fields.problems()));
    Some(TankCapacitor::Split([first?, second?]))
}

fn tap(fields: &Fields<'_>) -> Option<Tap> {
    let at = fields.quantity("tap", &SHARE);
    let farads = fields.quantity("tap_stray", &CAPACITANCE.or_zero());
    if fields.has("tap") != fields.has("tap_stray") {
        let expected = "expected `tap` (share of the turns) and `tap_stray` (capacitance) together";
        let message = "a tap needs what hangs on it, and what hangs on it a tap".to_owned();
        fields.problems().add(fields.span(), message, expected);
    }
    Some(Tap { at: at?, farads: farads? })
}
