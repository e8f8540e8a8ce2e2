//! The ball through one field: in steps of a clock or a line, so that nothing is flown through at
//! any speed.

use crate::raster::court;
use crate::raster::plan::Contact;
use crate::raster::plan::Court;
use crate::raster::plan::GameState;
use crate::raster::plan::Paddle;
use crate::raster::rectangle::Rectangle;
use crate::raster::rules::Event;
use crate::raster::rules::Points;
use crate::raster::rules::Rules;

/// What became of the ball in a field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Outcome {
    /// It is in play; the loudest that happened on its way.
    Plays(Option<Event>),
    /// It was lost at the left (0) or the right edge (1).
    Lost(usize),
}

/// What the ball meets in one field.
pub(super) struct Flight<'a> {
    court: &'a Court,
    /// What it rebounds from.
    walls: Vec<Rectangle>,
    /// The paddles where they are drawn; none once the game is over.
    paddles: Vec<(&'a Paddle, Rectangle)>,
    /// Whether an edge is a goal; none is once the game is over.
    goals: [bool; 2],
    event: Option<Event>,
}

/// Along the line or down the field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Axis {
    Clocks,
    Lines,
}

impl<'a> Flight<'a> {
    /// A flight past paddles at their places of the field.
    pub(super) fn new(court: &'a Court, over: bool, places: Vec<Option<Rectangle>>) -> Self {
        let walls = court.marks.iter().filter(|mark| mark.contact == Contact::Rebounds);
        let walls = walls.flat_map(court::dashes).collect();
        let drawn = court.paddles.iter().zip(places);
        let paddles = drawn.filter_map(|(paddle, place)| Some((paddle, place?)));
        Self {
            court,
            walls,
            paddles: if over { Vec::new() } else { paddles.collect() },
            goals: if over { [false; 2] } else { court.rules.goals },
            event: None,
        }
    }

    /// Moves the ball on to the next field.
    pub(super) fn fly(mut self, state: &mut GameState) -> Outcome {
        // A paddle may have been moved onto the ball.
        if self.strikes(state) {
            return Outcome::Plays(self.event);
        }
        let (clocks, lines) = (state.velocity.0.unsigned_abs(), state.velocity.1.unsigned_abs());
        let steps = clocks.max(lines);
        for step in 0..steps {
            for (axis, length) in [(Axis::Clocks, clocks), (Axis::Lines, lines)] {
                // Both ways are spread over the steps in whole clocks and lines.
                if (step + 1) * length / steps == step * length / steps {
                    continue;
                }
                let before = state.ball;
                self.step(state, axis);
                if self.strikes(state) {
                    state.ball = before;
                    self.return_by(state, clocks - step * clocks / steps);
                    return Outcome::Plays(self.event);
                }
            }
            if let Some(side) = self.lost(state) {
                return Outcome::Lost(side);
            }
        }
        Outcome::Plays(self.event)
    }

    /// One clock or line on; from a wall one back instead.
    fn step(&mut self, state: &mut GameState, axis: Axis) {
        let (on, back) = (moved(state, axis, 1), moved(state, axis, -1));
        if !self.blocked(state.ball, on) {
            state.ball = on;
            return;
        }
        match axis {
            Axis::Clocks => state.velocity.0 = -state.velocity.0,
            Axis::Lines => state.velocity.1 = -state.velocity.1,
        }
        self.hear(Event::Rebound);
        if !self.blocked(state.ball, back) {
            state.ball = back;
        }
    }

    /// Whether a step leads into a wall or over an edge; out of one it may always go.
    fn blocked(&self, from: (i64, i64), to: (i64, i64)) -> bool {
        let (here, there) = (self.ball(from), self.ball(to));
        let enters = |wall: &Rectangle| wall.meets(&there) && !wall.meets(&here);
        let field = Rectangle::from(self.court.field);
        let edges = [
            (!self.goals[0], there.clocks.start == field.clocks.start - 1, to.0 < from.0),
            (!self.goals[1], there.clocks.end == field.clocks.end + 1, to.0 > from.0),
            (true, there.lines.start == field.lines.start - 1, to.1 < from.1),
            (true, there.lines.end == field.lines.end + 1, to.1 > from.1),
        ];
        // Exactly one: what is farther outside began there, and is left to come back or not.
        let crosses = edges.iter().any(|&(closed, over, outwards)| closed && over && outwards);
        crosses || self.walls.iter().any(enters)
    }

    /// Strikes the ball if a paddle meets it and sends it the other way.
    fn strikes(&mut self, state: &mut GameState) -> bool {
        let ball = self.ball(state.ball);
        let meets = |(paddle, place): &&(&'a Paddle, Rectangle)| {
            paddle.sends * state.velocity.0 < 0
                && place.meets(&ball)
                && has_turn(&self.court.rules, state, paddle.player)
        };
        let Some((paddle, place)) = self.paddles.iter().find(meets) else { return false };
        let rally = &mut state.rally;
        rally.hits = rally.hits.saturating_add(1);
        rally.all_hits += 1;
        rally.struck_by = Some(paddle.player);
        let rules = &self.court.rules;
        let fast = rules.faster_after.is_some_and(|hits| rally.hits >= hits);
        let speed = if fast { 2 * rules.speed } else { rules.speed };
        let angle = rules.angles[band(rules.angles.len(), place, &ball, state.velocity.1)];
        state.velocity = (paddle.sends * speed, angle * speed);
        if rules.points == Points::Hits {
            state.score[paddle.player] = state.score[paddle.player].saturating_add(1);
        }
        self.hear(Event::Hit);
        true
    }

    /// What is left of the field's way, away from the paddle: a ball does not stand still there.
    fn return_by(&self, state: &mut GameState, clocks: u64) {
        for _ in 0..clocks.min(state.velocity.0.unsigned_abs()) {
            let on = moved(state, Axis::Clocks, 1);
            if self.blocked(state.ball, on) {
                return;
            }
            state.ball = on;
        }
    }

    /// The goal that the ball has gone through, whole.
    fn lost(&self, state: &GameState) -> Option<usize> {
        let (ball, field) = (self.ball(state.ball), Rectangle::from(self.court.field));
        if self.goals[0] && ball.clocks.end <= field.clocks.start {
            return Some(0);
        }
        (self.goals[1] && ball.clocks.start >= field.clocks.end).then_some(1)
    }

    fn ball(&self, at: (i64, i64)) -> Rectangle {
        Rectangle::at(at, (self.court.ball.width, self.court.ball.height))
    }

    fn hear(&mut self, event: Event) {
        self.event = self.event.max(Some(event));
    }
}

/// The ball's place one step on in its direction, or back.
fn moved(state: &GameState, axis: Axis, by: i64) -> (i64, i64) {
    let (clock, line) = state.ball;
    match axis {
        Axis::Clocks => (clock.saturating_add(by * state.velocity.0.signum()), line),
        Axis::Lines => (clock, line.saturating_add(by * state.velocity.1.signum())),
    }
}

/// Whether a player may strike: where turns are taken, not twice in a row.
pub(super) fn has_turn(rules: &Rules, state: &GameState, player: usize) -> bool {
    rules.points != Points::Turns || state.rally.struck_by != Some(player)
}

/// The band of a paddle that the middle of the ball meets, 0 the uppermost. Between two bands it is
/// that towards which the ball moves.
fn band(bands: usize, paddle: &Rectangle, ball: &Rectangle, line_velocity: i64) -> usize {
    let count = i64::try_from(bands).unwrap_or(i64::MAX);
    // In half lines, of which there may be an odd number.
    let height = 2 * (paddle.lines.end - paddle.lines.start);
    let below = ball.lines.start + ball.lines.end - 2 * paddle.lines.start;
    let (whole, rest) = ((below * count).div_euclid(height), (below * count).rem_euclid(height));
    let index = if rest == 0 && line_velocity < 0 { whole - 1 } else { whole };
    usize::try_from(index.clamp(0, count - 1)).unwrap_or(0)
}
