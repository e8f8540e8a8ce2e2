//! Pulse trains, field by field.

use crate::base::ticks::Tick;
use crate::base::ticks::TickSpan;
use crate::raster::check;
use crate::raster::court;
use crate::raster::line::Cutter;
use crate::raster::line::Stretch;
use crate::raster::motion;
use crate::raster::plan::Content;
use crate::raster::plan::GameState;
use crate::raster::plan::LinePart;
use crate::raster::plan::PinPlan;
use crate::raster::plan::RasterPlan;
use crate::raster::plan_error::PlanError;
use crate::raster::rectangle::Rectangle;
use crate::raster::rules::Event;
use crate::raster::sync;
use crate::raster::tone::SoundPin;
use crate::signal::element::ElementMap;
use crate::signal::element::ElementSet;
use crate::signal::element::Patch;
use crate::signal::pulse_train::Edge;
use crate::signal::pulse_train::FieldTrains;
use crate::signal::pulse_train::Level;
use crate::signal::pulse_train::PulseTrain;
use std::ops::Range;

/// A chip at work: puts out one field after another.
///
/// Trains join without a seam. A train's initial level is the last level of the field before (of
/// the idle pin before the first field: blanked, sync released), so what changes right at the
/// start of a field, such as field sync, is an edge at tick 0 and nothing gets lost in between.
#[derive(Clone, Debug)]
pub struct Raster {
    plan: RasterPlan,
    /// The game as the next field will show it; `None` for a pattern.
    state: Option<GameState>,
    /// Level of each pin before the next field.
    levels: Vec<Level>,
    /// For every line, the clocks in which sync is asserted.
    sync: Vec<Vec<Range<u32>>>,
    /// Elements and shapes, and what a pattern lights.
    map: ElementMap,
    sound: SoundPin,
    /// The sound pin through the field before, and what began to sound there.
    sounded: PulseTrain,
    event: Option<Event>,
    /// What the next field begins with.
    coming: Option<Event>,
}

impl Raster {
    /// A chip before its first field.
    ///
    /// # Errors
    ///
    /// [`PlanError`] for the first thing in the plan that cannot be drawn.
    pub fn new(plan: &RasterPlan) -> Result<Self, PlanError> {
        check::check(plan)?;
        let idle = |pin: &PinPlan| pin.level(ElementSet::EMPTY, LinePart::Blanking);
        Ok(Self {
            plan: plan.clone(),
            state: match &plan.content {
                Content::Game(_, state) => Some(state.clone()),
                Content::Pattern(_) => None,
            },
            levels: plan.pins.iter().map(idle).collect(),
            sync: sync::asserted(plan),
            map: standing_map(plan),
            sound: SoundPin::default(),
            sounded: PulseTrain::new(Level::LOW, [], TickSpan(plan.timing.clocks_per_field())),
            event: None,
            coming: None,
        })
    }

    /// The game as the next field will show it; `None` for a pattern.
    #[must_use]
    pub fn state(&self) -> Option<&GameState> {
        self.state.as_ref()
    }

    /// Puts out the next field, then moves the game on.
    pub fn advance_field(&mut self) -> FieldTrains {
        let map = self.draw();
        let trains = self.trains(&map);
        self.levels = trains.iter().map(PulseTrain::last_level).collect();
        self.advance_sound();
        if let (Content::Game(court, _), Some(game)) = (&self.plan.content, &mut self.state) {
            self.coming = motion::advance(court, game, &self.plan.timing);
        }
        let pins = self.plan.pins.iter().map(|pin| pin.name.clone()).collect();
        FieldTrains { timing: self.plan.timing, pins, trains, map }
    }

    /// The sound pin through the field put out last; it is no pin of the board.
    #[must_use]
    pub fn sound(&self) -> &PulseTrain {
        &self.sounded
    }

    /// What began to sound with the field put out last.
    #[must_use]
    pub fn event(&self) -> Option<Event> {
        self.event
    }

    fn advance_sound(&mut self) {
        self.event = self.coming.take();
        if let (Content::Game(court, _), Some(event)) = (&self.plan.content, self.event) {
            let tones = &court.rules.tones;
            self.sound.begin(tones.period(event), tones.burst);
        }
        self.sounded = self.sound.advance_field(self.plan.timing.clocks_per_field());
    }

    fn draw(&self) -> ElementMap {
        let mut map = self.map.clone();
        if let (Content::Game(court, _), Some(state)) = (&self.plan.content, &self.state) {
            map.patches = court::patches(court, state, &self.plan.timing);
        }
        map
    }

    fn trains(&self, map: &ElementMap) -> Vec<PulseTrain> {
        let mut pins: Vec<PinRecord> = self.records();
        let mut cutter = Cutter::new(map.elements.len());
        for (line, sync) in (0..).zip(&self.sync) {
            self.lay_out(&mut cutter, line, sync, map);
            for stretch in cutter.cut() {
                // What ends with its line is answered by the start of the next.
                if stretch.start < self.plan.timing.clocks_per_line {
                    let at = Tick(self.plan.timing.tick(line, stretch.start));
                    pins.iter_mut().for_each(|pin| pin.follow(at, stretch));
                }
            }
        }
        let length = TickSpan(self.plan.timing.clocks_per_field());
        let finish = |(pin, &initial): (PinRecord, _)| PulseTrain::new(initial, pin.edges, length);
        pins.into_iter().zip(&self.levels).map(finish).collect()
    }

    fn records(&self) -> Vec<PinRecord<'_>> {
        let pins = self.plan.pins.iter().zip(&self.levels);
        pins.map(|(plan, &level)| PinRecord { plan, level, edges: Vec::new() }).collect()
    }

    /// Gives the cutter everything that happens on one line.
    fn lay_out(&self, cutter: &mut Cutter, line: u32, sync: &[Range<u32>], map: &ElementMap) {
        let timing = &self.plan.timing;
        sync.iter().for_each(|clocks| cutter.sync(clocks));
        if line >= timing.first_active_line {
            cutter.picture(&(timing.active_start..timing.active_stop));
        }
        for patch in map.line(line) {
            cutter.lit(&(patch.start..patch.stop), map.shapes[patch.shape].element);
        }
    }
}

/// One pin's edges as they come.
#[derive(Debug)]
struct PinRecord<'plan> {
    plan: &'plan PinPlan,
    level: Level,
    edges: Vec<Edge>,
}

impl PinRecord<'_> {
    fn follow(&mut self, at: Tick, stretch: &Stretch) {
        let level = self.plan.level(stretch.lit, stretch.part);
        if level != self.level {
            self.edges.push(Edge { at, level });
            self.level = level;
        }
    }
}

/// Elements and shapes, which no field changes, and a pattern's patches, cut to the picture.
fn standing_map(plan: &RasterPlan) -> ElementMap {
    match &plan.content {
        Content::Game(court, _) => ElementMap {
            elements: plan.elements.clone(),
            shapes: court::shapes(court),
            patches: Vec::new(),
        },
        Content::Pattern(map) => {
            let picture = Rectangle::picture(&plan.timing);
            let visible =
                |patch: Patch| Rectangle::from(patch).within(&picture).patches(patch.shape);
            let mut patches: Vec<Patch> = map.patches.iter().copied().flat_map(visible).collect();
            patches.sort_unstable();
            ElementMap { patches, ..map.clone() }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::example;
    use crate::raster::plan::Area;
    use crate::raster::plan::Ball;
    use crate::raster::plan::Block;
    use crate::raster::plan::Carries;
    use crate::raster::plan::CombinedLevels;
    use crate::raster::plan::Contact;
    use crate::raster::plan::Court;
    use crate::raster::plan::Mark;
    use crate::raster::plan::Paddle;
    use crate::raster::plan::Sense;
    use crate::raster::rules::Rules;
    use crate::signal::element::ElementId;
    use crate::signal::element::Shape;
    use crate::signal::timing::FieldSync;
    use crate::signal::timing::FieldTiming;
    use proptest::collection::vec;
    use proptest::prelude::*;

    fn first_field(plan: &RasterPlan) -> FieldTrains {
        Raster::new(plan).unwrap().advance_field()
    }

    fn level(field: &FieldTrains, pin: &str, line: u32, clock: u32) -> Level {
        let index = field.pins.iter().position(|name| name == pin).unwrap();
        field.trains[index].level_at(Tick(field.timing.tick(line, clock)))
    }

    /// First clock and width of every run of one shape, by line.
    fn runs(map: &ElementMap, shape: &str) -> Vec<(u32, u32, u32)> {
        let of_shape = map.patches.iter().filter(|patch| map.shapes[patch.shape].name == shape);
        of_shape.map(|patch| (patch.line, patch.start, patch.stop - patch.start)).collect()
    }

    #[test]
    fn a_field_has_312_or_262_lines_of_128_clocks() {
        let mut plan = example::plan();
        assert!(first_field(&plan).trains.iter().all(|train| train.length().0 == 39_936));
        let Content::Game(court, _) = &mut plan.content else { panic!("a game") };
        court.marks.remove(1);
        court.marks[1].area.height = 200;
        court.field.height = 200;
        plan.timing.lines_per_field = 262;
        assert!(first_field(&plan).trains.iter().all(|train| train.length().0 == 33_536));
    }

    #[test]
    fn line_sync_is_low_for_nine_clocks_on_every_line_after_field_sync() {
        let field = first_field(&example::plan());
        let edges = field.trains[0].edges();
        // Field sync: four inverted lines give an edge at clock 9 and one at the next line's start.
        let after: Vec<(u64, Level)> =
            edges.iter().map(|edge| (edge.at.0, edge.level)).filter(|&(at, _)| at > 512).collect();
        let expected: Vec<(u64, Level)> = (4..312)
            .flat_map(|line| [(line * 128, Level::LOW), (line * 128 + 9, Level::HIGH)])
            .filter(|&(at, _)| at > 512)
            .collect();
        assert_eq!(after, expected);
    }

    #[test]
    fn field_sync_begins_with_an_edge_at_tick_0_of_every_field() {
        let mut plan = example::plan();
        plan.timing.field_sync = FieldSync::Held;
        let mut raster = Raster::new(&plan).unwrap();
        for _ in 0..2 {
            let sync = raster.advance_field().trains.swap_remove(0);
            assert_eq!(sync.initial(), Level::HIGH);
            assert_eq!(sync.edges()[0], Edge { at: Tick(0), level: Level::LOW });
            assert_eq!(sync.edges()[1], Edge { at: Tick(4 * 128 + 9), level: Level::HIGH });
        }
    }

    #[test]
    fn sync_joins_the_next_field_where_it_lasts_to_the_end() {
        let mut plan = example::plan();
        plan.sync_blocks = Some(vec![Block { lines: 0..312, clocks: 100..128 }]);
        plan.sync_blocks.as_mut().unwrap().push(Block { lines: 0..1, clocks: 0..9 });
        let mut raster = Raster::new(&plan).unwrap();
        assert_eq!(raster.advance_field().trains[0].initial(), Level::HIGH);
        let second = raster.advance_field().trains.swap_remove(0);
        assert_eq!(second.initial(), Level::LOW);
        assert_eq!(second.edges()[0], Edge { at: Tick(9), level: Level::HIGH });
    }

    #[test]
    fn sense_turns_a_pin_over() {
        let mut plan = example::plan();
        let upright = first_field(&plan);
        for pin in &mut plan.pins {
            pin.sense = match pin.sense {
                Sense::ActiveHigh => Sense::ActiveLow,
                Sense::ActiveLow => Sense::ActiveHigh,
            };
        }
        let turned = first_field(&plan);
        for (a, b) in upright.trains.iter().zip(&turned.trains) {
            assert!((0..a.length().0).all(|tick| a.level_at(Tick(tick)) != b.level_at(Tick(tick))));
        }
        assert_eq!(level(&upright, "sync", 100, 0), Level::LOW);
        assert_eq!(level(&upright, "left", 124, 40), Level::HIGH);
    }

    #[test]
    fn on_a_combined_pin_sync_beats_blanking_and_the_first_element_beats_the_rest() {
        let mut plan = example::plan();
        let combined = CombinedLevels {
            tip: Level(0),
            blanking: Level(1),
            black: Level(2),
            lit: vec![(example::BALL, Level(5)), (example::FIELD, Level(4))],
        };
        plan.pins = vec![example::pin("video", Carries::Combined(combined), Sense::ActiveHigh)];
        let Content::Game(_, state) = &mut plan.content else { panic!("a game") };
        state.ball = (73, 60);
        let field = first_field(&plan);
        let at = |line, clock| level(&field, "video", line, clock).0;
        assert_eq!(at(60, 0), 0, "line sync");
        assert_eq!(at(0, 100), 0, "field sync");
        assert_eq!(at(0, 0), 1, "released in an inverted line");
        assert_eq!(
            [at(60, 9), at(60, 20), at(60, 125), at(10, 60)],
            [1; 4],
            "porches, field blanking"
        );
        assert_eq!([at(60, 21), at(60, 124)], [2; 2], "black");
        assert_eq!(at(49, 60), 4, "top line");
        assert_eq!(at(64, 73), 5, "ball over net");
        assert_eq!(at(124, 40), 2, "an element without a level of its own stays black");
    }

    #[test]
    fn the_net_is_dashed_six_on_six_off_from_its_top() {
        let field = first_field(&example::plan());
        let expected: Vec<(u32, u32, u32)> =
            (52..280).filter(|line| (line - 52) % 12 < 6).map(|line| (line, 73, 1)).collect();
        assert_eq!(runs(&field.map, "net"), expected);
    }

    #[test]
    fn paddles_stand_on_the_line_nearest_their_position() {
        let lines = |players| {
            let mut plan = example::plan();
            let Content::Game(_, state) = &mut plan.content else { panic!("a game") };
            state.players = players;
            let map = first_field(&plan).map;
            ["left paddle", "right paddle"].map(|name| {
                let runs = runs(&map, name);
                assert_eq!(runs.len(), 24);
                runs[0]
            })
        };
        assert_eq!(lines([0.0, 1.0]), [(52, 40, 2), (256, 105, 2)]);
        // 52 + 0.35 * 204 = 123.4 and 52 + 0.6 * 204 = 174.4
        assert_eq!(lines([0.35, 0.6]), [(123, 40, 2), (174, 105, 2)]);
        assert_eq!(lines([0.5 / 204.0, 0.4 / 204.0]), [(53, 40, 2), (52, 105, 2)]);
    }

    #[test]
    fn the_ball_vanishes_at_the_edge_of_its_field() {
        let mut plan = example::plan();
        let Content::Game(court, _) = &mut plan.content else { panic!("a game") };
        court.paddles.clear();
        let mut raster = Raster::new(&plan).unwrap();
        for step in 0..70 {
            if step <= 60 {
                assert_eq!(raster.state().unwrap().ball, (64 + step, 150 + step));
            }
            let ball = runs(&raster.advance_field().map, "ball");
            let start = u32::try_from(64 + step).unwrap();
            let width = 125u32.saturating_sub(start).min(2);
            let top = u32::try_from(150 + step).unwrap();
            let lines = if width == 0 { top..top } else { top..top + 7 };
            let expected: Vec<_> = lines.map(|line| (line, start, width)).collect();
            assert_eq!(ball, expected, "step {step}");
        }
    }

    #[test]
    fn a_pattern_makes_no_sound() {
        let mut plan = example::plan();
        plan.content = pattern_of(&plan);
        let mut raster = Raster::new(&plan).unwrap();
        raster.advance_field();
        assert_eq!((raster.sound().edges().len(), raster.event()), (0, None));
    }

    fn pattern_of(plan: &RasterPlan) -> Content {
        Content::Pattern(ElementMap { elements: plan.elements.clone(), ..ElementMap::default() })
    }

    #[test]
    fn one_element_on_two_pins_gives_the_same_train_twice() {
        let mut plan = example::plan();
        let twin = PinPlan { name: "field too".to_owned(), ..plan.pins[1].clone() };
        plan.pins.push(twin);
        let field = first_field(&plan);
        assert_eq!(field.trains[1], field.trains[5]);
        // Runs: 8 lines, 114 of the net, 25 of the 3 and twice 25 of the 11.
        assert_eq!(field.trains[1].edges().len(), 2 * (8 + 114 + 25 + 50));
    }

    #[test]
    fn what_a_pattern_draws_in_blanking_is_cut_off() {
        let mut plan = example::plan();
        plan.content = Content::Pattern(ElementMap {
            elements: plan.elements.clone(),
            shapes: vec![Shape { name: "bar".to_owned(), element: example::FIELD }],
            patches: (0..312).map(|line| Patch { line, start: 0, stop: 128, shape: 0 }).collect(),
        });
        let mut raster = Raster::new(&plan).unwrap();
        assert_eq!(raster.state(), None);
        let field = raster.advance_field();
        let expected: Vec<_> = (24..312).map(|line| (line, 21, 104)).collect();
        assert_eq!(runs(&field.map, "bar"), expected);
        assert_eq!(field.trains[1].edges().len(), 2 * 288);
        assert_eq!(raster.advance_field(), field);
    }

    /// The obvious way: asks for every clock what holds there, straight from the plan.
    struct Naive<'plan>(&'plan RasterPlan);

    impl Naive<'_> {
        fn part(&self, line: u32, clock: u32) -> LinePart {
            if self.is_sync(line, clock) {
                LinePart::Sync
            } else if self.is_picture(line, clock) {
                LinePart::Active
            } else {
                LinePart::Blanking
            }
        }

        fn is_picture(&self, line: u32, clock: u32) -> bool {
            let t = &self.0.timing;
            line >= t.first_active_line && clock >= t.active_start && clock < t.active_stop
        }

        fn is_sync(&self, line: u32, clock: u32) -> bool {
            let t = &self.0.timing;
            if let Some(blocks) = &self.0.sync_blocks {
                return blocks.iter().any(|b| b.lines.contains(&line) && b.clocks.contains(&clock));
            }
            let half = t.clocks_per_line / 2;
            match t.field_sync {
                _ if line >= t.field_sync_lines => clock < t.line_sync,
                FieldSync::Held => true,
                FieldSync::Inverted => clock >= t.line_sync,
                FieldSync::Broad { gap } => {
                    let left = if clock < half { half } else { t.clocks_per_line } - clock;
                    left > gap
                }
            }
        }

        /// Elements lit with the game in a state.
        fn lit(&self, state: Option<&GameState>, line: u32, clock: u32) -> ElementSet {
            if !self.is_picture(line, clock) {
                return ElementSet::EMPTY;
            }
            match (&self.0.content, state) {
                (Content::Game(court, _), Some(state)) => {
                    Self::lit_in_game(court, state, (clock, line))
                }
                (Content::Pattern(map), None) => map.lit(line, clock),
                _ => panic!("a game has a state"),
            }
        }

        fn lit_in_game(court: &Court, state: &GameState, at: (u32, u32)) -> ElementSet {
            let inside = |area: Area| {
                (area.x..area.x + area.width).contains(&at.0)
                    && (area.y..area.y + area.height).contains(&at.1)
            };
            let mut lit = ElementSet::EMPTY;
            for mark in court.marks.iter().filter(|mark| inside(mark.area)) {
                let (on, off) = mark.dash.unwrap_or((1, 0));
                if (at.1 - mark.area.y) % (on + off) < on {
                    lit = lit.with(mark.element);
                }
            }
            for paddle in &court.paddles {
                let (top, bottom) = (f64::from(paddle.top), f64::from(paddle.bottom));
                let exact = top + state.players[paddle.player] * (bottom - top);
                let y = (0..200).find(|&y| f64::from(y) + 0.5 > exact).unwrap();
                if inside(Area { x: paddle.x, y, width: paddle.width, height: paddle.height }) {
                    lit = lit.with(paddle.element);
                }
            }
            let from_ball = (i64::from(at.0) - state.ball.0, i64::from(at.1) - state.ball.1);
            let on_ball = (0..i64::from(court.ball.width)).contains(&from_ball.0)
                && (0..i64::from(court.ball.height)).contains(&from_ball.1);
            if on_ball && inside(court.field) && state.rally.waiting == 0 {
                lit = lit.with(court.ball.element);
            }
            lit
        }
    }

    fn any_timing() -> impl Strategy<Value = FieldTiming> {
        let form = prop_oneof![
            Just(FieldSync::Held),
            Just(FieldSync::Inverted),
            (1u32..7).prop_map(|gap| FieldSync::Broad { gap }),
        ];
        ((16u32..40, 5u32..14), form, (1u32..4, 1u32..5, 1u32..6, 1u32..3)).prop_map(
            |((clocks_per_line, lines_per_field), field_sync, (sync, porch, front, lines))| {
                FieldTiming {
                    clocks_per_line,
                    lines_per_field,
                    line_sync: sync,
                    active_start: sync + porch - 1,
                    active_stop: clocks_per_line + 1 - front,
                    field_sync,
                    field_sync_lines: lines,
                    first_active_line: lines + lines % 2,
                    ..example::timing()
                }
            },
        )
    }

    fn any_pins() -> impl Strategy<Value = Vec<PinPlan>> {
        let levels = ((0u8..5, 0u8..5, 0u8..5), vec((0u8..4, 0u8..5), 0..5)).prop_map(
            |((tip, blanking, black), lit)| CombinedLevels {
                tip: Level(tip),
                blanking: Level(blanking),
                black: Level(black),
                lit: lit.into_iter().map(|(e, level)| (ElementId(e), Level(level))).collect(),
            },
        );
        let carries = prop_oneof![
            Just(Carries::Sync),
            (0u32..16).prop_map(|set| Carries::Elements(ElementSet(set))),
            levels.prop_map(Carries::Combined),
        ];
        let sense = prop_oneof![Just(Sense::ActiveHigh), Just(Sense::ActiveLow)];
        vec((carries, sense), 1..5).prop_map(|pins| {
            let pin = |(index, (carries, sense)): (usize, _)| {
                example::pin(&index.to_string(), carries, sense)
            };
            pins.into_iter().enumerate().map(pin).collect()
        })
    }

    /// Scores are left out: the figures have tests of their own.
    fn any_game(timing: FieldTiming) -> impl Strategy<Value = Content> {
        let (width, height) = (timing.clocks_per_line, timing.lines_per_field);
        let area = (0..width, 0..height, 1..width, 1..height).prop_map(move |(x, y, w, h)| Area {
            x,
            y,
            width: w.min(width - x),
            height: h.min(height - y),
        });
        let dash = proptest::option::of((1u32..4, 0u32..4));
        let marks = vec((area.clone(), dash, 0u8..4), 0..5);
        let paddles = vec((0usize..2, 0..width, (1u32..9, 1u32..6), (0..height, 0..height)), 0..3);
        let ball = ((1u32..5, 1u32..5), area, (-3i64..40, -3i64..14), (-5i64..6, -5i64..6));
        (marks, paddles, ball, [0.0..=1.0, 0.0..=1.0]).prop_map(
            |(marks, paddles, ((width, height), field, ball, velocity), players)| {
                let mark = |(area, dash, element)| Mark {
                    name: "mark".to_owned(),
                    element: ElementId(element),
                    area,
                    dash,
                    contact: if element < 2 { Contact::Passes } else { Contact::Rebounds },
                };
                let paddle = |(player, x, (width, height), (top, bottom))| Paddle {
                    name: "paddle".to_owned(),
                    element: example::LEFT,
                    player,
                    x,
                    width,
                    height,
                    top,
                    bottom,
                    sends: if player == 0 { 1 } else { -1 },
                };
                let court = Court {
                    marks: marks.into_iter().map(mark).collect(),
                    scores: Vec::new(),
                    paddles: paddles.into_iter().map(paddle).collect(),
                    ball: Ball { name: "ball".to_owned(), element: example::BALL, width, height },
                    field,
                    rules: Rules { serve_fields: 1, ..example::court().rules },
                };
                Content::Game(
                    Box::new(court),
                    GameState { players, ball, velocity, score: [0; 2], ..example::state() },
                )
            },
        )
    }

    fn any_pattern(timing: FieldTiming) -> impl Strategy<Value = Content> {
        let (width, height) = (timing.clocks_per_line, timing.lines_per_field);
        let patch = (0..height, 0..width, 1..width, 0usize..3).prop_map(
            move |(line, start, length, shape)| Patch {
                line,
                start,
                stop: width.min(start + length),
                shape,
            },
        );
        vec(patch, 0..30).prop_map(|mut patches| {
            patches.sort_unstable();
            let shape = |element| Shape { name: "shape".to_owned(), element: ElementId(element) };
            let shapes = [0, 3, 0].map(shape).into();
            Content::Pattern(ElementMap { elements: example::plan().elements, shapes, patches })
        })
    }

    fn any_blocks(timing: FieldTiming) -> impl Strategy<Value = Option<Vec<Block>>> {
        let (width, height) = (timing.clocks_per_line, timing.lines_per_field);
        let block = (0..height, 1..height, 0..width, 1..width).prop_map(move |(y, h, x, w)| {
            Block { lines: y..height.min(y + h), clocks: x..width.min(x + w) }
        });
        proptest::option::of(vec(block, 0..6))
    }

    fn any_plan() -> impl Strategy<Value = RasterPlan> {
        let rest = |timing: FieldTiming| {
            let content = prop_oneof![any_game(timing).boxed(), any_pattern(timing).boxed()];
            (Just(timing), any_pins(), any_blocks(timing), content)
        };
        any_timing().prop_flat_map(rest).prop_map(|(timing, pins, sync_blocks, content)| {
            RasterPlan { timing, elements: example::plan().elements, pins, sync_blocks, content }
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn every_clock_agrees_with_the_obvious_way(plan in any_plan()) {
            let raster = Raster::new(&plan);
            // Of plans like these only one whose drawings all lie in blanking can be refused.
            prop_assume!(!matches!(raster, Err(PlanError::Unseen { .. })));
            let mut raster = raster.unwrap();
            let naive = Naive(&plan);
            for fields in 0..3 {
                let state = raster.state().cloned();
                let field = raster.advance_field();
                prop_assert!(field.map.patches.is_sorted());
                for line in 0..plan.timing.lines_per_field {
                    for clock in 0..plan.timing.clocks_per_line {
                        let lit = naive.lit(state.as_ref(), line, clock);
                        prop_assert_eq!(field.map.lit(line, clock), lit, "line {}, clock {}", line, clock);
                        let part = naive.part(line, clock);
                        let at = Tick(plan.timing.tick(line, clock));
                        for (pin, train) in plan.pins.iter().zip(&field.trains) {
                            let expected = pin.level(lit, part);
                            prop_assert_eq!(
                                train.level_at(at), expected,
                                "field {}, pin {}, line {}, clock {}", fields, &pin.name, line, clock
                            );
                        }
                    }
                }
            }
        }

        #[test]
        fn trains_rise_strictly_change_at_every_edge_and_join(plan in any_plan()) {
            let raster = Raster::new(&plan);
            prop_assume!(!matches!(raster, Err(PlanError::Unseen { .. })));
            let mut raster = raster.unwrap();
            let mut last: Option<FieldTrains> = None;
            for _ in 0..3 {
                let field = raster.advance_field();
                for (index, train) in field.trains.iter().enumerate() {
                    let edges = train.edges();
                    prop_assert!(edges.windows(2).all(|pair| pair[0].at < pair[1].at));
                    prop_assert!(edges.windows(2).all(|pair| pair[0].level != pair[1].level));
                    prop_assert!(edges.first().is_none_or(|edge| edge.level != train.initial()));
                    prop_assert!(edges.last().is_none_or(|edge| edge.at.0 < train.length().0));
                    prop_assert_eq!(train.length().0, plan.timing.clocks_per_field());
                    if let Some(last) = &last {
                        prop_assert_eq!(train.initial(), last.trains[index].last_level());
                    }
                }
                last = Some(field);
            }
        }
    }
}
