//! Waveforms as a WAV file that any signal or sound editor can open: 1.0 is 1 V.

use crate::base::ticks::ClockRate;
use crate::signal::trace::Trace;
use hound::SampleFormat;
use hound::WavSpec;
use hound::WavWriter;
use std::fmt;
use std::io::BufWriter;
use std::io::Seek;
use std::io::Write;
use thiserror::Error;

/// Most bytes of samples that a WAV file can hold: the RIFF chunk counts in 32 bits, and 60 bytes
/// of header are counted with the samples.
///
/// # Source
///
/// RIFF: chunk sizes are unsigned 32-bit. The header of the extensible float form is 68 bytes, 8 of
/// which the RIFF chunk does not count.
pub const MOST_SAMPLE_BYTES: u64 = u32::MAX as u64 - 60;

/// How many samples of each of so many waveforms fit into a file.
#[must_use]
pub fn fitting_samples(channels: usize) -> u64 {
    let frame = u64::from(BYTES_PER_SAMPLE).saturating_mul(channels.max(1) as u64);
    MOST_SAMPLE_BYTES / frame
}

const BYTES_PER_SAMPLE: u16 = 4;

/// Why a WAV file cannot be written.
#[derive(Debug, Error)]
pub enum WavError {
    /// The samples do not fit into a WAV file.
    #[error(
        "the waveform needs {bytes} bytes, but a WAV file holds no more than {MOST_SAMPLE_BYTES}"
    )]
    TooLong {
        /// Bytes needed.
        bytes: u128,
    },
    /// The header cannot state this number of channels.
    #[error("a WAV file cannot hold {channels} waveforms: 1 to 16383 fit")]
    Channels {
        /// Channels asked for.
        channels: usize,
    },
    /// The header cannot state this sample rate.
    #[error("a WAV file cannot state {hertz} Hz for {channels} waveforms")]
    Rate {
        /// Samples per second.
        hertz: f64,
        /// Channels asked for.
        channels: usize,
    },
    /// A field with another number of traces than the file was begun for.
    #[error("the field has {found} waveforms, but the WAV file was begun for {expected}")]
    OtherChannels {
        /// Traces given.
        found: usize,
        /// Channels in the file.
        expected: usize,
    },
    /// A trace with another rate or length than the rest of its field.
    #[error("the waveform at `{node}` does not match its field: {found} instead of {expected}")]
    OtherTrace {
        /// Its node.
        node: String,
        /// Its length and rate.
        found: String,
        /// Length and rate of the file or the field's first trace.
        expected: String,
    },
    /// More or fewer samples than promised.
    #[error("the WAV file was begun for {promised} samples a waveform, but {written} were given")]
    OtherLength {
        /// Samples per channel promised.
        promised: u64,
        /// Samples per channel given.
        written: u64,
    },
    /// The file could not be written.
    #[error("cannot write the WAV file: {0}")]
    Write(#[from] hound::Error),
}

/// Writes waveforms field by field.
///
/// The header states the rate in whole hertz, rounded; the exact rate belongs into the report that
/// goes with the file.
pub struct WavSink<W: Write + Seek> {
    writer: WavWriter<BufWriter<W>>,
    rate: ClockRate,
    channels: usize,
    promised: u64,
    written: u64,
}

impl<W: Write + Seek> WavSink<W> {
    /// Begins a file of `total_samples` samples in each of `channels` waveforms.
    ///
    /// # Errors
    ///
    /// Before the first byte is written: [`WavError::TooLong`], [`WavError::Channels`] or
    /// [`WavError::Rate`]. [`WavError::Write`] if the header cannot be written.
    pub fn new(
        writer: W,
        rate: ClockRate,
        channels: usize,
        total_samples: u64,
    ) -> Result<Self, WavError> {
        let spec = header(rate, channels)?;
        let bytes =
            u128::from(total_samples) * u128::from(spec.channels) * u128::from(BYTES_PER_SAMPLE);
        if bytes > u128::from(MOST_SAMPLE_BYTES) {
            return Err(WavError::TooLong { bytes });
        }
        let writer = WavWriter::new(BufWriter::new(writer), spec)?;
        Ok(Self { writer, rate, channels, promised: total_samples, written: 0 })
    }

    /// Appends one field: a trace for each channel, all of the same length.
    ///
    /// # Errors
    ///
    /// Before anything of this field is written: [`WavError::OtherChannels`],
    /// [`WavError::OtherTrace`] or, past the promised length, [`WavError::OtherLength`].
    /// [`WavError::Write`] if the samples cannot be written.
    pub fn write_field(&mut self, traces: &[Trace]) -> Result<(), WavError> {
        let length = self.check(traces)?;
        for sample in 0..length {
            for trace in traces {
                self.writer.write_sample(trace.volts[sample])?;
            }
        }
        self.written += length as u64;
        Ok(())
    }

    /// Completes the header.
    ///
    /// # Errors
    ///
    /// [`WavError::OtherLength`] if fewer samples were written than promised, [`WavError::Write`]
    /// if the file cannot be completed.
    pub fn finish(self) -> Result<(), WavError> {
        let Self { promised, written, .. } = self;
        self.writer.finalize()?;
        if written < promised {
            return Err(WavError::OtherLength { promised, written });
        }
        Ok(())
    }

    /// The length of a field that fits the file.
    fn check(&self, traces: &[Trace]) -> Result<usize, WavError> {
        if traces.len() != self.channels {
            let (found, expected) = (traces.len(), self.channels);
            return Err(WavError::OtherChannels { found, expected });
        }
        let length = traces.first().map_or(0, |trace| trace.volts.len());
        for trace in traces {
            if trace.volts.len() != length || trace.rate != self.rate {
                return Err(WavError::OtherTrace {
                    node: trace.node.clone(),
                    found: describe(trace.volts.len(), trace.rate),
                    expected: describe(length, self.rate),
                });
            }
        }
        let (promised, written) = (self.promised, self.written + length as u64);
        if written > promised {
            return Err(WavError::OtherLength { promised, written });
        }
        Ok(length)
    }
}

impl<W: Write + Seek> fmt::Debug for WavSink<W> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("WavSink")
            .field("rate", &self.rate)
            .field("channels", &self.channels)
            .field("promised", &self.promised)
            .field("written", &self.written)
            .finish_non_exhaustive()
    }
}

fn describe(samples: usize, rate: ClockRate) -> String {
    format!("{samples} samples at {} Hz", rate.hertz())
}

/// The header's fields are 16 and 32 bits wide, and so are bytes per frame and per second.
fn header(rate: ClockRate, channels: usize) -> Result<WavSpec, WavError> {
    let too_many = WavError::Channels { channels };
    let frame_bytes = channels.checked_mul(usize::from(BYTES_PER_SAMPLE));
    let Some(frame_bytes) = frame_bytes.and_then(|bytes| u16::try_from(bytes).ok()) else {
        return Err(too_many);
    };
    let channel_count = frame_bytes / BYTES_PER_SAMPLE;
    if channel_count == 0 {
        return Err(too_many);
    }
    let whole_hertz =
        whole_hertz(rate).filter(|hertz| hertz.checked_mul(frame_bytes.into()).is_some());
    let sample_rate = whole_hertz.ok_or(WavError::Rate { hertz: rate.hertz(), channels })?;
    Ok(WavSpec {
        channels: channel_count,
        sample_rate,
        bits_per_sample: 8 * BYTES_PER_SAMPLE,
        sample_format: SampleFormat::Float,
    })
}

/// The rate to the nearest hertz, if that is a positive 32-bit number.
fn whole_hertz(rate: ClockRate) -> Option<u32> {
    let (numerator, denominator) = rate.ratio();
    let rounded = (u128::from(numerator) + u128::from(denominator) / 2) / u128::from(denominator);
    u32::try_from(rounded).ok().filter(|&hertz| hertz > 0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use hound::WavReader;
    use std::io::Cursor;

    fn rate() -> ClockRate {
        // Four samples a clock of 2.012 16 MHz.
        ClockRate::new(8_048_640, 1).unwrap()
    }

    fn trace(node: &str, volts: &[f32]) -> Trace {
        Trace { node: node.to_owned(), rate: rate(), volts: volts.to_vec() }
    }

    /// Two channels, two fields.
    fn example() -> Vec<u8> {
        let mut file = Cursor::new(Vec::new());
        let mut sink = WavSink::new(&mut file, rate(), 2, 5).unwrap();
        sink.write_field(&[trace("plug", &[0.0, 0.3, 1.0]), trace("mix", &[-5.5, 6.25, 0.1])])
            .unwrap();
        sink.write_field(&[trace("plug", &[1.5, -0.0]), trace("mix", &[f32::MIN_POSITIVE, 9.0])])
            .unwrap();
        sink.finish().unwrap();
        file.into_inner()
    }

    const INTERLEAVED: [f32; 10] =
        [0.0, -5.5, 0.3, 6.25, 1.0, 0.1, 1.5, f32::MIN_POSITIVE, -0.0, 9.0];

    #[test]
    fn a_reader_gets_back_every_volt_bit_for_bit() {
        let bytes = example();
        let mut reader = WavReader::new(Cursor::new(&bytes)).unwrap();
        assert_eq!(reader.spec(), header(rate(), 2).unwrap());
        assert_eq!(reader.spec().sample_rate, 8_048_640);
        let bits: Vec<u32> = reader.samples::<f32>().map(|s| s.unwrap().to_bits()).collect();
        assert_eq!(bits, INTERLEAVED.map(f32::to_bits));
    }

    fn word(bytes: &[u8], at: usize) -> u32 {
        u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap())
    }

    fn half(bytes: &[u8], at: usize) -> u16 {
        u16::from_le_bytes(bytes[at..at + 2].try_into().unwrap())
    }

    /// Walks the chunks of a RIFF file: identifier and contents.
    fn chunks(file: &[u8]) -> Vec<(&[u8], &[u8])> {
        assert_eq!(&file[..4], b"RIFF");
        assert_eq!(word(file, 4) as usize, file.len() - 8);
        assert_eq!(&file[8..12], b"WAVE");
        let (mut at, mut chunks) = (12, Vec::new());
        while at < file.len() {
            let size = word(file, at + 4) as usize;
            chunks.push((&file[at..at + 4], &file[at + 8..at + 8 + size]));
            at += 8 + size + size % 2;
        }
        assert_eq!(at, file.len());
        chunks
    }

    #[test]
    fn the_chunks_say_32_bit_float_and_hold_the_samples_in_turn() {
        let file = example();
        let chunks = chunks(&file);
        let names: Vec<&[u8]> = chunks.iter().map(|chunk| chunk.0).collect();
        assert_eq!(names, [b"fmt ", b"data"]);
        let format = chunks[0].1;
        assert_eq!(half(format, 0), 0xFFFE, "extensible");
        assert_eq!(half(format, 2), 2, "channels");
        assert_eq!(word(format, 4), 8_048_640, "samples per second");
        assert_eq!(word(format, 8), 8_048_640 * 8, "bytes per second");
        assert_eq!(half(format, 12), 8, "bytes per frame");
        assert_eq!(half(format, 14), 32, "bits per sample");
        assert_eq!(half(format, 16), 22, "size of the extension");
        assert_eq!(half(format, 18), 32, "valid bits");
        assert_eq!(half(format, 24), 3, "IEEE float");
        let samples: Vec<u32> = chunks[1].1.chunks(4).map(|bytes| word(bytes, 0)).collect();
        assert_eq!(samples, INTERLEAVED.map(f32::to_bits));
    }

    #[test]
    fn the_rate_is_rounded_to_the_nearest_hertz() {
        let hertz = |n, d| whole_hertz(ClockRate::new(n, d).unwrap());
        assert_eq!(hertz(315_000_000, 88), Some(3_579_545)); // 3 579 545.45...
        assert_eq!(hertz(3, 2), Some(2));
        assert_eq!(hertz(1, 3), None);
        assert_eq!(hertz(1 << 32, 1), None);
    }

    /// A file that must not be touched.
    struct Untouchable;

    impl Write for Untouchable {
        fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
            panic!("written to")
        }
        fn flush(&mut self) -> std::io::Result<()> {
            panic!("flushed")
        }
    }

    impl Seek for Untouchable {
        fn seek(&mut self, _: std::io::SeekFrom) -> std::io::Result<u64> {
            panic!("sought in")
        }
    }

    #[test]
    fn what_would_pass_4_gib_is_refused_before_the_first_byte() {
        // 4 294 967 235 bytes fit; two channels of 4 bytes make frames of 8.
        let most = MOST_SAMPLE_BYTES / 8;
        let refused = WavSink::new(Untouchable, rate(), 2, most + 1).unwrap_err();
        assert!(matches!(refused, WavError::TooLong { bytes: 4_294_967_240 }), "{refused}");
        let refused = WavSink::new(Untouchable, rate(), 2, u64::MAX).unwrap_err();
        assert!(matches!(refused, WavError::TooLong { .. }), "{refused}");
        assert!(WavSink::new(Cursor::new(Vec::new()), rate(), 2, most).is_ok());
        assert_eq!(fitting_samples(2), most);
    }

    #[test]
    fn what_the_header_cannot_state_is_refused_before_the_first_byte() {
        let fast = ClockRate::new(600_000_000, 1).unwrap();
        let refused = WavSink::new(Untouchable, fast, 2, 1).unwrap_err();
        assert!(matches!(refused, WavError::Rate { channels: 2, .. }), "{refused}");
        for channels in [0, 16_384, usize::MAX] {
            let refused = WavSink::new(Untouchable, rate(), channels, 1).unwrap_err();
            assert!(matches!(refused, WavError::Channels { .. }), "{refused}");
        }
    }

    #[test]
    fn fields_that_do_not_fit_the_file_are_refused() {
        let mut sink = WavSink::new(Cursor::new(Vec::new()), rate(), 2, 3).unwrap();
        let refused = sink.write_field(&[trace("plug", &[0.0])]).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "the field has 1 waveforms, but the WAV file was begun for 2"
        );
        let uneven = [trace("plug", &[0.0]), trace("mix", &[0.0, 1.0])];
        assert_eq!(
            sink.write_field(&uneven).unwrap_err().to_string(),
            "the waveform at `mix` does not match its field: \
             2 samples at 8048640 Hz instead of 1 samples at 8048640 Hz"
        );
        let long = [trace("plug", &[0.0; 4]), trace("mix", &[0.0; 4])];
        assert_eq!(
            sink.write_field(&long).unwrap_err().to_string(),
            "the WAV file was begun for 3 samples a waveform, but 4 were given"
        );
    }

    #[test]
    fn a_file_left_short_says_so() {
        let mut sink = WavSink::new(Cursor::new(Vec::new()), rate(), 1, 3).unwrap();
        sink.write_field(&[trace("plug", &[0.0, 1.0])]).unwrap();
        assert!(matches!(sink.finish(), Err(WavError::OtherLength { promised: 3, written: 2 })));
    }
}
