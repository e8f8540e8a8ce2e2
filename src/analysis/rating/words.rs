//! Figures in words.

use crate::analysis::rating::judged::Unit;
use crate::base::math;

/// A figure with its unit and three digits: "0.497 mA", "5.63 V", "124 °C", "2.2 kΩ".
#[must_use]
pub fn amount(value: f64, unit: Unit) -> String {
    let size = value.abs();
    let (factor, prefix) = match unit {
        Unit::Celsius => (1.0, ""),
        Unit::Ohm if size >= 1e6 => (1e-6, "M"),
        Unit::Ohm if size >= 1e3 => (1e-3, "k"),
        Unit::Volt | Unit::Ohm => (1.0, ""),
        Unit::Ampere if size < 1.0 => (1e3, "m"),
        Unit::Watt if size < 0.1 => (1e3, "m"),
        Unit::Ampere | Unit::Watt => (1.0, ""),
        Unit::Farad if size < 1e-6 && size > 0.0 => (1e9, "n"),
        Unit::Farad => (1e6, "µ"),
    };
    format!("{} {prefix}{}", digits(value * factor), unit.sign())
}

/// Three digits, at most three of them behind the point, and no "-0".
fn digits(value: f64) -> String {
    let decimals = match value.abs() {
        size if size >= 99.95 => 0,
        size if size >= 9.995 => 1,
        size if size >= 0.9995 => 2,
        _ => 3,
    };
    let scale = [1.0, 10.0, 100.0, 1e3][decimals];
    let rounded = math::round(value * scale) / scale + 0.0;
    format!("{rounded:.decimals$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_three_digits_and_a_fitting_prefix() {
        assert_eq!(amount(0.497e-3, Unit::Ampere), "0.497 mA");
        assert_eq!(amount(-1e-9, Unit::Ampere), "0.000 mA");
        assert_eq!(amount(26.74e-3, Unit::Ampere), "26.7 mA");
        assert_eq!(amount(0.1449, Unit::Watt), "0.145 W");
        assert_eq!(amount(46.2e-3, Unit::Watt), "46.2 mW");
        assert_eq!(amount(123.8, Unit::Celsius), "124 °C");
        assert_eq!(amount(2200.0, Unit::Ohm), "2.20 kΩ");
        assert_eq!(amount(470e-6, Unit::Farad), "470 µF");
        assert_eq!(amount(100e-9, Unit::Farad), "100 nF");
    }
}
