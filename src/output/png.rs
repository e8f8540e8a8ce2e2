//! PNG: the screen's frame as a grey picture, and finished plots in colour.

use crate::base::math;
use crate::signal::picture::Picture;
use crate::signal::picture::encode_srgb;
use image::ExtendedColorType;
use image::GrayImage;
use image::ImageEncoder;
use image::ImageError;
use image::codecs::png::CompressionType;
use image::codecs::png::FilterType;
use image::codecs::png::PngEncoder;
use std::io::Write;
use thiserror::Error;

/// Why there is no PNG.
#[derive(Debug, Error)]
pub enum PngError {
    /// Wider or higher than the format's 2³² − 1.
    #[error("a picture of {width} by {height} pixels is too large for PNG")]
    TooLarge {
        /// Pixels across.
        width: usize,
        /// Pixels down.
        height: usize,
    },
    /// Writing failed.
    #[error("the PNG could not be written")]
    Write(#[from] ImageError),
}

/// What the screen shows as grey codes.
#[must_use]
pub fn grey_image(picture: &Picture) -> GrayImage {
    image_of(picture, |at| encode_srgb(f64::from(picture.luminance[at])))
}

/// An image of a picture's size, each pixel by its place: 0 is black, 1 is white.
pub(crate) fn image_of(picture: &Picture, code: impl Fn(usize) -> f64) -> GrayImage {
    let side = |size: usize| u32::try_from(size).unwrap_or(0);
    let codes = (0..picture.luminance.len()).map(|at| math::to_u8(255.0 * code(at))).collect();
    GrayImage::from_raw(side(picture.width), side(picture.height), codes).unwrap_or_default()
}

/// Writes what the screen shows as 8-bit grey: relative luminance as sRGB code.
///
/// # Errors
///
/// [`PngError`] if the picture is too large or `out` fails.
pub fn write_frame(picture: &Picture, out: &mut impl Write) -> Result<(), PngError> {
    let codes: Vec<u8> = picture.luminance.iter().map(|&light| code(light)).collect();
    // The fast compressor shortens runs of zeros and nothing else; a long run of fields wants it.
    let size = (picture.width, picture.height);
    write(&codes, size, ExtendedColorType::L8, CompressionType::Fast, out)
}

/// Writes 8-bit red, green and blue, row by row.
///
/// # Errors
///
/// [`PngError`] if the picture is too large or `out` fails.
pub fn write_colour(
    rgb: &[u8],
    size: (usize, usize),
    out: &mut impl Write,
) -> Result<(), PngError> {
    // A plot with its lettering comes to a fourth of what the fast compressor leaves, in a millisecond
    // more; the next levels save a third of that, and take seven times as long.
    write(rgb, size, ExtendedColorType::Rgb8, CompressionType::Level(1), out)
}

fn code(luminance: f32) -> u8 {
    math::to_u8(255.0 * encode_srgb(f64::from(luminance)))
}

fn write(
    pixels: &[u8],
    (width, height): (usize, usize),
    colour: ExtendedColorType,
    compression: CompressionType,
    out: &mut impl Write,
) -> Result<(), PngError> {
    let (Ok(across), Ok(down)) = (u32::try_from(width), u32::try_from(height)) else {
        return Err(PngError::TooLarge { width, height });
    };
    // The difference from the pixel above turns flat areas and upright edges into runs of zeros.
    PngEncoder::new_with_quality(out, compression, FilterType::Up)
        .write_image(pixels, across, down, colour)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64) -> bool {
        (a - b).abs() < 5e-8
    }

    #[test]
    fn luminance_is_encoded_as_the_standard_says() {
        assert!(close(encode_srgb(0.18), 0.461_356_1));
        assert!(close(encode_srgb(0.5), 0.735_357_0));
        assert!(close(encode_srgb(0.001), 0.012_92));
        assert!(close(encode_srgb(1.7), 1.0) && close(encode_srgb(-0.1), 0.0));
    }

    #[test]
    fn a_frame_reads_back_as_grey_codes_row_by_row() {
        let luminance = vec![0.0, 0.18, 0.5, 1.0, 1.5, -0.2];
        let mut file = Vec::new();
        write_frame(&Picture { width: 3, height: 2, luminance }, &mut file).unwrap();
        let read = image::load_from_memory(&file).unwrap();
        assert_eq!(read.color(), image::ColorType::L8);
        assert_eq!((read.width(), read.height()), (3, 2));
        // 255 × 0.4613561 = 117.6, 255 × 0.7353570 = 187.5.
        assert_eq!(read.into_luma8().into_raw(), [0, 118, 188, 255, 255, 0]);
    }

    #[test]
    fn a_writer_that_fails_is_reported() {
        struct Full;
        impl Write for Full {
            fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
                Err(std::io::ErrorKind::StorageFull.into())
            }
            fn flush(&mut self) -> std::io::Result<()> {
                Ok(())
            }
        }
        let picture = Picture { width: 1, height: 1, luminance: vec![0.5] };
        assert!(matches!(write_frame(&picture, &mut Full), Err(PngError::Write(_))));
    }
}
