//! `check --accept`: waveforms as they are become the ones that are expected.

use crate::cli::check::Answer;
use crate::cli::failure::Failure;
use crate::cli::files;
use crate::cli::files::OutputFolder;
use backporch::analysis::check::Checked;
use backporch::output::wav::WavSink;
use backporch::scenario::expect::Expectation;
use std::io::Cursor;
use std::path::Path;

/// Writes what is new or differs beside its place, and says of every waveform what becomes of it.
/// Nothing is stored for a board that is otherwise not as expected, and nothing is there before the
/// folders are finished.
pub(crate) fn prepare(answers: &mut [Answer]) -> Result<Vec<OutputFolder>, Failure> {
    let mut waiting = Vec::new();
    let mut stored: Vec<(String, Vec<u8>)> = Vec::new();
    for answer in answers {
        let Ok(checked) = &mut answer.checked else { continue };
        let Some((path, met)) = waveform(checked) else { continue };
        if met {
            answer.notes.push(format!("left {path}: near enough to what is stored"));
            continue;
        }
        if !checked.only_waveform_unmet() {
            answer.notes.push(format!("left {path}: the board is otherwise not as expected"));
            continue;
        }
        let bytes = wav(checked, &path)?;
        match stored.iter().find(|(known, _)| *known == path) {
            Some((_, known)) if *known != bytes => {
                return Err(Failure::plain(format!(
                    "two boards would store different waveforms in `{path}`: name another file in \
                     one of them, or `waveform = \"any\"` in a variant"
                )));
            }
            Some(_) => {}
            None => {
                waiting.push(files::waiting(Path::new(&path), &bytes)?);
                stored.push((path.clone(), bytes));
            }
        }
        checked.accept_waveform();
        answer.notes.push(format!("stored {path}"));
    }
    Ok(waiting)
}

/// The file of the expected waveform, and whether it is as expected.
fn waveform(checked: &Checked) -> Option<(String, bool)> {
    checked.findings.iter().find_map(|finding| match &finding.expected.what {
        Expectation::Waveform { path, .. } => Some((path.clone(), finding.met)),
        _ => None,
    })
}

fn wav(checked: &Checked, path: &str) -> Result<Vec<u8>, Failure> {
    let fail = |error| Failure::world(path, &error);
    let socket = std::slice::from_ref(&checked.socket);
    let mut bytes = Cursor::new(Vec::new());
    let samples = checked.socket.volts.len() as u64;
    let mut sink = WavSink::new(&mut bytes, checked.socket.rate, 1, samples).map_err(fail)?;
    sink.write_field(socket).map_err(fail)?;
    sink.finish().map_err(fail)?;
    Ok(bytes.into_inner())
}
