//! `[game]`: which court, where everything is, and who plays.

use crate::base::math;
use crate::document::fields::Fields;
use crate::document::fields::as_list;
use crate::document::fields::as_quantity;
use crate::document::fields::as_whole;
use crate::document::fields::index_of;
use crate::document::problems::Problems;
use crate::document::quantity::SHARE;
use crate::document::tree::Item;
use crate::document::tree::Table;
use crate::document::tree::Value;
use crate::profile::Profile;
use crate::profile::rules::FURTHEST;
use crate::profile::rules::angles;
use crate::profile::rules::faster_after;
use crate::raster::plan::Content;
use crate::raster::plan::Court;
use crate::raster::plan::GameState;
use crate::raster::rules::Aim;
use crate::raster::rules::FOLLOW_LINES;
use crate::raster::rules::MISSES;
use crate::raster::rules::Players;
use crate::raster::rules::Points;
use crate::raster::rules::Rally;
use crate::raster::rules::Rules;

/// Most lines that a player may move in a field.
const NIMBLEST: u32 = 64;
/// The last field that can be told of: two years of them.
const LAST_FIELD: i64 = 1 << 32;
/// Clocks a field.
const SPEEDS: [(&str, i64); 2] = [("slow", 1), ("fast", 2)];

/// Whether the players follow the ball.
const PLAYERS: [(&str, bool); 2] = [("follow", true), ("held", false)];

/// A player's place or places, as written.
type Path = Vec<(u64, f64)>;

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
    let paths = ["left", "right"].map(|key| path(&fields, key));
    let rules = rules(&fields, court, &paths);
    let court = Court { rules, ..court.clone() };
    let middle = standing(&court);
    let state = GameState {
        players: paths.map(|path| path.first().map_or(0.5, |&(_, place)| place)),
        ball: fields.share_pair("ball").map_or(middle.ball, |[x, y]| placed(&court, x, y)),
        velocity: velocity(&fields).unwrap_or(middle.velocity),
        score: score(&fields).unwrap_or(middle.score),
        ..middle
    };
    fields.close();
    Some(Content::Game(Box::new(court), state))
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
        velocity: (court.rules.speed, court.rules.speed),
        score: [0, 0],
        controllers: None,
        field: 0,
        rally: Rally::default(),
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
    let [x, y] = fields.whole_pair("ball_velocity", -FURTHEST..=FURTHEST)?;
    Some((x, y))
}

fn score(fields: &Fields<'_>) -> Option<[u8; 2]> {
    let [left, right] = fields.whole_pair("score", 0..=99)?;
    Some([u8::try_from(left).ok()?, u8::try_from(right).ok()?])
}

/// The court's rules with the game's own words over them.
fn rules(fields: &Fields<'_>, court: &Court, paths: &[Path; 2]) -> Rules {
    let below = &court.rules;
    let faster = if fields.has("faster_after") { faster_after(fields) } else { below.faster_after };
    Rules {
        angles: angles(fields).unwrap_or_else(|| below.angles.clone()),
        speed: fields.choice("speed", &SPEEDS).unwrap_or(below.speed),
        faster_after: faster,
        players: players(fields, paths),
        shots: shots(fields, court).unwrap_or_default(),
        aim: aim(fields, court),
        seed: fields.count("seed", 0..=u32::MAX).map_or(below.seed, u64::from),
        ..below.clone()
    }
}

fn players(fields: &Fields<'_>, paths: &[Path; 2]) -> Players {
    let follow = match fields.choice("players", &PLAYERS) {
        Some(follow) => follow,
        // What cannot be read may have been meant for either.
        None => fields.has("players"),
    };
    let lines = fields.count("player_speed", 1..=NIMBLEST).map_or(FOLLOW_LINES, i64::from);
    let misses = fields.quantity_or("misses", &SHARE, MISSES);
    for key in ["player_speed", "misses"].into_iter().filter(|key| !follow && fields.has(key)) {
        let message = format!("`{key}` is of players who follow the ball, but these are held");
        fields.problems().add(fields.place(key), message, "expected `players = \"follow\"` too");
    }
    if !follow {
        let paths = paths.clone();
        return Players::Held(paths.map(|path| if path.len() > 1 { path } else { Vec::new() }));
    }
    for (key, _) in ["left", "right"].iter().zip(paths).filter(|(_, path)| path.len() > 1) {
        let message = format!("the {key} player follows the ball and a list of places");
        let expected = "expected one place, where he begins, or `players = \"held\"`";
        fields.problems().add(fields.place(key), message, expected);
    }
    Players::Follow { lines, misses }
}

/// `0.3`, or `[[1, 0.3], [100, 0.8]]`: fields and places.
fn path(fields: &Fields<'_>, key: &str) -> Path {
    let expected = "expected a share, or `[field, share]` for at least two fields, each later";
    let problems = fields.problems();
    let Some(item) = fields.item(key) else { return Vec::new() };
    let Value::List(list) = &item.value else {
        return fields.quantity(key, &SHARE).map_or_else(Vec::new, |place| vec![(1, place)]);
    };
    let read: Option<Path> = list.iter().map(|item| stop(item, expected, problems)).collect();
    let Some(path) = read else { return Vec::new() };
    if path.len() < 2 || path.windows(2).any(|pair| pair[0].0 >= pair[1].0) {
        let message = format!("the {key} player's fields are fewer than two or do not rise");
        problems.add(&item.span, message, expected);
        return Vec::new();
    }
    path
}

fn stop(item: &Item, expected: &str, problems: &Problems) -> Option<(u64, f64)> {
    let list = as_list(item, expected, problems)?;
    let [field, place] = list else {
        problems.add(&item.span, format!("this list has {} items", list.len()), expected);
        return None;
    };
    let field = field_number(field, problems);
    let place = as_quantity(place, &SHARE, problems);
    Some((field?, place?))
}

fn field_number(item: &Item, problems: &Problems) -> Option<u64> {
    u64::try_from(as_whole(item, &(1..=LAST_FIELD), problems)?).ok()
}

/// Fields in which the trigger is pulled.
fn shots(fields: &Fields<'_>, court: &Court) -> Option<Vec<u64>> {
    let expected = "expected a list of fields, each later than the one before";
    let items = fields.list("shots", expected)?;
    let problems = fields.problems();
    needs_target(fields, "shots", court)?;
    let shots: Vec<u64> =
        items.iter().map(|item| field_number(item, problems)).collect::<Option<_>>()?;
    if shots.windows(2).any(|pair| pair[0] >= pair[1]) {
        problems.add(fields.place("shots"), "the shots do not rise".to_owned(), expected);
        return None;
    }
    Some(shots)
}

/// `"target"`, or shares of the court.
fn aim(fields: &Fields<'_>, court: &Court) -> Aim {
    if fields.has("aim") && needs_target(fields, "aim", court).is_none() {
        let _ = fields.item("aim");
        return Aim::Target;
    }
    if let Some(Item { value: Value::Text(_), .. }) = fields.item("aim") {
        return fields.choice("aim", &[("target", Aim::Target)]).unwrap_or(Aim::Target);
    }
    let Some([x, y]) = fields.share_pair("aim") else { return Aim::Target };
    let along = |start: u32, length: u32, share: f64| {
        let way = f64::from(length.saturating_sub(1)) * share;
        i64::from(start) + i64::try_from(math::floor_index(way + 0.5)).unwrap_or(0)
    };
    let field = &court.field;
    Aim::At(along(field.x, field.width, x), along(field.y, field.height, y))
}

fn needs_target(fields: &Fields<'_>, key: &str, court: &Court) -> Option<()> {
    if court.rules.points == Points::Shots {
        return Some(());
    }
    let message = format!("`{key}` is of a pistol, but this court has no target");
    fields.problems().add(fields.place(key), message, "expected a court with a target");
    None
}
