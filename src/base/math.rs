//! Functions whose last bit would otherwise depend on the machine, and the few conversions between
//! whole numbers and `f64` that the code needs, each stating why nothing is lost.

pub use libm::{
    asin, atan, ceil, cos, exp, expm1, floor, log as ln, log1p, log10, pow, round, sin, tan,
};

/// A count as `f64`; exact below 2⁵³, which no count here reaches.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
pub fn from_u64(count: u64) -> f64 {
    count as f64
}

/// A count as an index; the largest one for what no memory can hold.
#[must_use]
pub fn to_index(count: u64) -> usize {
    usize::try_from(count).unwrap_or(usize::MAX)
}

/// An index or length as `f64`; exact below 2⁵³.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "lengths stay far below 2^53")]
pub fn from_usize(count: usize) -> f64 {
    count as f64
}

/// The nearest `f32`, as samples and pixels are kept.
#[must_use]
#[expect(clippy::cast_possible_truncation, reason = "rounding to f32 is the purpose")]
pub fn to_f32(value: f64) -> f32 {
    value as f32
}

/// The largest index not above `value`; negative values and NaN give 0.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "`as` saturates, which is the documented behaviour, and rounds towards zero"
)]
pub fn floor_index(value: f64) -> usize {
    value as usize
}

/// The largest whole number not above `value`; negative values and NaN give 0. The quickest way from
/// a place among samples to the sample.
#[must_use]
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "`as` saturates, which is the documented behaviour, and rounds towards zero"
)]
pub fn floor_u32(value: f64) -> u32 {
    value as u32
}

/// The nearest whole number within 0..=255; NaN gives 0.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "`as` saturates, which is the documented behaviour"
)]
pub fn to_u8(value: f64) -> u8 {
    round(value) as u8
}

/// Linear interpolation from `a` (`t` = 0) to `b` (`t` = 1).
#[must_use]
pub fn lerp(a: f64, b: f64, t: f64) -> f64 {
    a + (b - a) * t
}

/// Value and slope at `x` of the broken line through `points`, ends held.
#[must_use]
pub fn interpolate(points: &[(f64, f64)], x: f64) -> (f64, f64) {
    let above = points.partition_point(|&(at, _)| at <= x);
    match (above.checked_sub(1).map(|below| points[below]), points.get(above)) {
        (Some((x0, y0)), Some(&(x1, y1))) => {
            let slope = (y1 - y0) / (x1 - x0);
            (y0 + slope * (x - x0), slope)
        }
        (Some((_, y)), None) | (None, Some(&(_, y))) => (y, 0.0),
        (None, None) => (0.0, 0.0),
    }
}

/// The largest size among some values, 0 of none; infinite if one is no number.
#[must_use]
pub fn largest(values: &[f64]) -> f64 {
    let larger = |most: f64, value: &f64| if value.abs() <= most { most } else { value.abs() };
    let most = values.iter().fold(0.0, larger);
    if most.is_nan() { f64::INFINITY } else { most }
}

/// The middle value, of an even number the upper of the two; `None` of none.
#[must_use]
pub fn median(mut values: Vec<f64>) -> Option<f64> {
    let middle = values.len() / 2;
    if values.is_empty() {
        return None;
    }
    Some(*values.select_nth_unstable_by(middle, f64::total_cmp).1)
}
