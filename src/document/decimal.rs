//! A decimal number as written, read exactly.

/// A decimal number: `digits` × 10^`exponent`, with its sign.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Decimal {
    negative: bool,
    digits: String,
    exponent: i32,
}

/// Exponents beyond this are refused: no quantity here comes near.
const EXPONENT_LIMIT: i32 = 99;

impl Decimal {
    /// Reads the longest number at the start of `text`: sign, digits, point, exponent. Returns it
    /// with the rest of the text; `None` if there is no digit or an exponent beyond ±99.
    #[must_use]
    pub fn read(text: &str) -> Option<(Self, &str)> {
        let unsigned = text.strip_prefix(['+', '-']).or_else(|| text.strip_prefix('\u{2212}'));
        let negative = unsigned.is_some() && !text.starts_with('+');
        let rest = unsigned.unwrap_or(text);
        let (whole, rest) = split_digits(rest);
        let (part, rest) = match rest.strip_prefix('.') {
            Some(after) => split_digits(after),
            None => ("", rest),
        };
        if whole.is_empty() && part.is_empty() {
            return None;
        }
        let (exponent, rest) = split_exponent(rest)?;
        let exponent = exponent.checked_sub(i32::try_from(part.len()).ok()?)?;
        Some((Self { negative, digits: format!("{whole}{part}"), exponent }, rest))
    }

    /// A number from two groups of digits around a letter that stands for the point.
    #[must_use]
    pub fn around_point(negative: bool, whole: &str, part: &str) -> Option<Self> {
        let exponent = -i32::try_from(part.len()).ok()?;
        Some(Self { negative, digits: format!("{whole}{part}"), exponent })
    }

    /// This number × 10^`power`.
    #[must_use]
    pub fn scaled(mut self, power: i32) -> Self {
        self.exponent += power;
        self
    }

    /// Whether the number has a minus sign.
    #[must_use]
    pub fn is_negative(&self) -> bool {
        self.negative
    }

    /// The nearest `f64`: correctly rounded, so that "4k7" is the same number as 4700.
    #[must_use]
    pub fn to_f64(&self) -> f64 {
        let sign = if self.negative { "-" } else { "" };
        format!("{sign}{}e{}", self.digits, self.exponent).parse().unwrap_or(f64::NAN)
    }

    /// The number as a ratio of whole numbers; `None` if it is negative or does not fit.
    #[must_use]
    pub fn ratio(&self) -> Option<(u64, u64)> {
        if self.negative {
            return None;
        }
        let mut digits = self.digits.trim_start_matches('0');
        let mut exponent = self.exponent;
        while exponent < 0 && digits.ends_with('0') {
            digits = &digits[..digits.len() - 1];
            exponent += 1;
        }
        let whole: u64 = if digits.is_empty() { 0 } else { digits.parse().ok()? };
        let power = 10_u64.checked_pow(exponent.unsigned_abs())?;
        if exponent < 0 { Some((whole, power)) } else { Some((whole.checked_mul(power)?, 1)) }
    }
}

fn split_digits(text: &str) -> (&str, &str) {
    let end = text.find(|one: char| !one.is_ascii_digit()).unwrap_or(text.len());
    text.split_at(end)
}

/// An exponent at the start of `text`, 0 if there is none; `None` if it is beyond the limit.
fn split_exponent(text: &str) -> Option<(i32, &str)> {
    let Some(after) = text.strip_prefix(['e', 'E']) else { return Some((0, text)) };
    let unsigned = after.strip_prefix(['+', '-']).unwrap_or(after);
    let (digits, rest) = split_digits(unsigned);
    if digits.is_empty() {
        return Some((0, text));
    }
    let size: i32 = digits.parse().ok().filter(|size| *size <= EXPONENT_LIMIT)?;
    Some((if after.starts_with('-') { -size } else { size }, rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_is_an_exact_ratio() {
        let (clock, rest) = Decimal::read("2.01216 MHz").unwrap();
        assert_eq!(rest, " MHz");
        assert_eq!(clock.scaled(6).ratio(), Some((2_012_160, 1)));
        let (third, _) = Decimal::read("0.3125").unwrap();
        assert_eq!(third.ratio(), Some((3125, 10_000)));
    }

    #[test]
    fn signs_and_exponents_are_read_and_huge_ones_refused() {
        assert!((Decimal::read("-2.5e-3").unwrap().0.to_f64() - -0.0025).abs() < 1e-18);
        assert_eq!(Decimal::read("1e999"), None);
        assert_eq!(Decimal::read("kilo"), None);
    }
}
