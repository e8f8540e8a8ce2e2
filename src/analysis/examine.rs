//! A field examined: what each element amounts to on the received waveform and, where that is too
//! little, which part did it.

use crate::analysis::band;
use crate::analysis::cause::Subject;
use crate::analysis::cause::cause;
use crate::analysis::cause::lag;
use crate::analysis::ladder::Levels;
use crate::analysis::modulation::at_video_input;
use crate::analysis::reading::FieldReading;
use crate::analysis::reading::read_field;
use crate::analysis::sight::sight;
use crate::analysis::verdict::Note;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::network::error::NetworkError;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::simulate::FieldRun;
use crate::simulate::RunError;
use crate::simulate::first_field;

/// Reads the first field of a board, without words for slow pulses and without causes: what many
/// boards are looked at by.
///
/// # Errors
///
/// A board that cannot be solved or received.
pub fn glance(scenario: &Scenario) -> Result<FieldReading, RunError> {
    let field = first_field(scenario)?;
    let (trains, signal) = (&field.trains, &field.traces[0]);
    Ok(read_field(trains, signal, &field.reception, &scenario.received, None))
}

/// Reads a field and finds the causes.
///
/// # Errors
///
/// A board that cannot be solved.
pub fn examine(scenario: &Scenario, field: &FieldRun) -> Result<FieldReading, NetworkError> {
    let levels = Levels::new(scenario, &scenario.circuit)?;
    let elements = scenario.raster.elements.iter().zip(0..);
    let ids: Vec<ElementId> = elements.map(|(_, index)| ElementId(index)).collect();
    let settled = ids
        .iter()
        .map(|&element| levels.delta(element, scenario.output.node))
        .collect::<Result<Vec<f64>, _>>()?;
    let settled = at_video_input(scenario, &levels, &settled)?;
    let mut reading = read_field(
        &field.trains,
        &field.traces[0],
        &field.reception,
        &scenario.received,
        Some(&settled),
    );
    if !reading.taken_for_sync().is_empty() {
        reading.sync = SyncState::Failing;
    }
    if reading.sync != SyncState::Good {
        reading.sync_cause = cause(scenario, Subject::Sync)?;
    }
    let bands = band::bands(scenario)?;
    for shape in &mut reading.shapes {
        let seen = shape.surround_v.zip(shape.delta_v);
        shape.sight =
            seen.map(|(surround_v, delta_v)| sight(&scenario.receiver, surround_v, delta_v));
        let element = scenario.raster.elements.iter().position(|name| *name == shape.element);
        let Some(&element) = element.and_then(|index| ids.get(index)) else { continue };
        shape.band = band::differing(&bands, element);
        let short = shape.seen.is_some_and(|seen| seen != Seen::Clear);
        if short || shape.notes.contains(&Note::Smeared) {
            shape.cause = match cause(scenario, element)? {
                Some(cause) => Some(cause),
                None => lag::cause(scenario, element)?,
            };
        }
    }
    Ok(reading)
}
