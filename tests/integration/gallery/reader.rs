//! What can be read off a frame by looking at it: where marks stand, how wide their edges are, how bright
//! they are, and how much one frame is moved against another. It knows pixels and nothing else.

use backporch::base::math;
use backporch::signal::picture::Picture;
use std::ops::Range;

/// A frame as it is seen: light, row by row.
pub(super) struct Frame {
    pub(super) width: usize,
    rows: Vec<Vec<f64>>,
}

impl Frame {
    pub(super) fn new(picture: &Picture) -> Self {
        let rows = picture.luminance.chunks(picture.width);
        let rows = rows.map(|row| row.iter().map(|&light| f64::from(light)).collect()).collect();
        Self { width: picture.width, rows }
    }

    pub(super) fn height(&self) -> usize {
        self.rows.len()
    }

    /// Mean light of a place, rows and columns.
    pub(super) fn light(&self, rows: Range<usize>, columns: Range<usize>) -> f64 {
        let count = math::from_usize(rows.len() * columns.len());
        self.rows[rows].iter().flat_map(|row| &row[columns.clone()]).sum::<f64>() / count
    }

    /// The least and the most light anywhere.
    pub(super) fn extremes(&self) -> (f64, f64) {
        let all = || self.rows.iter().flatten().copied();
        (all().fold(f64::INFINITY, f64::min), all().fold(f64::NEG_INFINITY, f64::max))
    }

    /// Middle of what is lighter than half way between darkest and lightest among some columns of a
    /// row; `None` if nothing stands out by a tenth of white.
    pub(super) fn mark(&self, row: usize, columns: Range<usize>) -> Option<f64> {
        let part = &self.rows[row][columns.clone()];
        let dark = part.iter().copied().fold(f64::INFINITY, f64::min);
        let light = part.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if light - dark < 0.1 {
            return None;
        }
        let above = |light: f64| (light - dark).max(0.0);
        let weights = part.iter().map(|&at| above(at));
        let middles = (columns.start..).map(|column| math::from_usize(column) + 0.5);
        let moment: f64 =
            weights.clone().zip(middles).map(|(weight, middle)| weight * middle).sum();
        Some(moment / weights.sum::<f64>())
    }

    /// Middles of the mark in each row of a range.
    pub(super) fn marks(&self, rows: Range<usize>, columns: &Range<usize>) -> Vec<Option<f64>> {
        rows.map(|row| self.mark(row, columns.clone())).collect()
    }

    /// How bright each column of a row is, by what drives a tube: the inverse of BT.1886.
    pub(super) fn drives(&self, row: usize, black: f64) -> Vec<f64> {
        self.rows[row].iter().map(|&light| tube_drive(light, black)).collect()
    }

    /// Mean drive of every row over some columns.
    pub(super) fn row_drives(&self, columns: &Range<usize>, black: f64) -> Vec<f64> {
        let count = math::from_usize(columns.len());
        let mean = |row: &Vec<f64>| {
            let lit = row[columns.clone()].iter().map(|&light| tube_drive(light, black));
            lit.sum::<f64>() / count
        };
        self.rows.iter().map(mean).collect()
    }

    /// Rows by which this frame lies below another one, of those up to `most`: where their row profiles
    /// are most alike.
    pub(super) fn moved_down(&self, before: &Self, most: i32) -> i32 {
        let profile = |frame: &Self| -> Vec<f64> {
            frame.rows.iter().map(|row| row.iter().sum::<f64>()).collect()
        };
        let (now, then) = (profile(self), profile(before));
        let likeness = |shift: i32| -> f64 {
            let pairs = (0..i32::try_from(now.len()).unwrap()).filter_map(|row| {
                let from = usize::try_from(row - shift).ok()?;
                let apart = now[usize::try_from(row).unwrap()] - then.get(from)?;
                Some(apart * apart)
            });
            let (sum, count) = pairs.fold((0.0, 0.0), |all, one| (all.0 + one, all.1 + 1.0));
            -sum / count
        };
        let shifts = -most..=most;
        shifts.max_by(|a, b| likeness(*a).total_cmp(&likeness(*b))).unwrap()
    }

    /// Rows between one time that something bright crosses a column on the way down and the next: the
    /// median of all that are seen, below 0 if it goes to the left; `None` if it crosses once at most.
    /// `turn` is a line of the signal in columns: what moves on by nearly that has moved back a little.
    pub(super) fn pitch(&self, column: f64, turn: f64) -> Option<f64> {
        let marks =
            (0..self.height()).filter_map(|row| Some((row, self.mark(row, 0..self.width)?)));
        let mut marks: Vec<(usize, f64)> = marks.collect();
        // Rows of one line say the same twice.
        marks.dedup_by(|next, before| (next.1 - before.1).abs() < 1e-9);
        let (mut found, mut way) = (Vec::new(), 0.0);
        for pair in marks.windows(2) {
            let [(from, left), (to, right)] = [pair[0], pair[1]];
            let step = (right - left) - turn * math::round((right - left) / turn);
            // Only where one line follows another.
            if to - from > 3 || (right - left - step).abs() > 1e-9 {
                continue;
            }
            let share = (column - left) / step;
            if (0.0..1.0).contains(&share) {
                let rows = math::from_usize(to - from);
                found.push(math::from_usize(from) + share * rows);
                way += step;
            }
        }
        let apart = found.windows(2).map(|pair: &[f64]| pair[1] - pair[0]).collect();
        math::median(apart).map(|rows| rows * way.signum())
    }
}

/// The drive of a tube that gives a light: ITU-R BT.1886 solved for the signal, `black` its black over
/// its white.
pub(super) fn tube_drive(light: f64, black: f64) -> f64 {
    let root = math::pow(black, 1.0 / 2.4);
    (math::pow(light.max(0.0), 1.0 / 2.4) - root) / (1.0 - root)
}

/// Where a series passes a level, in places, from an index on upwards or downwards; between two of its
/// entries by a straight line.
pub(super) fn passes(series: &[f64], level: f64, range: Range<usize>) -> Option<f64> {
    range.into_iter().find_map(|at| {
        let (a, b) = (series[at] - level, series[at + 1] - level);
        (a * b <= 0.0 && a.abs() + b.abs() > 0.0).then(|| math::from_usize(at) + 0.5 + a / (a - b))
    })
}

/// The straight line through points, by least squares: height at 0 and slope.
pub(super) fn line_through(points: &[(f64, f64)]) -> (f64, f64) {
    let count = math::from_usize(points.len());
    let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / count;
    let (x, y) = (mean(|point| point.0), mean(|point| point.1));
    let moment = |of: &dyn Fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>();
    let slope = moment(&|point| (point.0 - x) * (point.1 - y))
        / moment(&|point| (point.0 - x) * (point.0 - x));
    (y - slope * x, slope)
}

#[test]
fn the_reader_finds_what_was_drawn() {
    let (width, height) = (64, 40);
    let mut picture = Picture { width, height, luminance: vec![0.0; width * height] };
    for row in 4..20 {
        picture.luminance[row * width + 10..row * width + 14].fill(1.0);
    }
    let frame = Frame::new(&picture);
    assert_eq!(frame.mark(5, 0..64), Some(12.0));
    assert_eq!(frame.mark(2, 0..64), None);
    picture.luminance.rotate_right(3 * width);
    assert_eq!(Frame::new(&picture).moved_down(&frame, 8), 3);
    // A tube of BT.1886 with no black: half the drive gives 0.18946 of the light.
    assert!((tube_drive(0.189_464_6, 0.0) - 0.5).abs() < 1e-6);
    assert_eq!(passes(&[0.0, 0.2, 0.6], 0.4, 0..2), Some(2.0));
    // A bar that goes 16 columns to the right with every row crosses a column every four rows.
    let mut slanted = Picture { width, height, luminance: vec![0.0; width * height] };
    for row in 0..height {
        let column = (row * 16 + 3) % 64;
        slanted.luminance[row * width + column..][..4].fill(1.0);
    }
    let pitch = Frame::new(&slanted).pitch(30.0, 64.0).unwrap();
    assert!((pitch - 4.0).abs() < 0.1, "{pitch}");
}
