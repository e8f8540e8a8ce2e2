//! The way into the set: coupling and picture amplifier, and the levels at the socket.

use crate::base::math;
use crate::receiver::ReceiverError;
use crate::receiver::bandwidth::Bessel;
use crate::receiver::coupling::Coupling;
use crate::receiver::slicer;
use crate::receiver::spec::ReceiverSpec;
use crate::receiver::spec::SyncMeasure;
use crate::receiver::sync;
use crate::receiver::sync::Separated;
use crate::signal::trace::Trace;

/// The waveform behind the input capacitor and the video filter, and the filter's delay.
pub(super) fn amplify(
    signal: &Trace,
    spec: &ReceiverSpec,
) -> Result<(Vec<f32>, f64), ReceiverError> {
    let step_s = signal.step_s();
    let first = *signal.volts.first().ok_or(ReceiverError::NoSamples)?;
    if let Some(at) = signal.volts.iter().position(|volts| !volts.is_finite()) {
        return Err(ReceiverError::NotANumber { at_s: math::from_usize(at) * step_s });
    }
    let filter = Bessel::new(spec.bandwidth_hz, step_s, f64::from(first));
    let mut volts = filter.filtered(&signal.volts);
    if let Some(corner_hz) = spec.coupling_hz {
        // The order of the two makes no difference to the output; this one settles the filter first.
        Coupling::settled(corner_hz, step_s, &signal.volts).apply(&mut volts);
    }
    let delay_s = filter.delay_s;
    Ok((volts, delay_s))
}

/// Levels at the socket, where the filter has not yet delayed the pulses.
pub(super) fn measure(
    signal: &Trace,
    sync: &Separated,
    delay_s: f64,
    spec: &ReceiverSpec,
) -> Option<SyncMeasure> {
    let earlier = |time_s: Option<f64>| time_s.map(|time_s| time_s - delay_s);
    let pulses: Vec<slicer::Pulse> = sync
        .line
        .iter()
        .map(|&at| sync.pulses[at])
        .map(|pulse| slicer::Pulse {
            leading_s: earlier(pulse.leading_s),
            trailing_s: earlier(pulse.trailing_s),
        })
        .collect();
    let levels = sync::levels(&signal.volts, signal.step_s(), &pulses, spec)?;
    Some(SyncMeasure {
        tip_v: levels.tip_v,
        porch_v: levels.porch_v,
        slice_v: math::lerp(levels.tip_v, levels.porch_v, spec.slice),
        line_period_s: sync.period_s,
        line_sync_s: sync.width_s,
    })
}
