//! The way into the set: coupling and picture amplifier, and the levels at the socket.

use crate::base::coupling::Coupling;
use crate::base::math;
use crate::base::parallel;
use crate::receiver::ReceiverError;
use crate::receiver::bandwidth::Bessel;
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
    if !all_finite(&signal.volts)
        && let Some(at) = signal.volts.iter().position(|volts| !volts.is_finite())
    {
        return Err(ReceiverError::NotANumber { at_s: math::from_usize(at) * step_s });
    }
    let filter = Bessel::new(spec.bandwidth_hz, step_s, f64::from(first));
    let coupling = || spec.coupling_hz.map(|hertz| Coupling::settled(hertz, step_s, &signal.volts));
    let (mut volts, coupling) = parallel::two(|| filter.filtered(&signal.volts), coupling);
    if let Some(mut coupling) = coupling {
        // The order of the two makes no difference to the output; this one settles the filter first.
        coupling.apply(&mut volts);
    }
    let delay_s = filter.delay_s;
    Ok((volts, delay_s))
}

/// Whether every sample is a number; all are looked at, which is quicker than to stop at the first.
fn all_finite(volts: &[f32]) -> bool {
    volts.iter().fold(true, |all, volts| all & volts.is_finite())
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
