//! Values as they are printed on parts and written in parts lists: "4k7", "4.7 kΩ", "100 n",
//! "35 mA", "2.01216 MHz".
//!
//! Two forms: a number with an optional prefix and unit, or a number with a letter in place of its
//! point. `k` and `K` are kilo, `M` is mega, `m` is milli. All values come out in SI base units.
//!
//! # Source
//!
//! IEC 60062 for the letter in place of the point: 4k7 and 4K7 are 4700, R47 is 0.47, 3R3 is 3.3,
//! 1M0 is 10⁶, 4n7 is 4.7 × 10⁻⁹.

use crate::base::math;
use crate::document::decimal::Decimal;

/// A kind of value: what it is called, how it is written and what is possible.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantity {
    /// What it is: "a resistance".
    pub noun: &'static str,
    /// Unit signs, the usual one first.
    pub units: &'static [&'static str],
    /// How it may be written.
    pub examples: &'static str,
    /// Least value but for 0.
    pub low: f64,
    /// Greatest value.
    pub high: f64,
    /// Whether it may be 0.
    pub zero: Zero,
}

/// Whether a quantity may be 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Zero {
    /// It may.
    Possible,
    /// It may not.
    Impossible,
}

const OHM: &[&str] = &["Ω", "ohm", "ohms", "Ohm", "\u{2126}", "R"];

/// A resistance above 0, Ω.
pub const RESISTANCE: Quantity = Quantity {
    noun: "a resistance",
    units: OHM,
    examples: "`4k7`, `4.7 k` or `4700 ohm`",
    low: 1e-3,
    high: 1e12,
    zero: Zero::Impossible,
};
/// A capacitance above 0, F.
pub const CAPACITANCE: Quantity = Quantity {
    noun: "a capacitance",
    units: &["F"],
    examples: "`100 n`, `4n7` or `470 uF`",
    low: 1e-15,
    high: 0.05,
    zero: Zero::Impossible,
};
/// An inductance above 0, H.
pub const INDUCTANCE: Quantity = Quantity {
    noun: "an inductance",
    units: &["H"],
    examples: "`82 uH`, `4u7` or `1 mH`",
    low: 1e-12,
    high: 1e3,
    zero: Zero::Impossible,
};
/// A voltage of either sign, V.
pub const VOLTAGE: Quantity = Quantity {
    noun: "a voltage",
    units: &["V"],
    examples: "`5 V`, `30 mV` or `4.5`",
    low: -1e3,
    high: 1e3,
    zero: Zero::Possible,
};
/// A voltage above 0, V.
pub const POSITIVE_VOLTAGE: Quantity = Quantity { low: 1e-9, zero: Zero::Impossible, ..VOLTAGE };
/// A current, 0 or more, A.
pub const CURRENT: Quantity = Quantity {
    noun: "a current",
    units: &["A"],
    examples: "`35 mA` or `2.5 nA`",
    low: 1e-24,
    high: 100.0,
    zero: Zero::Possible,
};
/// A power above 0, W.
pub const POWER: Quantity = Quantity {
    noun: "a power",
    units: &["W"],
    examples: "`0.5 W` or `300 mW`",
    low: 1e-6,
    high: 1e3,
    zero: Zero::Impossible,
};
/// A thermal resistance above 0, K/W.
pub const THERMAL_RESISTANCE: Quantity = Quantity {
    noun: "a thermal resistance",
    units: &["K/W"],
    examples: "`65 K/W`",
    low: 1e-3,
    high: 1e4,
    zero: Zero::Impossible,
};
/// A temperature at which electronics works, °C.
pub const TEMPERATURE: Quantity = Quantity {
    noun: "a temperature",
    units: &["C", "°C"],
    examples: "`25 C`",
    low: -55.0,
    high: 125.0,
    zero: Zero::Possible,
};
/// A length above 0, m. `1.2 m` is metres, not thousandths.
pub const LENGTH: Quantity = Quantity {
    noun: "a length",
    units: &["m"],
    examples: "`1.2 m` or `300 mm`",
    low: 1e-4,
    high: 1e5,
    zero: Zero::Impossible,
};
/// A luminance above 0, cd/m².
pub const LUMINANCE: Quantity = Quantity {
    noun: "a luminance",
    units: &["cd/m2", "cd/m²"],
    examples: "`100 cd/m2`",
    low: 1e-3,
    high: 1e5,
    zero: Zero::Impossible,
};
/// An illuminance, 0 or more, lx.
pub const ILLUMINANCE: Quantity = Quantity {
    noun: "an illuminance",
    units: &["lx"],
    examples: "`50 lx`",
    low: 1e-3,
    high: 1e6,
    zero: Zero::Possible,
};
/// A time, 0 or more, s.
pub const TIME: Quantity = Quantity {
    noun: "a time",
    units: &["s"],
    examples: "`150 ns` or `10.5 us`",
    low: 1e-18,
    high: 1e3,
    zero: Zero::Possible,
};
/// A frequency above 0, Hz.
pub const FREQUENCY: Quantity = Quantity {
    noun: "a frequency",
    units: &["Hz"],
    examples: "`2 MHz`, `15.625 kHz` or `50`",
    low: 1e-3,
    high: 1e10,
    zero: Zero::Impossible,
};
/// A transconductance factor above 0, A/V².
pub const TRANSCONDUCTANCE: Quantity = Quantity {
    noun: "a transconductance factor",
    units: &["A/V2", "A/V²"],
    examples: "`0.5 mA/V2`",
    low: 1e-9,
    high: 10.0,
    zero: Zero::Impossible,
};
/// A charge above 0, ampere hours.
pub const CHARGE: Quantity = Quantity {
    noun: "a charge",
    units: &["Ah"],
    examples: "`2500 mAh` or `2.5 Ah`",
    low: 1e-3,
    high: 1e3,
    zero: Zero::Impossible,
};
/// A plain number above 0.
pub const FACTOR: Quantity = Quantity {
    noun: "a number",
    units: &[],
    examples: "`200` or `1.8`",
    low: 1e-6,
    high: 1e6,
    zero: Zero::Impossible,
};
/// A loss, 0 or more, dB.
pub const LOSS: Quantity = Quantity {
    noun: "a loss",
    units: &["dB"],
    examples: "`1 dB` or `0.4`",
    low: 1e-6,
    high: 100.0,
    zero: Zero::Possible,
};
/// A temperature coefficient of either sign, millionths per kelvin.
pub const DRIFT: Quantity = Quantity {
    noun: "a temperature coefficient",
    units: &["ppm/K", "ppm"],
    examples: "`150 ppm` or `-60 ppm/K`",
    low: -1e4,
    high: 1e4,
    zero: Zero::Possible,
};
/// An angle, 0 or more, degrees.
pub const ANGLE: Quantity = Quantity {
    noun: "an angle",
    units: &["deg", "°", "degrees"],
    examples: "`270 deg` or `30`",
    low: 1e-6,
    high: 3600.0,
    zero: Zero::Possible,
};
/// A share from 0 to 1.
pub const SHARE: Quantity = Quantity {
    noun: "a share",
    units: &["%"],
    examples: "`0.35` or `35 %`",
    low: 1e-12,
    high: 1.0,
    zero: Zero::Possible,
};

impl Quantity {
    /// The same with 0 allowed.
    #[must_use]
    pub const fn or_zero(self) -> Self {
        Self { zero: Zero::Possible, ..self }
    }

    /// The same within other limits.
    #[must_use]
    pub const fn within(self, low: f64, high: f64) -> Self {
        Self { low, high, ..self }
    }

    /// What to expect, under a caret.
    #[must_use]
    pub fn expected(&self) -> String {
        format!("expected {} such as {}", self.noun, self.examples)
    }
}

/// Why a value could not be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ValueError {
    /// What is wrong.
    pub message: String,
    /// What was expected.
    pub expected: String,
    /// How to mend it.
    pub hint: Option<String>,
}

/// Reads a value, SI base units.
///
/// A tolerance may follow ("4k7 5%"); it is checked and otherwise leaves the value alone.
///
/// # Errors
///
/// [`ValueError`] if `text` is not such a value or an impossible one.
pub fn read(text: &str, quantity: &Quantity) -> Result<f64, ValueError> {
    let decimal = read_decimal(strip_tolerance(text.trim(), quantity)?, quantity)
        .map_err(|hint| unreadable(text, quantity, hint))?;
    let value = decimal.to_f64();
    check_range(text, value, decimal.is_negative(), quantity)?;
    Ok(value)
}

/// Reads a frequency as an exact ratio in hertz: a decimal number, or a ratio such as
/// "315/88 MHz".
///
/// # Errors
///
/// [`ValueError`] as [`read`], or if the ratio does not fit in 64 bits.
pub fn read_ratio(text: &str, quantity: &Quantity) -> Result<(u64, u64), ValueError> {
    let (over, under) = match text.split_once('/') {
        Some((over, rest)) => {
            let end = rest.find(|one: char| !one.is_ascii_digit()).unwrap_or(rest.len());
            let (under, unit) = rest.split_at(end);
            let under = under.parse::<u64>().ok().filter(|under| *under > 0);
            let under = under.ok_or_else(|| unreadable(text, quantity, None))?;
            (format!("{over}{unit}"), under)
        }
        None => (text.to_owned(), 1),
    };
    let decimal =
        read_decimal(over.trim(), quantity).map_err(|hint| unreadable(text, quantity, hint))?;
    let value = decimal.to_f64() / math::from_u64(under);
    check_range(text, value, decimal.is_negative(), quantity)?;
    let too_long = || unreadable(text, quantity, Some("write fewer digits".to_owned()));
    let (numerator, denominator) = decimal.ratio().ok_or_else(too_long)?;
    Ok((numerator, denominator.checked_mul(under).ok_or_else(too_long)?))
}

fn unreadable(text: &str, quantity: &Quantity, hint: Option<String>) -> ValueError {
    ValueError {
        message: format!("`{text}` is not {}", quantity.noun),
        expected: quantity.expected(),
        hint,
    }
}

fn check_range(
    text: &str,
    value: f64,
    negative: bool,
    quantity: &Quantity,
) -> Result<(), ValueError> {
    let refuse = |what: String, hint: Option<&str>| {
        Err(ValueError {
            message: format!("`{text}` is impossible here: {what}"),
            expected: format!("expected {}", limits(quantity, text)),
            hint: hint.map(str::to_owned),
        })
    };
    let noun = quantity.noun.split_once(' ').map_or(quantity.noun, |(_, noun)| noun);
    let below_zero = negative && value != 0.0;
    if below_zero && quantity.low >= 0.0 {
        return refuse(format!("the {noun} is below 0"), None);
    }
    if value == 0.0 {
        return match quantity.zero {
            Zero::Possible => Ok(()),
            Zero::Impossible => refuse(format!("the {noun} is 0"), None),
        };
    }
    let milli = "`m` is milli and `M` is mega";
    if value > quantity.high {
        let farads = quantity.units == CAPACITANCE.units && text.trim().parse::<f64>().is_ok();
        let in_farads = "a plain number is in farads; `u` is micro, `n` nano and `p` pico";
        let hint = text.contains('M').then_some(milli).or(farads.then_some(in_farads));
        return refuse(format!("the {noun} is too large"), hint);
    }
    if value < quantity.low {
        let hint = text.contains('m').then_some(milli);
        return refuse(format!("the {noun} is too small"), hint);
    }
    Ok(())
}

/// "1 mΩ to 1000 GΩ"; of shares "0 to 0.99", or "0 % to 99 %" where `text` has it so.
fn limits(quantity: &Quantity, text: &str) -> String {
    let with_unit = |value: f64| match quantity.units.first() {
        Some(&"%") if text.contains('%') => format!("{} %", 1e2 * value),
        Some(&"%") => value.to_string(),
        unit => format!("{}{}", engineering(value), unit.copied().unwrap_or_default()),
    };
    let with_unit = |value: f64| with_unit(value).trim_end().to_owned();
    let from_zero = quantity.zero == Zero::Possible && quantity.low > 0.0;
    let low = if from_zero { 0.0 } else { quantity.low };
    format!("{} to {}", with_unit(low), with_unit(quantity.high))
}

/// A number and a prefix: "1 m", "10 M"; for messages only.
fn engineering(value: f64) -> String {
    const STEPS: [(f64, &str); 9] = [
        (1e9, "G"),
        (1e6, "M"),
        (1e3, "k"),
        (1.0, ""),
        (1e-3, "m"),
        (1e-6, "u"),
        (1e-9, "n"),
        (1e-12, "p"),
        (1e-15, "f"),
    ];
    if value == 0.0 {
        return "0 ".to_owned();
    }
    let found = STEPS.iter().find(|(step, _)| value.abs() >= *step * 0.999_999);
    match found {
        Some((step, prefix)) => format!("{} {prefix}", math::round(value / step)),
        None => format!("{value:e} "),
    }
}

/// The tolerance behind a value that can be read, as a share: "4k7 5%".
#[must_use]
pub fn tolerance(text: &str) -> Option<f64> {
    let percent = text.trim().strip_suffix('%')?.trim_end();
    let from = percent.rfind(|one: char| !one.is_ascii_digit() && one != '.')?;
    let behind = percent[from..].trim_start_matches(|one: char| !one.is_ascii_digit());
    behind.parse::<f64>().ok().map(|percent| percent / 100.0)
}

/// The text without a tolerance at its end.
fn strip_tolerance<'a>(text: &'a str, quantity: &Quantity) -> Result<&'a str, ValueError> {
    if quantity.units.contains(&"%") {
        return Ok(text);
    }
    let Some(rest) = text.strip_suffix('%') else { return Ok(text) };
    let rest = rest.trim_end();
    let digits_from = rest
        .char_indices()
        .rev()
        .take_while(|(_, one)| one.is_ascii_digit() || *one == '.')
        .last()
        .map_or(rest.len(), |(at, _)| at);
    let (value, percent) = rest.split_at(digits_from);
    let value = value.strip_suffix('±').unwrap_or(value);
    let tolerance =
        percent.parse::<f64>().ok().filter(|tolerance| (0.0..=80.0).contains(tolerance));
    if tolerance.is_none() || !value.ends_with(char::is_whitespace) {
        let hint = "a tolerance follows a space and is at most 80 %: `4k7 5%`".to_owned();
        return Err(unreadable(text, quantity, Some(hint)));
    }
    Ok(value.trim_end())
}

/// The number in base units, or a hint why it cannot be read.
fn read_decimal(text: &str, quantity: &Quantity) -> Result<Decimal, Option<String>> {
    let text = text.replace(['\u{3bc}', '\u{b5}'], "u");
    if let Some(decimal) = letter_for_point(&text, quantity) {
        return Ok(decimal);
    }
    let Some((decimal, rest)) = Decimal::read(&text) else {
        return Err(None);
    };
    if rest.starts_with(',') {
        return Err(Some("write a point in place of the comma".to_owned()));
    }
    let power = suffix_power(rest.trim(), quantity)?;
    Ok(decimal.scaled(power))
}

/// "4k7", "R47", "4n7F": digits, one letter, digits, perhaps the unit.
fn letter_for_point(text: &str, quantity: &Quantity) -> Option<Decimal> {
    let unsigned = text.strip_prefix('-');
    let text_part = unsigned.unwrap_or(text);
    let digits = |part: &str| part.find(|one: char| !one.is_ascii_digit()).unwrap_or(part.len());
    let (whole, rest) = text_part.split_at(digits(text_part));
    let letter = rest.chars().next()?;
    let after = &rest[letter.len_utf8()..];
    let (part, unit) = after.split_at(digits(after));
    let unit_fits = unit.is_empty() || quantity.units.contains(&unit);
    if part.is_empty() || !unit_fits {
        return None;
    }
    let power = letter_power(letter, quantity)?;
    Some(Decimal::around_point(unsigned.is_some(), whole, part)?.scaled(power))
}

fn letter_power(letter: char, quantity: &Quantity) -> Option<i32> {
    let mut buffer = [0; 4];
    let sign: &str = letter.encode_utf8(&mut buffer);
    if quantity.units.contains(&sign) {
        return Some(0);
    }
    if quantity.units.is_empty() || quantity.units.contains(&"%") {
        return None;
    }
    prefix_power(sign)
}

fn prefix_power(prefix: &str) -> Option<i32> {
    Some(match prefix {
        "" => 0,
        "f" => -15,
        "p" => -12,
        "n" => -9,
        "u" => -6,
        "m" => -3,
        "k" | "K" => 3,
        "M" => 6,
        "G" => 9,
        _ => return None,
    })
}

/// The power of ten that a prefix and unit stand for, or a hint.
fn suffix_power(suffix: &str, quantity: &Quantity) -> Result<i32, Option<String>> {
    if suffix == "%" && quantity.units.contains(&"%") {
        return Ok(-2);
    }
    let scalable = !quantity.units.is_empty() && !quantity.units.contains(&"%");
    let prefix_of = |unit: &&'static str| suffix.strip_suffix(unit).map(str::trim_end);
    let prefix = quantity.units.iter().find_map(prefix_of).unwrap_or(suffix);
    match prefix_power(prefix) {
        Some(0) => Ok(0),
        Some(power) if scalable => Ok(power),
        _ => Err(case_hint(suffix, quantity)),
    }
}

fn case_hint(suffix: &str, quantity: &Quantity) -> Option<String> {
    let lower = suffix.to_lowercase();
    let unit = quantity.units.iter().find(|unit| lower.ends_with(&unit.to_lowercase()))?;
    (!suffix.ends_with(unit)).then(|| format!("the unit is written `{unit}`"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn assert_reads(text: &str, quantity: &Quantity, expected: f64) {
        let value = read(text, quantity).unwrap_or_else(|error| panic!("{text}: {error:?}"));
        assert!((value - expected).abs() <= expected.abs() * 1e-15, "{text} gave {value}");
    }

    #[test]
    fn metres_are_not_taken_for_thousandths() {
        assert_reads("1.2 m", &LENGTH, 1.2);
        assert_reads("300 mm", &LENGTH, 0.3);
        assert_reads("1m5", &LENGTH, 1.5);
    }

    #[test]
    fn a_letter_stands_for_the_point_as_in_iec_60062() {
        assert_reads("4k7", &RESISTANCE, 4700.0);
        assert_reads("4K7", &RESISTANCE, 4700.0);
        assert_reads("R47", &RESISTANCE, 0.47);
        assert_reads("3R3", &RESISTANCE, 3.3);
        assert_reads("1M0", &RESISTANCE, 1e6);
        assert_reads("4n7", &CAPACITANCE, 4.7e-9);
        assert_reads("470R", &RESISTANCE, 470.0);
        assert_reads("5V1", &VOLTAGE, 5.1);
        assert_reads("4n7F", &CAPACITANCE, 4.7e-9);
    }

    #[test]
    fn plain_forms_are_read() {
        for text in ["4700", "4.7 k", "4.7k", "4.7 kohm", "4.7 kΩ", "4.7 k\u{2126}", "4.7e3"] {
            assert_reads(text, &RESISTANCE, 4700.0);
        }
        assert_reads("100 n", &CAPACITANCE, 1e-7);
        assert_reads("100nF", &CAPACITANCE, 1e-7);
        assert_reads("470u", &CAPACITANCE, 4.7e-4);
        assert_reads("470 µF", &CAPACITANCE, 4.7e-4);
        assert_reads("470 μF", &CAPACITANCE, 4.7e-4);
        assert_reads("5 V", &VOLTAGE, 5.0);
        assert_reads("-30 mV", &VOLTAGE, -0.03);
        assert_reads("35 mA", &CURRENT, 0.035);
        assert_reads("150 ns", &TIME, 1.5e-7);
        assert_reads("35 %", &SHARE, 0.35);
        assert_reads("0.5 mA/V2", &TRANSCONDUCTANCE, 5e-4);
        assert_reads("1.8", &FACTOR, 1.8);
    }

    #[test]
    fn a_tolerance_is_read_where_there_is_one() {
        for (text, share) in [("4k7 5%", 0.05), ("4k7 ±1 %", 0.01), ("100 n 2.5%", 0.025)] {
            assert!((tolerance(text).unwrap() - share).abs() < 1e-12, "{text}");
        }
        assert_eq!(tolerance("4k7"), None);
    }

    #[test]
    fn a_tolerance_is_checked_and_set_aside() {
        assert_reads("4k7 5%", &RESISTANCE, 4700.0);
        assert_reads("4.7 k ±5 %", &RESISTANCE, 4700.0);
        assert!(read("4k7 500%", &RESISTANCE).is_err());
        assert!(read("4k75%", &RESISTANCE).is_err());
    }

    #[test]
    fn mega_and_milli_are_told_apart() {
        assert_reads("1 M", &RESISTANCE, 1e6);
        assert_reads("1 m", &RESISTANCE, 1e-3);
        let error = read("2 mHz", &FREQUENCY.within(1e5, 1e8)).unwrap_err();
        assert_eq!(error.hint.as_deref(), Some("`m` is milli and `M` is mega"));
    }

    #[test]
    fn junk_and_impossible_values_are_refused() {
        for text in ["", "k", "4k7k", "4,7k", "nan", "inf", "1e999", "4..7", "4.7 q", "ohm", "0x10"]
        {
            assert!(read(text, &RESISTANCE).is_err(), "{text}");
        }
        assert!(read("-4k7", &RESISTANCE).unwrap_err().message.contains("below 0"));
        assert!(read("0", &RESISTANCE).unwrap_err().message.contains("is 0"));
        assert!(read("5 F", &RESISTANCE).is_err());
        assert!(read("4k7", &FACTOR).is_err());
        assert!(read("200 %", &SHARE).unwrap_err().message.contains("too large"));
        assert!(read("0", &RESISTANCE.or_zero()).is_ok());
    }

    #[test]
    fn a_comma_gets_a_hint() {
        let error = read("4,7 k", &RESISTANCE).unwrap_err();
        assert_eq!(error.hint.as_deref(), Some("write a point in place of the comma"));
    }

    #[test]
    fn clocks_are_exact_ratios() {
        assert_eq!(read_ratio("2.01216 MHz", &FREQUENCY), Ok((2_012_160, 1)));
        assert_eq!(read_ratio("315/88 MHz", &FREQUENCY), Ok((315_000_000, 88)));
        assert_eq!(read_ratio("2000000", &FREQUENCY), Ok((2_000_000, 1)));
        assert!(read_ratio("2/0 MHz", &FREQUENCY).is_err());
    }
}
