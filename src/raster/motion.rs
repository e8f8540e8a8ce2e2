//! From one field's game to the next: flight, points, serves, shots. What comes next depends on the
//! court, the state and nothing else.

use crate::base::random::Draws;
use crate::raster::court;
use crate::raster::flight::Flight;
use crate::raster::flight::Outcome;
use crate::raster::plan::Court;
use crate::raster::plan::GameState;
use crate::raster::player;
use crate::raster::player::over;
use crate::raster::rectangle::Rectangle;
use crate::raster::rules::Aim;
use crate::raster::rules::Event;
use crate::raster::rules::Points;
use crate::raster::rules::Target;
use crate::signal::timing::FieldTiming;

/// Moves the game on by a field, and says what of it is heard.
pub(super) fn advance(court: &Court, state: &mut GameState, timing: &FieldTiming) -> Option<Event> {
    let shot = shoot(court, state);
    let flown = if state.rally.waiting > 0 {
        wait(court, state);
        None
    } else {
        state.rally.age = state.rally.age.saturating_add(1);
        move_ball(court, state, timing)
    };
    state.field = state.field.saturating_add(1);
    player::move_on(court, state);
    shot.max(flown)
}

fn move_ball(court: &Court, state: &mut GameState, timing: &FieldTiming) -> Option<Event> {
    if let Some(Target::Jumps(fields)) = court.rules.target {
        if state.rally.age.is_multiple_of(fields.max(1)) {
            place(court, state);
        }
        return None;
    }
    let places = court::paddle_places(court, state, timing);
    match Flight::new(court, over(court, state), places).fly(state) {
        Outcome::Plays(event) => event,
        Outcome::Lost(side) => lose(court, state, side),
    }
}

/// The ball is gone; who has earned the point gets it. The next one is served away from there.
fn lose(court: &Court, state: &mut GameState, side: usize) -> Option<Event> {
    let scorer = match court.rules.points {
        Points::Lost => Some(1 - side),
        Points::Turns => state.rally.struck_by,
        Points::Hits | Points::Shots => None,
    };
    state.rally.serve_to = if side == 0 { 1 } else { -1 };
    vanish(court, state);
    let scorer = scorer?;
    state.score[scorer] = state.score[scorer].saturating_add(1);
    Some(Event::Score)
}

fn vanish(court: &Court, state: &mut GameState) {
    state.rally.waiting = court.rules.serve_fields.max(1);
}

/// One field less until the serve.
fn wait(court: &Court, state: &mut GameState) {
    state.rally.waiting -= 1;
    if state.rally.waiting == 0 {
        place(court, state);
    }
}

/// A new ball in the middle of the court, or a target anywhere.
fn place(court: &Court, state: &mut GameState) {
    let rules = &court.rules;
    let mut draws = Draws::new(rules.seed, state.rally.serves);
    let mut within = |start: u32, length: u32, size: u32| {
        i64::from(start) + i64::from(draws.one_to(length.saturating_sub(size) + 1)) - 1
    };
    let (field, ball) = (&court.field, &court.ball);
    let line = within(field.y, field.height, ball.height);
    let anywhere = within(field.x, field.width, ball.width);
    let middle = i64::from(field.x) + i64::from(field.width.saturating_sub(ball.width) / 2);
    let band = draws.one_to(u32::try_from(rules.angles.len()).unwrap_or(u32::MAX)) - 1;
    let angle = usize::try_from(band).ok().and_then(|band| rules.angles.get(band));
    let drawn = if draws.uniform() < 0.5 { 1 } else { -1 };
    let to = if state.rally.serve_to == 0 { drawn } else { state.rally.serve_to };
    state.ball = (if rules.target.is_some() { anywhere } else { middle }, line);
    state.velocity = (to * rules.speed, angle.unwrap_or(&0) * rules.speed);
    state.rally.serves += 1;
    state.rally.hits = 0;
    state.rally.struck_by = None;
    state.rally.age = 0;
}

/// The trigger, in the field that was just shown: it counts if the pistol then pointed at the target.
fn shoot(court: &Court, state: &mut GameState) -> Option<Event> {
    let rules = &court.rules;
    let pulled = rules.shots.binary_search(&state.field.saturating_add(1)).is_ok();
    if !pulled || rules.points != Points::Shots || over(court, state) {
        return None;
    }
    state.score[0] = state.score[0].saturating_add(1);
    let target = Rectangle::at(state.ball, (court.ball.width, court.ball.height));
    let meets = match rules.aim {
        Aim::Target => true,
        Aim::At(clock, line) => target.meets(&Rectangle::at((clock, line), (1, 1))),
    };
    if !meets || state.rally.waiting > 0 {
        return None;
    }
    state.score[1] = state.score[1].saturating_add(1);
    state.rally.serve_to = 0;
    vanish(court, state);
    Some(Event::Score)
}
