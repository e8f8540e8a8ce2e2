//! What the screen shows.

use crate::base::math;

/// A grey picture in raster order, as the screen emits it.
///
/// # Units
///
/// Luminance relative to the display's nominal white: 0 is no light, 1 is white; may exceed 1.
///
/// # Invariants
///
/// `luminance.len() == width * height`.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Row by row from the top left.
    pub luminance: Vec<f32>,
}

/// The sRGB code value for a relative luminance, both 0 to 1.
///
/// # Range
///
/// Luminance outside 0 to 1 is shown as black or white: a file has no code for it.
///
/// # Source
///
/// IEC 61966-2-1:1999, 5.3.
///
/// ```
/// # use backporch::signal::picture::encode_srgb;
/// assert!((encode_srgb(0.18) - 0.461_356_1).abs() < 1e-7);
/// ```
#[must_use]
pub fn encode_srgb(luminance: f64) -> f64 {
    let light = luminance.clamp(0.0, 1.0);
    if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * math::pow(light, 1.0 / 2.4) - 0.055 }
}
