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
use crate::scenario::demands::demands;
use crate::scenario::set_library::KINDS;
use crate::scenario::set_library::Kind;
use crate::scenario::set_library::STANDARDS;
use crate::scenario::set_library::Standard;

/// The words for the kinds; the first is the one with hold knobs, and the default.
pub(crate) fn kind_words() -> [&'static str; 4] {
    KINDS.map(Kind::name)
}

const CLAMPS: [(&str, Clamp); 3] =
    [("back-porch", Clamp::BackPorch), ("sync-tip", Clamp::SyncTip), ("none", Clamp::None)];

/// How far the hold controls of an old set shift its oscillators at either end of their travel:
/// line, field. From memory.
const KNOBS: (f64, f64) = (0.05, 0.10);

const TURNED: Quantity = Quantity { low: -1.0, high: 1.0, zero: Zero::Possible, ..FACTOR };
const SIGNED_SHARE: Quantity = Quantity { low: -1.0, ..SHARE };

/// Reads the set. `field_hz` is the chip's field rate, by which the standard is chosen.
pub(crate) fn read(table: &Table, field_hz: f64, problems: &Problems) -> ReceiverSpec {
    let fields = Fields::open(table, "[receiver]", problems);
    let kinds = KINDS.map(|kind| (kind.name(), kind));
    let kind = fields.choice("kind", &kinds).unwrap_or(Kind::TubeSet);
    let by_rate = Standard::of_fields(field_hz);
    let standards = STANDARDS.map(|standard| (standard.name(), standard));
    let standard = fields.choice("standard", &standards).unwrap_or(by_rate);
    let set = overridden(&fields, kind.preset(standard));
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
