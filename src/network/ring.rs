//! Gates that drive one another: a state in which each of them agrees with its inputs.
//!
//! Answering all at once, as most boards allow, throws a latch to and fro for ever. So gates are
//! let answer one at a time, from several states; and where that finds nothing, every state is
//! tried of as many gates as can be.

use crate::network::evaluation::Weights;
use crate::network::evaluation::all_on;
use crate::network::search::Search;
use crate::network::search::Stuck;
use crate::network::system::System;

/// Most gates of which every state is tried.
const MOST_GATES: usize = 12;

/// Why no state was found.
pub(crate) enum Ring {
    /// A gate that does not come to rest.
    Restless(usize),
    /// The levels could not be found in any state.
    Stuck(Stuck),
}

impl System {
    /// What the gates make of their inputs.
    pub(crate) fn gate_states(&self, x: &[f64]) -> Vec<bool> {
        let gates = self.gates.iter();
        gates
            .map(|logical| {
                let inputs: Vec<bool> = (0..logical.inputs.len())
                    .map(|input| logical.margin(x, input) >= 0.0)
                    .collect();
                logical.gate.logic.output(&inputs)
            })
            .collect()
    }

    /// Turns the gates' drivers to their states.
    pub(crate) fn set_gates(&self, gates: &[bool], weights: &mut [Weights]) {
        for (gate, &high) in self.gates.iter().zip(gates) {
            weights[gate.driver] = all_on(usize::from(high));
        }
    }
}

/// A state of the gates that stands, and `search` at its levels, on from one that does not.
pub(crate) fn find_state(
    search: &mut Search,
    weights: &mut [Weights],
    gates: Vec<bool>,
) -> Result<Vec<bool>, Ring> {
    let count = gates.len();
    let mut trial = Trial { search, weights, odd: vec![0; count], stuck: None };
    for start in [gates, vec![false; count], vec![true; count]] {
        if let Some(found) = trial.one_at_a_time(start, &[]) {
            return Ok(found);
        }
    }
    if let Some(found) = trial.every_state(count) {
        return Ok(found);
    }
    let most = trial.odd.iter().copied().enumerate().max_by_key(|&(_, times)| times);
    Err(match (trial.stuck, most) {
        // In a state that could not be solved the gates might have stood.
        (Some(stuck), _) => Ring::Stuck(stuck),
        (None, most) => Ring::Restless(most.map_or(0, |(gate, _)| gate)),
    })
}

/// A search through states.
struct Trial<'a, 'b> {
    search: &'a mut Search<'b>,
    weights: &'a mut [Weights],
    /// How often each gate was found at odds with its inputs.
    odd: Vec<u32>,
    stuck: Option<Stuck>,
}

impl Trial<'_, '_> {
    /// What the gates would make of the levels that they bring about.
    fn answer(&mut self, gates: &[bool]) -> Option<Vec<bool>> {
        let system = self.search.system;
        system.set_gates(gates, self.weights);
        match self.search.settle(self.weights) {
            Ok(()) => {
                let answer = system.gate_states(&self.search.x);
                for ((odd, asked), given) in self.odd.iter_mut().zip(gates).zip(&answer) {
                    *odd += u32::from(asked != given);
                }
                Some(answer)
            }
            Err(stuck) => {
                self.stuck = Some(stuck);
                self.search.restart();
                None
            }
        }
    }

    /// Whether the gates agree with the levels that they bring about: on from the last ones, or, as
    /// a board may have more than one set of levels, from ground or from the first ones found.
    fn stands(&mut self, gates: &[bool]) -> bool {
        let starts: [fn(&mut Search<'_>); 3] =
            [|_| (), |search| search.restart(), |search| search.return_to_first()];
        for start in starts {
            start(self.search);
            match self.answer(gates) {
                Some(answer) if answer == gates => return true,
                Some(_) => {}
                // That has been from ground and back already.
                None => return false,
            }
        }
        false
    }

    /// Turns one gate at a time, each in its turn, but none of the `held`.
    fn one_at_a_time(&mut self, mut gates: Vec<bool>, held: &[usize]) -> Option<Vec<bool>> {
        let count = gates.len();
        let mut last = count - 1;
        for _ in 0..4 * count + 4 {
            let answer = self.answer(&gates)?;
            if answer == gates {
                return Some(gates);
            }
            let turn = (1..=count).map(|on| (last + on) % count);
            let next = turn
                .into_iter()
                .find(|gate| answer[*gate] != gates[*gate] && !held.contains(gate))?;
            gates[next] = answer[next];
            last = next;
        }
        None
    }

    /// Every state of all gates or, if there are too many, of those that were most restless, the
    /// others following.
    fn every_state(&mut self, count: usize) -> Option<Vec<bool>> {
        let mut order: Vec<usize> = (0..count).collect();
        order.sort_by_key(|&gate| std::cmp::Reverse(self.odd[gate]));
        order.truncate(MOST_GATES);
        let mut gates = vec![false; count];
        for number in 1..=1_u32 << order.len() {
            if order.len() < count {
                if let Some(found) = self.one_at_a_time(gates.clone(), &order) {
                    return Some(found);
                }
            } else if self.stands(&gates) {
                return Some(gates);
            }
            // The next of a sequence in which only one gate turns.
            let turned = usize::try_from(number.trailing_zeros()).unwrap_or(0);
            if let Some(&gate) = order.get(turned) {
                gates[gate] = !gates[gate];
            }
        }
        None
    }
}
