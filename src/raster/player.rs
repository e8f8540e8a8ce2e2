//! Players who move their paddles themselves.

use crate::base::math;
use crate::base::random::Draws;
use crate::raster::flight::has_turn;
use crate::raster::plan::Court;
use crate::raster::plan::GameState;
use crate::raster::plan::Paddle;
use crate::raster::rules::Players;

/// Streams of random numbers from here on are the players'; those below are the serves'.
const PLAYER_STREAMS: u64 = 1 << 62;

/// Moves the paddles on to the next field, which `state` already counts.
pub(super) fn move_on(court: &Court, state: &mut GameState) {
    match &court.rules.players {
        Players::Held(paths) => {
            for (path, player) in paths.iter().zip(&mut state.players) {
                *player = position(path, state.field + 1).unwrap_or(*player);
            }
        }
        &Players::Follow { lines, misses } => {
            for player in 0..2 {
                follow(court, state, player, (lines, misses));
            }
        }
    }
}

/// Where a path is in a field, counted from 1; in a straight line between its places, of which a path
/// without any has none.
pub(super) fn position(path: &[(u64, f64)], field: u64) -> Option<f64> {
    let places: Vec<(f64, f64)> =
        path.iter().map(|&(at, place)| (math::from_u64(at), place)).collect();
    (!places.is_empty()).then(|| math::interpolate(&places, math::from_u64(field)).0)
}

/// Moves a player towards the ball, if it comes towards one of his paddles and is his to strike.
fn follow(court: &Court, state: &mut GameState, player: usize, (lines, misses): (i64, f64)) {
    let Some(paddle) = court.paddles.iter().find(|paddle| paddle.player == player) else { return };
    let moved = state.rally.lines[player].unwrap_or_else(|| begin(paddle, state.players[player]));
    let comes = state.rally.waiting == 0 && paddle.sends * state.velocity.0 < 0;
    let plays = comes && has_turn(&court.rules, state, player) && !over(court, state);
    let wanted = if plays {
        let height = i64::from(paddle.height);
        let middle = state.ball.1 + (i64::from(court.ball.height) - height).div_euclid(2);
        let away = choice(court, state, (paddle, player), misses);
        middle.saturating_add(away).saturating_sub(i64::from(paddle.top))
    } else {
        moved
    };
    let travel = i64::from(paddle.bottom) - i64::from(paddle.top);
    let step = wanted.saturating_sub(moved).clamp(-lines, lines);
    state.rally.lines[player] = Some((moved + step).clamp(travel.min(0), travel.max(0)));
}

fn begin(paddle: &Paddle, position: f64) -> i64 {
    let travel = f64::from(paddle.bottom) - f64::from(paddle.top);
    let size = i64::try_from(math::floor_index(math::round(travel.abs() * position)));
    if travel < 0.0 { -size.unwrap_or(0) } else { size.unwrap_or(0) }
}

/// How many lines off its middle a player means to meet this ball: anywhere on the paddle, or beside
/// it.
fn choice(
    court: &Court,
    state: &GameState,
    (paddle, player): (&Paddle, usize),
    misses: f64,
) -> i64 {
    let rally = &state.rally;
    // Each serve and each hit is another ball to either player.
    let ball = rally.serves.wrapping_add(rally.all_hits);
    let stream = PLAYER_STREAMS + 2 * ball + u64::from(player == 1);
    let mut draws = Draws::new(court.rules.seed, stream);
    let beside = draws.uniform() < misses;
    let reach = (court.ball.height + paddle.height) / 2;
    let lines = if beside {
        // Wholly past it, by up to a third of the paddle.
        reach + draws.one_to(1 + paddle.height / 3)
    } else {
        // A line short of its end, where it is met for certain.
        draws.one_to(reach.max(2) - 1) - 1
    };
    let up = draws.uniform() < 0.5;
    if up { -i64::from(lines) } else { i64::from(lines) }
}

/// Whether the game has ended.
pub(super) fn over(court: &Court, state: &GameState) -> bool {
    state.score.iter().any(|&score| score >= court.rules.last_point)
}
