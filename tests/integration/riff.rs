//! A small reader of WAV files, made from the format's description and not from any library.
//!
//! RIFF: chunks of four letters, a length of 32 bits with its low byte first, and the data, padded
//! to an even number of bytes that the length does not count. The extensible form of the `fmt `
//! chunk has the tag 0xFFFE and says at byte 24 what its samples are.

/// A file's contents.
#[derive(Debug)]
pub(crate) struct Wave {
    /// Samples a second, as the header states it.
    pub(crate) whole_hertz: u32,
    /// The waveforms, one for each channel.
    pub(crate) channels: Vec<Vec<f32>>,
}

const FLOAT: u16 = 3;
const EXTENSIBLE: u16 = 0xFFFE;

fn u16_at(bytes: &[u8], at: usize) -> u16 {
    u16::from_le_bytes([bytes[at], bytes[at + 1]])
}

fn u32_at(bytes: &[u8], at: usize) -> u32 {
    u32::from_le_bytes([bytes[at], bytes[at + 1], bytes[at + 2], bytes[at + 3]])
}

/// The chunks behind the file's own header: name and data.
fn chunks(file: &[u8]) -> Vec<(&[u8], &[u8])> {
    assert_eq!((&file[..4], &file[8..12]), (&b"RIFF"[..], &b"WAVE"[..]));
    let length = usize::try_from(u32_at(file, 4)).unwrap();
    assert_eq!(length + 8, file.len(), "the RIFF chunk is not as long as the file");
    let mut found = Vec::new();
    let mut at = 12;
    while at < file.len() {
        let length = usize::try_from(u32_at(file, at + 4)).unwrap();
        let data = &file[at + 8..at + 8 + length];
        found.push((&file[at..at + 4], data));
        at += 8 + length + length % 2;
    }
    found
}

/// Reads a file of 32-bit floating-point samples.
pub(crate) fn read(file: &[u8]) -> Wave {
    let chunks = chunks(file);
    let chunk = |name: &[u8]| chunks.iter().position(|(known, _)| *known == name).unwrap();
    let (format_at, data_at) = (chunk(b"fmt "), chunk(b"data"));
    assert!(format_at < data_at, "the format stands behind the samples");
    let (format, data) = (chunks[format_at].1, chunks[data_at].1);
    let tag = match u16_at(format, 0) {
        EXTENSIBLE => u16_at(format, 24),
        tag => tag,
    };
    let (channel_count, whole_hertz) = (u16_at(format, 2), u32_at(format, 4));
    let frame_bytes = u16_at(format, 12);
    assert_eq!((tag, u16_at(format, 14)), (FLOAT, 32), "samples are no 32-bit floats");
    assert_eq!(frame_bytes, 4 * channel_count);
    assert_eq!(u32_at(format, 8), whole_hertz * u32::from(frame_bytes), "bytes a second");
    let mut channels = vec![Vec::new(); usize::from(channel_count)];
    for (index, sample) in data.chunks_exact(4).enumerate() {
        let value = f32::from_le_bytes([sample[0], sample[1], sample[2], sample[3]]);
        channels[index % usize::from(channel_count)].push(value);
    }
    assert_eq!(data.len() % usize::from(frame_bytes), 0, "half a frame at the end");
    Wave { whole_hertz, channels }
}

#[test]
fn unknown_chunks_and_pad_bytes_are_stepped_over() {
    let mut file =
        b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0\x03\0\x02\0\x40\x1f\0\0\0\xfa\0\0\x08\0\x20\0".to_vec();
    file.extend(b"note\x03\0\0\0abc\0data\x08\0\0\0\0\0\x80\x3f\0\0\0\xc0");
    let length = u32::try_from(file.len() - 8).unwrap();
    file[4..8].copy_from_slice(&length.to_le_bytes());
    let wave = read(&file);
    assert_eq!(wave.whole_hertz, 8000);
    assert_eq!(wave.channels, [[1.0], [-2.0]]);
}
