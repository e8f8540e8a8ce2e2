//! The sound pin: bursts of a square wave, exact in clocks.

use crate::base::ticks::Tick;
use crate::base::ticks::TickSpan;
use crate::signal::pulse_train::Edge;
use crate::signal::pulse_train::Level;
use crate::signal::pulse_train::PulseTrain;

/// A tone that sounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Burst {
    /// Clocks in half a period.
    half: u64,
    /// Clocks for which it lasts.
    length: u64,
    /// Clocks that have passed of it before the field.
    passed: u64,
}

/// The sound pin between fields: low, or in a burst.
///
/// A burst begins with its field, high, and is cut short by the next one.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SoundPin {
    burst: Option<Burst>,
    level: Option<Level>,
}

impl SoundPin {
    /// Begins a burst of a tone of `period` clocks, for `length` clocks, with the next field.
    pub fn begin(&mut self, period: u32, length: u32) {
        let half = u64::from((period / 2).max(1));
        self.burst = Some(Burst { half, length: u64::from(length), passed: 0 });
    }

    /// The pin through a field of so many clocks.
    pub fn advance_field(&mut self, clocks: u64) -> PulseTrain {
        let initial = self.level.unwrap_or(Level::LOW);
        let mut edges = Vec::new();
        if let Some(burst) = &mut self.burst {
            let end = burst.length.min(burst.passed + clocks);
            // The last whole half period before the field has its edge behind it.
            let first = burst.passed.div_ceil(burst.half);
            let turns = (first..).map(|turn| turn * burst.half).take_while(|&at| at < end);
            for at in turns {
                let level = if at / burst.half % 2 == 0 { Level::HIGH } else { Level::LOW };
                edges.push(Edge { at: Tick(at - burst.passed), level });
            }
            // A burst that ends with the field has its last edge in the next one, so that without a
            // burst the pin is low.
            if burst.length < burst.passed + clocks {
                edges.push(Edge { at: Tick(burst.length - burst.passed), level: Level::LOW });
                self.burst = None;
            } else {
                burst.passed += clocks;
            }
        }
        let train = PulseTrain::new(initial, edges, TickSpan(clocks));
        self.level = Some(train.last_level());
        train
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const FIELD: u64 = 100;

    /// What begins with each field: a period and a length.
    fn begins() -> impl Strategy<Value = Vec<Option<(u32, u32)>>> {
        proptest::collection::vec(proptest::option::of((1_u32..60, 1_u32..350)), 1..12)
    }

    /// The level at a clock, asked the obvious way: of the last burst that began.
    fn level(begun: &[Option<(u32, u32)>], clock: u64) -> Level {
        let field = usize::try_from(clock / FIELD).unwrap();
        let last = (0..=field).rev().find_map(|at| Some((at as u64 * FIELD, begun[at]?)));
        let Some((start, (period, length))) = last else { return Level::LOW };
        let (passed, half) = (clock - start, u64::from((period / 2).max(1)));
        let is_high = passed < u64::from(length) && passed / half % 2 == 0;
        if is_high { Level::HIGH } else { Level::LOW }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn fields_join_and_every_clock_is_of_the_burst_that_began_last(begun in begins()) {
            let mut pin = SoundPin::default();
            let mut before = Level::LOW;
            for (field, begin) in (0..).zip(&begun) {
                if let Some((period, length)) = *begin {
                    pin.begin(period, length);
                }
                let train = pin.advance_field(FIELD);
                prop_assert_eq!(train.initial(), before);
                before = train.last_level();
                for clock in 0..FIELD {
                    let expected = level(&begun, field * FIELD + clock);
                    prop_assert_eq!(train.level_at(Tick(clock)), expected, "{} {}", field, clock);
                }
            }
        }
    }
}
