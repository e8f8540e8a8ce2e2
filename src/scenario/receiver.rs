//! `[receiver]`: a kind of set, with any of its settings overridden.

use crate::document::fields::Fields;
use crate::document::problems::Problems;
use crate::document::quantity::FACTOR;
use crate::document::quantity::FREQUENCY;
use crate::document::quantity::ILLUMINANCE;
use crate::document::quantity::LUMINANCE;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::Quantity;
use crate::document::quantity::SHARE;
use crate::document::quantity::TIME;
use crate::document::quantity::Zero;
use crate::document::tree::Table;
use crate::document::tree::Value;
use crate::receiver::spec::Clamp;
use crate::receiver::spec::ReceiverSpec;
use crate::receiver::spec::Transfer;
use crate::receiver::spec::Viewing;

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    TubeSet,
    LateTubeSet,
    Monitor,
    FlatPanel,
}

const KINDS: [(&str, Kind); 4] = [
    ("tube-set", Kind::TubeSet),
    ("late-tube-set", Kind::LateTubeSet),
    ("monitor", Kind::Monitor),
    ("flat-panel", Kind::FlatPanel),
];

#[derive(Clone, Copy, PartialEq, Eq)]
enum Standard {
    Lines625,
    Lines525,
}

const STANDARDS: [(&str, Standard); 2] = [("625", Standard::Lines625), ("525", Standard::Lines525)];

const CLAMPS: [(&str, Clamp); 3] =
    [("back-porch", Clamp::BackPorch), ("sync-tip", Clamp::SyncTip), ("none", Clamp::None)];

/// Field rates above this are taken for 60 Hz ones: sets tell them apart at 55 to 57 Hz (maker's
/// data of a deflection processor).
const BETWEEN_50_AND_60_HZ: f64 = 55.0;
/// How far a set runs from its standard's rates while it finds no sync: no oscillator left alone is
/// exact, so that a picture without sync leans and rolls. Half the 2 % that a maker's data of a
/// deflection processor allows.
const FREE_RUN_ERROR: f64 = 0.01;
/// Black of a good tube over its white; common practice, no source.
const TUBE_BLACK: f64 = 0.001;

/// White of 100 cd/m²: the example of ITU-R BT.1886. A living room in the evening, 50 lx, a tube's
/// face that sends back 3 % of it, and a set's noise of 1 mV, 57 dB below white: common practice, no
/// source.
const VIEWING: Viewing = Viewing { white: 100.0, room_lux: 50.0, reflection: 0.03, noise_v: 1e-3 };

const SIGNED_SHARE: Quantity = Quantity { low: -1.0, ..SHARE };

/// Reads the set. `field_hz` is the chip's field rate, by which the standard is chosen.
pub(crate) fn read(table: &Table, field_hz: f64, problems: &Problems) -> ReceiverSpec {
    let fields = Fields::open(table, "[receiver]", problems);
    let kind = fields.choice("kind", &KINDS).unwrap_or(Kind::TubeSet);
    let by_rate =
        if field_hz > BETWEEN_50_AND_60_HZ { Standard::Lines525 } else { Standard::Lines625 };
    let standard = fields.choice("standard", &STANDARDS).unwrap_or(by_rate);
    let spec = overridden(&fields, preset(kind, standard));
    fields.close();
    spec
}

fn preset(kind: Kind, standard: Standard) -> ReceiverSpec {
    let (bandwidth_hz, overscan) = match kind {
        Kind::TubeSet => (3.5e6, 0.10),
        Kind::LateTubeSet => (4.0e6, 0.06),
        Kind::Monitor => (5.0e6, 0.0),
        Kind::FlatPanel => (5.0e6, 0.04),
    };
    let transfer = match kind {
        Kind::TubeSet | Kind::LateTubeSet | Kind::Monitor => Transfer::Bt1886 { black: TUBE_BLACK },
        Kind::FlatPanel => Transfer::Gamma(2.2),
    };
    let nominal = of_standard(standard);
    ReceiverSpec {
        line_hz: nominal.line_hz * (1.0 + FREE_RUN_ERROR),
        field_hz: nominal.field_hz * (1.0 - FREE_RUN_ERROR),
        bandwidth_hz,
        overscan,
        transfer,
        ..nominal
    }
}

/// Line, field and window of a standard.
///
/// # Source
///
/// ITU-R BT.470: 625 lines: 15 625 Hz, 50 Hz, 10.5 µs from the leading edge of sync to the picture,
/// 52 µs of picture, 25 lines of field blanking. 525 lines: 15 734.264 Hz, 59.94 Hz, 9.2 to
/// 10.3 µs, 52.66 µs, 20 lines. Sync is sliced at half its depth (maker's data of a deflection
/// processor).
fn of_standard(standard: Standard) -> ReceiverSpec {
    let common = ReceiverSpec {
        line_hz: 15_625.0,
        field_hz: 50.0,
        coupling_hz: Some(1.0),
        clamp: Clamp::BackPorch,
        slice: 0.5,
        bandwidth_hz: 3.5e6,
        span_v: 0.7,
        contrast: 1.0,
        brightness: 0.0,
        transfer: Transfer::Bt1886 { black: TUBE_BLACK },
        overscan: 0.0,
        active_start_s: 10.5e-6,
        active_s: 52e-6,
        first_line: 24,
        shown_lines: 288,
        frame: (768, 576),
        viewing: VIEWING,
    };
    match standard {
        Standard::Lines625 => common,
        Standard::Lines525 => ReceiverSpec {
            line_hz: 15_734.264,
            field_hz: 59.94,
            active_start_s: 9.4e-6,
            active_s: 52.66e-6,
            first_line: 20,
            shown_lines: 242,
            frame: (640, 480),
            ..common
        },
    }
}

fn overridden(fields: &Fields<'_>, set: ReceiverSpec) -> ReceiverSpec {
    let number = |key, quantity, default| fields.quantity_or(key, quantity, default);
    ReceiverSpec {
        line_hz: number("line", &FREQUENCY.within(1e3, 1e6), set.line_hz),
        field_hz: number("field", &FREQUENCY.within(1.0, 1e3), set.field_hz),
        coupling_hz: coupling(fields, set.coupling_hz),
        clamp: fields.choice("clamp", &CLAMPS).unwrap_or(set.clamp),
        slice: number("slice", &SHARE.within(0.05, 0.95), set.slice),
        bandwidth_hz: number("bandwidth", &FREQUENCY.within(1e5, 1e8), set.bandwidth_hz),
        span_v: number("span", &POSITIVE_VOLTAGE, set.span_v),
        contrast: number("contrast", &FACTOR.within(0.01, 100.0), set.contrast),
        brightness: number("brightness", &SIGNED_SHARE, set.brightness),
        transfer: transfer(fields, set.transfer),
        overscan: number("overscan", &SHARE.within(1e-6, 0.5), set.overscan),
        active_start_s: number("active_start", &TIME, set.active_start_s),
        active_s: number("active", &Quantity { zero: Zero::Impossible, ..TIME }, set.active_s),
        first_line: fields.count("first_line", 0..=2000).unwrap_or(set.first_line),
        shown_lines: fields.count("shown_lines", 1..=2000).unwrap_or(set.shown_lines),
        frame: frame(fields, set.frame),
        viewing: viewing(fields, set.viewing),
    }
}

fn viewing(fields: &Fields<'_>, set: Viewing) -> Viewing {
    let number = |key, quantity, default| fields.quantity_or(key, quantity, default);
    Viewing {
        white: number("white", &LUMINANCE, set.white),
        room_lux: number("room_light", &ILLUMINANCE, set.room_lux),
        reflection: number("reflection", &SHARE, set.reflection),
        noise_v: number("noise", &POSITIVE_VOLTAGE, set.noise_v),
    }
}

/// A frequency, or "direct".
fn coupling(fields: &Fields<'_>, default: Option<f64>) -> Option<f64> {
    match fields.item("coupling").map(|item| &item.value) {
        Some(Value::Text(word)) if word == "direct" => None,
        Some(_) => fields.quantity("coupling", &FREQUENCY.within(1e-3, 1e5)).or(default),
        None => default,
    }
}

fn transfer(fields: &Fields<'_>, default: Transfer) -> Transfer {
    let gamma = fields.quantity("gamma", &FACTOR.within(0.2, 5.0));
    let black = fields.quantity("black", &SHARE.within(1e-9, 0.5));
    if gamma.is_some() && black.is_some() {
        let message = "a set has a gamma or a black, not both".to_owned();
        fields.problems().add(fields.place("gamma"), message, "expected one of the two");
    }
    match (gamma, black) {
        (Some(gamma), _) => Transfer::Gamma(gamma),
        (None, Some(black)) => Transfer::Bt1886 { black },
        (None, None) => default,
    }
}

fn frame(fields: &Fields<'_>, default: (usize, usize)) -> (usize, usize) {
    let Some([width, height]) = fields.whole_pair("frame", 16..=8192) else { return default };
    match (usize::try_from(width), usize::try_from(height)) {
        (Ok(width), Ok(height)) => (width, height),
        _ => default,
    }
}
