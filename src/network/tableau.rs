//! The one-step method: coefficients of a singly diagonally implicit Runge–Kutta method.
//!
//! Five stages, order 4 with an embedded order 3, L-stable, and its last stage is the end of the
//! step, so that algebraic nodes are met exactly there.
//!
//! # Source
//!
//! E. Hairer and G. Wanner, *Solving Ordinary Differential Equations II*, section IV.6, the
//! method with γ = 1/4.

/// Number of stages.
pub(crate) const STAGES: usize = 5;

/// Diagonal coefficient γ.
pub(crate) const GAMMA: f64 = 0.25;

/// Stage moments, as shares of the step.
pub(crate) const MOMENTS: [f64; STAGES] = [0.25, 0.75, 11.0 / 20.0, 0.5, 1.0];

/// Coefficients below the diagonal; the last row with [`GAMMA`] is also the step's weights.
pub(crate) const BELOW: [[f64; STAGES - 1]; STAGES] = [
    [0.0, 0.0, 0.0, 0.0],
    [0.5, 0.0, 0.0, 0.0],
    [17.0 / 50.0, -1.0 / 25.0, 0.0, 0.0],
    [371.0 / 1360.0, -137.0 / 2720.0, 15.0 / 544.0, 0.0],
    [25.0 / 24.0, -49.0 / 48.0, 125.0 / 16.0, -85.0 / 12.0],
];

/// Step's weights less the embedded method's.
pub(crate) const ERROR: [f64; STAGES] = [-3.0 / 16.0, -27.0 / 32.0, 25.0 / 32.0, 0.0, 0.25];

/// Share of each known slope, the first at the start of the step and then those of the stages, in
/// the slope expected at a stage: the polynomial through them at its moment. The last stage, which
/// lies outside them, takes the straight line through two, for more would enlarge their errors.
pub(crate) const PREDICTION: [[f64; STAGES]; STAGES] = [
    [1.0, 0.0, 0.0, 0.0, 0.0],
    [-2.0, 3.0, 0.0, 0.0, 0.0],
    [-0.32, 0.88, 0.44, 0.0, 0.0],
    [-1.0 / 33.0, 1.0 / 6.0, -1.0 / 12.0, 125.0 / 132.0, 0.0],
    [0.0, 0.0, 2.0, 0.0, -1.0],
];

#[cfg(test)]
mod tests {
    use super::*;

    fn row(stage: usize) -> [f64; STAGES] {
        let mut row = [0.0; STAGES];
        row[..STAGES - 1].copy_from_slice(&BELOW[stage]);
        row[stage] = GAMMA;
        row
    }

    /// Sum over the stages of weight times factor.
    fn sum(weights: [f64; STAGES], factor: impl Fn(usize) -> f64) -> f64 {
        (0..STAGES).map(|stage| weights[stage] * factor(stage)).sum()
    }

    fn through(stage: usize, factor: impl Fn(usize) -> f64) -> f64 {
        sum(row(stage), factor)
    }

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() < 1e-13
    }

    #[test]
    fn rows_add_to_their_moments() {
        for (stage, moment) in MOMENTS.into_iter().enumerate() {
            assert!(near(through(stage, |_| 1.0), moment), "stage {stage}");
        }
    }

    #[test]
    fn predictions_are_exact_for_polynomials_of_as_many_slopes_as_they_use() {
        for (stage, shares) in PREDICTION.into_iter().enumerate() {
            let known = |j: usize| if j == 0 { 0.0 } else { MOMENTS[j - 1] };
            let used = shares.iter().filter(|share| share.abs() > 0.0).count();
            for power in 0..used {
                let raised = |moment: f64| (0..power).fold(1.0, |product, _| product * moment);
                let predicted = sum(shares, |j| raised(known(j)));
                assert!(near(predicted, raised(MOMENTS[stage])), "stage {stage}, power {power}");
            }
        }
    }

    #[test]
    fn the_weights_meet_the_eight_conditions_of_order_four() {
        let (b, c) = (row(STAGES - 1), |i: usize| MOMENTS[i]);
        let ac = |i| through(i, c);
        assert!(near(sum(b, |_| 1.0), 1.0));
        assert!(near(sum(b, c), 1.0 / 2.0));
        assert!(near(sum(b, |i| c(i) * c(i)), 1.0 / 3.0));
        assert!(near(sum(b, ac), 1.0 / 6.0));
        assert!(near(sum(b, |i| c(i) * c(i) * c(i)), 1.0 / 4.0));
        assert!(near(sum(b, |i| c(i) * ac(i)), 1.0 / 8.0));
        assert!(near(sum(b, |i| through(i, |j| c(j) * c(j))), 1.0 / 12.0));
        assert!(near(sum(b, |i| through(i, ac)), 1.0 / 24.0));
    }

    #[test]
    fn the_embedded_weights_are_of_order_three_only() {
        let mut b = row(STAGES - 1);
        for (weight, error) in b.iter_mut().zip(ERROR) {
            *weight -= error;
        }
        let c = |i: usize| MOMENTS[i];
        assert!(near(sum(b, |_| 1.0), 1.0));
        assert!(near(sum(b, c), 1.0 / 2.0));
        assert!(near(sum(b, |i| c(i) * c(i)), 1.0 / 3.0));
        assert!(near(sum(b, |i| through(i, c)), 1.0 / 6.0));
        assert!(!near(sum(b, |i| c(i) * c(i) * c(i)), 1.0 / 4.0));
    }
}
