//! What is linear in the equations of a board while its drivers stand still.

use crate::network::condensed::Outcome;
use crate::network::device::AWAKE_VOLTS;
use crate::network::evaluation::Mix;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::Weights;
use crate::network::evaluation::add_to;
use crate::network::evaluation::at;
use crate::network::hold::held_ohms;
use crate::network::matrix::Matrix;
use crate::network::semiconductor::Sleeper;
use crate::network::stage::Straight;
use crate::network::system::Curved;
use crate::network::system::Driver;
use crate::network::system::Store;
use crate::network::system::System;
use std::collections::BTreeSet;

/// How far above the corner of its curve a supply has to stand for a stage to be taken as straight, V.
const CLEAR_V: f64 = 0.05;
/// How far from waking a diode has to be for it to be taken as asleep, V.
const DEEP_V: f64 = 0.01;
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
    /// Which drivers, chips and semiconductors are not taken as linear at present.
    pub(crate) curved: Curved,
    /// Currents of the sources, of those drivers at 0 V, of the chips and of the sleeping diodes, A.
    pushed: Vec<f64>,
    /// Supplies that must not fall below so many volts.
    least: Vec<(Unknown, f64)>,
    /// Of every semiconductor, what it is when it sleeps, if it ever does.
    sleepers: Vec<Option<Sleeper>>,
    /// Those that must not wake.
    asleep: Vec<usize>,
}

impl LinearPart {
    /// Of a board whose drivers, chips and diodes are then taken in.
    pub(crate) fn new(system: &System) -> Self {
        let mut part = Self::bare(system);
        let held_ohms = held_ohms(system, &part.rails);
        part.sleepers = system.semiconductors.iter().map(|one| one.sleeper(&held_ohms)).collect();
        part
    }

    fn bare(system: &System) -> Self {
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
            curved: system.all_curved(),
            pushed: Vec::new(),
            least: Vec::new(),
            sleepers: Vec::new(),
            asleep: Vec::new(),
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

    /// Of a board into which nothing is ever taken.
    pub(crate) fn of_passive(system: &System) -> Self {
        let mut part = Self::bare(system);
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

    /// Takes in the drivers that stand still, the chips that have their supply, and the diodes that
    /// sleep, with the board at `x`.
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
        self.curved.drivers.clear();
        self.curved.chips.clear();
        self.curved.semiconductors.clear();
        self.asleep.clear();
        for (index, driver) in system.drivers.iter().enumerate() {
            let straight = is_still[index].then(|| driver.straight(&weights[index])).flatten();
            let clear = straight.filter(|straight| {
                straight.least_supply.is_infinite()
                    || at(x, driver.supply) > straight.least_supply + CLEAR_V
            });
            match clear {
                Some(straight) => self.take_driver(index, driver, &straight),
                None => self.curved.drivers.push(index),
            }
        }
        for (index, &(node, amps)) in system.chips.iter().enumerate() {
            if at(x, node) > AWAKE_VOLTS + CLEAR_V {
                add_to(&mut self.pushed, node, amps);
                self.hold_above(node, AWAKE_VOLTS);
            } else {
                self.curved.chips.push(index);
            }
        }
        for index in 0..self.sleepers.len() {
            match self.sleepers[index].filter(|sleeper| sleeper.depth_v(x) > DEEP_V) {
                Some(Sleeper { ends, amps, .. }) => {
                    self.asleep.push(index);
                    self.push_between(ends, amps);
                }
                None => self.curved.semiconductors.push(index),
            }
        }
    }

    /// Takes the diodes that have woken at `x` as they are; whether there are any.
    pub(crate) fn rouse(&mut self, x: &[f64]) -> bool {
        self.wake(|_, sleeper| sleeper.depth_v(x) < 0.0)
    }

    /// Takes some semiconductors as they are from here on.
    pub(crate) fn keep_awake(&mut self, woken: &BTreeSet<usize>) {
        self.wake(|index, _| woken.contains(&index));
        for &index in woken {
            self.sleepers[index] = None;
        }
    }

    fn wake(&mut self, wakes: impl Fn(usize, &Sleeper) -> bool) -> bool {
        let before = self.asleep.len();
        for place in (0..before).rev() {
            let index = self.asleep[place];
            if let Some(sleeper) = self.sleepers[index].filter(|sleeper| wakes(index, sleeper)) {
                self.asleep.remove(place);
                self.push_between(sleeper.ends, -sleeper.amps);
                self.curved.semiconductors.push(index);
            }
        }
        self.curved.semiconductors.sort_unstable();
        self.asleep.len() < before
    }

    /// What it means that no solution is found: there may be one with the diodes as they are that are
    /// taken as asleep.
    pub(crate) fn unsolved(&self) -> Outcome {
        if self.asleep.is_empty() { Outcome::Failed } else { Outcome::Unfit }
    }

    fn push_between(&mut self, [from, to]: [Unknown; 2], amps: f64) {
        add_to(&mut self.pushed, from, amps);
        add_to(&mut self.pushed, to, -amps);
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
        if straight.least_supply.is_finite() {
            self.hold_above(driver.supply, straight.least_supply);
        }
    }

    fn hold_above(&mut self, supply: Unknown, volts: f64) {
        match self.least.iter_mut().find(|(known, _)| *known == supply) {
            Some((_, least)) => *least = least.max(volts),
            None => self.least.push((supply, volts)),
        }
    }

    /// Whether what was taken as linear is so at `x`.
    pub(crate) fn holds(&self, x: &[f64]) -> bool {
        let sleeps = |&index: &usize| self.sleepers[index].is_some_and(|one| one.depth_v(x) >= 0.0);
        self.least.iter().all(|&(supply, least)| at(x, supply) >= least)
            && self.asleep.iter().all(sleeps)
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

    /// All entries: row, column, S and F.
    pub(crate) fn all(&self) -> impl Iterator<Item = (usize, usize, f64, f64)> + '_ {
        let places = self.rows.iter().zip(&self.columns);
        let slopes = self.siemens.iter().zip(&self.farads);
        places
            .zip(slopes)
            .map(|((&row, &column), (&siemens, &farads))| (row, column, siemens, farads))
    }

    /// The row of a rail's node without its own current: column, S and F.
    pub(crate) fn rail_row(&self, rail: &Rail) -> impl Iterator<Item = (usize, f64, f64)> + '_ {
        let entry = |&index: &usize| (self.columns[index], self.siemens[index], self.farads[index]);
        rail.entries.iter().map(entry).collect::<Vec<_>>().into_iter()
    }

    /// Currents at 0 V, A.
    pub(crate) fn pushed(&self) -> &[f64] {
        &self.pushed
    }
}
