//! The game from field to field: speeds, angles, serves and points against what class data sheets
//! state, and what must hold whatever the game is.
//!
//! Figures of the class (1.3 and 0.65 s to cross, ±20° and ±40°, a serve after about 1.5 s, 15
//! points): class data sheets, known to us only as printed here. That the game goes on through the
//! paddles at 15, that a ball passes a forward paddle from behind, and that turns are taken: common
//! practice, no source.

use backporch::base::math;
use backporch::profile::builtin;
use backporch::raster::generate::Raster;
use backporch::raster::plan::Content;
use backporch::raster::plan::Court;
use backporch::raster::plan::GameState;
use backporch::raster::plan::RasterPlan;
use backporch::raster::rules::Aim;
use backporch::raster::rules::Event;
use backporch::raster::rules::Players;
use backporch::raster::rules::Rally;
use backporch::scenario::load;
use proptest::prelude::*;

const CHIPS: [&str; 2] = ["two-player-50", "two-player-60"];
/// The seen picture is four units wide and three high. Lines of it at 50 and 60 Hz: half of the 576 and 480
/// that a frame has in ITU-R BT.601; from memory.
const SEEN_LINES: [f64; 2] = [288.0, 240.0];

fn court(chip: &str, name: &str) -> Court {
    let chip = builtin::chip(chip).unwrap();
    chip.courts.into_iter().find(|(known, _)| known == name).unwrap().1
}

fn state(ball: (i64, i64), velocity: (i64, i64)) -> GameState {
    GameState {
        players: [0.5, 0.5],
        ball,
        velocity,
        score: [0, 0],
        controllers: None,
        field: 0,
        rally: Rally::default(),
    }
}

fn game(chip: &str, court: Court, state: GameState) -> Raster {
    let chip = builtin::chip(chip).unwrap();
    let pins = chip.pins.iter().map(|pin| pin.plan.clone()).collect();
    Raster::new(&RasterPlan {
        timing: chip.timing,
        elements: chip.elements,
        pins,
        sync_blocks: None,
        content: Content::Game(Box::new(court), state),
    })
    .unwrap()
}

fn now(raster: &Raster) -> &GameState {
    raster.state().unwrap()
}

/// Fields until something is so; at most 5000.
fn fields_until(raster: &mut Raster, so: impl Fn(&GameState) -> bool) -> u32 {
    (0..5000)
        .find(|_| {
            so(now(raster)) || {
                raster.advance_field();
                false
            }
        })
        .unwrap()
}

fn field_hz(chip: &str) -> f64 {
    builtin::timing(chip).unwrap().field_hz()
}

/// A court without paddles, so that nothing is in the way.
fn empty(chip: &str, name: &str) -> Court {
    let court = court(chip, name);
    Court { paddles: Vec::new(), ..court }
}

#[test]
fn the_ball_crosses_in_the_times_of_the_class() {
    let crossing = |chip: &str, clocks: i64| {
        let court = empty(chip, "net");
        let (left, line) = (i64::from(court.field.x), i64::from(court.field.y) + 9);
        let mut raster = game(chip, court, state((left, line), (clocks, 0)));
        let fields = fields_until(&mut raster, |game| game.rally.waiting > 0);
        format!("{:.2}", f64::from(fields) / field_hz(chip))
    };
    assert_eq!([crossing(CHIPS[1], 1), crossing(CHIPS[1], 2)], ["1.30", "0.65"]);
    // The same steps at 50 fields a second: 78 / 50.08.
    assert_eq!([crossing(CHIPS[0], 1), crossing(CHIPS[0], 2)], ["1.56", "0.78"]);
}

/// The velocity after the ball has met the left paddle with its middle so many lines below the
/// paddle's first.
fn returned(court: &Court, below: i64, lines: i64) -> (i64, i64) {
    let paddle = &court.paddles[0];
    // Half way, on the nearest line.
    let top = (i64::from(paddle.top) + i64::from(paddle.bottom) + 1) / 2;
    let ball = (i64::from(paddle.x + paddle.width), top + below - i64::from(court.ball.height / 2));
    let mut raster = game(CHIPS[1], court.clone(), state(ball, (-1, lines)));
    raster.advance_field();
    raster.advance_field();
    assert_eq!(raster.event(), Some(Event::Hit), "{below}");
    now(&raster).velocity
}

#[test]
fn the_band_of_the_paddle_chooses_the_angle() {
    // 40 lines: two bands of 20, four of 10; the ball is 6 lines high.
    let two = court(CHIPS[1], "net");
    for (below, lines) in [(1, -1), (18, -1), (22, 1), (39, 1)] {
        assert_eq!(returned(&two, below, 0), (1, lines), "{below}");
    }
    let four = court(CHIPS[1], "goals");
    for (below, lines) in [(0, -3), (8, -3), (12, -1), (18, -1), (22, 1), (28, 1), (32, 3), (41, 3)]
    {
        assert_eq!(returned(&four, below, 0), (1, lines), "{below}");
    }
    // Between two bands it goes on as it came.
    assert_eq!([returned(&two, 20, -1), returned(&two, 20, 1)], [(1, -1), (1, 1)]);
    // A dead middle is a list with a 0.
    let mut dead = two.clone();
    dead.rules.angles = vec![-2, 0, 2];
    assert_eq!(returned(&dead, 20, 1), (1, 0));
}

/// The class data sheets' ±20° and ±40° are met to the nearest whole line for each clock: one and three. A
/// clock is 4 / 104 of the picture's height over three, a line 3 / 288 or 3 / 240; the angles are the arcs
/// of their tangents, computed independently.
#[test]
fn angles_on_the_screen_are_those_of_the_class() {
    for (chip, lines, steep) in
        [(0, SEEN_LINES[0], ["15.2", "39.1"]), (1, SEEN_LINES[1], ["18.0", "44.3"])]
    {
        let court = court(CHIPS[chip], "goals");
        let timing = builtin::timing(CHIPS[chip]).unwrap();
        let clock = 4.0 / f64::from(timing.active_stop - timing.active_start);
        let angle = |lines_a_clock: i64| {
            let rise = f64::from(u32::try_from(lines_a_clock).unwrap()) * 3.0 / lines;
            format!("{:.1}", math::atan(rise / clock).to_degrees())
        };
        assert_eq!([angle(court.rules.angles[2]), angle(court.rules.angles[3])], steep);
    }
}

#[test]
fn a_lost_ball_scores_for_the_other_side_and_is_served_after_a_second_and_a_half() {
    for (chip, seconds) in [(CHIPS[1], "1.500"), (CHIPS[0], "1.498")] {
        for (side, way) in [(0_usize, -1), (1, 1)] {
            let court = empty(chip, "net");
            let mut raster = game(chip, court.clone(), state((70, 100), (way, 0)));
            fields_until(&mut raster, |game| game.rally.waiting > 0);
            let mut score = [0, 0];
            score[1 - side] = 1;
            assert_eq!(now(&raster).score, score);
            // No field of the wait shows a ball, and the first one sounds.
            let mut fields = 0;
            while now(&raster).rally.waiting > 0 {
                let map = raster.advance_field().map;
                let ball = map.shapes.iter().position(|shape| shape.name == "ball");
                assert!(map.patches.iter().all(|patch| Some(patch.shape) != ball));
                assert_eq!(raster.event(), (fields == 0).then_some(Event::Score));
                fields += 1;
            }
            assert_eq!(format!("{:.3}", f64::from(fields) / field_hz(chip)), seconds);
            let served = now(&raster);
            assert_eq!((served.ball.0, served.velocity.0), (72, -way), "away from that edge");
            assert!(court.rules.angles.contains(&served.velocity.1));
        }
    }
}

#[test]
fn lines_and_walls_send_the_ball_back_without_a_stop() {
    let court = empty(CHIPS[1], "solo");
    let goal = Court {
        rules: backporch::raster::rules::Rules { goals: [false, false], ..court.rules.clone() },
        ..court
    };
    let mut raster = game(CHIPS[1], goal, state((38, 45), (-1, -1)));
    let mut places = Vec::new();
    let mut events = Vec::new();
    for _ in 0..6 {
        places.push(now(&raster).ball);
        raster.advance_field();
        events.push(raster.event());
    }
    // The wall ends at clock 36, the upper line at line 43: each is met once.
    assert_eq!(places, [(38, 45), (37, 44), (36, 43), (37, 44), (38, 45), (39, 46)]);
    let heard: Vec<usize> = (0..6).filter(|&at| events[at] == Some(Event::Rebound)).collect();
    assert_eq!(heard, [3]);
}

#[test]
fn nothing_is_flown_through_at_any_speed() {
    for speed in [1, 2, 3, 7, 20, 64] {
        let court = court(CHIPS[0], "net");
        let mut raster = game(CHIPS[0], court, state((70, 160), (-speed, 0)));
        let fields = fields_until(&mut raster, |game| game.rally.hits > 0);
        assert!(i64::from(fields) <= 28 / speed + 1, "{speed}: {fields}");
        assert_eq!(now(&raster).rally.waiting, 0);
    }
}

#[test]
fn a_paddle_that_comes_onto_the_ball_strikes_it() {
    let mut court = court(CHIPS[0], "net");
    // The paddle is on lines 52 to 100, and in the next field on 142 to 190.
    court.rules.players = Players::Held([vec![(1, 0.0), (2, 0.5)], Vec::new()]);
    let mut raster =
        game(CHIPS[0], court, GameState { players: [0.0, 0.5], ..state((42, 160), (-1, 0)) });
    raster.advance_field();
    assert_eq!((now(&raster).ball, now(&raster).velocity), ((41, 160), (-1, 0)));
    raster.advance_field();
    assert_eq!(now(&raster).velocity, (1, -1));
}

#[test]
fn a_ball_passes_its_own_forward_paddle_from_behind_and_meets_it_from_before() {
    let court = court(CHIPS[0], "goals");
    let forward = court.paddles.iter().find(|paddle| paddle.name == "left forward paddle").unwrap();
    assert_eq!((forward.x, forward.player), (88, 0));
    let mut raster = game(CHIPS[0], court.clone(), state((80, 160), (1, 0)));
    let met = |raster: &mut Raster| fields_until(raster, |game| game.rally.hits > 0);
    met(&mut raster);
    assert_eq!(now(&raster).rally.struck_by, Some(1), "the right player's own, at clock 105");
    let mut raster = game(CHIPS[0], court, state((95, 160), (-1, 0)));
    met(&mut raster);
    assert_eq!((now(&raster).rally.struck_by, now(&raster).ball.0), (Some(0), 91), "back from 90");
}

#[test]
fn a_goal_is_the_gap_and_the_wall_beside_it_is_none() {
    let court = empty(CHIPS[1], "goals");
    let beside = |line| {
        let mut raster = game(CHIPS[1], court.clone(), state((45, line), (-1, 0)));
        for _ in 0..40 {
            raster.advance_field();
        }
        now(&raster).score
    };
    assert_eq!(beside(60), [0, 0]);
    assert_eq!(beside(140), [0, 1]);
}

#[test]
fn where_turns_are_taken_the_ball_passes_who_struck_it_last() {
    let mut court = court(CHIPS[0], "wall");
    court.rules.players = Players::Held([Vec::new(), Vec::new()]);
    let mut raster = game(CHIPS[0], court, state((80, 160), (1, 0)));
    let mut struck = Vec::new();
    while now(&raster).rally.waiting == 0 {
        raster.advance_field();
        struck.extend(now(&raster).rally.struck_by.filter(|_| raster.event() == Some(Event::Hit)));
        assert!(now(&raster).field < 5000);
    }
    assert!(struck.windows(2).all(|pair| pair[0] != pair[1]), "{struck:?}");
    // Who struck last has the point.
    let score = now(&raster).score;
    assert_eq!(score[now(&raster).rally.struck_by.unwrap()], 1, "{score:?}");
}

#[test]
fn alone_every_hit_is_a_point_and_a_lost_ball_is_none() {
    let court = court(CHIPS[0], "solo");
    let mut raster = game(CHIPS[0], court, state((80, 160), (1, 0)));
    fields_until(&mut raster, |game| game.rally.waiting > 0);
    let hits = now(&raster).rally.all_hits;
    assert!(hits > 0);
    assert_eq!(u64::from(now(&raster).score[1]), hits);
    assert_eq!(now(&raster).score[0], 0);
}

#[test]
fn some_hits_make_the_ball_twice_as_fast_until_it_is_lost() {
    let mut court = court(CHIPS[0], "net");
    court.rules.faster_after = Some(4);
    court.rules.angles = vec![0];
    let mut raster = game(CHIPS[0], court, state((70, 160), (1, 0)));
    for hits in 1..=6 {
        fields_until(&mut raster, |game| game.rally.hits == hits);
        let speed = now(&raster).velocity.0.abs();
        assert_eq!(speed, if hits < 4 { 1 } else { 2 }, "{hits}");
    }
}

/// Followed by a machine on either side, fast and careless enough to be over in time.
fn whole_game(chip: &str, name: &str, seed: u64) -> Raster {
    let mut court = court(chip, name);
    court.rules.players = Players::Follow { lines: 3, misses: 0.7 };
    court.rules.speed = 2;
    court.rules.seed = seed;
    let middle = (i64::from(court.field.x) + 38, i64::from(court.field.y) + 90);
    game(chip, court, state(middle, (2, 2)))
}

#[test]
fn a_game_of_3000_fields_serves_and_scores_and_ends_at_15() {
    // 75 fields of each point are a wait, or 90.
    for (chip, fields) in CHIPS.into_iter().zip([3000_u32, 4500]) {
        let mut raster = whole_game(chip, "net", 7);
        let (mut serves, mut hits, mut points, mut before) = (0, 0, 0, 0);
        for field in 0..fields {
            raster.advance_field();
            match raster.event() {
                Some(Event::Hit) => hits += 1,
                Some(Event::Score) => points += 1,
                _ => {}
            }
            let game = now(&raster);
            assert!(game.score.iter().all(|&score| score <= 15), "{field}");
            serves += u32::from(game.rally.waiting == 0 && before > 0);
            before = game.rally.waiting;
        }
        let score = now(&raster).score;
        assert!(score.contains(&15), "{chip}: {score:?}");
        assert_eq!(u32::from(score[0]) + u32::from(score[1]), points);
        assert_eq!(serves, points, "every lost ball was served again");
        assert!(hits > 5, "{hits}");
    }
}

#[test]
fn at_15_the_ball_goes_on_through_the_paddles_and_nobody_scores() {
    for name in ["net", "goals", "wall", "solo"] {
        let court = court(CHIPS[0], name);
        let field = court.field;
        let ended = GameState { score: [4, 15], ..state((60, 120), (1, 1)) };
        let mut raster = game(CHIPS[0], court, ended);
        let mut rebounds = 0;
        for _ in 0..1500 {
            raster.advance_field();
            assert_ne!(raster.event(), Some(Event::Hit), "{name}");
            rebounds += u32::from(raster.event() == Some(Event::Rebound));
            let game = now(&raster);
            let inside = |at: i64, from: u32, length: u32| {
                (i64::from(from)..i64::from(from + length)).contains(&at)
            };
            assert!(inside(game.ball.0, field.x, field.width), "{name}");
            assert!(inside(game.ball.1, field.y, field.height), "{name}");
        }
        assert_eq!(now(&raster).score, [4, 15]);
        assert!(rebounds > 20, "{name}: {rebounds}");
    }
}

#[test]
fn a_field_depends_on_the_seed_and_its_number_alone() {
    for name in ["net", "goals", "wall", "solo", "jumping"] {
        let chip = CHIPS[0];
        let run = |seed| {
            let mut raster = whole_game(chip, name, seed);
            (0..800)
                .map(|_| {
                    raster.advance_field();
                    now(&raster).clone()
                })
                .collect::<Vec<_>>()
        };
        let (first, again, other) = (run(3), run(3), run(4));
        assert_eq!(first, again, "{name}");
        assert_ne!(first, other, "{name}");
    }
}

#[test]
fn a_shot_counts_if_the_pistol_points_at_the_target() {
    let mut court = court(CHIPS[0], "target");
    court.rules.shots = vec![5, 20, 25, 140];
    court.rules.aim = Aim::At(64 + 4 + 1, 160 + 4 + 7);
    // In field 5 the target has moved 4 clocks and 4 lines: its middle is there.
    let mut raster = game(CHIPS[0], court.clone(), state((64, 160), (1, 1)));
    let mut scores = Vec::new();
    let mut events = Vec::new();
    for field in 1..=141_u32 {
        raster.advance_field();
        if raster.event().is_some_and(|event| event == Event::Score) {
            events.push(field);
        }
        if [4, 5, 20, 25, 140].contains(&field) {
            scores.push(now(&raster).score);
        }
    }
    // Shots on the left, hits on the right; 20 and 25 are fired at nothing, for the target is gone.
    assert_eq!(scores[..4], [[0, 0], [1, 1], [2, 1], [3, 1]]);
    assert_eq!(scores[4][0], 4);
    assert_eq!(events[0], 6, "it sounds with the field after the shot");
    court.rules.aim = Aim::Target;
    court.rules.shots = (1..=2000).step_by(100).collect();
    let mut raster = game(CHIPS[0], court, state((64, 160), (1, 1)));
    for _ in 0..2000 {
        raster.advance_field();
    }
    assert_eq!(now(&raster).score, [15, 15], "after 15 shots there are no more");
}

#[test]
fn a_target_that_jumps_stands_still_between() {
    let court = court(CHIPS[1], "jumping");
    let field = court.field;
    let mut raster = game(CHIPS[1], court, state((64, 100), (1, 1)));
    let mut stood = Vec::new();
    let (mut place, mut fields) = (now(&raster).ball, 0);
    for _ in 0..600 {
        raster.advance_field();
        fields += 1;
        if now(&raster).ball != place {
            stood.push(fields);
            (place, fields) = (now(&raster).ball, 0);
            assert!(
                place.0 >= i64::from(field.x) && place.0 + 4 <= i64::from(field.x + field.width)
            );
            assert!(
                place.1 >= i64::from(field.y) && place.1 + 12 <= i64::from(field.y + field.height)
            );
        }
    }
    assert_eq!(stood, [60; 10], "a second each");
}

/// The court in a mirror beside it: what is left is right, and the players change places.
fn beside(court: &Court, game: &GameState) -> (Court, GameState) {
    let (start, width) = (court.field.x, court.field.width);
    let turned = |x: u32, size: u32| 2 * start + width - x - size;
    let mut mirrored = court.clone();
    for mark in &mut mirrored.marks {
        mark.area.x = turned(mark.area.x, mark.area.width);
    }
    for paddle in &mut mirrored.paddles {
        paddle.x = turned(paddle.x, paddle.width);
        paddle.player = 1 - paddle.player;
        paddle.sends = -paddle.sends;
    }
    mirrored.rules.goals.reverse();
    let mut turned_game = turned_state(court, game, 0);
    turned_game.players.reverse();
    (mirrored, turned_game)
}

/// The court in a mirror below it.
fn below(court: &Court, game: &GameState) -> (Court, GameState) {
    let (start, height) = (court.field.y, court.field.height);
    let turned = |y: u32, size: u32| 2 * start + height - y - size;
    let mut mirrored = court.clone();
    mirrored.scores.clear();
    for mark in &mut mirrored.marks {
        mark.area.y = turned(mark.area.y, mark.area.height);
        mark.dash = None;
    }
    for paddle in &mut mirrored.paddles {
        let (top, bottom) = (paddle.top, paddle.bottom);
        (paddle.top, paddle.bottom) = (turned(bottom, paddle.height), turned(top, paddle.height));
    }
    mirrored.rules.angles = court.rules.angles.iter().rev().map(|angle| -angle).collect();
    let mut turned_game = turned_state(court, game, 1);
    turned_game.players = game.players.map(|place| 1.0 - place);
    (mirrored, turned_game)
}

/// The ball in a mirror: along the line (0) or down the field (1).
fn turned_state(court: &Court, game: &GameState, axis: usize) -> GameState {
    let mut turned = game.clone();
    let (field, ball) = (&court.field, &court.ball);
    if axis == 0 {
        turned.ball.0 = i64::from(2 * field.x + field.width - ball.width) - game.ball.0;
        turned.velocity.0 = -game.velocity.0;
    } else {
        turned.ball.1 = i64::from(2 * field.y + field.height - ball.height) - game.ball.1;
        turned.velocity.1 = -game.velocity.1;
    }
    turned
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    /// Until a ball is lost, a game and its mirror image stay mirror images of one another.
    #[test]
    fn a_mirrored_game_is_the_game_in_a_mirror(
        name in prop_oneof![Just("net"), Just("goals"), Just("wall"), Just("solo")],
        at in (0_i64..70, 0_i64..200),
        velocity in (-9_i64..10, prop_oneof![-7_i64..0, 1_i64..8]),
        lines in (0_u32..=180, 0_u32..=180),
        four in any::<bool>(),
    ) {
        let mut court = court(CHIPS[0], name);
        court.rules.angles = if four { vec![-3, -1, 1, 3] } else { vec![-1, 1] };
        // 180 lines of travel: whole lines, so that no rounding has a side.
        let players = [lines.0, lines.1].map(|lines| f64::from(lines) / 180.0);
        let start = (i64::from(court.field.x) + 2 + at.0, i64::from(court.field.y) + at.1);
        let begun = GameState { players, ..state(start, velocity) };
        for axis in 0..2 {
            let (mirrored, turned) = if axis == 0 { beside(&court, &begun) } else { below(&court, &begun) };
            let mut one = game(CHIPS[0], court.clone(), begun.clone());
            let mut other = game(CHIPS[0], mirrored, turned);
            for field in 0..300 {
                one.advance_field();
                other.advance_field();
                prop_assert_eq!(one.event(), other.event(), "axis {}, field {}", axis, field);
                let (here, there) = (now(&one), now(&other));
                prop_assert_eq!(here.rally.waiting, there.rally.waiting);
                if here.rally.waiting > 0 {
                    break;
                }
                let expected = turned_state(&court, here, axis);
                prop_assert_eq!((expected.ball, expected.velocity), (there.ball, there.velocity), "axis {}, field {}", axis, field);
            }
        }
    }

    /// Wherever it begins and however fast, the ball is in its court or waited for.
    #[test]
    fn a_ball_in_play_is_in_its_court(
        name in prop_oneof![Just("net"), Just("goals"), Just("wall"), Just("solo"), Just("target")],
        at in (0.0..=1.0_f64, 0.0..=1.0_f64),
        velocity in (-64_i64..=64, -64_i64..=64),
        misses in 0.0..=1.0_f64,
    ) {
        let text = std::fs::read_to_string("scenarios/chapel-follower.toml").unwrap();
        let set = [
            format!("game.court={name}"), format!("game.ball=[{}, {}]", at.0, at.1),
            format!("game.ball_velocity=[{}, {}]", velocity.0, velocity.1),
            "game.players=follow".to_owned(), format!("game.misses={misses}"),
        ];
        let scenario = load("scenarios/chapel-follower.toml", &set, &mut |_| Ok(text.clone())).unwrap();
        let mut raster = Raster::new(&scenario.raster).unwrap();
        let Content::Game(court, _) = &scenario.raster.content else { panic!("a game") };
        let field = court.field;
        for _ in 0..200 {
            raster.advance_field();
            let game = now(&raster);
            let (x, y) = game.ball;
            let clocks = i64::from(field.x) - 1..i64::from(field.x + field.width);
            let lines = i64::from(field.y)..=i64::from(field.y + field.height - court.ball.height);
            prop_assert!(game.rally.waiting > 0 || clocks.contains(&x) && lines.contains(&y), "{:?}", game);
        }
    }
}
