//! A court and the state of its game, as patches of elements.

use crate::base::math;
use crate::raster::controller::Start;
use crate::raster::digits;
use crate::raster::plan::Court;
use crate::raster::plan::GameState;
use crate::raster::plan::Mark;
use crate::raster::plan::Paddle;
use crate::raster::rectangle::Rectangle;
use crate::signal::element::ElementId;
use crate::signal::element::Patch;
use crate::signal::element::Shape;
use crate::signal::timing::FieldTiming;

/// The shapes of a court: marks, scores, paddles, then the ball. They stay the same in every field.
pub(super) fn shapes(court: &Court) -> Vec<Shape> {
    let marks = court.marks.iter().map(|mark| shape(&mark.name, mark.element));
    let scores = court.scores.iter().map(|score| shape(&score.name, score.element));
    let paddles = court.paddles.iter().map(|paddle| shape(&paddle.name, paddle.element));
    let ball = std::iter::once(shape(&court.ball.name, court.ball.element));
    marks.chain(scores).chain(paddles).chain(ball).collect()
}

fn shape(name: &str, element: ElementId) -> Shape {
    Shape { name: name.to_owned(), element }
}

/// What is lit in one field, cut to the picture and sorted.
pub(super) fn patches(court: &Court, state: &GameState, timing: &FieldTiming) -> Vec<Patch> {
    let picture = Rectangle::picture(timing);
    let starts = starts(state, timing);
    let mut patches: Vec<Patch> = drawings(court, state, starts)
        .iter()
        .enumerate()
        .flat_map(|(shape, areas)| areas.iter().map(move |area| (shape, area)))
        .flat_map(|(shape, area)| area.within(&picture).patches(shape))
        .collect();
    patches.sort_unstable();
    patches
}

/// Where the controllers place the paddles in the field to come.
fn starts(state: &GameState, timing: &FieldTiming) -> [Option<Start>; 2] {
    state.controllers.as_ref().map_or([None; 2], |all| all.starts(state.field, timing))
}

/// Where each paddle is drawn in the field to come; `None` for one that is not.
pub(super) fn paddle_places(
    court: &Court,
    state: &GameState,
    timing: &FieldTiming,
) -> Vec<Option<Rectangle>> {
    let starts = starts(state, timing);
    court.paddles.iter().map(|paddle| paddle_at(paddle, state, starts)).collect()
}

/// The rectangles of every shape, in the order of [`shapes`].
fn drawings(court: &Court, state: &GameState, starts: [Option<Start>; 2]) -> Vec<Vec<Rectangle>> {
    let marks = court.marks.iter().map(dashes);
    let scores = court.scores.iter().map(|s| digits::rectangles(s, state.score[s.player]));
    let placed = |paddle| paddle_at(paddle, state, starts).into_iter().collect();
    let paddles = court.paddles.iter().map(placed);
    let ball = std::iter::once(ball_at(court, state).into_iter().collect());
    marks.chain(scores).chain(paddles).chain(ball).collect()
}

/// The pieces of a mark from its top; one if it is not dashed.
pub(super) fn dashes(mark: &Mark) -> Vec<Rectangle> {
    let whole = Rectangle::from(mark.area);
    let Some((on, off)) = mark.dash else {
        return vec![whole];
    };
    let pieces = whole.lines.clone().step_by(period(on, off));
    let piece = |line| Rectangle::at((whole.clocks.start, line), (mark.area.width, on));
    pieces.map(|line| piece(line).within(&whole)).collect()
}

/// A period too long to count is longer than any mark.
fn period(on: u32, off: u32) -> usize {
    usize::try_from(u64::from(on) + u64::from(off)).unwrap_or(usize::MAX)
}

/// A paddle begins on the line nearest to its player's position, or where he has moved it by himself,
/// or where its controller's ramp passes the threshold; it is not drawn in a field in which that does
/// not happen.
fn paddle_at(paddle: &Paddle, state: &GameState, starts: [Option<Start>; 2]) -> Option<Rectangle> {
    let line = match (starts[paddle.player], state.rally.lines[paddle.player]) {
        (Some(Start::Never), _) => return None,
        (Some(Start::Line(line)), _) => nearest(line),
        (None, Some(moved)) => lines_of(paddle, moved),
        (None, None) => nearest(line_at(paddle, state.players[paddle.player])),
    };
    Some(Rectangle::at((i64::from(paddle.x), line), (paddle.width, paddle.height)))
}

/// The line of a paddle at a position, 0 to 1.
fn line_at(paddle: &Paddle, position: f64) -> f64 {
    math::lerp(f64::from(paddle.top), f64::from(paddle.bottom), position)
}

fn nearest(line: f64) -> i64 {
    i64::try_from(math::floor_index(math::round(line))).unwrap_or(i64::MAX)
}

/// The line of a paddle that is so many lines below its highest place, within its travel.
fn lines_of(paddle: &Paddle, moved: i64) -> i64 {
    let (top, bottom) = (i64::from(paddle.top), i64::from(paddle.bottom));
    top.saturating_add(moved).clamp(top.min(bottom), top.max(bottom))
}

/// The ball, cut to the court: outside it nothing is drawn, nor before it is served.
fn ball_at(court: &Court, state: &GameState) -> Option<Rectangle> {
    let ball = Rectangle::at(state.ball, (court.ball.width, court.ball.height));
    (state.rally.waiting == 0).then(|| ball.within(&Rectangle::from(court.field)))
}
