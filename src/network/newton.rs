//! When Newton's method is done with a stage, and when its factors are made anew.

/// Iterations in a stage before the step is given up.
const MOST_ITERATIONS: u32 = 14;
/// A stage is solved when the next correction is below this share of the tolerance. What is left
/// over counts for more than its volts where a saturated junction holds most of the charge.
const STAGE_SHARE: f64 = 1e-3;
/// What the rate of the last iterations foretells may be wrong by ten.
const RATE_SHARE: f64 = 0.1;
/// A correction below this share that no longer falls is rounding.
const ROUNDING_SHARE: f64 = 3e-3;
/// A correction of this size leads nowhere, nor does one that is no number, V or A.
const FAR_OFF_V: f64 = 1e6;

/// The iterations of one step after another.
#[derive(Clone, Debug)]
pub(crate) struct Iterations {
    tolerance_v: f64,
    /// A stage is solved when the next correction is below this, V.
    enough_v: f64,
    /// Whether the factors still serve.
    pub(crate) fresh: bool,
    /// By how much an iteration with those factors made the last correction smaller.
    rate: f64,
    previous: f64,
    left: u32,
}

/// What to do after a correction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Verdict {
    /// It was the last.
    Enough,
    More,
    /// It leads nowhere.
    Lost,
}

impl Iterations {
    pub(crate) fn new(tolerance_v: f64) -> Self {
        let enough_v = STAGE_SHARE * tolerance_v;
        Self { tolerance_v, enough_v, fresh: false, rate: 1.0, previous: f64::INFINITY, left: 0 }
    }

    /// A step with other factors follows, solved to `enough_v`, V.
    pub(crate) fn forget(&mut self) {
        self.fresh = false;
    }

    /// As exact as only a jump has to be, V.
    pub(crate) fn with_enough(mut self, enough_v: f64) -> Self {
        self.enough_v = enough_v;
        self
    }

    /// A stage begins.
    pub(crate) fn begin(&mut self) {
        self.previous = f64::INFINITY;
        self.left = MOST_ITERATIONS;
    }

    /// The factors were made anew.
    pub(crate) fn refreshed(&mut self) {
        self.fresh = true;
        self.rate = 1.0;
    }

    /// Looks at a correction by its largest part.
    pub(crate) fn judge(&mut self, size: f64, is_limited: bool) -> Verdict {
        if size >= FAR_OFF_V {
            return Verdict::Lost;
        }
        // What is left after this correction is about its size times the rate.
        if self.previous.is_finite() {
            self.rate = (size / self.previous).min(1.0);
        }
        let slow = size > 0.3 * self.previous;
        let stuck = slow && size < ROUNDING_SHARE * self.tolerance_v;
        if (self.rate * size < RATE_SHARE * self.enough_v || stuck) && !is_limited {
            return Verdict::Enough;
        }
        if is_limited || slow {
            self.fresh = false;
        }
        self.previous = size;
        self.left -= 1;
        if self.left == 0 { Verdict::Lost } else { Verdict::More }
    }
}
