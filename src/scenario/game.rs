//! `[game]`: which court, and where everything is.

use crate::base::math;
use crate::document::fields::Fields;
use crate::document::fields::index_of;
use crate::document::problems::Problems;
use crate::document::quantity::SHARE;
use crate::document::tree::Table;
use crate::profile::Profile;
use crate::raster::plan::Content;
use crate::raster::plan::Court;
use crate::raster::plan::GameState;

/// Furthest that a ball may move in a field, clocks or lines.
const FASTEST: i64 = 64;

/// Reads the game; without a table everything stands in the middle of the profile's first court.
pub(crate) fn content(
    table: Option<&Table>,
    profile: &Profile,
    problems: &Problems,
) -> Option<Content> {
    let Some(table) = table else {
        let (_, court) = profile.courts.first()?;
        return Some(Content::Game(Box::new(court.clone()), standing(court)));
    };
    let fields = Fields::open(table, "[game]", problems);
    let court = court(&fields, profile)?;
    let middle = standing(court);
    let side = |key| fields.quantity_or(key, &SHARE, 0.5);
    let state = GameState {
        players: [side("left"), side("right")],
        ball: fields.share_pair("ball").map_or(middle.ball, |[x, y]| placed(court, x, y)),
        velocity: velocity(&fields).unwrap_or(middle.velocity),
        score: score(&fields).unwrap_or(middle.score),
        ..middle
    };
    fields.close();
    Some(Content::Game(Box::new(court.clone()), state))
}

fn court<'a>(fields: &Fields<'_>, profile: &'a Profile) -> Option<&'a Court> {
    let names: Vec<String> = profile.courts.iter().map(|(name, _)| name.clone()).collect();
    let index = match fields.text("court") {
        Some(written) => index_of(written, "court", &names, fields.problems())?,
        None => 0,
    };
    profile.courts.get(index).map(|(_, court)| court)
}

fn standing(court: &Court) -> GameState {
    GameState {
        players: [0.5, 0.5],
        ball: placed(court, 0.5, 0.5),
        velocity: (1, 1),
        score: [0, 0],
        controllers: None,
        field: 0,
    }
}

/// The first clock and line of a ball that is some share of its way across the court.
fn placed(court: &Court, x: f64, y: f64) -> (i64, i64) {
    let along = |start: u32, length: u32, size: u32, share: f64| {
        let way = f64::from(length.saturating_sub(size));
        i64::from(start) + i64::try_from(math::floor_index(way * share + 0.5)).unwrap_or(0)
    };
    let (field, ball) = (&court.field, &court.ball);
    (along(field.x, field.width, ball.width, x), along(field.y, field.height, ball.height, y))
}

fn velocity(fields: &Fields<'_>) -> Option<(i64, i64)> {
    let [x, y] = fields.whole_pair("ball_velocity", -FASTEST..=FASTEST)?;
    Some((x, y))
}

fn score(fields: &Fields<'_>) -> Option<[u8; 2]> {
    let [left, right] = fields.whole_pair("score", 0..=99)?;
    Some([u8::try_from(left).ok()?, u8::try_from(right).ok()?])
}
