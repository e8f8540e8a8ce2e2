//! What is linear in the equations of a board while its drivers stand still.

use crate::network::evaluation::Unknown;
use crate::network::evaluation::Weights;
use crate::network::evaluation::add_to;
use crate::network::evaluation::at;
use crate::network::stage::Straight;
use crate::network::system::Driver;
use crate::network::system::Store;
use crate::network::system::System;
use std::ops::Range;

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

/// A capacitor of the board with one end at ground, by its number.
#[derive(Clone, Copy, Debug)]
struct Shunt {
    store: usize,
    node: usize,
    farads: f64,
    /// 1, or −1 for one whose first end is at ground.
    sign: f64,
}

/// A capacitor of the board between two nodes.
#[derive(Clone, Copy, Debug)]
struct Bridge {
    store: usize,
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
    /// Without the board's capacitors, and theirs, F.
    farads: Vec<f64>,
    stored: Vec<f64>,
    /// Of every row its entries, which come row by row.
    ranges: Vec<Range<usize>>,
    /// The entries with charge: row, column, F.
    charged: Vec<(usize, usize, f64)>,
    /// For each driver the entries of node and supply against node and supply.
    driven: Vec<[usize; 4]>,
    /// The board's capacitors to ground and between nodes.
    shunts: Vec<Shunt>,
    bridges: Vec<Bridge>,
    pub(crate) rails: Vec<Rail>,
    /// Which drivers are taken as linear at present.
    pub(crate) straight: Vec<bool>,
    /// Currents of the sources and of those drivers at 0 V, A.
    pushed: Vec<f64>,
    /// Supplies that must not fall below so many volts.
    least: Vec<(Unknown, f64)>,
    /// Whether one has: from then on no driver with a corner is taken as linear.
    has_bent: bool,
    /// Of every entry, C + reach · G without the board's capacitors.
    mixed: Vec<f64>,
    reach: f64,
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
            stored: Vec::new(),
            ranges: Vec::new(),
            charged: Vec::new(),
            driven: Vec::new(),
            shunts: Vec::new(),
            bridges: Vec::new(),
            rails: Vec::new(),
            straight: vec![false; system.drivers.len()],
            pushed: Vec::new(),
            least: Vec::new(),
            has_bent: false,
            mixed: Vec::new(),
            reach: f64::NAN,
        };
        for entry in &system.linear {
            let index = part.entry(entry.row, entry.column);
            part.own_siemens[index] += entry.siemens;
            part.farads[index] += entry.farads;
        }
        for (index, store) in system.stores.iter().enumerate() {
            part.add_store(index, store);
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
        part.sort(system.order);
        part.mixed = vec![0.0; part.rows.len()];
        part.rails = part.find_rails(system);
        part
    }

    fn add_store(&mut self, store: usize, Store { ends, farads }: &Store) {
        let farads = *farads;
        let signs = [1.0, -1.0];
        for (row, row_sign) in ends.iter().zip(signs) {
            for (column, column_sign) in ends.iter().zip(signs) {
                if let (Some(row), Some(column)) = (row, column) {
                    let index = self.entry(*row, *column);
                    self.stored[index] += row_sign * column_sign * farads;
                }
            }
        }
        match *ends {
            [Some(first), Some(last)] => {
                self.bridges.push(Bridge { store, ends: [first, last], farads });
            }
            [Some(node), None] => self.shunts.push(Shunt { store, node, farads, sign: 1.0 }),
            [None, Some(node)] => self.shunts.push(Shunt { store, node, farads, sign: -1.0 }),
            [None, None] => {}
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
        for values in [&mut self.own_siemens, &mut self.farads, &mut self.stored] {
            values.push(0.0);
        }
        self.rows.len() - 1
    }

    /// Brings the entries into the order of their rows.
    fn sort(&mut self, order: usize) {
        let mut sorted: Vec<usize> = (0..self.rows.len()).collect();
        sorted.sort_by_key(|&index| (self.rows[index], self.columns[index]));
        for values in [&mut self.own_siemens, &mut self.farads, &mut self.stored] {
            *values = sorted.iter().map(|&index| values[index]).collect();
        }
        for indices in [&mut self.rows, &mut self.columns] {
            *indices = sorted.iter().map(|&index| indices[index]).collect();
        }
        for entry in self.driven.iter_mut().flatten().filter(|entry| **entry != NONE) {
            *entry = sorted.iter().position(|index| index == entry).unwrap_or(NONE);
        }
        let until = |row: usize| self.rows.partition_point(|&other| other < row);
        self.ranges = (0..order).map(|row| until(row)..until(row + 1)).collect();
        let charged = (0..self.rows.len()).filter(|&index| self.farads[index] != 0.0);
        self.charged = charged
            .map(|index| (self.rows[index], self.columns[index], self.farads[index]))
            .collect();
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
        self.reach = f64::NAN;
        for (index, driver) in system.drivers.iter().enumerate() {
            let straight = is_still[index].then(|| driver.straight(&weights[index])).flatten();
            let clear = straight.filter(|straight| {
                let supply = at(x, driver.supply);
                straight.least_supply.is_infinite()
                    || (!self.has_bent && supply > straight.least_supply + CLEAR_V)
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
    pub(crate) fn holds(&mut self, x: &[f64]) -> bool {
        let holds = self.least.iter().all(|&(supply, least)| at(x, supply) >= least);
        self.has_bent |= !holds;
        holds
    }

    /// Makes the mixture of charge and so much of current.
    pub(crate) fn mix(&mut self, reach: f64) {
        self.reach = reach;
        let slopes = self.farads.iter().zip(&self.siemens);
        for (mixed, (farads, siemens)) in self.mixed.iter_mut().zip(slopes) {
            *mixed = farads + reach * siemens;
        }
    }

    /// Of the present mixture.
    pub(crate) fn reach(&self) -> f64 {
        self.reach
    }

    /// Whether this mixture is the present one.
    pub(crate) fn is_mixed(&self, reach: f64) -> bool {
        self.reach.total_cmp(&reach).is_eq()
    }

    /// The entries of the mixture with the board's capacitors.
    pub(crate) fn entries(&self) -> impl Iterator<Item = f64> + '_ {
        self.mixed.iter().zip(&self.stored).map(|(mixed, stored)| mixed + stored)
    }

    /// Takes away from `left` the linear part of q + reach · f at `x`.
    pub(crate) fn subtract(&self, x: &[f64], from: &[f64], left: &mut [f64]) {
        let rows = self.ranges.iter().zip(&self.pushed);
        for (left, (range, pushed)) in left.iter_mut().zip(rows) {
            *left -= self.reach * pushed + self.product(&self.mixed, range, x);
        }
        self.add_stored(-1.0, x, from, left);
    }

    /// Adds so many times what the board's capacitors hold at `x` more than at `from`: the same number
    /// enters both ends.
    fn add_stored(&self, times: f64, x: &[f64], from: &[f64], to: &mut [f64]) {
        for shunt in &self.shunts {
            let volts = x[shunt.node] - shunt.sign * from[shunt.store];
            to[shunt.node] += times * (shunt.farads * volts);
        }
        for bridge in &self.bridges {
            let [first, last] = bridge.ends;
            let coulombs = times * (bridge.farads * (x[first] - x[last] - from[bridge.store]));
            to[first] += coulombs;
            to[last] -= coulombs;
        }
    }

    /// The linear part of the charge.
    pub(crate) fn charge(&self, x: &[f64], from: &[f64], charge: &mut [f64]) {
        charge.fill(0.0);
        for &(row, column, farads) in &self.charged {
            charge[row] += farads * x[column];
        }
        self.add_stored(1.0, x, from, charge);
    }

    /// The linear part of the current.
    pub(crate) fn current(&self, x: &[f64], amps: &mut [f64]) {
        let rows = self.ranges.iter().zip(&self.pushed);
        for (amps, (range, pushed)) in amps.iter_mut().zip(rows) {
            *amps = pushed + self.product(&self.siemens, range, x);
        }
    }

    /// A row of entries with these values times `x`.
    fn product(&self, values: &[f64], range: &Range<usize>, x: &[f64]) -> f64 {
        let entries = values[range.clone()].iter().zip(&self.columns[range.clone()]);
        entries.map(|(value, &column)| value * x[column]).sum()
    }

    /// The linear part of q + reach · f at `x` in the row of a rail, its own current left out.
    pub(crate) fn rail_total(&self, rail: &Rail, x: &[f64], from: &[f64]) -> f64 {
        let entries = rail.entries.iter();
        let mut total: f64 = entries.map(|&index| self.mixed[index] * x[self.columns[index]]).sum();
        total += self.reach * self.pushed[rail.node];
        for shunt in self.shunts.iter().filter(|shunt| shunt.node == rail.node) {
            total += shunt.farads * (x[shunt.node] - shunt.sign * from[shunt.store]);
        }
        for bridge in self.bridges.iter().filter(|bridge| bridge.ends.contains(&rail.node)) {
            let [first, last] = bridge.ends;
            let coulombs = bridge.farads * (x[first] - x[last] - from[bridge.store]);
            total += if first == rail.node { coulombs } else { -coulombs };
        }
        total
    }

    /// What the mixture with the board's capacitors makes of `x` in the row of a rail, its own current
    /// left out.
    pub(crate) fn rail_row(&self, rail: &Rail, x: &[f64]) -> f64 {
        let value =
            |&index: &usize| (self.mixed[index] + self.stored[index]) * x[self.columns[index]];
        rail.entries.iter().map(value).sum()
    }
}
