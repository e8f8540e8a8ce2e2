//! How a court is played, and the tones of a chip, in the words of a profile.

use crate::document::fields::Fields;
use crate::document::fields::as_whole;
use crate::document::problems::Problems;
use crate::document::tree::Table;
use crate::raster::plan::Court;
use crate::raster::rules::Points;
use crate::raster::rules::Rules;
use crate::raster::rules::TONES;
use crate::raster::rules::Target;
use crate::raster::rules::Tones;

/// Most clocks that a ball may move in a field.
const MOST_CLOCKS: i64 = 8;
/// Most lines that it may move for each of them.
const MOST_LINES: i64 = 8;
/// Furthest that it may move in a field, clocks or lines.
pub const FURTHEST: i64 = MOST_CLOCKS * MOST_LINES;
/// Most bands of a paddle.
const MOST_BANDS: usize = 16;
/// Most fields for which nothing is served, or a target stands.
const MOST_FIELDS: u32 = 100_000;
/// Fields for which a target that jumps stands where nothing else is said: about a second; no source.
const USUAL_STAND_FIELDS: u32 = 50;
/// Longest period and longest burst of a tone, clocks.
const LONGEST: u32 = 1 << 24;

const POINTS: [(&str, Points); 4] = [
    ("lost", Points::Lost),
    ("turns", Points::Turns),
    ("hits", Points::Hits),
    ("shots", Points::Shots),
];
const EDGES: [(&str, bool); 2] = [("goal", true), ("wall", false)];

/// Reads `[sound]` of a profile.
#[must_use]
pub fn tones(fields: &Fields<'_>) -> Tones {
    let Some(table) = fields.table("sound") else { return TONES };
    let inner = Fields::open(table, "[sound]", fields.problems());
    let period = |key: &str, usual: u32| {
        let period = inner.count(key, 2..=LONGEST).unwrap_or(usual);
        if period % 2 == 1 {
            let message = format!("a tone of {period} clocks has halves that differ");
            inner.problems().add(inner.place(key), message, "expected an even number of clocks");
        }
        period
    };
    let read = Tones {
        hit: period("hit", TONES.hit),
        rebound: period("rebound", TONES.rebound),
        score: period("score", TONES.score),
        burst: inner.count("burst", 1..=LONGEST).unwrap_or(TONES.burst),
    };
    inner.close();
    read
}

/// Reads `rules` of a court into it; what is left out is as usual for the chip's field rate and for
/// the paddles there.
pub(super) fn put(
    table: Option<&Table>,
    court: Court,
    has_goals: [bool; 2],
    problems: &Problems,
) -> Option<Court> {
    let usual = Rules { goals: has_goals, ..court.rules.clone() };
    let Some(table) = table else { return Some(Court { rules: usual, ..court }) };
    let fields = Fields::open(table, "the rules", problems);
    let edge = |key, usual| fields.choice(key, &EDGES).unwrap_or(usual);
    let stands = fields.count("stands", 1..=MOST_FIELDS).unwrap_or(USUAL_STAND_FIELDS);
    let targets = [("moves", Target::Moves), ("jumps", Target::Jumps(stands))];
    let points = fields.choice("points", &POINTS).unwrap_or(usual.points);
    let target = fields.choice("target", &targets);
    let rules = Rules {
        goals: [edge("left", has_goals[0]), edge("right", has_goals[1])],
        angles: angles(&fields).unwrap_or(usual.angles),
        speed: fields.whole("speed", 1..=MOST_CLOCKS).unwrap_or(usual.speed),
        faster_after: faster_after(&fields),
        serve_fields: fields.count("serve_fields", 1..=MOST_FIELDS).unwrap_or(usual.serve_fields),
        points,
        last_point: last_point(&fields).unwrap_or(usual.last_point),
        target,
        ..usual
    };
    fields.close();
    if (points == Points::Shots) != target.is_some() {
        let message = "shots need a target, and a target needs shots".to_owned();
        let expected = "expected both `points = \"shots\"` and a `target`, or neither";
        problems.add(&table.span, message, expected);
        return None;
    }
    Some(Court { rules, ..court })
}

/// Reads `angles`: lines for each clock, from the uppermost band of a paddle on.
#[must_use]
pub fn angles(fields: &Fields<'_>) -> Option<Vec<i64>> {
    let expected = "expected a list of 1 to 16 whole numbers such as `[-1, 1]`";
    let items = fields.list("angles", expected)?;
    if items.is_empty() || items.len() > MOST_BANDS {
        let message = format!("a paddle of {} bands", items.len());
        fields.problems().add(fields.place("angles"), message, expected);
        return None;
    }
    let lines = -MOST_LINES..=MOST_LINES;
    items.iter().map(|item| as_whole(item, &lines, fields.problems())).collect()
}

/// Reads `faster_after`: hits; 0 for never.
#[must_use]
pub fn faster_after(fields: &Fields<'_>) -> Option<u32> {
    fields.count("faster_after", 0..=1000).filter(|&hits| hits > 0)
}

/// Reads `last_point`.
fn last_point(fields: &Fields<'_>) -> Option<u8> {
    fields.count("last_point", 1..=99).and_then(|score| u8::try_from(score).ok())
}
