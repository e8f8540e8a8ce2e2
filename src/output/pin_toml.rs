//! A measured pin as the lines of a scenario.

use crate::analysis::pin::Better;
use crate::analysis::pin::Model;
use crate::analysis::pin::PinModel;
use crate::analysis::pin::StateModel;
use crate::base::math;
use std::fmt::Write;

/// Where the lines go, and the supplies that volts are told at.
#[derive(Clone, Copy, Debug)]
pub struct Place<'a> {
    /// The pin's name in the profile.
    pub pin: &'a str,
    /// The chip's supply when it was measured, V.
    pub supply_v: f64,
    /// The supply at which the scenario's volts are stated, V.
    pub nominal_v: f64,
}

/// A typical pin, for what was not measured: common practice, no source.
const LINEAR_HIGH: [f64; 2] = [5.4, 3e3];
const LINEAR_LOW: [f64; 2] = [0.0, 800.0];
const SQUARE_HIGH: [f64; 2] = [1.2, 0.5e-3];
const SQUARE_LOW: [f64; 2] = [1.0, 1.5e-3];

/// `[chip.pin.NAME]` with its output stage: the square law if the readings of the high pin (or,
/// where that was not measured, of the low one) speak for it, else volts behind a resistance.
///
/// High volts of a linear stage keep their distance to the supply, so they are moved to the nominal
/// one.
#[must_use]
pub fn pin_toml(model: &PinModel, place: &Place<'_>) -> String {
    let deciding = model.high.as_ref().or(model.low.as_ref());
    let is_square = deciding.is_some_and(|state| state.better == Better::Square);
    let mut text = format!("[chip.pin.{}]\n", place.pin);
    if is_square {
        text += "kind = \"square-law\"\n";
        let figures = |state: &Option<StateModel>, typical| {
            figures(state.as_ref().map(|state| state.square.as_ref()), typical)
        };
        for (side, ([threshold, k], remark)) in
            [("high", figures(&model.high, SQUARE_HIGH)), ("low", figures(&model.low, SQUARE_LOW))]
        {
            let _ = writeln!(text, "k_{side} = \"{} mA/V2\"{remark}", digits(1e3 * k));
            let _ = writeln!(text, "threshold_{side} = \"{} V\"{remark}", digits(threshold));
        }
        return text;
    }
    text += "kind = \"linear\"\n";
    let moved_v = place.nominal_v - place.supply_v;
    let high = model.high.as_ref().map(|state| Some(&state.linear));
    let ([mut volts, ohms], remark) = figures(high, LINEAR_HIGH);
    let mut at = remark;
    if high.is_some() {
        volts = (volts + moved_v).min(place.nominal_v);
        if moved_v != 0.0 {
            at = " # moved to the nominal supply with its distance to it";
        }
    }
    let _ = writeln!(text, "high_volts = \"{} V\"{at}", digits(volts));
    let _ = writeln!(text, "high_ohms = \"{}\"{remark}", digits(ohms));
    let low = model.low.as_ref().map(|state| Some(&state.linear));
    let ([volts, ohms], remark) = figures(low, LINEAR_LOW);
    let _ = writeln!(text, "low_volts = \"{} V\"{remark}", digits(volts));
    let _ = writeln!(text, "low_ohms = \"{}\"{remark}", digits(ohms));
    text
}

/// The figures of a state, or a typical pin's with a remark that says so.
fn figures(model: Option<Option<&Model>>, typical: [f64; 2]) -> ([f64; 2], &'static str) {
    match model {
        None => (typical, " # not measured: a typical pin's"),
        Some(None) => (typical, " # not to be had from these readings: a typical pin's"),
        Some(Some(model)) => (model.figures.map(|figure| figure.value), ""),
    }
}

/// Five figures, as plain decimals.
fn digits(value: f64) -> String {
    let size = math::log10(value.abs().max(1e-4));
    let before = math::floor_index(size + 1.0);
    let decimals = 4_usize.saturating_sub(before) + 1;
    let text = format!("{value:.decimals$}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn five_figures_are_kept_and_no_noughts_behind() {
        assert_eq!(digits(3_012.345_67), "3012.3");
        assert_eq!(digits(5.4), "5.4");
        assert_eq!(digits(0.512_345_6), "0.51235");
        assert_eq!(digits(-0.000_001), "0");
    }
}
