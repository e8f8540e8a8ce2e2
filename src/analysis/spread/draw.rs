//! The values of one board, by lot.

use crate::base::math;
use crate::base::random::Draws;
use crate::scenario::spread::Factor;
use crate::scenario::spread::Law;

/// A value for every factor of board `number`: the number chooses the stream of a generator that has
/// 2⁶⁴ of them, so that boards have nothing to do with one another.
pub(super) fn draws(factors: &[Factor], seed: u64, number: u64) -> Vec<f64> {
    let mut lot = Draws::new(seed, number);
    factors.iter().map(|factor| draw(&factor.law, &mut lot)).collect()
}

fn draw(law: &Law, lot: &mut Draws) -> f64 {
    match law {
        Law::Uniform { low, high } => math::lerp(*low, *high, lot.uniform()),
        Law::Normal { mean, deviation, limit } => loop {
            let off = deviation * lot.normal();
            if off.abs() <= *limit {
                return mean + off;
            }
        },
        Law::Listed(values) => {
            let count = math::from_usize(values.len());
            values[math::floor_index(lot.uniform() * count).min(values.len() - 1)]
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::spread::Varies;

    fn of(law: Law) -> Vec<f64> {
        let factor = Factor { name: String::new(), what: Varies::Temperature, law };
        (0..20_000).map(|k| draws(std::slice::from_ref(&factor), 7, k)[0]).collect()
    }

    fn moments(values: &[f64]) -> (f64, f64) {
        let count = math::from_usize(values.len());
        let mean = values.iter().sum::<f64>() / count;
        (mean, (values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / count).sqrt())
    }

    /// Mean and deviation of each law; any text on statistics. A uniform one between ±a has a/√3; a
    /// normal one cut at three deviations has 0.9866 of its own.
    #[test]
    fn laws_have_their_mean_and_deviation_and_keep_their_ends() {
        let uniform = of(Law::Uniform { low: 95.0, high: 105.0 });
        let (mean, deviation) = moments(&uniform);
        assert!(
            (mean - 100.0).abs() < 0.08 && (deviation / (5.0 / 3.0_f64.sqrt()) - 1.0).abs() < 0.02
        );
        assert!(uniform.iter().all(|v| (95.0..105.0).contains(v)));
        let normal = of(Law::Normal { mean: 100.0, deviation: 2.0, limit: 6.0 });
        let (mean, deviation) = moments(&normal);
        assert!((mean - 100.0).abs() < 0.06 && (deviation / (2.0 * 0.9866) - 1.0).abs() < 0.02);
        assert!(normal.iter().all(|v| (v - 100.0).abs() <= 6.0));
        let listed = of(Law::Listed(vec![1.0, 2.0, 4.0]));
        for value in [1.0, 2.0, 4.0] {
            let share =
                math::from_usize(listed.iter().filter(|v| (**v - value).abs() < 1e-12).count())
                    / 20_000.0;
            assert!((share - 1.0 / 3.0).abs() < 0.014, "{share}");
        }
    }
}
