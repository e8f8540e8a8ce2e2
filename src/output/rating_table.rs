//! Ratings on the terminal: what is not ok, and how many there are.

use crate::analysis::rating::Rating;
use crate::analysis::rating::Word;
use crate::analysis::rating::amount;

/// A line and a sentence for each rating that is not ok, the worst first; then their number.
#[must_use]
pub fn rating_table(ratings: &[Rating]) -> String {
    let of = |word: Word| ratings.iter().filter(move |rating| rating.word == word);
    let mut text = rating_lines(ratings);
    let (stop, look) = (of(Word::Stop).count(), of(Word::Look).count());
    text += &match (stop, look) {
        (0, 0) => format!("{} ratings, all ok.\n", ratings.len()),
        _ => format!("{} ratings: {stop} stop, {look} look, all others ok.\n", ratings.len()),
    };
    text
}

/// A line and a sentence for each rating that is not ok, the worst first.
pub(crate) fn rating_lines(ratings: &[Rating]) -> String {
    let of = |word: Word| ratings.iter().filter(move |rating| rating.word == word);
    let mut text = String::new();
    for rating in of(Word::Stop).chain(of(Word::Look)) {
        let state = rating.state.as_ref();
        let state = state.map_or(String::new(), |state| format!(", {}", state.words()));
        let shape = if rating.word == Word::Stop { '■' } else { '▲' };
        text += &format!(
            "{shape} {}  {}, {}: {}, {} {} ({}){state}\n    {}\n",
            rating.word.word(),
            rating.part,
            rating.subject.word(),
            amount(rating.figure, rating.unit),
            rating.side.word(),
            amount(rating.limit, rating.unit),
            rating.source,
            rating.sentence
        );
    }
    text
}
