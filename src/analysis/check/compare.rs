//! One expectation against what was read.

use crate::analysis::cause::Cause;
use crate::analysis::check::Finding;
use crate::analysis::check::Found;
use crate::analysis::check::wave::Likeness;
use crate::analysis::check::wave::StoredWave;
use crate::analysis::ladder::Levels;
use crate::analysis::modulation::modulation;
use crate::analysis::rating::Rating;
use crate::analysis::rating::ratings;
use crate::analysis::reading::FieldReading;
use crate::analysis::reading::ShapeReading;
use crate::analysis::source::source_ohms;
use crate::analysis::verdict::Note;
use crate::network::circuit::NodeId;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::scenario::expect::Bounds;
use crate::scenario::expect::Expectation;
use crate::scenario::expect::Expected;
use crate::scenario::expect::FieldAmount;
use crate::scenario::expect::NodeState;
use crate::scenario::expect::OfShape;
use crate::scenario::expect::RATING_WORDS;
use crate::scenario::expect::ShapeAmount;
use crate::signal::element::ElementSet;
use crate::simulate::FieldRun;
use crate::simulate::RunError;

/// A board as it was found.
pub(super) struct Subject<'a> {
    pub(super) scenario: &'a Scenario,
    pub(super) field: &'a FieldRun,
    pub(super) reading: &'a FieldReading,
    pub(super) stored: Option<&'a StoredWave>,
}

impl Subject<'_> {
    /// How it stands with one expectation.
    pub(super) fn finding(&self, expected: &Expected) -> Result<Finding, RunError> {
        let (found, met) = match &expected.what {
            Expectation::Field(amount, bounds) => amounts(self.field_amount(*amount)?, bounds),
            Expectation::Sync(words) => {
                let word = self.reading.sync.word();
                (Found::Words(vec![word.to_owned()]), words.contains(&word))
            }
            Expectation::Lock(words) => {
                let found: Vec<&str> = self.reading.lock.iter().map(|state| state.word()).collect();
                let met = found.iter().all(|word| words.contains(word));
                (Found::Words(found.into_iter().map(str::to_owned).collect()), met)
            }
            Expectation::Ratings(worst) => self.ratings(worst)?,
            Expectation::TakenForSync(names) => {
                let low = self.reading.taken_for_sync();
                let met = low.len() == names.len() && names.iter().all(|n| low.contains(&&**n));
                (Found::Words(low.into_iter().map(str::to_owned).collect()), met)
            }
            Expectation::Shape(name, what) => return Ok(self.of_shapes(expected, name, what)),
            Expectation::Node(node, state, bounds) => {
                amounts(Some(self.standing_v(*node, *state)?), bounds)
            }
            Expectation::Waveform { within_v, .. } => {
                let likeness = self.stored.map_or(Likeness::NotStored, |stored| {
                    Likeness::of(stored, &self.field.traces[0])
                });
                (Found::Wave(likeness), likeness.is_within(*within_v))
            }
        };
        let of_sync = matches!(
            expected.what,
            Expectation::Sync(_) | Expectation::Field(FieldAmount::SyncDepth, _)
        );
        let cause = self.reading.sync_cause.clone().filter(|_| of_sync && !met);
        Ok(Finding { expected: expected.clone(), found, met, shape: None, cause })
    }

    fn field_amount(&self, amount: FieldAmount) -> Result<Option<f64>, RunError> {
        let sync = self.field.reception.sync;
        Ok(match amount {
            FieldAmount::Black => Some(self.reading.black_v),
            FieldAmount::Tip => Some(self.reading.tip_v),
            FieldAmount::SyncDepth => Some(self.reading.black_v - self.reading.tip_v),
            FieldAmount::SyncWidth => sync.map(|sync| sync.line_sync_s),
            FieldAmount::LineRate => sync.map(|sync| 1.0 / sync.line_period_s),
            FieldAmount::FieldRate => Some(self.field.trains.timing.field_hz()),
            FieldAmount::Source => Some(source_ohms(self.scenario, &self.scenario.circuit, None)?),
            FieldAmount::WhiteCarrier => {
                modulation(self.scenario)?.map(|found| found.white.carrier)
            }
            FieldAmount::Buzz => modulation(self.scenario)?.map(|found| found.buzz.level_db),
        })
    }

    /// The worst word of the ratings, and every rating that is worse than is allowed.
    fn ratings(&self, worst: &str) -> Result<(Found, bool), RunError> {
        let all = ratings(self.scenario)?;
        let allowed = RATING_WORDS.iter().position(|word| *word == worst);
        let place =
            |rating: &Rating| RATING_WORDS.iter().position(|word| *word == rating.word.word());
        let beyond: Vec<String> = all
            .iter()
            .filter(|rating| place(rating) > allowed)
            .map(|rating| {
                format!("{}: {}, {}", rating.word.word(), rating.part, rating.subject.word())
            })
            .collect();
        let met = beyond.is_empty();
        let worst = all.iter().max_by_key(|rating| rating.word).map(|rating| rating.word.word());
        let words = if met { worst.into_iter().map(str::to_owned).collect() } else { beyond };
        Ok((Found::Words(words), met))
    }

    /// The level at a node by the ladder's solver, V.
    fn standing_v(&self, node: NodeId, state: NodeState) -> Result<f64, RunError> {
        let levels = Levels::new(self.scenario, &self.scenario.circuit)?;
        let point = match state {
            NodeState::Black => return Ok(levels.black().volts(node)),
            NodeState::Tip => levels.solve(ElementSet::EMPTY, LinePart::Sync)?,
            NodeState::Lit(element) => levels.solve(ElementSet::only(element), LinePart::Active)?,
        };
        Ok(point.volts(node))
    }

    /// All shapes that the name stands for have to do as is expected: what is furthest from it is
    /// told. Shapes that cannot be measured are passed over, unless none can.
    fn of_shapes(&self, expected: &Expected, name: &str, what: &OfShape) -> Finding {
        let shapes = self.named(name);
        let mut judged: Vec<(Judged, &ShapeReading)> =
            shapes.iter().filter_map(|shape| Some((judge(shape, what)?, *shape))).collect();
        judged.sort_by(|(a, _), (b, _)| a.margin.total_cmp(&b.margin));
        let Some((worst, shape)) = judged.into_iter().next() else {
            let cause = shapes.iter().find_map(|shape| shape.cause.clone());
            let found = Found::NotMeasured;
            return Finding { expected: expected.clone(), found, met: false, shape: None, cause };
        };
        let met = worst.margin >= 0.0;
        let cause: Option<Cause> = shape.cause.clone().filter(|_| !met);
        // What all shapes have in common is not one shape's.
        let decides = !met || matches!(worst.found, Found::Amount(_));
        let shape = Some(&shape.shape).filter(|shape| decides && *shape != name).cloned();
        Finding { expected: expected.clone(), found: worst.found, met, shape, cause }
    }

    /// The shapes of an element, or those that have a name of their own.
    fn named(&self, name: &str) -> Vec<&ShapeReading> {
        let is_element = self.scenario.raster.elements.iter().any(|element| element == name);
        let is_named = |shape: &&ShapeReading| {
            if is_element { shape.element == name } else { shape.shape == name }
        };
        self.reading.shapes.iter().filter(is_named).collect()
    }
}

/// What a shape is, and how far inside of what is expected; below 0 if it is not.
struct Judged {
    found: Found,
    margin: f64,
}

/// `None` if it could not be measured.
fn judge(shape: &ShapeReading, what: &OfShape) -> Option<Judged> {
    let as_margin = |met: bool| if met { 0.0 } else { -1.0 };
    let notes = || -> Option<Vec<&'static str>> {
        shape.seen.map(|_| shape.notes.iter().map(|&note| note_word(note)).collect())
    };
    let owned = |words: &[&str]| Found::Words(words.iter().map(|&word| word.to_owned()).collect());
    match what {
        OfShape::Amount(amount, bounds) => {
            let value = match amount {
                ShapeAmount::Level => shape.level_v,
                ShapeAmount::Delta => shape.delta_v,
                ShapeAmount::Rise => shape.rise_s,
                ShapeAmount::Fall => shape.fall_s,
            }?;
            Some(Judged { found: Found::Amount(value), margin: bounds.margin(value) })
        }
        OfShape::Seen(words) => {
            let word = shape.seen?.word();
            Some(Judged { found: owned(&[word]), margin: as_margin(words.contains(&word)) })
        }
        OfShape::Notes(words) => {
            let notes = notes()?;
            let met = words.iter().all(|word| notes.contains(word));
            Some(Judged { found: owned(&notes), margin: as_margin(met) })
        }
        OfShape::Not(words) => {
            let notes = notes()?;
            let met = !words.iter().any(|word| notes.contains(word));
            Some(Judged { found: owned(&notes), margin: as_margin(met) })
        }
    }
}

fn amounts(value: Option<f64>, bounds: &Bounds) -> (Found, bool) {
    value.map_or((Found::NotMeasured, false), |value| {
        (Found::Amount(value), bounds.margin(value) >= 0.0)
    })
}

/// The word for a note in `[expect]`.
pub(crate) fn note_word(note: Note) -> &'static str {
    match note {
        Note::Dark => "dark",
        Note::SameShade => "same shade",
        Note::BrighterThanWhite => "brighter",
        Note::Smeared => "smeared",
        Note::DrawnOut => "drawn out",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::rating::Word;
    use crate::analysis::verdict::Seen;
    use crate::analysis::verdict::SyncState;
    use crate::scenario::expect::NOTE_WORDS;
    use crate::scenario::expect::SEEN_WORDS;
    use crate::scenario::expect::SYNC_WORDS;

    #[test]
    fn what_can_be_expected_are_the_words_that_can_be_found() {
        let seen = [Seen::Clear, Seen::Faint, Seen::Missing].map(Seen::word);
        assert_eq!(seen, SEEN_WORDS);
        let sync = [SyncState::Good, SyncState::Weak, SyncState::Failing].map(SyncState::word);
        assert_eq!(sync, SYNC_WORDS);
        assert_eq!([Word::Ok, Word::Look, Word::Stop].map(Word::word), RATING_WORDS);
        let notes =
            [Note::Dark, Note::SameShade, Note::BrighterThanWhite, Note::Smeared, Note::DrawnOut];
        assert_eq!(notes.map(note_word), NOTE_WORDS);
        assert!(notes.iter().all(|&note| note.words().starts_with(note_word(note))));
    }

    #[test]
    fn both_ends_of_a_range_belong_to_it_and_an_open_end_has_no_limit() {
        let both = Bounds { low: Some(0.2), high: Some(0.3) };
        assert!(amounts(Some(0.2), &both).1 && amounts(Some(0.3), &both).1);
        assert!(!amounts(Some(0.301), &both).1 && !amounts(None, &both).1);
        let open = Bounds { low: Some(0.2), high: None };
        assert!(amounts(Some(900.0), &open).1 && !amounts(Some(0.199), &open).1);
        assert!(!amounts(Some(f64::NAN), &open).1);
    }
}
