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

/// The sRGB value of a relative luminance, for picture files that say they are sRGB.
///
/// # Range
///
/// 0 to 1 in and out; luminance outside is clipped, since a file cannot hold more than white.
///
/// # Source
///
/// IEC 61966-2-1, the inverse of its transfer function.
///
/// # Examples
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

/// The relative luminance of an sRGB value; undoes [`encode_srgb`].
///
/// # Range
///
/// 0 to 1.
///
/// # Source
///
/// IEC 61966-2-1.
#[must_use]
pub fn decode_srgb(value: f64) -> f64 {
    if value <= 0.040_45 { value / 12.92 } else { math::pow((value + 0.055) / 1.055, 2.4) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn srgb_gives_the_values_of_its_standard() {
        for (value, luminance) in [
            (0.10, 0.010_022_8),
            (0.18, 0.027_211_8),
            (0.25, 0.050_876_1),
            (0.50, 0.214_041_1),
            (128.0 / 255.0, 0.215_860_5),
            (0.75, 0.522_521_6),
            (0.90, 0.787_412_3),
        ] {
            assert!((decode_srgb(value) - luminance).abs() < 1e-7, "{value}");
        }
        assert!((encode_srgb(0.18) - 0.461_356_1).abs() < 1e-7);
        assert!((encode_srgb(0.5) - 0.735_357_0).abs() < 1e-7);
    }

    #[test]
    fn decoding_undoes_encoding_and_clips_outside() {
        for step in 0..=1000_u32 {
            let luminance = f64::from(step) / 1000.0;
            assert!((decode_srgb(encode_srgb(luminance)) - luminance).abs() < 1e-6);
        }
        assert!((encode_srgb(1.3) - 1.0).abs() < 1e-12);
        assert!(encode_srgb(-0.1).abs() < 1e-12);
    }
}
