//! From one field's game to the next.

use crate::raster::plan::GameState;

/// Moves the ball on by its velocity, in a straight line, and counts the field.
///
/// A ball that has left the court flies on unseen; at the end of the number range it stays there.
pub(super) fn advance(state: &mut GameState) {
    let (clock, line) = state.ball;
    let (clocks, lines) = state.velocity;
    state.ball = (clock.saturating_add(clocks), line.saturating_add(lines));
    state.field = state.field.saturating_add(1);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::example;

    fn state(ball: (i64, i64), velocity: (i64, i64)) -> GameState {
        GameState { ball, velocity, ..example::state() }
    }

    #[test]
    fn the_ball_moves_in_a_straight_line() {
        let mut game = state((60, 100), (-1, 3));
        for field in 1..=50 {
            advance(&mut game);
            assert_eq!(game.ball, (60 - field, 100 + 3 * field));
        }
    }

    #[test]
    fn a_ball_at_the_end_of_the_number_range_stays_there() {
        let mut game = state((i64::MAX - 1, 0), (5, 0));
        advance(&mut game);
        assert_eq!(game.ball, (i64::MAX, 0));
    }
}
