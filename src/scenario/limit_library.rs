//! Limits of the types in the parts library, and the keys by which a scenario states its own.

use crate::document::fields::Fields;
use crate::document::quantity::CURRENT;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::POWER;
use crate::document::quantity::Quantity;
use crate::document::quantity::THERMAL_RESISTANCE;
use crate::document::quantity::Zero;
use crate::document::tree::Value;
use crate::scenario::gate_library::FAMILIES;
use crate::scenario::gate_library::Family;
use crate::scenario::limits::Bound;
use crate::scenario::limits::Centre;
use crate::scenario::limits::GateLimits;
use crate::scenario::limits::Limits;
use crate::scenario::limits::RegulatorLimits;
use crate::scenario::limits::SemiconductorLimits;
use crate::scenario::limits::Sourced;
use crate::scenario::limits::Window;

const COMMON: &str = "common practice, no source";
const STATED: &str = "as stated for the part";

const AMPS: Quantity = Quantity { zero: Zero::Impossible, ..CURRENT };

/// Current through a protection diode from which a series resistor is wanted, A: far below what any
/// family bears, and little enough that no rail is lifted by it.
const CLAMP_LOOK: f64 = 1e-3;
/// Output current up to which levels are good, A: 4 to 6 mA at the guaranteed levels of the fast
/// families.
const GOOD_LEVELS: f64 = 4e-3;

/// The 4000B family: 3 to 15 V, at most 10 mA into an input or an output (4075B data sheet).
const OLD_FAMILY: GateLimits = GateLimits {
    supply: Some(Window { least: 3.0, most: 15.0, source: "4000B data sheets" }),
    clamp: Some(Bound { look: CLAMP_LOOK, stop: 10e-3, source: "4075B data sheet" }),
    output: Bound { look: GOOD_LEVELS, stop: 10e-3, source: "4075B data sheet" },
};

/// The fast family: 2 to 6 V, 20 mA into an input, 25 mA from an output (74HC32 data sheets).
const FAST_FAMILY: GateLimits = GateLimits {
    supply: Some(Window { least: 2.0, most: 6.0, source: "74HC32 data sheet" }),
    clamp: Some(Bound { look: CLAMP_LOOK, stop: 20e-3, source: "74HC32 data sheet" }),
    output: Bound { look: GOOD_LEVELS, stop: 25e-3, source: "74HC32 data sheet" },
};

/// The same with TTL levels: 4.5 to 5.5 V (74HCT32 data sheet).
const FAST_TTL_FAMILY: GateLimits = GateLimits {
    supply: Some(Window { least: 4.5, most: 5.5, source: "74HCT32 data sheet" }),
    clamp: Some(Bound { look: CLAMP_LOOK, stop: 20e-3, source: "74HCT32 data sheet" }),
    output: Bound { look: GOOD_LEVELS, stop: 25e-3, source: "74HCT32 data sheet" },
};

/// The stand-in for hand calculation has an output like any other and nothing else.
const PLAIN_FAMILY: GateLimits = GateLimits {
    supply: None,
    clamp: None,
    output: Bound { look: GOOD_LEVELS, stop: 25e-3, source: COMMON },
};

/// Half of the most is where one looks: common practice, no source.
const fn half_of(most: f64, source: &'static str) -> Bound {
    Bound { look: 0.5 * most, stop: most, source }
}

const fn types(
    amps: f64,
    watts: f64,
    reverse_volts: f64,
    source: &'static str,
) -> SemiconductorLimits {
    let reverse = Bound { look: reverse_volts, stop: reverse_volts + 1.0, source };
    SemiconductorLimits {
        amps: Some(half_of(amps, source)),
        watts: Some(half_of(watts, source)),
        reverse_volts: Some(reverse),
    }
}

/// Small transistors of no particular type: below 100 mA, 300 mW and 5 V reverse all of them live;
/// above 200 mA and 625 mW hardly one (2N3904).
const SMALL: SemiconductorLimits = SemiconductorLimits {
    amps: Some(Bound { look: 0.1, stop: 0.2, source: COMMON }),
    watts: Some(Bound { look: 0.3, stop: 0.625, source: COMMON }),
    reverse_volts: Some(Bound { look: 5.0, stop: 6.0, source: COMMON }),
};

const BC: SemiconductorLimits = types(0.1, 0.5, 6.0, "BC547 data sheet, from memory");

/// Bipolar transistors. 2N3904: 200 mA, 625 mW, 6 V; 2N3906: 200 mA, 625 mW, 5 V (data sheets);
/// BC547: 100 mA, 500 mW, 6 V, from memory. The emitter's breakdown may lie 1 V above its rating.
const TRANSISTORS: [(&str, SemiconductorLimits); 6] = [
    ("small NPN", SMALL),
    ("small PNP", SMALL),
    ("2N3904", types(0.2, 0.625, 6.0, "2N3904 data sheet")),
    ("2N3906", types(0.2, 0.625, 5.0, "2N3906 data sheet")),
    ("BC547", BC),
    ("BC547B", BC),
];

const fn without_reverse(amps: f64, watts: f64, source: &'static str) -> SemiconductorLimits {
    SemiconductorLimits {
        amps: Some(half_of(amps, source)),
        watts: Some(half_of(watts, source)),
        reverse_volts: None,
    }
}

const SMALL_JUNCTION: SemiconductorLimits =
    without_reverse(0.01, 0.31, "2N5457 data sheet, from memory");

/// Field-effect transistors, all from memory of their data sheets.
const FIELD_EFFECT: [(&str, SemiconductorLimits); 5] = [
    ("2N5457", SMALL_JUNCTION),
    ("2N5460", without_reverse(0.01, 0.31, "2N5460 data sheet, from memory")),
    ("J113", without_reverse(0.05, 0.35, "J113 data sheet, from memory")),
    ("2N7000", without_reverse(0.2, 0.35, "2N7000 data sheet, from memory")),
    ("BS250", without_reverse(0.2, 0.35, "BS250 data sheet, from memory")),
];

const fn diode(amps: f64, source: &'static str) -> SemiconductorLimits {
    SemiconductorLimits { amps: Some(half_of(amps, source)), watts: None, reverse_volts: None }
}

const SIGNAL_DIODE: SemiconductorLimits = diode(0.2, "1N4148 data sheet, from memory");
const SCHOTTKY: SemiconductorLimits = diode(0.2, "BAT85 data sheet, from memory");
const GERMANIUM: SemiconductorLimits = diode(0.05, "1N34A data sheet, from memory");

/// Diodes: continuous forward current.
const DIODES: [(&str, SemiconductorLimits); 7] = [
    ("silicon signal", SIGNAL_DIODE),
    ("1N4148", SIGNAL_DIODE),
    ("1N4448", SIGNAL_DIODE),
    ("small Schottky", SCHOTTKY),
    ("BAT85", SCHOTTKY),
    ("germanium point-contact", GERMANIUM),
    ("1N34A", GERMANIUM),
];

/// Small zeners: 500 mW (BZX79 data sheet, from memory).
const ZENER: SemiconductorLimits = SemiconductorLimits {
    amps: None,
    watts: Some(half_of(0.5, "BZX79 data sheet, from memory")),
    reverse_volts: None,
};

/// Resistors of a board: a quarter of a watt, of which one uses half.
const QUARTER_WATT: Bound = half_of(0.25, COMMON);

/// 7805: dropout 2 V at 1 A, 35 V, 50 to 65 K/W standing free by maker (data sheets).
const ONE_AMPERE: RegulatorLimits = RegulatorLimits {
    headroom_volts: Sourced { value: 2.0, source: "7805 data sheet" },
    kelvin_per_watt: Sourced { value: 65.0, source: "7805 data sheet" },
    input_volts: Sourced { value: 35.0, source: "7805 data sheet" },
};
/// The small one: dropout 1.7 V (data sheet); 180 K/W in its small case and 30 V, from memory.
const TENTH_AMPERE: RegulatorLimits = RegulatorLimits {
    headroom_volts: Sourced { value: 1.7, source: "78L05 data sheet" },
    kelvin_per_watt: Sourced { value: 180.0, source: "from memory" },
    input_volts: Sourced { value: 30.0, source: "78L05 data sheet, from memory" },
};
const REGULATORS: [(&str, RegulatorLimits); 2] = [("1 A", ONE_AMPERE), ("100 mA", TENTH_AMPERE)];

const CENTRES: [(&str, Centre); 2] = [("plus", Centre::Plus), ("minus", Centre::Minus)];

/// The limits of a part that is `kind`. What is wrong with the word for its type has been said.
pub(crate) fn read(kind: &str, fields: &Fields<'_>) -> Limits {
    match kind {
        "gate" => Limits::Gate(gate(fields, of_family(fields))),
        "analogue_switch" => Limits::Gate(gate(fields, OLD_FAMILY)),
        "transistor" => Limits::Semiconductor(semiconductor(fields, kind, &TRANSISTORS)),
        "diode" => Limits::Semiconductor(semiconductor(fields, kind, &DIODES)),
        "zener" => Limits::Semiconductor(stated(fields, ZENER)),
        "junction_fet" | "mos_fet" => {
            Limits::Semiconductor(semiconductor(fields, kind, &FIELD_EFFECT))
        }
        "resistor" | "trimmer" | "potentiometer" => Limits::Heat(heat(fields)),
        "regulator" => Limits::Regulator(regulator(fields)),
        "adapter" => Limits::Adapter(fields.choice("centre", &CENTRES).unwrap_or(Centre::Unknown)),
        _ => Limits::None,
    }
}

/// A text as it is written, nothing said if it is none.
fn word<'a>(fields: &Fields<'a>, key: &str) -> &'a str {
    match fields.item(key).map(|item| &item.value) {
        Some(Value::Text(word)) => word,
        _ => "",
    }
}

fn named<T: Copy>(fields: &Fields<'_>, key: &str, names: &[(&str, T)]) -> Option<T> {
    let word = word(fields, key);
    names.iter().find(|(name, _)| *name == word).map(|(_, value)| *value)
}

fn of_family(fields: &Fields<'_>) -> GateLimits {
    match named(fields, "family", &FAMILIES) {
        Some(Family::Cmos4000) => OLD_FAMILY,
        Some(Family::HighSpeed) => FAST_FAMILY,
        Some(Family::HighSpeedTtl) => FAST_TTL_FAMILY,
        Some(Family::Plain) | None => PLAIN_FAMILY,
    }
}

/// A stated limit is where the part breaks; what is looked at moves along with it.
fn over(bound: Bound, stop: Option<f64>) -> Bound {
    let Some(stop) = stop else { return bound };
    Bound { look: bound.look / bound.stop * stop, stop, source: STATED }
}

/// The same, where what is looked at is looked at for other reasons.
fn with_stop(bound: Bound, stop: Option<f64>) -> Bound {
    let stop = stop.map(|stop| Bound { look: bound.look.min(stop), stop, source: STATED });
    stop.unwrap_or(bound)
}

fn gate(fields: &Fields<'_>, below: GateLimits) -> GateLimits {
    let least = fields.quantity("least_supply", &POSITIVE_VOLTAGE);
    let most = fields.quantity("most_supply", &POSITIVE_VOLTAGE);
    let clamp = fields.quantity("clamp_limit", &AMPS);
    let supply = match (below.supply, least.or(most)) {
        (Some(window), Some(_)) => Some(Window {
            least: least.unwrap_or(window.least),
            most: most.unwrap_or(window.most),
            source: STATED,
        }),
        (window, _) => window,
    };
    GateLimits {
        supply,
        clamp: below.clamp.map(|bound| with_stop(bound, clamp)),
        output: over(below.output, fields.quantity("output_limit", &AMPS)),
    }
}

/// Of the type that `key` names; the generic junction and MOS types are those that they stand for.
fn semiconductor(
    fields: &Fields<'_>,
    key: &str,
    types: &[(&str, SemiconductorLimits)],
) -> SemiconductorLimits {
    let word = match (key, word(fields, key)) {
        ("junction_fet", "small N-channel") => "2N5457",
        ("junction_fet", "small P-channel") => "2N5460",
        ("mos_fet", "small N-channel") => "2N7000",
        ("mos_fet", "small P-channel") => "BS250",
        (_, word) => word,
    };
    let unknown = SemiconductorLimits { amps: None, watts: None, reverse_volts: None };
    let found = types.iter().find(|(name, _)| *name == word).map_or(unknown, |(_, limits)| *limits);
    let limits = stated(fields, found);
    if key != "transistor" {
        return limits;
    }
    let reverse = fields.quantity("reverse_limit", &POSITIVE_VOLTAGE);
    let reverse_volts = reverse
        .map(|volts| Bound { look: volts, stop: volts + 1.0, source: STATED })
        .or(limits.reverse_volts);
    SemiconductorLimits { reverse_volts, ..limits }
}

fn stated(fields: &Fields<'_>, below: SemiconductorLimits) -> SemiconductorLimits {
    let bound = |below: Option<Bound>, stop: Option<f64>| match (below, stop) {
        (Some(bound), stop) => Some(over(bound, stop)),
        (None, stop) => stop.map(|stop| half_of(stop, STATED)),
    };
    SemiconductorLimits {
        amps: bound(below.amps, fields.quantity("current_limit", &AMPS)),
        watts: bound(below.watts, fields.quantity("power_limit", &POWER)),
        ..below
    }
}

fn heat(fields: &Fields<'_>) -> Bound {
    over(QUARTER_WATT, fields.quantity("power", &POWER))
}

fn regulator(fields: &Fields<'_>) -> RegulatorLimits {
    let below = named(fields, "class", &REGULATORS).unwrap_or(ONE_AMPERE);
    let over = |key, quantity, below: Sourced| {
        let stated = fields.quantity(key, quantity);
        stated.map_or(below, |value| Sourced { value, source: STATED })
    };
    RegulatorLimits {
        headroom_volts: over("headroom", &POSITIVE_VOLTAGE, below.headroom_volts),
        kelvin_per_watt: over("thermal_resistance", &THERMAL_RESISTANCE, below.kelvin_per_watt),
        input_volts: over("most_input", &POSITIVE_VOLTAGE, below.input_volts),
    }
}
