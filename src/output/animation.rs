//! Frames as one animated PNG, written one after another at the exact field time.

use crate::output::png::grey_image;
use crate::signal::picture::Picture;
use crate::signal::timing::FieldTiming;
use png::BitDepth;
use png::ColorType;
use png::Compression;
use png::Encoder;
use png::EncodingError;
use png::Filter;
use png::Writer;
use std::fmt;
use std::io::Write;
use thiserror::Error;

/// Why there is no animation.
#[derive(Debug, Error)]
pub enum AnimationError {
    /// A frame of another size than the first one.
    #[error("a frame of {found:?} pixels in an animation of {expected:?}")]
    OtherSize {
        /// Its width and height.
        found: (u32, u32),
        /// Those of the first one.
        expected: (u32, u32),
    },
    /// More or fewer frames than promised.
    #[error("the animation was begun for {promised} frames, but {written} were given")]
    OtherLength {
        /// Frames promised.
        promised: u32,
        /// Frames given.
        written: u32,
    },
    /// Writing failed.
    #[error("the animation could not be written: {0}")]
    Write(#[from] EncodingError),
}

/// How long a frame is shown: `numerator / denominator` seconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Delay {
    /// Above the line.
    pub numerator: u16,
    /// Below it, 1 or more.
    pub denominator: u16,
    /// Whether it is the field time to the last digit.
    pub is_exact: bool,
}

impl Delay {
    /// The time of a field, or the nearest that two numbers of 16 bits can say.
    ///
    /// # Source
    ///
    /// That a frame's delay is two such numbers: W3C, *Portable Network Graphics*, third edition,
    /// `fcTL`. The best of all fractions with a bounded denominator is a convergent of the continued
    /// fraction or lies between two of them: A. Ya. Khinchin, *Continued Fractions*.
    #[must_use]
    pub fn of(timing: &FieldTiming) -> Self {
        let (numerator, denominator) = timing.clock.ratio();
        // A clock turned round is a time: a field of so many of them.
        let seconds = u128::from(timing.clocks_per_field()) * u128::from(denominator);
        let (over, under) = lowest(seconds, u128::from(numerator));
        let (a, b) = nearest(over, under);
        Self {
            numerator: u16::try_from(a).unwrap_or(u16::MAX),
            denominator: u16::try_from(b).unwrap_or(u16::MAX),
            is_exact: (a, b) == (over, under),
        }
    }

    /// Seconds by which a minute of frames is too long, or too short if below 0.
    #[must_use]
    pub fn drift_s_per_minute(&self, timing: &FieldTiming) -> f64 {
        if self.is_exact {
            return 0.0;
        }
        let shown = f64::from(self.numerator) / f64::from(self.denominator);
        60.0 * (shown * timing.field_hz() - 1.0)
    }
}

/// Most that either number can be.
const MOST: u128 = u16::MAX as u128;

fn lowest(over: u128, under: u128) -> (u128, u128) {
    let (mut a, mut b) = (over, under);
    while b > 0 {
        (a, b) = (b, a % b);
    }
    (over / a.max(1), under / a.max(1))
}

/// The nearest fraction of which neither number is above [`MOST`].
fn nearest(over: u128, under: u128) -> (u128, u128) {
    if over <= MOST && under <= MOST {
        return (over, under);
    }
    if over > under {
        let (a, b) = nearest(under, over);
        return (b.max(1), a.max(1));
    }
    // Convergents h / k, as long as the denominator fits; it is the larger of the two.
    let (mut before, mut last) = ((0_u128, 1_u128), (1_u128, 0_u128));
    let (mut a, mut b) = (over, under);
    while b > 0 {
        let whole = a / b;
        let next = (before.0 + whole * last.0, before.1 + whole * last.1);
        if next.1 > MOST {
            break;
        }
        (before, last) = (last, next);
        (a, b) = (b, a % b);
    }
    // The farthest step towards the next convergent that still fits.
    let steps = (MOST - before.1) / last.1.max(1);
    let between = (before.0 + steps * last.0, before.1 + steps * last.1);
    // |p / q − over / under| by whole numbers: |p under − over q| / q.
    let off = |(p, q): (u128, u128)| (p * under).abs_diff(over * q);
    if off(between) * last.1 < off(last) * between.1 { between } else { last }
}

/// Writes frames one by one; holds none of them.
pub struct AnimationSink<W: Write> {
    writer: Writer<W>,
    size: (u32, u32),
    promised: u32,
    written: u32,
}

impl<W: Write> AnimationSink<W> {
    /// Begins an animation of `frames` frames of the size of `first`, which is not written yet. It
    /// begins again when it has ended.
    ///
    /// # Errors
    ///
    /// [`AnimationError::Write`] if the head cannot be written.
    pub fn new(out: W, first: &Picture, frames: u32, delay: Delay) -> Result<Self, AnimationError> {
        let size = grey_image(first).dimensions();
        let mut encoder = Encoder::new(out, size.0, size.1);
        encoder.set_color(ColorType::Grayscale);
        encoder.set_depth(BitDepth::Eight);
        encoder.set_compression(Compression::Fast);
        // As a single frame: what is flat or upright becomes zeros.
        encoder.set_filter(Filter::Up);
        encoder.set_animated(frames, 0)?;
        encoder.set_frame_delay(delay.numerator, delay.denominator)?;
        Ok(Self { writer: encoder.write_header()?, size, promised: frames, written: 0 })
    }

    /// Appends a frame.
    ///
    /// # Errors
    ///
    /// [`AnimationError`] for a frame of another size, one too many, or if it cannot be written.
    pub fn write_frame(&mut self, picture: &Picture) -> Result<(), AnimationError> {
        let image = grey_image(picture);
        if image.dimensions() != self.size {
            let (found, expected) = (image.dimensions(), self.size);
            return Err(AnimationError::OtherSize { found, expected });
        }
        self.written += 1;
        if self.written > self.promised {
            let (promised, written) = (self.promised, self.written);
            return Err(AnimationError::OtherLength { promised, written });
        }
        Ok(self.writer.write_image_data(image.as_raw())?)
    }

    /// Completes the file.
    ///
    /// # Errors
    ///
    /// [`AnimationError::OtherLength`] if fewer frames were written than promised,
    /// [`AnimationError::Write`] if the file cannot be completed.
    pub fn finish(self) -> Result<(), AnimationError> {
        let Self { writer, promised, written, .. } = self;
        if written < promised {
            return Err(AnimationError::OtherLength { promised, written });
        }
        Ok(writer.finish()?)
    }
}

impl<W: Write> fmt::Debug for AnimationSink<W> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("AnimationSink")
            .field("size", &self.size)
            .field("promised", &self.promised)
            .field("written", &self.written)
            .finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::ticks::ClockRate;
    use crate::profile::builtin;
    use png::Decoder;
    use std::io::Cursor;

    fn timing(numerator: u64, denominator: u64) -> FieldTiming {
        let timing = builtin::timing("two-player-50").unwrap();
        FieldTiming { clock: ClockRate::new(numerator, denominator).unwrap(), ..timing }
    }

    /// 39 936 clocks of 2 MHz are 312/15 625 s; 33 536 of 2.01216 MHz a sixtieth.
    #[test]
    fn the_field_time_of_both_systems_is_exact() {
        let fifty = Delay::of(&builtin::timing("two-player-50").unwrap());
        assert_eq!(fifty, Delay { numerator: 312, denominator: 15_625, is_exact: true });
        let sixty = Delay::of(&builtin::timing("two-player-60").unwrap());
        assert_eq!(sixty, Delay { numerator: 1, denominator: 60, is_exact: true });
    }

    /// Against a search through every denominator.
    #[test]
    fn another_clock_gets_the_nearest_of_all_fractions() {
        for hz in [2_012_161, 1_999_993, 2_123_457, 1_612_349] {
            let timing = timing(hz, 1);
            let delay = Delay::of(&timing);
            assert!(!delay.is_exact);
            let exact = 39_936.0 / f64::from(u32::try_from(hz).unwrap());
            let off = |p: f64, q: f64| (p / q - exact).abs();
            let best = (1..=u16::MAX)
                .map(|q| off((exact * f64::from(q)).round(), f64::from(q)))
                .fold(f64::INFINITY, f64::min);
            let found = off(f64::from(delay.numerator), f64::from(delay.denominator));
            assert!(found <= best + 1e-16, "{hz}: {found} {best}");
            assert!(delay.drift_s_per_minute(&timing).abs() < 1e-4);
        }
    }

    /// A field longer than a second, of a clock that no chip has.
    #[test]
    fn a_long_field_has_the_long_number_above() {
        let delay = Delay::of(&timing(3001, 7));
        let exact = 39_936.0 * 7.0 / 3001.0;
        let shown = f64::from(delay.numerator) / f64::from(delay.denominator);
        assert!((shown - exact).abs() < 1e-3, "{delay:?}");
    }

    fn picture(shade: f32) -> Picture {
        Picture { width: 4, height: 3, luminance: vec![shade; 12] }
    }

    fn delay() -> Delay {
        Delay::of(&builtin::timing("two-player-50").unwrap())
    }

    /// Every frame comes back in its order, with its own delay.
    #[test]
    fn a_reader_gets_back_every_frame_and_its_time() {
        let mut file = Vec::new();
        let mut sink = AnimationSink::new(&mut file, &picture(0.0), 3, delay()).unwrap();
        for shade in [0.0, 0.5, 1.0] {
            sink.write_frame(&picture(shade)).unwrap();
        }
        sink.finish().unwrap();
        let mut reader = Decoder::new(Cursor::new(&file)).read_info().unwrap();
        let control = *reader.info().animation_control().unwrap();
        assert_eq!((control.num_frames, control.num_plays), (3, 0));
        for code in [0, 188, 255] {
            let mut pixels = vec![0; 12];
            reader.next_frame(&mut pixels).unwrap();
            let frame = reader.info().frame_control().unwrap();
            assert_eq!((frame.delay_num, frame.delay_den), (312, 15_625));
            assert_eq!(pixels, [code; 12]);
        }
        assert_eq!(image::load_from_memory(&file).unwrap().into_luma8().as_raw()[0], 0);
    }

    #[test]
    fn frames_of_another_size_or_number_are_refused() {
        let mut file = Vec::new();
        let mut sink = AnimationSink::new(&mut file, &picture(0.0), 1, delay()).unwrap();
        let wide = Picture { width: 6, height: 2, luminance: vec![0.0; 12] };
        let refused = sink.write_frame(&wide).unwrap_err();
        assert_eq!(refused.to_string(), "a frame of (6, 2) pixels in an animation of (4, 3)");
        sink.write_frame(&picture(0.0)).unwrap();
        let refused = sink.write_frame(&picture(0.0)).unwrap_err();
        assert!(matches!(refused, AnimationError::OtherLength { promised: 1, written: 2 }));
        let short = AnimationSink::new(Vec::new(), &picture(0.0), 2, delay()).unwrap();
        assert!(short.finish().is_err());
    }
}
