//! A setting with the values it is to take: "P1.position=0..1", "R1=E12:1k..10k", "U1.family=4000B,74HC".

use crate::base::choices::Choice;
use crate::base::choices::Choices;
use crate::base::math;
use crate::base::preferred::Series;
use crate::document::near;
use crate::document::quantity::CAPACITANCE;
use crate::document::quantity::CURRENT;
use crate::document::quantity::FACTOR;
use crate::document::quantity::FREQUENCY;
use crate::document::quantity::ILLUMINANCE;
use crate::document::quantity::INDUCTANCE;
use crate::document::quantity::LENGTH;
use crate::document::quantity::LUMINANCE;
use crate::document::quantity::Quantity;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::TEMPERATURE;
use crate::document::quantity::TIME;
use crate::document::quantity::VOLTAGE;
use crate::document::quantity::read;

/// What is wrong with a text of this kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChoicesError {
    /// What is wrong.
    pub message: String,
    /// What was expected.
    pub expected: String,
    /// A near match.
    pub hint: Option<String>,
}

/// Most values of one setting.
const MOST: usize = 10_000;

/// Reads "PATH=VALUES". Values are a list ("1k,2k2"), a range in even steps ("0..1", of `steps`
/// values, or "0..1:11"), preferred values of a series ("E24:1k..10k"), or "drawer" for `drawer`.
///
/// # Errors
///
/// [`ChoicesError`] if the text is no such thing.
pub fn choices(text: &str, steps: usize, drawer: &[String]) -> Result<Choices, ChoicesError> {
    let Some((path, values)) = text.split_once('=') else {
        return Err(wrong(format!("`{text}` gives no values")));
    };
    let (path, values) = (path.trim(), values.trim());
    if path.is_empty() || values.is_empty() {
        return Err(wrong(format!("`{text}` gives no values")));
    }
    let found = if values == "drawer" {
        drawer.iter().map(|text| plain(text)).collect()
    } else if let Some((series, range)) = values.split_once(':').filter(|(s, _)| is_series(s)) {
        of_series(series, range)?
    } else if values.contains("..") {
        of_range(values, steps)?
    } else {
        values.split(',').map(str::trim).filter(|one| !one.is_empty()).map(plain).collect()
    };
    if found.is_empty() && values == "drawer" {
        return Err(wrong(format!("`{text}` has no value: the drawer is empty")));
    }
    if found.is_empty() {
        return Err(wrong(format!("`{text}` has no value in its range")));
    }
    if found.len() > MOST {
        return Err(wrong(format!("`{text}` has more than {MOST} values")));
    }
    Ok(Choices { path: path.to_owned(), values: found })
}

fn wrong(message: String) -> ChoicesError {
    let expected = "expected a range such as `P1.position=0..1`, preferred values such as \
                    `R1=E12:1k..10k`, or a list such as `R1=1k,2k2`";
    ChoicesError { message, expected: expected.to_owned(), hint: None }
}

fn is_series(text: &str) -> bool {
    text.starts_with(['E', 'e']) && text[1..].chars().all(|one| one.is_ascii_digit())
}

fn of_series(series: &str, range: &str) -> Result<Vec<Choice>, ChoicesError> {
    let named = Series::NAMED.iter().find(|(name, _)| name.eq_ignore_ascii_case(series));
    let Some((_, series)) = named else {
        let names = Series::NAMED.map(|(name, _)| name);
        let hint = near::nearest(series, names).map(near::did_you_mean);
        let message = format!("there is no series `{series}`");
        let expected = format!("expected {}", names.join(", "));
        return Err(ChoicesError { message, expected, hint });
    };
    let (low, high, steps) = ends(range)?;
    if steps.is_some() {
        return Err(wrong(format!("`{range}` has steps, and a series has its own")));
    }
    Ok(series.values_between(low, high).into_iter().map(numbered).collect())
}

fn of_range(text: &str, steps: usize) -> Result<Vec<Choice>, ChoicesError> {
    let (low, high, own) = ends(text)?;
    let count = own.unwrap_or(steps).max(2);
    let at = |index: usize| {
        let share = math::from_usize(index) / math::from_usize(count - 1);
        // Steps of a decimal range are decimals: the last bits of a division are no user's business.
        let value = math::lerp(low, high, share);
        let size = low.abs().max(high.abs()).max(f64::MIN_POSITIVE);
        let scale = math::pow(10.0, 9.0 - math::ceil(math::log10(size)));
        match index {
            0 => low,
            _ if index + 1 == count => high,
            _ => math::round(value * scale) / scale,
        }
    };
    Ok((0..count.min(MOST + 1)).map(|index| numbered(at(index))).collect())
}

/// The two ends, and the number of steps behind them.
fn ends(text: &str) -> Result<(f64, f64, Option<usize>), ChoicesError> {
    let (range, steps) = match text.split_once(':') {
        Some((range, steps)) => {
            let count = steps.trim().parse::<usize>().ok().filter(|count| *count >= 2);
            let refuse = || wrong(format!("`{}` is no number of steps", steps.trim()));
            (range, Some(count.ok_or_else(refuse)?))
        }
        None => (text, None),
    };
    let Some((low, high)) = range.split_once("..") else {
        return Err(wrong(format!("`{range}` is no range")));
    };
    let end = |text: &str| {
        number(text).ok_or_else(|| wrong(format!("`{}` is not a number", text.trim())))
    };
    let (low, high) = (end(low)?, end(high)?);
    if low >= high {
        return Err(wrong(format!("`{range}` ends at or below its start")));
    }
    Ok((low, high, steps))
}

/// A value of whatever kind it may be: in base units, a percentage as a share.
fn number(text: &str) -> Option<f64> {
    const KINDS: [&Quantity; 12] = [
        &RESISTANCE,
        &CAPACITANCE,
        &INDUCTANCE,
        &VOLTAGE,
        &CURRENT,
        &LUMINANCE,
        &ILLUMINANCE,
        &TIME,
        &LENGTH,
        &FREQUENCY,
        &TEMPERATURE,
        &FACTOR,
    ];
    let text = text.trim();
    if let Some(percent) = text.strip_suffix('%') {
        return finite(percent).map(|percent| percent / 100.0);
    }
    let bare = finite(text);
    // Nobody varies milliohms: a number and a lone "m" are metres.
    let metres = text.strip_suffix(" m").and_then(finite);
    bare.or(metres).or_else(|| KINDS.iter().find_map(|quantity| read(text, quantity).ok()))
}

fn finite(text: &str) -> Option<f64> {
    text.trim().parse::<f64>().ok().filter(|value| value.is_finite())
}

fn plain(text: &str) -> Choice {
    Choice { text: text.to_owned(), label: text.to_owned(), number: number(text) }
}

fn numbered(value: f64) -> Choice {
    Choice { text: format!("{value}"), label: label(value), number: Some(value) }
}

/// "4k7", "220n", "0.35".
pub(crate) fn label(value: f64) -> String {
    const PREFIXES: [(f64, &str); 6] =
        [(1e6, "M"), (1e3, "k"), (1.0, ""), (1e-6, "u"), (1e-9, "n"), (1e-12, "p")];
    let trimmed = |text: String| text.trim_end_matches('0').trim_end_matches('.').to_owned();
    let decimals = |value: f64| trimmed(format!("{value:.4}"));
    let size = value.abs();
    if (1e-2..1e3).contains(&size) || size == 0.0 {
        return decimals(value);
    }
    // A lone "m" would be read as milli of one kind and metres of another.
    if (1e-3..1e-2).contains(&size) {
        return trimmed(format!("{value:.6}"));
    }
    let found = PREFIXES.iter().find(|(scale, _)| size >= *scale * (1.0 - 1e-9));
    let Some((scale, prefix)) = found else { return format!("{value:e}") };
    let text = decimals(value / scale);
    match text.split_once('.') {
        Some((whole, part)) => format!("{whole}{prefix}{part}"),
        None => format!("{text}{prefix}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(text: &str) -> Vec<String> {
        let found = choices(text, 5, &["330".to_owned(), "1k".to_owned()]).unwrap();
        found.values.into_iter().map(|one| one.label).collect()
    }

    #[test]
    fn ranges_lists_and_series_are_read() {
        assert_eq!(labels("P1.position=0..1"), ["0", "0.25", "0.5", "0.75", "1"]);
        assert_eq!(labels("P1.position=10 %..30 %:3"), ["0.1", "0.2", "0.3"]);
        assert_eq!(labels("R1=E6:1k..10k"), ["1k", "1k5", "2k2", "3k3", "4k7", "6k8", "10k"]);
        assert_eq!(labels("C1=E3:10n..100n"), ["10n", "22n", "47n", "100n"]);
        assert_eq!(labels("U1.family=4000B,74HC"), ["4000B", "74HC"]);
        assert_eq!(labels("R1=drawer"), ["330", "1k"]);
        assert_eq!(labels("V1=6 V..7 V:3"), ["6", "6.5", "7"]);
        assert_eq!(labels("W2.cable=1 m..12 m:3"), ["1", "6.5", "12"]);
        assert_eq!(labels("solve.samples_per_clock=1..31:4"), ["1", "11", "21", "31"]);
        assert_eq!(labels("P1.position=0.001..0.009:3"), ["0.001", "0.005", "0.009"]);
        let found = choices("a=60..90:4", 2, &[]).unwrap();
        assert_eq!(
            found.values.iter().map(|v| &*v.text).collect::<Vec<_>>(),
            ["60", "70", "80", "90"]
        );
    }

    #[test]
    fn values_go_back_as_the_numbers_they_are() {
        let found = choices("R1=E24:1k..10M", 2, &[]).unwrap();
        for one in &found.values {
            assert_eq!(one.text.parse::<f64>().ok(), one.number);
            assert_eq!(read(&one.text, &RESISTANCE).ok(), one.number);
            assert_eq!(read(&one.label, &RESISTANCE).ok(), one.number, "{}", one.label);
        }
    }

    #[test]
    fn what_is_wrong_is_said() {
        for (text, message) in [
            ("R1", "`R1` gives no values"),
            ("R1=", "`R1=` gives no values"),
            ("R1=10k..1k", "`10k..1k` ends at or below its start"),
            ("R1=E11:1k..2k", "there is no series `E11`"),
            ("R1=a..b", "`a` is not a number"),
            ("P1.position=0..inf%", "`inf%` is not a number"),
            (
                "R1=E3:1k..1.7976931348623157e308",
                "`R1=E3:1k..1.7976931348623157e308` has no value in its range",
            ),
            ("P1.position=0..1:1", "`1` is no number of steps"),
        ] {
            assert_eq!(choices(text, 5, &[]).unwrap_err().message, message);
        }
    }
}
