//! Newton's method on the standing equations, and what to do where it fails.

use crate::network::evaluation::Evaluation;
use crate::network::evaluation::Mix;
use crate::network::evaluation::Weights;
use crate::network::junctions::Junctions;
use crate::network::operating_point::OperatingPoint;
use crate::network::system::System;

/// Iterations after which Newton's method is held to have failed.
const MOST_ITERATIONS: u32 = 150;
/// Iterations that one board may cost, in all states of its gates.
const MOST_IN_ALL: u32 = 1_000_000;
/// A step of Newton's method below this is no step, V.
const SETTLED_VOLTS: f64 = 1e-10;
/// Iterations after which it is asked whether rounding alone keeps the steps from settling.
const PATIENCE: u32 = 25;
/// A step larger than this share of the one before is no longer on its way to nothing.
const STALLED: f64 = 0.05;
/// Voltages beyond this are taken for a search gone astray, not for rounding.
const FAR_VOLTS: f64 = 1e6;
/// Where an honest answer may lie far off, as with a current drawn through a teraohm, beyond these.
const ABSURD_VOLTS: f64 = 1e12;

/// Newton's method, with what it carries from one try to the next.
pub(crate) struct Search<'a> {
    pub(crate) system: &'a System,
    pub(crate) x: Vec<f64>,
    junctions: Junctions,
    pub(crate) evaluation: Evaluation,
    pub(crate) iterations: u32,
    /// Whether rows are brought to one size, so that one of a large current cannot drown another.
    rescale: bool,
    /// Whether nodes that hang by less than the last bit of what surrounds them are held back in
    /// each step: they then stay where they are, and it is the currents' balance that counts.
    ///
    /// In last bits of a node's own slope; 0 for not at all.
    firm_bits: f64,
    effort: Effort,
    /// The first of [`EFFORTS`] that is worth a try: what took more before will take it again.
    easiest: usize,
    /// The first levels found.
    first: Option<Place>,
}

/// What one round of tries puts into it.
#[derive(Clone, Copy)]
struct Effort {
    /// What may be left over at a node besides rounding, A.
    left_amps: f64,
    /// Whether each step is solved for a second time with what the first has left over. That mends
    /// what a row of huge slopes has drowned, and makes a nearly singular matrix worse.
    refine: bool,
}

/// Where a search stands.
type Place = (Vec<f64>, Junctions);

/// Why a try ended without an answer.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Stuck {
    /// This unknown is not determined.
    Singular(usize),
    /// The iterations ran out.
    Unsettled,
}

const STANDING: Mix = Mix { charge: 0.0, current: 1.0 };

impl<'a> Search<'a> {
    /// From levels that may lie near, or from nothing.
    pub(crate) fn new(system: &'a System, near: Option<&OperatingPoint>) -> Self {
        Self::at(system, near.map(|near| near.x.clone()))
    }

    /// From unknowns that may lie near, or from nothing.
    pub(crate) fn at(system: &'a System, near: Option<Vec<f64>>) -> Self {
        let x = near.unwrap_or_else(|| vec![0.0; system.order]);
        let mut junctions = Junctions::default();
        system.start_junctions(&x, &mut junctions);
        let evaluation = Evaluation::new(system.order);
        Self {
            system,
            x,
            junctions,
            evaluation,
            iterations: 0,
            rescale: false,
            firm_bits: 0.0,
            effort: EFFORTS[0],
            easiest: 0,
            first: None,
        }
    }

    /// Goes back to all nodes at ground.
    pub(crate) fn restart(&mut self) {
        self.x.fill(0.0);
        self.system.start_junctions(&self.x, &mut self.junctions);
    }

    /// Finds the levels: plainly if it goes, otherwise by way of a board on which every node is
    /// also held to ground by a conductance that is taken away little by little, otherwise by
    /// letting the nodes drift to their levels as if each had a capacitor.
    pub(crate) fn settle(&mut self, weights: &[Weights]) -> Result<(), Stuck> {
        let place = self.place();
        let mut result = Err(Stuck::Unsettled);
        for (index, effort) in EFFORTS.into_iter().enumerate().skip(self.easiest) {
            self.effort = effort;
            self.return_to(place.clone());
            result = self.settle_within(weights);
            if result.is_ok() {
                self.easiest = index;
                break;
            }
        }
        result?;
        if self.first.is_none() {
            self.first = Some(self.place());
        }
        Ok(())
    }

    /// The same, with the present effort.
    fn settle_within(&mut self, weights: &[Weights]) -> Result<(), Stuck> {
        self.rescale = false;
        if self.newton(weights, Hold::NONE).is_ok() {
            return Ok(());
        }
        self.rescale = true;
        self.restart();
        self.let_go(weights);
        if self.finish(weights).is_ok() {
            return Ok(());
        }
        self.restart();
        self.drift(weights);
        self.finish(weights)
    }

    /// Holds every node to ground less and less.
    fn let_go(&mut self, weights: &[Weights]) {
        let ground = vec![0.0; self.system.nodes];
        let (mut siemens, mut factor) = (1.0, 0.1);
        while siemens > FAINT_SIEMENS {
            let place = self.place();
            if self.newton(weights, Hold { siemens, to: &ground }).is_ok() {
                siemens *= factor;
                continue;
            }
            self.return_to(place);
            siemens /= factor;
            factor = factor.sqrt();
            if factor > 0.97 {
                break;
            }
            siemens *= factor;
        }
    }

    /// Holds every node to where it just was, less and less: steps in time with a capacitor at
    /// every node, each longer than the last if it goes.
    fn drift(&mut self, weights: &[Weights]) {
        let mut siemens = 10.0;
        for _ in 0..MOST_MOVES {
            let place = self.place();
            let hold = Hold { siemens, to: &place.0[..self.system.nodes] };
            if self.newton(weights, hold).is_ok() {
                siemens *= 0.3;
            } else {
                self.return_to(place);
                siemens *= 10.0;
            }
            if !(FAINT_SIEMENS..MOST_SIEMENS).contains(&siemens) {
                return;
            }
        }
    }

    /// The last approach, from nearby; if need be with a matrix made firm.
    fn finish(&mut self, weights: &[Weights]) -> Result<(), Stuck> {
        let place = self.place();
        let Err(stuck) = self.newton(weights, Hold::NONE) else { return Ok(()) };
        for bits in FIRM_BITS {
            self.return_to(place.clone());
            self.firm_bits = bits;
            let firmly = self.newton(weights, Hold::NONE);
            self.firm_bits = 0.0;
            if firmly.is_ok() {
                return Ok(());
            }
        }
        Err(stuck)
    }

    /// Goes back to the first levels found.
    pub(crate) fn return_to_first(&mut self) {
        if let Some(first) = self.first.clone() {
            self.return_to(first);
        }
    }

    fn place(&self) -> Place {
        (self.x.clone(), self.junctions.clone())
    }

    fn return_to(&mut self, place: Place) {
        (self.x, self.junctions) = place;
    }

    fn evaluate(&mut self, weights: &[Weights], hold: Hold) {
        let evaluation = &mut self.evaluation;
        self.system.evaluate((&self.x, weights), Some(STANDING), &mut self.junctions, evaluation);
        for (node, to) in hold.to.iter().enumerate() {
            evaluation.f[node] += hold.siemens * (self.x[node] - to);
            evaluation.jacobian.add(node, node, hold.siemens);
        }
    }

    /// Whether a node stands where no board has one, so that rounding excuses anything.
    fn is_astray(&self) -> bool {
        let far_volts = if self.rescale && !self.effort.refine { ABSURD_VOLTS } else { FAR_VOLTS };
        self.x[..self.system.nodes].iter().any(|volts| volts.abs() > far_volts)
    }

    /// Whether what is left over at every node is no more than rounding makes of it.
    fn is_balanced(&self) -> bool {
        const LAST_BITS: f64 = 16.0 * f64::EPSILON;
        if self.rescale && self.is_astray() {
            return false;
        }
        let sizes = self.evaluation.jacobian.sizes(&self.x, self.system.nodes);
        let mut rows = self.evaluation.f.iter().zip(sizes);
        !self.evaluation.limited
            && rows.all(|(left, size)| left.abs() <= self.effort.left_amps + LAST_BITS * size)
    }

    /// Whether the currents balance as well as rounding allows, at voltages that a board can have;
    /// asked where the steps have stopped shrinking.
    fn is_at_rest(&mut self, weights: &[Weights], hold: Hold) -> bool {
        if self.is_astray() {
            return false;
        }
        if !self.evaluation.limited {
            return self.is_balanced();
        }
        // Junctions may be held back for ever where rounding throws their node about.
        let held_back = self.junctions.clone();
        self.system.start_junctions(&self.x, &mut self.junctions);
        self.evaluate(weights, hold);
        if self.is_balanced() {
            return true;
        }
        self.junctions = held_back;
        self.evaluate(weights, hold);
        false
    }

    fn newton(&mut self, weights: &[Weights], hold: Hold) -> Result<(), Stuck> {
        let mut steps = [f64::INFINITY; 2];
        for iteration in 0..MOST_ITERATIONS {
            if self.iterations >= MOST_IN_ALL {
                return Err(Stuck::Unsettled);
            }
            self.iterations += 1;
            self.evaluate(weights, hold);
            let [before, last] = steps;
            if iteration > PATIENCE && last > STALLED * before && self.is_at_rest(weights, hold) {
                return Ok(());
            }
            let step = self.step()?;
            let mut largest: f64 = 0.0;
            for (x, step) in self.x.iter_mut().zip(&step) {
                *x -= step;
                largest = largest.max(step.abs() / (1.0 + x.abs()));
            }
            if !self.x.iter().all(|x| x.is_finite()) {
                return Err(Stuck::Unsettled);
            }
            steps = [last, largest];
            if largest < SETTLED_VOLTS && !self.evaluation.limited {
                // Where conductances lie so far apart, a small step alone proves nothing.
                let is_plain = self.evaluation.jacobian.spread() < PLAIN_SPREAD
                    && self.firm_bits <= 0.0
                    && !self.effort.refine;
                if is_plain || {
                    self.evaluate(weights, hold);
                    self.is_balanced()
                } {
                    return Ok(());
                }
            }
        }
        Err(Stuck::Unsettled)
    }

    /// The step of Newton's method, to be taken away from where it stands.
    fn step(&mut self) -> Result<Vec<f64>, Stuck> {
        let Evaluation { jacobian, f, .. } = &mut self.evaluation;
        let mut step = f.clone();
        if self.firm_bits > 0.0 {
            jacobian.firm(self.system.nodes, FAINT_SIEMENS, self.firm_bits);
        }
        if self.rescale {
            jacobian.put_first(self.system.nodes);
            for (step, factor) in step.iter_mut().zip(jacobian.level_rows()) {
                *step *= factor;
            }
        }
        let order = self.system.order;
        let currents = if self.rescale { order - self.system.nodes } else { 0 };
        let unknown = |column| Stuck::Singular((column + order - currents) % order);
        let refine = self.rescale && self.effort.refine;
        let whole = refine.then(|| (jacobian.clone(), step.clone()));
        jacobian.factorize().map_err(unknown)?;
        jacobian.solve(&mut step);
        if let Some((whole, mut left)) = whole {
            // Once more for what elimination has lost of small rows to large ones: R. D. Skeel,
            // "Iterative refinement implies numerical stability for Gaussian elimination",
            // Mathematics of Computation 35 (1980).
            whole.subtract_product(&step, &mut left);
            jacobian.solve(&mut left);
            step.iter_mut().zip(left).for_each(|(step, more)| *step += more);
        }
        step.rotate_left(currents);
        Ok(step)
    }
}

/// A conductance from every node to a voltage.
#[derive(Clone, Copy)]
struct Hold<'a> {
    siemens: f64,
    to: &'a [f64],
}

impl Hold<'_> {
    const NONE: Self = Self { siemens: 0.0, to: &[] };
}

/// How firmly nodes are held in the last tries, in last bits of their own slope.
const FIRM_BITS: [f64; 2] = [8.0, 1e6];
/// What is tried one after the other.
const EFFORTS: [Effort; 3] = [
    Effort { left_amps: 1e-18, refine: false },
    Effort { left_amps: 1e-13, refine: false },
    Effort { left_amps: 1e-13, refine: true },
];
/// Most steps of a drift.
const MOST_MOVES: u32 = 300;
/// A node held by this does not move, S.
const MOST_SIEMENS: f64 = 1e9;
/// Ratio of the pivots' sizes up to which a matrix is nothing out of the ordinary.
const PLAIN_SPREAD: f64 = 1e10;
/// A conductance that no board notices, S.
const FAINT_SIEMENS: f64 = 1e-16;
