//! A stored waveform read back from its WAV file.

use crate::analysis::check::wave::StoredWave;
use hound::SampleFormat;
use hound::WavReader;
use std::io::Read;
use thiserror::Error;

/// Why a file holds no waveform.
#[derive(Debug, Error)]
pub enum WavReadError {
    /// Not a WAV file, or a broken one.
    #[error("{0}")]
    Read(#[from] hound::Error),
    /// Samples of another kind, or several waveforms.
    #[error("it holds {channels} waveforms of {bits} bits{kind}; one of 32-bit float is needed")]
    OtherForm {
        /// Waveforms.
        channels: u16,
        /// Bits a sample.
        bits: u16,
        /// " float" or nothing.
        kind: &'static str,
    },
    /// A sample is no number.
    #[error("sample {sample} is not a finite number")]
    NotANumber {
        /// Which.
        sample: usize,
    },
}

/// Reads one waveform of 32-bit float, 1.0 = 1 V, as [`WavSink`](crate::output::wav::WavSink) writes
/// it.
///
/// # Errors
///
/// [`WavReadError`] if it is anything else.
pub fn read_wave(file: impl Read) -> Result<StoredWave, WavReadError> {
    let reader = WavReader::new(file)?;
    let spec = reader.spec();
    let is_float = spec.sample_format == SampleFormat::Float;
    if spec.channels != 1 || spec.bits_per_sample != 32 || !is_float {
        return Err(WavReadError::OtherForm {
            channels: spec.channels,
            bits: spec.bits_per_sample,
            kind: if is_float { " float" } else { "" },
        });
    }
    let volts = reader.into_samples::<f32>().collect::<Result<Vec<f32>, _>>()?;
    if let Some(sample) = volts.iter().position(|volts| !volts.is_finite()) {
        return Err(WavReadError::NotANumber { sample });
    }
    Ok(StoredWave { rate_hz: spec.sample_rate, volts })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::ticks::ClockRate;
    use crate::output::wav::WavSink;
    use crate::signal::trace::Trace;
    use std::io::Cursor;

    fn written(waves: &[&[f32]]) -> Vec<u8> {
        let rate = ClockRate::new(16_097_281, 2).unwrap();
        let traces: Vec<Trace> = waves
            .iter()
            .map(|volts| Trace { node: "plug".to_owned(), rate, volts: volts.to_vec() })
            .collect();
        let mut bytes = Cursor::new(Vec::new());
        let samples = waves[0].len() as u64;
        let mut sink = WavSink::new(&mut bytes, rate, waves.len(), samples).unwrap();
        sink.write_field(&traces).unwrap();
        sink.finish().unwrap();
        bytes.into_inner()
    }

    #[test]
    fn what_was_written_is_read_back_to_the_last_bit() {
        let volts = [0.0, 0.3, -5.5, f32::MIN_POSITIVE];
        let wave = read_wave(written(&[&volts]).as_slice()).unwrap();
        assert_eq!((wave.rate_hz, wave.volts.as_slice()), (8_048_641, &volts[..]));
    }

    #[test]
    fn two_waveforms_half_a_file_and_no_number_are_refused() {
        let two = read_wave(written(&[&[0.0], &[1.0]]).as_slice()).unwrap_err().to_string();
        assert!(two.starts_with("it holds 2 waveforms of 32 bits float"), "{two}");
        let whole = written(&[&[0.0, 1.0]]);
        assert!(read_wave(&whole[..whole.len() - 2]).is_err());
        let odd = read_wave(written(&[&[0.0, f32::NAN]]).as_slice()).unwrap_err().to_string();
        assert_eq!(odd, "sample 1 is not a finite number");
    }
}
