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
use crate::network::circuit::NodeId;
use crate::network::operating_point::Network;
use crate::profile::timing::CLOCK;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::signal::element::ElementSet;
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
/// How far a supply pulls an oscillator of one transistor or a pair of gates; from memory, some
/// hundred millionths a volt.
const SUPPLY_DRIFT: Quantity =
    Quantity { noun: "a drift with the supply", units: &["ppm/V", "ppm"], ..DRIFT };
/// Parts in a million.
const PPM: f64 = 1e-6;

/// A clock that the scenario states itself.
pub(crate) struct Clock {
    /// Its rate; a tank's is rounded to a whole hertz.
    pub(crate) rate: ClockRate,
    /// What makes it, if that is stated.
    pub(crate) tank: Option<Tank>,
    /// Share by which a tank's frequency rises for each volt of the chip's supply, if it is stated.
    pub(crate) per_volt: Option<f64>,
}

/// How a clock follows the chip's supply.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockDrift {
    /// Share by which the frequency rises for each volt.
    pub per_volt: f64,
    /// What feeds the chip.
    pub node: NodeId,
    /// Supply at which the tank's values hold, V.
    pub nominal_v: f64,
}

/// Reads `clock` of the chip, if it is there.
pub(crate) fn read(chip: &Fields<'_>) -> Option<Clock> {
    let item = chip.item("clock")?;
    let Value::Table(table) = &item.value else {
        let (numerator, denominator) = chip.ratio("clock", &CLOCK)?;
        let rate = ClockRate::new(numerator, denominator)?;
        return Some(Clock { rate, tank: None, per_volt: None });
    };
    let fields = Fields::open(table, "[chip.clock]", chip.problems());
    let tank = tank(&fields);
    let per_volt = fields.quantity("supply_drift", &SUPPLY_DRIFT).map(|ppm| PPM * ppm);
    fields.close();
    let tank = tank?;
    let hertz = tank.hertz();
    if !(CLOCK.low..=CLOCK.high).contains(&hertz) {
        let message = format!("this tank makes {:.4} MHz", hertz / 1e6);
        let expected = format!("expected {} to {} MHz", CLOCK.low / 1e6, CLOCK.high / 1e6);
        chip.problems().add(&table.span, message, &expected);
        return None;
    }
    Some(Clock { rate: whole_hertz(hertz)?, tank: Some(tank), per_volt })
}

/// A clock of a whole number of hertz.
fn whole_hertz(hertz: f64) -> Option<ClockRate> {
    ClockRate::new(u64::from(math::floor_u32(hertz + 0.5)), 1)
}

impl Scenario {
    /// The same with the clock that the chip's standing supply makes, where its tank follows that.
    ///
    /// A board that cannot be solved keeps its clock: it gives no levels, and who asks for them is
    /// told why.
    #[must_use]
    pub fn with_clock_pulled(mut self) -> Self {
        if let (Some(drift), Some(tank)) = (self.clock_drift, self.tank)
            && let Ok(network) = Network::new(&self.circuit)
            && let idle = self.pin_levels(ElementSet::EMPTY, LinePart::Active)
            && let Ok(standing) = network.operating_point(&idle)
        {
            let off_v = standing.volts(drift.node) - drift.nominal_v;
            let hertz = tank.hertz() * (1.0 + drift.per_volt * off_v);
            self.raster.timing.clock = whole_hertz(hertz).unwrap_or(self.raster.timing.clock);
        }
        self
    }
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
