//! The equations' values at one point: currents, charges, and a matrix of their slopes.

use crate::network::matrix::Matrix;

/// Row or column of an unknown; `None` is ground.
pub(crate) type Unknown = Option<usize>;

/// Most states a driver can have; a combined pin has five.
pub(crate) const MAX_STATES: usize = 8;

/// Share of each state in a driver's present output; they add to 1.
pub(crate) type Weights = [f64; MAX_STATES];

/// All weight on one state.
pub(crate) fn all_on(state: usize) -> Weights {
    let mut weights = [0.0; MAX_STATES];
    weights[state] = 1.0;
    weights
}

/// What the matrix is to hold: a mixture of charge slopes and current slopes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mix {
    /// Weight of dq/dx.
    pub(crate) charge: f64,
    /// Weight of df/dx.
    pub(crate) current: f64,
}

/// The equations evaluated at one point.
#[derive(Clone, Debug)]
pub(crate) struct Evaluation {
    /// Currents leaving, by row.
    pub(crate) f: Vec<f64>,
    /// Charge, by row.
    pub(crate) q: Vec<f64>,
    /// The mixture of slopes, if one was asked for.
    pub(crate) jacobian: Matrix,
    /// The slopes of charge in the last mixture, F.
    pub(crate) farads: Matrix,
    /// Whether a junction was evaluated short of the voltage asked for.
    pub(crate) limited: bool,
    mix: Option<Mix>,
    /// Where rows and columns stand in the matrix.
    places: [Vec<usize>; 2],
}

/// Voltage of an unknown; ground is 0.
#[inline]
pub(crate) fn at(x: &[f64], unknown: Unknown) -> f64 {
    unknown.map_or(0.0, |index| x[index])
}

/// Adds to one row; ground has none.
pub(crate) fn add_to(rows: &mut [f64], unknown: Unknown, value: f64) {
    if let Some(row) = unknown {
        rows[row] += value;
    }
}

impl Evaluation {
    /// Nothing yet, for so many unknowns.
    pub(crate) fn new(order: usize) -> Self {
        Self {
            f: vec![0.0; order],
            q: vec![0.0; order],
            jacobian: Matrix::new(order),
            farads: Matrix::new(order),
            limited: false,
            mix: None,
            places: [(0..order).collect(), (0..order).collect()],
        }
    }

    /// For equations of which some rows and columns alone enter the matrix, which is of that size, at
    /// these places.
    pub(crate) fn of_some(places: [Vec<usize>; 2], size: usize) -> Self {
        let order = places[0].len();
        let (jacobian, farads) = (Matrix::new(size), Matrix::new(size));
        Self { jacobian, farads, places, ..Self::new(order) }
    }

    /// Starts over. Without a mix the matrix is left alone.
    pub(crate) fn begin(&mut self, mix: Option<Mix>) {
        self.q.fill(0.0);
        self.limited = false;
        self.mix = mix;
        if mix.is_some() {
            self.jacobian.clear();
            self.farads.clear();
        }
    }

    /// Current leaving a node.
    pub(crate) fn add_current(&mut self, row: Unknown, amps: f64) {
        add_to(&mut self.f, row, amps);
    }

    /// Current leaving a node, and charge on it.
    #[inline]
    pub(crate) fn add(&mut self, row: Unknown, amps: f64, coulombs: f64) {
        if let Some(row) = row {
            self.f[row] += amps;
            self.q[row] += coulombs;
        }
    }

    /// Whether slopes were asked for.
    pub(crate) fn wants_slopes(&self) -> bool {
        self.mix.is_some()
    }

    /// Slope of a row's current and charge against an unknown.
    #[inline]
    pub(crate) fn add_slope(&mut self, row: Unknown, column: Unknown, siemens: f64, farads: f64) {
        if let (Some(mix), Some(row), Some(column)) = (self.mix, row, column) {
            let (at, beside) = (self.places[0][row], self.places[1][column]);
            self.jacobian.add(at, beside, mix.current * siemens + mix.charge * farads);
            if farads != 0.0 {
                self.farads.add(at, beside, farads);
            }
        }
    }

    /// Current and charge between two nodes.
    pub(crate) fn add_branch(&mut self, ends: [Unknown; 2], amps: f64, coulombs: f64) {
        self.add(ends[0], amps, coulombs);
        self.add(ends[1], -amps, -coulombs);
    }

    /// Slopes of a branch against the voltage across it.
    pub(crate) fn add_branch_slope(&mut self, ends: [Unknown; 2], siemens: f64, farads: f64) {
        if self.mix.is_none() {
            return;
        }
        let [plus, minus] = ends;
        self.add_slope(plus, plus, siemens, farads);
        self.add_slope(minus, minus, siemens, farads);
        self.add_slope(plus, minus, -siemens, -farads);
        self.add_slope(minus, plus, -siemens, -farads);
    }
}
