//! A board taken apart where no current passes from one piece to the next: at ideal rails, whose volts
//! are known, and at gate inputs, which only look.
//!
//! What a piece stands at depends on the states of its own drivers alone. A board with five pins has
//! 64 combinations of them, but the piece around a pin that does nothing but feed a gate has two
//! states, and the mixer behind the gate has as many as its own drivers: each is solved once. The
//! equations are those of the whole board, row by row, so the answer is the same.

use crate::network::circuit::NodeId;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::Weights;
use crate::network::evaluation::all_on;
use crate::network::search::Search;
use crate::network::system::Driver;
use crate::network::system::Entry;
use crate::network::system::System;
use crate::signal::pulse_train::Level;

/// Bits of a key for the state of one driver.
const STATE_BITS: usize = 3;
/// Most drivers of one piece.
const MOST_DRIVERS: usize = 64 / STATE_BITS;

/// The pieces of a board, and what each stands at in the states that were asked for.
#[derive(Debug)]
pub(crate) struct Blocks<'a> {
    whole: &'a System,
    blocks: Vec<Block>,
    /// Volts of every node in the state that was asked for last; currents are left at 0.
    x: Vec<f64>,
}

/// What pieces of a like board stood at: where to begin.
#[derive(Clone, Debug, Default)]
pub(crate) struct Seeds(Vec<Vec<Known>>);

/// States of a piece's drivers, and its unknowns in them.
#[derive(Clone, Debug)]
struct Known {
    key: u64,
    x: Vec<f64>,
}

#[derive(Debug)]
struct Block {
    system: System,
    /// The whole board's unknown behind each own one that is no rail's.
    unknowns: Vec<(usize, usize)>,
    /// The whole board's driver behind each own one.
    drivers: Vec<usize>,
    known: Vec<Known>,
    seeds: Vec<Known>,
}

impl<'a> Blocks<'a> {
    /// Takes a board apart; `None` if it has parts that are not known to come apart.
    pub(crate) fn new(whole: &'a System, seeds: &Seeds) -> Option<Self> {
        let rails = whole.rails();
        let mut x = vec![0.0; whole.order];
        for &(node, _, volts) in &rails {
            x[node] = volts;
        }
        let groups = whole.groups(&rails)?;
        let blocks = groups.iter().enumerate().map(|(index, group)| {
            let (system, map) = whole.piece(group, &rails);
            let of_rail = |unknown: usize| rails.iter().any(|&(node, ..)| node == unknown);
            let unknowns =
                map.iter().copied().enumerate().filter(|&(_, one)| !of_rail(one)).collect();
            let drivers = whole.drivers_in(group);
            let seeds = seeds.0.get(index).cloned().unwrap_or_default();
            Block { system, unknowns, drivers, known: Vec::new(), seeds }
        });
        let blocks: Vec<Block> = blocks.collect();
        let fit = blocks.iter().all(|block| block.drivers.len() <= MOST_DRIVERS);
        fit.then_some(Self { whole, blocks, x })
    }

    /// Finds the levels with the pins at `levels`, on from gates that stand at `gates`, and leaves the
    /// gates as they then stand. `false` if that comes to no rest: the whole board has then to be
    /// searched.
    pub(crate) fn settle(&mut self, levels: &[Level], gates: &mut Vec<bool>) -> bool {
        for _ in 0..=2 * gates.len() + 2 {
            if !self.solve(levels, gates) {
                return false;
            }
            let next = self.whole.gate_states(&self.x);
            if next == *gates {
                return true;
            }
            *gates = next;
        }
        false
    }

    /// Volts of a node in the state that was found last.
    pub(crate) fn volts(&self, node: NodeId) -> f64 {
        node.0.checked_sub(1).map_or(0.0, |unknown| self.x[unknown])
    }

    /// What has been found, to begin from on a like board.
    pub(crate) fn into_seeds(self) -> Seeds {
        Seeds(self.blocks.into_iter().map(|block| block.known).collect())
    }

    fn solve(&mut self, levels: &[Level], gates: &[bool]) -> bool {
        let whole = self.whole;
        let state = |driver: usize| match levels.get(driver) {
            Some(level) => usize::from(level.0),
            None => usize::from(gates[driver - whole.pins]),
        };
        self.blocks.iter_mut().all(|block| block.stand(&state, &mut self.x))
    }
}

impl Block {
    /// Puts its unknowns in a state of its drivers into those of the whole board.
    fn stand(&mut self, state: &dyn Fn(usize) -> usize, x: &mut [f64]) -> bool {
        let fold = |key: u64, &driver: &usize| (key << STATE_BITS) | state(driver) as u64;
        let key = self.drivers.iter().fold(0, fold);
        let place = match self.known.iter().position(|known| known.key == key) {
            Some(place) => place,
            None => match self.find(key, state) {
                Some(found) => {
                    self.known.push(Known { key, x: found });
                    self.known.len() - 1
                }
                None => return false,
            },
        };
        let found = &self.known[place].x;
        for &(own, whole) in &self.unknowns {
            x[whole] = found[own];
        }
        true
    }

    fn find(&self, key: u64, state: &dyn Fn(usize) -> usize) -> Option<Vec<f64>> {
        let weights: Vec<Weights> = self.drivers.iter().map(|&d| all_on(state(d))).collect();
        let seed = self.seeds.iter().find(|seed| seed.key == key);
        let near = seed.or(self.known.last()).map(|known| known.x.clone());
        let mut search = Search::at(&self.system, near);
        search.settle(&weights).ok().map(|()| search.x)
    }
}

/// Sets of unknowns that are joined.
struct Groups(Vec<usize>);

impl Groups {
    fn root(&self, mut one: usize) -> usize {
        while self.0[one] != one {
            one = self.0[one];
        }
        one
    }

    fn join(&mut self, unknowns: impl Iterator<Item = usize>) {
        let mut first = None;
        for one in unknowns {
            let root = self.root(one);
            match first {
                None => first = Some(root),
                Some(other) => {
                    let least = root.min(other);
                    self.0[root.max(other)] = least;
                    first = Some(least);
                }
            }
        }
    }
}

/// A rail: its node, the row of its current, its volts.
pub(crate) type Rail = (usize, usize, f64);

/// Unknowns of one piece, rising; rails are none of them.
type Group = Vec<usize>;

impl System {
    /// Nodes that an ideal source holds.
    fn rails(&self) -> Vec<Rail> {
        let mut rails = Vec::new();
        for row in self.nodes..self.order {
            let mut own =
                self.linear.iter().filter(|entry| entry.row == row && entry.siemens != 0.0);
            if let (Some(entry), None) = (own.next(), own.next())
                && entry.column < self.nodes
            {
                rails.push((entry.column, row, -self.source[row] / entry.siemens));
            }
        }
        rails
    }

    /// The pieces; `None` if there are parts of which it is not known what they join.
    fn groups(&self, rails: &[Rail]) -> Option<Vec<Group>> {
        let whole = self.switches.is_empty()
            && self.regulators.is_empty()
            && self.amplifiers.is_empty()
            && self.cables.is_empty()
            && self.timed.is_empty()
            && self.ripples.is_empty();
        if !whole {
            return None;
        }
        let mut is_rail = vec![false; self.order];
        for &(node, row, _) in rails {
            is_rail[node] = true;
            is_rail[row] = true;
        }
        let free = |unknown: &usize| !is_rail[*unknown];
        let mut groups = Groups((0..self.order).collect());
        for entry in self.linear.iter().filter(|entry| entry.siemens != 0.0) {
            groups.join([entry.row, entry.column].into_iter().filter(free));
        }
        for part in &self.semiconductors {
            groups.join(part.unknowns().into_iter().filter(free));
        }
        for driver in &self.drivers {
            groups.join([driver.node, driver.supply].into_iter().flatten().filter(free));
        }
        let mut pieces: Vec<Group> = Vec::new();
        let mut place = vec![usize::MAX; self.order];
        for one in (0..self.order).filter(free) {
            let root = groups.root(one);
            if place[root] == usize::MAX {
                place[root] = pieces.len();
                pieces.push(Vec::new());
            }
            pieces[place[root]].push(one);
        }
        Some(pieces)
    }

    /// The drivers that push into a piece.
    fn drivers_in(&self, group: &[usize]) -> Vec<usize> {
        let touches = |driver: usize| {
            let driver = &self.drivers[driver];
            [driver.node, driver.supply].into_iter().flatten().any(|one| group.contains(&one))
        };
        (0..self.drivers.len()).filter(|&driver| touches(driver)).collect()
    }

    /// The equations of one piece, the rails that it touches with it, and the whole board's unknown
    /// behind each of its own.
    fn piece(&self, group: &[usize], rails: &[Rail]) -> (Self, Vec<usize>) {
        let inside = |unknown: Unknown| unknown.is_some_and(|one| group.contains(&one));
        let semiconductors: Vec<_> = self
            .semiconductors
            .iter()
            .filter(|part| part.unknowns().iter().any(|one| group.contains(one)))
            .collect();
        let drivers = self.drivers_in(group);
        let chips = self.chips.iter().filter(|(node, _)| inside(*node));
        let mut touched: Vec<usize> = Vec::new();
        touched.extend(semiconductors.iter().flat_map(|part| part.unknowns()));
        for &driver in &drivers {
            touched.extend(
                [self.drivers[driver].node, self.drivers[driver].supply].into_iter().flatten(),
            );
        }
        for entry in self.linear.iter().filter(|entry| group.contains(&entry.row)) {
            touched.push(entry.column);
        }
        let rails: Vec<&Rail> = rails.iter().filter(|rail| touched.contains(&rail.0)).collect();
        let nodes = group.iter().copied().filter(|&one| one < self.nodes);
        let currents = group.iter().copied().filter(|&one| one >= self.nodes);
        let mut map: Vec<usize> = nodes.chain(rails.iter().map(|rail| rail.0)).collect();
        let own_nodes = map.len();
        map.extend(currents.chain(rails.iter().map(|rail| rail.1)));
        let mut own = vec![None; self.order];
        for (index, &unknown) in map.iter().enumerate() {
            own[unknown] = Some(index);
        }
        let to_own = |unknown: Unknown| unknown.and_then(|one| own[one]);
        let mut piece = Self::empty(map.len(), own_nodes, 0);
        for entry in &self.linear {
            let is_own = group.contains(&entry.row) || rails.iter().any(|rail| rail.1 == entry.row);
            if let (true, Some(row), Some(column)) = (is_own, own[entry.row], own[entry.column]) {
                piece.linear.push(Entry { row, column, siemens: entry.siemens, farads: 0.0 });
            }
        }
        for rail in &rails {
            // What else hangs on a rail does not matter here: its current is whatever is needed.
            if let (Some(row), Some(column)) = (own[rail.0], own[rail.1]) {
                piece.linear.push(Entry { row, column, siemens: 1.0, farads: 0.0 });
            }
        }
        for (index, &unknown) in map.iter().enumerate() {
            if !rails.iter().any(|rail| rail.0 == unknown) {
                piece.source[index] = self.source[unknown];
            }
        }
        piece.semiconductors = semiconductors.into_iter().map(|part| part.moved(&to_own)).collect();
        piece.chips = chips.map(|&(node, amps)| (to_own(node), amps)).collect();
        piece.drivers = drivers
            .into_iter()
            .map(|driver| {
                let Driver { node, supply, stages } = &self.drivers[driver];
                Driver { node: to_own(*node), supply: to_own(*supply), stages: stages.clone() }
            })
            .collect();
        (piece, map)
    }
}
