//! What is seen, the ladder, the ratings.

use crate::analysis::rating::Rating;
use crate::analysis::rating::Word;
use crate::analysis::rating::amount;
use crate::output::lock_words::answer_rows;
use crate::output::lock_words::lock_words;
use crate::output::modulation_table::CAUTION;
use crate::output::modulation_table::carrier_table;
use crate::output::modulation_table::heading;
use crate::output::modulation_table::words;
use crate::output::page::PageParts;
use crate::output::page::html::Html;
use crate::output::table::Column;
use crate::output::table::LEVELS_ONLY;
use crate::output::table::Table;
use crate::output::table::combination_table;
use crate::output::table::element_table;
use crate::output::table::shape_rows;
use crate::output::table::sync_words;

/// Elements up to which every combination has its row; beyond, the rows would fill the page.
const MOST_ELEMENTS: usize = 6;

/// Sync, a row for each shape, the causes, and what else there is to know.
pub(super) fn verdicts(parts: &PageParts<'_>, html: &mut Html) {
    html.paragraph(&format!("{}.", sync_words(parts.reading)));
    let reception = parts.reception;
    if let Some(cause) = &parts.reading.sync_cause {
        html.paragraph(&cause.words);
    }
    html.paragraph(&format!("{}.", lock_words(parts.reading, &reception.lock)));
    if !parts.reading.sync_found {
        html.paragraph(LEVELS_ONLY);
    }
    html.table(&shape_rows(parts.reading, parts.blanking_v));
    if !reception.answers.is_empty() {
        html.element("h3", &[], "What the set asks of the signal");
        html.table(&answer_rows(&reception.answers));
    }
    if let Some(modulation) = parts.modulation {
        html.element("h3", &[], "The carrier");
        html.paragraph(&format!("{}.", heading(modulation)));
        html.table(&carrier_table(modulation));
        for line in words(modulation).lines().chain(CAUTION.lines()) {
            html.paragraph(line);
        }
    }
    if !parts.warnings.is_empty() {
        html.element("h3", &[], "To know besides");
        html.list(parts.warnings.iter().map(String::as_str));
    }
}

/// Levels under each load, then every combination.
pub(super) fn ladder(parts: &PageParts<'_>, html: &mut Html) {
    let ladder = match parts.ladder {
        Ok(ladder) => ladder,
        Err(reason) => return html.paragraph(&format!("There is no ladder: {reason}.")),
    };
    html.paragraph(&format!("Standing levels at {}, mV.", ladder.node));
    html.table(&element_table(ladder));
    html.element("h3", &[], "Every combination");
    if ladder.elements.len() > MOST_ELEMENTS {
        let count = ladder.elements.len();
        return html.paragraph(&format!(
            "{count} elements have too many combinations for a page: `backporch ladder` lists them."
        ));
    }
    html.table(&combination_table(ladder));
}

/// Every rating, the worst first.
pub(super) fn ratings(ratings: &[Rating], html: &mut Html) {
    let count = |word: Word| ratings.iter().filter(|rating| rating.word == word).count();
    html.paragraph(&format!(
        "{} stop, {} look, {} ok. Stop: change it before power is put on. Look: somebody should \
         look at it. Parts without known limits are not rated.",
        count(Word::Stop),
        count(Word::Look),
        count(Word::Ok)
    ));
    let mut table = Table::new(vec![
        Column::left("word"),
        Column::left("part"),
        Column::left("rule"),
        Column::right("figure"),
        Column::left("limit"),
        Column::left("where it is worst"),
        Column::left("source of the limit"),
    ]);
    for word in [Word::Stop, Word::Look, Word::Ok] {
        for rating in ratings.iter().filter(|rating| rating.word == word) {
            table.push(cells(rating));
            table.prose((word != Word::Ok).then_some(rating.sentence.as_str()));
        }
    }
    html.table(&table);
}

fn cells(rating: &Rating) -> Vec<String> {
    let shape = match rating.word {
        Word::Stop => '■',
        Word::Look => '▲',
        Word::Ok => '●',
    };
    vec![
        format!("{shape} {}", rating.word.word()),
        rating.part.clone(),
        rating.subject.word().to_owned(),
        amount(rating.figure, rating.unit),
        format!("{} {}", rating.side.word(), amount(rating.limit, rating.unit)),
        rating.state.as_ref().map_or_else(|| "always".to_owned(), |state| state.words()),
        rating.source.to_owned(),
    ]
}
