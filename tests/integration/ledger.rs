//! Books on a board while it is solved: what flows into every node must stay there, and what the
//! sources deliver must be kept or turned to heat.
//!
//! The currents, charges and energies are those of the equations written down separately
//! ([`crate::plain`]), taken along the curve that samples lie on, by Gauss's rule within every step.
//! Charge and energy that are kept are closed forms at the end of every step, against those at the
//! end of the step before, so that nothing that happens between two steps escapes.

use crate::plain::Plain;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::PartKind;
use backporch::network::watch::Accepted;

/// How a step is integrated over.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Rule {
    /// At the points by which the solver took it, by the solver's own weights. What is off in each
    /// step is added up without its sign, for a wrong charge goes as it came.
    Stages,
    /// On the curve between its ends, at these shares with these weights. What counts is how far all
    /// steps together were off at the worst moment: the curve errs to either side.
    Curve(&'static [(f64, f64)]),
}

impl Rule {
    /// What counts after a step that was `off`, all steps together being off by `net`.
    fn count(self, so_far: f64, off: f64, net: f64) -> f64 {
        match self {
            Self::Stages => so_far + off.abs(),
            Self::Curve(_) => so_far.max(net.abs()),
        }
    }

    /// Shares, weights and unknowns of all rows.
    fn points(self, step: &Accepted<'_>) -> Vec<(f64, f64, Vec<f64>)> {
        match self {
            Self::Stages => {
                let stages = step.stages().into_iter();
                stages
                    .map(|point| (point.share, point.weight, behind_ground(point.unknowns)))
                    .collect()
            }
            Self::Curve(points) => {
                let points = points.iter();
                points
                    .map(|&(share, weight)| (share, weight, behind_ground(step.unknowns(share))))
                    .collect()
            }
        }
    }
}

/// Gauss's rule of three points, exact to the fifth power.
///
/// # Source
///
/// M. Abramowitz and I. Stegun, *Handbook of Mathematical Functions*, table 25.4, moved to 0 to 1.
pub(crate) const THREE_POINTS: Rule = Rule::Curve(&[
    (0.112_701_665_379_258_31, 5.0 / 18.0),
    (0.5, 8.0 / 18.0),
    (0.887_298_334_620_741_7, 5.0 / 18.0),
]);

/// What a board keeps at a moment.
struct Kept {
    coulombs: Vec<f64>,
    joules: f64,
}

/// What has passed so far, by one rule.
struct Book {
    rule: Rule,
    /// Integral over the step of the currents that leave each row, C.
    left: Vec<f64>,
    /// What sources delivered in the step less what turned to heat, J.
    spare_j: f64,
    /// Integral over all steps of the sizes of the currents, C.
    passed: Vec<f64>,
    delivered_j: f64,
    /// Charge at each row, and energy, that all steps together were off, with signs.
    net_c: Vec<f64>,
    net_j: f64,
    /// What counts of it; see [`Rule`].
    off_c: Vec<f64>,
    off_j: f64,
}

/// The books on a board.
pub(crate) struct Ledger<'a> {
    circuit: &'a Circuit,
    /// Place of each of the equations' mixtures among the drivers of a step.
    places: Vec<usize>,
    /// At the end of the last step.
    before: Option<Kept>,
    books: Vec<Book>,
    steps: usize,
}

/// How far a book is from balance.
#[derive(Clone, Debug)]
pub(crate) struct Balance {
    /// Worst row: charge that has come from nowhere, as a share of all that passed there.
    pub(crate) charge: f64,
    /// That row.
    pub(crate) row: usize,
    /// Energy that has come from nowhere, as a share of all that sources delivered.
    pub(crate) energy: f64,
    pub(crate) steps: usize,
}

/// Where the drivers of the parts that have one, in the order of the parts, stand among a step's
/// drivers: pins, then gates and switches, then adapters.
fn places(circuit: &Circuit) -> Vec<usize> {
    let rank = |kind: &PartKind| match kind {
        PartKind::Pin(_) => Some(0),
        PartKind::Gate(_) | PartKind::AnalogueSwitch(_) => Some(1),
        PartKind::Adapter(_) => Some(2),
        _ => None,
    };
    let ranks: Vec<i32> = circuit.parts.iter().filter_map(|part| rank(&part.kind)).collect();
    let before = |at: usize| {
        let earlier = |(other, rank): (usize, &i32)| (*rank, other) < (ranks[at], at);
        ranks.iter().enumerate().filter(|&pair| earlier(pair)).count()
    };
    (0..ranks.len()).map(before).collect()
}

/// The unknowns of all rows.
fn behind_ground(mut unknowns: Vec<f64>) -> Vec<f64> {
    unknowns.insert(0, 0.0);
    unknowns
}

impl Book {
    fn new(rule: Rule, rows: usize) -> Self {
        let none = || vec![0.0; rows];
        Self {
            rule,
            left: none(),
            spare_j: 0.0,
            passed: none(),
            delivered_j: 0.0,
            net_c: none(),
            net_j: 0.0,
            off_c: none(),
            off_j: 0.0,
        }
    }

    /// Adds what passes at a point that stands for so many seconds.
    fn add(&mut self, plain: &Plain<'_>, part_s: f64) {
        for (sum, amps) in self.left.iter_mut().zip(&plain.amps) {
            *sum += part_s * amps;
        }
        for (sum, size) in self.passed.iter_mut().zip(&plain.size) {
            *sum += part_s.abs() * size;
        }
        self.delivered_j += part_s * plain.delivered_w;
        self.spare_j += part_s * (plain.delivered_w - plain.heat_w);
    }

    /// Closes a step by what is kept before and after it.
    fn close(&mut self, before: &Kept, now: &Kept) {
        for row in 0..self.left.len() {
            let off = self.left[row] + (now.coulombs[row] - before.coulombs[row]);
            self.net_c[row] += off;
            self.off_c[row] = self.rule.count(self.off_c[row], off, self.net_c[row]);
        }
        let off = self.spare_j - (now.joules - before.joules);
        self.net_j += off;
        self.off_j = self.rule.count(self.off_j, off, self.net_j);
        assert!(self.net_j.is_finite(), "no energy is without end");
        self.left.fill(0.0);
        self.spare_j = 0.0;
    }

    fn balance(&self, steps: usize) -> Balance {
        // Ground is where all that has no other end comes from.
        let shares = self.off_c.iter().zip(&self.passed).enumerate().skip(1);
        let shares = shares.map(|(row, (off, passed))| (row, off / passed.max(f64::MIN_POSITIVE)));
        let worst = shares.max_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
        Balance { charge: worst.1, row: worst.0, energy: self.off_j / self.delivered_j, steps }
    }
}

impl<'a> Ledger<'a> {
    /// One book for each rule.
    pub(crate) fn new(circuit: &'a Circuit, rules: &[Rule], rows: usize) -> Self {
        let books = rules.iter().map(|&rule| Book::new(rule, rows)).collect();
        Self { circuit, places: places(circuit), before: None, books, steps: 0 }
    }

    fn kept(&self, step: &Accepted<'_>, share: f64) -> Kept {
        // What is kept does not ask how the drivers stand.
        let idle = vec![[0.0; 8]; self.places.len()];
        let unknowns = behind_ground(step.unknowns(share));
        let plain = Plain::new(self.circuit, &unknowns, &idle);
        Kept { coulombs: plain.coulombs, joules: plain.stored_j }
    }

    /// Enters a step.
    pub(crate) fn enter(&mut self, step: &Accepted<'_>) {
        let before = self.before.take().unwrap_or_else(|| self.kept(step, 0.0));
        let now = self.kept(step, 1.0);
        for book in &mut self.books {
            for (share, weight, unknowns) in book.rule.points(step) {
                let drivers = step.drivers(share);
                let mixture: Vec<_> = self.places.iter().map(|&place| drivers[place]).collect();
                let plain = Plain::new(self.circuit, &unknowns, &mixture);
                book.add(&plain, weight * step.length_s());
            }
            book.close(&before, &now);
        }
        self.before = Some(now);
        self.steps += 1;
    }

    /// What every book has come to.
    pub(crate) fn balances(&self) -> Vec<Balance> {
        self.books.iter().map(|book| book.balance(self.steps)).collect()
    }
}
