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
    let starts =
        state.controllers.as_ref().map_or([None; 2], |all| all.starts(state.field, timing));
    let mut patches: Vec<Patch> = drawings(court, state, starts)
        .iter()
        .enumerate()
        .flat_map(|(shape, areas)| areas.iter().map(move |area| (shape, area)))
        .flat_map(|(shape, area)| area.within(&picture).patches(shape))
        .collect();
    patches.sort_unstable();
    patches
}

/// The rectangles of every shape, in the order of [`shapes`].
fn drawings(court: &Court, state: &GameState, starts: [Option<Start>; 2]) -> Vec<Vec<Rectangle>> {
    let marks = court.marks.iter().map(dashes);
    let scores = court.scores.iter().map(|s| digits::rectangles(s, state.score[s.player]));
    let paddles = court.paddles.iter().map(|paddle| paddle_at(paddle, state, starts));
    let ball = std::iter::once(vec![ball_at(court, state)]);
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

/// A paddle begins on the line nearest to its player's position, or to where its controller's ramp
/// passes the threshold; it is not drawn in a field in which that does not happen.
fn paddle_at(paddle: &Paddle, state: &GameState, starts: [Option<Start>; 2]) -> Vec<Rectangle> {
    let line = match starts[paddle.player] {
        None => {
            let position = state.players[paddle.player];
            math::lerp(f64::from(paddle.top), f64::from(paddle.bottom), position)
        }
        Some(Start::Line(line)) => line,
        Some(Start::Never) => return Vec::new(),
    };
    let line = i64::try_from(math::floor_index(math::round(line))).unwrap_or(i64::MAX);
    vec![Rectangle::at((i64::from(paddle.x), line), (paddle.width, paddle.height))]
}

/// The ball, cut to the court: outside it nothing is drawn.
fn ball_at(court: &Court, state: &GameState) -> Rectangle {
    let ball = Rectangle::at(state.ball, (court.ball.width, court.ball.height));
    ball.within(&Rectangle::from(court.field))
}
