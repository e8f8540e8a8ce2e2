//! What is linear in the equations of a board while its drivers stand still.

use crate::network::evaluation::Mix;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::Weights;
use crate::network::evaluation::add_to;
use crate::network::evaluation::at;
use crate::network::matrix::Matrix;
use crate::network::stage::Straight;
use crate::network::system::Driver;
use crate::network::system::Store;
use crate::network::system::System;

/// How far above the corner of its curve a supply has to stand for a stage to be taken as straight, V.
const CLEAR_V: f64 = 0.05;
/// No entry: a driver's end at ground.
const NONE: usize = usize::MAX;

/// An ideal source between a node and ground: the node's voltage is given, and the source's current
/// follows when all else is known.
#[derive(Clone, Debug)]
pub(crate) struct Rail {
    pub(crate) node: usize,
    /// The unknown of the current out of the node.
    pub(crate) branch: usize,
    pub(crate) volts: f64,
    /// The other entries of the node's row.
    entries: Vec<usize>,
}

/// A capacitor of the board between two nodes.
#[derive(Clone, Copy, Debug)]
struct Bridge {
    ends: [usize; 2],
    farads: f64,
}

/// The linear entries of the equations, drivers that stand still among them.
#[derive(Clone, Debug)]
pub(crate) struct LinearPart {
    pub(crate) rows: Vec<usize>,
    pub(crate) columns: Vec<usize>,
    /// Without the drivers and with them, S.
    own_siemens: Vec<f64>,
    siemens: Vec<f64>,
    /// Of all capacitances, F.
    farads: Vec<f64>,
    /// The entries with charge that are no bridge's: row, column, F.
    charged: Vec<(usize, usize, f64)>,
    bridges: Vec<Bridge>,
    /// For each driver the entries of node and supply against node and supply.
    driven: Vec<[usize; 4]>,
    pub(crate) rails: Vec<Rail>,
    /// Which drivers are taken as linear at present.
    pub(crate) straight: Vec<bool>,
    /// Currents of the sources and of those drivers at 0 V, A.
    pushed: Vec<f64>,
    /// Supplies that must not fall below so many volts.
    least: Vec<(Unknown, f64)>,
}

impl LinearPart {
    /// Of a board.
    pub(crate) fn new(system: &System) -> Self {
        let mut part = Self {
            rows: Vec::new(),
            columns: Vec::new(),
            own_siemens: Vec::new(),
            siemens: Vec::new(),
            farads: Vec::new(),
            charged: Vec::new(),
            bridges: Vec::new(),
            driven: Vec::new(),
            rails: Vec::new(),
            straight: vec![false; system.drivers.len()],
            pushed: Vec::new(),
            least: Vec::new(),
        };
        for entry in &system.linear {
            let index = part.entry(entry.row, entry.column);
            part.own_siemens[index] += entry.siemens;
            part.farads[index] += entry.farads;
        }
        for store in &system.stores {
            part.add_store(store);
        }
        for driver in &system.drivers {
            let ends = [driver.node, driver.supply];
            let entries =
                [0, 1, 2, 3].map(|index: usize| match (ends[index / 2], ends[index % 2]) {
                    (Some(row), Some(column)) => part.entry(row, column),
                    _ => NONE,
                });
            part.driven.push(entries);
        }
        for ends in part.bridges.iter().map(|bridge| bridge.ends).collect::<Vec<_>>() {
            part.bridge_entries(ends);
        }
        part.sort();
        part.add_bridges();
        part.rails = part.find_rails(system);
        part
    }

    /// Of a board, with no driver taken in.
    pub(crate) fn of_passive(system: &System) -> Self {
        let mut part = Self::new(system);
        part.siemens.clone_from(&part.own_siemens);
        part.pushed.clone_from(&system.source);
        part
    }

    fn add_store(&mut self, Store { ends, farads }: &Store) {
        let farads = *farads;
        match *ends {
            [Some(first), Some(last)] => self.bridges.push(Bridge { ends: [first, last], farads }),
            [Some(node), None] | [None, Some(node)] => {
                let index = self.entry(node, node);
                self.farads[index] += farads;
            }
            [None, None] => {}
        }
    }

    /// The entries of a bridge: at its ends, and across.
    fn bridge_entries(&mut self, [first, last]: [usize; 2]) -> [(usize, f64); 4] {
        [(first, first, 1.0), (last, last, 1.0), (first, last, -1.0), (last, first, -1.0)]
            .map(|(row, column, sign)| (self.entry(row, column), sign))
    }

    /// Notes the entries with charge, then adds to them what the bridges have, which is looked up bridge
    /// by bridge where rounding counts.
    fn add_bridges(&mut self) {
        let charged = (0..self.rows.len()).filter(|&index| self.farads[index] != 0.0);
        self.charged = charged
            .map(|index| (self.rows[index], self.columns[index], self.farads[index]))
            .collect();
        for Bridge { ends, farads } in self.bridges.clone() {
            for (index, sign) in self.bridge_entries(ends) {
                self.farads[index] += sign * farads;
            }
        }
    }

    /// The index of an entry, which is made if there is none.
    fn entry(&mut self, row: usize, column: usize) -> usize {
        let mut known = self.rows.iter().zip(&self.columns);
        if let Some(index) = known.position(|(&r, &c)| (r, c) == (row, column)) {
            return index;
        }
        self.rows.push(row);
        self.columns.push(column);
        for values in [&mut self.own_siemens, &mut self.farads] {
            values.push(0.0);
        }
        self.rows.len() - 1
    }

    /// Brings the entries into the order of their rows.
    fn sort(&mut self) {
        let mut sorted: Vec<usize> = (0..self.rows.len()).collect();
        sorted.sort_by_key(|&index| (self.rows[index], self.columns[index]));
        for values in [&mut self.own_siemens, &mut self.farads] {
            *values = sorted.iter().map(|&index| values[index]).collect();
        }
        for indices in [&mut self.rows, &mut self.columns] {
            *indices = sorted.iter().map(|&index| indices[index]).collect();
        }
        for entry in self.driven.iter_mut().flatten().filter(|entry| **entry != NONE) {
            *entry = sorted.iter().position(|index| index == entry).unwrap_or(NONE);
        }
    }

    fn find_rails(&self, system: &System) -> Vec<Rail> {
        let all = || 0..self.rows.len();
        let rail = |branch: usize| {
            let mut own = all().filter(|&index| self.rows[index] == branch);
            let (first, second) = (own.next()?, own.next());
            let node = self.columns[first];
            let is_ideal = second.is_none() && self.farads[first] == 0.0 && node < system.nodes;
            let entries = all()
                .filter(|&index| self.rows[index] == node && self.columns[index] != branch)
                .collect();
            let volts = -system.source[branch] / self.own_siemens[first];
            is_ideal.then_some(Rail { node, branch, volts, entries })
        };
        (system.nodes..system.order).filter_map(rail).collect()
    }

    /// Takes in the drivers that stand still, with the board at `x`.
    pub(crate) fn take_in(
        &mut self,
        system: &System,
        weights: &[Weights],
        is_still: &[bool],
        x: &[f64],
    ) {
        self.siemens.clone_from(&self.own_siemens);
        self.pushed.clone_from(&system.source);
        self.least.clear();
        for (index, driver) in system.drivers.iter().enumerate() {
            let straight = is_still[index].then(|| driver.straight(&weights[index])).flatten();
            let clear = straight.filter(|straight| {
                straight.least_supply.is_infinite()
                    || at(x, driver.supply) > straight.least_supply + CLEAR_V
            });
            self.straight[index] = clear.is_some();
            if let Some(straight) = clear {
                self.take_driver(index, driver, &straight);
            }
        }
    }

    fn take_driver(&mut self, index: usize, driver: &Driver, straight: &Straight) {
        let entries = self.driven[index];
        let slopes = [straight.per_node + straight.leakage, straight.per_supply]
            .into_iter()
            .chain([-straight.returned_per_node, -straight.returned_per_supply]);
        for (entry, siemens) in entries.into_iter().zip(slopes) {
            if entry != NONE {
                self.siemens[entry] += siemens;
            }
        }
        add_to(&mut self.pushed, driver.node, straight.amps);
        add_to(&mut self.pushed, driver.supply, -straight.returned_amps);
        let supply = (driver.supply, straight.least_supply);
        if supply.1.is_finite() && !self.least.contains(&supply) {
            self.least.push(supply);
        }
    }

    /// Whether drivers that were taken as straight are so at `x`.
    pub(crate) fn holds(&self, x: &[f64]) -> bool {
        self.least.iter().all(|&(supply, least)| at(x, supply) >= least)
    }

    /// The entries of C + reach · G.
    pub(crate) fn entries(&self, reach: f64) -> impl Iterator<Item = f64> + '_ {
        let slopes = self.farads.iter().zip(&self.siemens);
        slopes.map(move |(farads, siemens)| farads + reach * siemens)
    }

    /// Adds a mixture of the slopes to a matrix of all unknowns.
    pub(crate) fn add_to(&self, mix: Mix, matrix: &mut Matrix) {
        let places = self.rows.iter().zip(&self.columns);
        for ((&row, &column), (farads, siemens)) in
            places.zip(self.farads.iter().zip(&self.siemens))
        {
            matrix.add(row, column, mix.charge * farads + mix.current * siemens);
        }
    }

    /// Sets `amps` to the linear part of the currents at `x`.
    pub(crate) fn current(&self, x: &[f64], amps: &mut [f64]) {
        amps.copy_from_slice(&self.pushed);
        let places = self.rows.iter().zip(&self.columns);
        for ((&row, &column), siemens) in places.zip(&self.siemens) {
            amps[row] += siemens * x[column];
        }
    }

    /// Sets `amps` to all currents at `x`, those of the curved parts being known.
    pub(crate) fn current_with(&self, curved: &[f64], x: &[f64], amps: &mut [f64]) {
        self.current(x, amps);
        for (amps, curved) in amps.iter_mut().zip(curved) {
            *amps += curved;
        }
    }

    /// Adds the linear part of what charges take in at these slopes. What flows through a bridge enters
    /// both its ends as the same number.
    pub(crate) fn add_charging(&self, slopes: &[f64], amps: &mut [f64]) {
        for &(row, column, farads) in &self.charged {
            amps[row] += farads * slopes[column];
        }
        for &Bridge { ends: [first, last], farads } in &self.bridges {
            let through = farads * (slopes[first] - slopes[last]);
            amps[first] += through;
            amps[last] -= through;
        }
    }

    /// The row of a rail in C + reach · G times `x`, its own current left out.
    pub(crate) fn rail_row(&self, rail: &Rail, reach: f64, x: &[f64]) -> f64 {
        let entry = |&index: &usize| {
            (self.farads[index] + reach * self.siemens[index]) * x[self.columns[index]]
        };
        rail.entries.iter().map(entry).sum()
    }

    /// What flows out of a rail's node by way of linear parts, its own current left out, A.
    pub(crate) fn rail_current(&self, rail: &Rail, x: &[f64], slopes: &[f64]) -> f64 {
        let entry = |&index: &usize| {
            let column = self.columns[index];
            self.siemens[index] * x[column] + self.farads[index] * slopes[column]
        };
        self.pushed[rail.node] + rail.entries.iter().map(entry).sum::<f64>()
    }
}
