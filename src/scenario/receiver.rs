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
use crate::receiver::field_oscillator::FieldLoop;
use crate::receiver::line_oscillator::LineLoop;
use crate::receiver::spec::Clamp;
use crate::receiver::spec::ReceiverSpec;
use crate::receiver::spec::Transfer;
use crate::receiver::spec::Viewing;
use crate::scenario::demands::DEMANDS;
use crate::scenario::demands::demands;

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
/// How far a line oscillator that somebody has set runs from its standard's rate: none left alone is
/// exact, so that a picture without sync leans. Common practice, no source; a maker's data of a
/// deflection processor allows 2 % if nobody has.
const FREE_RUN_ERROR: f64 = -0.0005;
/// Black of a good tube over its white; common practice, no source.
const TUBE_BLACK: f64 = 0.001;

/// White of 100 cd/m²: the example of ITU-R BT.1886. A living room in the evening, 50 lx, a tube's
/// face that sends back 3 % of it, and a set's noise of 1 mV, 57 dB below white: common practice, no
/// source.
const VIEWING: Viewing = Viewing { white: 100.0, room_lux: 50.0, reflection: 0.03, noise_v: 1e-3 };

/// An integrator of 100 µs, common practice without a source, that triggers at 30 % (maker's data of
/// a deflection processor).
const FIELD_LOOP: FieldLoop = FieldLoop { highest_hz: 54.0, integrator_s: 100e-6, slice: 0.3 };

/// How far the hold controls of an old set shift its oscillators at either end of their travel:
/// line, field. From memory.
const KNOBS: (f64, f64) = (0.05, 0.10);

const TURNED: Quantity = Quantity { low: -1.0, high: 1.0, zero: Zero::Possible, ..FACTOR };
const SIGNED_SHARE: Quantity = Quantity { low: -1.0, ..SHARE };

/// Reads the set. `field_hz` is the chip's field rate, by which the standard is chosen.
pub(crate) fn read(table: &Table, field_hz: f64, problems: &Problems) -> ReceiverSpec {
    let fields = Fields::open(table, "[receiver]", problems);
    let kind = fields.choice("kind", &KINDS).unwrap_or(Kind::TubeSet);
    let by_rate =
        if field_hz > BETWEEN_50_AND_60_HZ { Standard::Lines525 } else { Standard::Lines625 };
    let standard = fields.choice("standard", &STANDARDS).unwrap_or(by_rate);
    let set = overridden(&fields, preset(kind, standard));
    if set.field_hz >= set.field_loop.highest_hz {
        let key = if fields.has("field_highest") { "field_highest" } else { "field" };
        let message = format!(
            "a field oscillator that runs at {} Hz by itself and follows up to {} Hz",
            set.field_hz, set.field_loop.highest_hz
        );
        let expected = "expected `field` below `field_highest`: a trigger can only come early";
        problems.add(fields.place(key), message, expected);
    }
    let spec = held(&fields, kind, set);
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
    let (field_hz, highest_hz) = field_range(kind, standard);
    ReceiverSpec {
        line_hz: nominal.line_hz * (1.0 + FREE_RUN_ERROR),
        field_hz,
        line_loop: line_loop(kind),
        field_loop: FieldLoop { highest_hz, ..nominal.field_loop },
        demands: if kind == Kind::FlatPanel { DEMANDS.to_vec() } else { Vec::new() },
        bandwidth_hz,
        overscan,
        transfer,
        ..nominal
    }
}

/// The loops of the kinds.
///
/// # Source
///
/// Hold ranges: ± 0.9 kHz typical, ± 1.2 kHz most (maker's data of a deflection processor); with
/// them catch comes out as 475 Hz for the tube set (service practice: 200 to 600 Hz), and above the
/// 600 Hz least of the same data for the others. Gains: a clock 2.5 % off shifts an old set's
/// picture by more than the 1.5 µs that a maker's note on such loops allows. Natural frequencies: 50
/// to 150 Hz slow, 400 to 1000 Hz fast, damping 0.7 to 1.5: from memory.
fn line_loop(kind: Kind) -> LineLoop {
    let (natural_hz, damping, gain, swing_s) = match kind {
        Kind::TubeSet => (250.0, 1.0, 12e3, 4.8e-6),
        Kind::LateTubeSet => (500.0, 0.8, 15e3, 5.0e-6),
        Kind::Monitor => (1000.0, 0.8, 20e3, 3.6e-6),
        Kind::FlatPanel => (1000.0, 0.8, 30e3, 2.6e-6),
    };
    LineLoop { natural_hz, damping, gain, swing_s }
}

/// The lowest and highest field rates at which a kind of set takes every trigger, Hz.
///
/// # Source
///
/// Maker's data of deflection processors: 46 to 54 and 56 to 64 Hz; 45 to 64.5 Hz of later ones,
/// which take both standards.
fn field_range(kind: Kind, standard: Standard) -> (f64, f64) {
    match (kind, standard) {
        (Kind::TubeSet, Standard::Lines625) => (46.0, 54.0),
        (Kind::TubeSet, Standard::Lines525) => (56.0, 64.0),
        _ => (45.0, 64.5),
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
        field_hz: 46.0,
        line_loop: line_loop(Kind::TubeSet),
        field_loop: FIELD_LOOP,
        nominal_line_hz: 15_625.0,
        demands: Vec::new(),
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
            nominal_line_hz: 15_734.264,
            field_hz: 56.0,
            active_start_s: 9.4e-6,
            active_s: 52.66e-6,
            first_line: 20,
            shown_lines: 242,
            frame: (640, 480),
            ..common
        },
    }
}

/// The set with its hold controls turned.
fn held(fields: &Fields<'_>, kind: Kind, set: ReceiverSpec) -> ReceiverSpec {
    let knob = |key, reach: f64| {
        let turned = fields.quantity(key, &TURNED)?;
        if kind != Kind::TubeSet {
            let message = format!("`{key}`: only a tube set of the old kind has that knob");
            fields.problems().add(fields.place(key), message, "expected `kind = \"tube-set\"`");
        }
        Some(1.0 + turned * reach)
    };
    let line_hz = set.line_hz * knob("hold", KNOBS.0).unwrap_or(1.0);
    let turned = knob("field_hold", KNOBS.1).unwrap_or(1.0);
    let highest_hz = set.field_loop.highest_hz * turned;
    let field_loop = FieldLoop { highest_hz, ..set.field_loop };
    ReceiverSpec { line_hz, field_hz: set.field_hz * turned, field_loop, ..set }
}

fn line_loop_of(fields: &Fields<'_>, set: LineLoop) -> LineLoop {
    let number = |key, quantity, default| fields.quantity_or(key, quantity, default);
    let spec = LineLoop {
        natural_hz: number("lock_frequency", &FREQUENCY.within(1.0, 5e3), set.natural_hz),
        damping: number("lock_damping", &FACTOR.within(0.05, 10.0), set.damping),
        gain: number("lock_gain", &FACTOR.within(1.0, 1e6), set.gain),
        swing_s: number("lock_swing", &TIME.within(1e-8, 20e-6), set.swing_s),
    };
    if !(0.0..=1.0).contains(&spec.lead()) {
        let key = ["lock_gain", "lock_damping", "lock_frequency"];
        let place = key.iter().find(|key| fields.item(key).is_some()).unwrap_or(&key[0]);
        let least = std::f64::consts::PI * spec.natural_hz / spec.damping;
        let message = format!(
            "no filter gives {} Hz and a damping of {} with a gain of {}",
            spec.natural_hz, spec.damping, spec.gain
        );
        let expected = format!(
            "expected a gain of at least {least:.0}, and such that twice the damping times 2π times the frequency is less than the gain"
        );
        fields.problems().add(fields.place(place), message, &expected);
    } else if spec.hold() >= 0.5 {
        let key = ["lock_swing", "lock_gain"];
        let place = key.iter().find(|key| fields.item(key).is_some()).unwrap_or(&key[0]);
        let message = format!("a line oscillator that is pulled by {:.0} %", 100.0 * spec.hold());
        let expected = "expected a gain and a swing whose product is below 0.5";
        fields.problems().add(fields.place(place), message, expected);
    }
    spec
}

fn field_loop_of(fields: &Fields<'_>, set: FieldLoop) -> FieldLoop {
    let number = |key, quantity, default| fields.quantity_or(key, quantity, default);
    FieldLoop {
        highest_hz: number("field_highest", &FREQUENCY.within(1.0, 1e3), set.highest_hz),
        integrator_s: number("field_integrator", &TIME.within(1e-6, 1e-2), set.integrator_s),
        slice: number("field_slice", &SHARE.within(0.1, 0.95), set.slice),
    }
}

fn overridden(fields: &Fields<'_>, set: ReceiverSpec) -> ReceiverSpec {
    let number = |key, quantity, default| fields.quantity_or(key, quantity, default);
    ReceiverSpec {
        line_hz: number("line", &FREQUENCY.within(1e3, 1e6), set.line_hz),
        field_hz: number("field", &FREQUENCY.within(1.0, 1e3), set.field_hz),
        nominal_line_hz: set.nominal_line_hz,
        demands: demands(fields, set.demands),
        line_loop: line_loop_of(fields, set.line_loop),
        field_loop: field_loop_of(fields, set.field_loop),
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
