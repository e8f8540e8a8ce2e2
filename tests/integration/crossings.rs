//! Where a waveform passes a level.

use backporch::base::math;

/// In samples, between them along a straight line: falling edges and rising ones.
pub(crate) fn crossings<V: Copy + Into<f64>>(volts: &[V], level: f64) -> (Vec<f64>, Vec<f64>) {
    let (mut falling, mut rising) = (Vec::new(), Vec::new());
    for (index, pair) in volts.windows(2).enumerate() {
        let [before, after] = [pair[0].into() - level, pair[1].into() - level];
        if (before < 0.0) != (after < 0.0) {
            let at = math::from_usize(index) + before / (before - after);
            if after < 0.0 { falling.push(at) } else { rising.push(at) }
        }
    }
    (falling, rising)
}
