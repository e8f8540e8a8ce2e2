//! Checks a plan, so that everything after can rely on it.

use crate::raster::court;
use crate::raster::digits;
use crate::raster::plan::Area;
use crate::raster::plan::Block;
use crate::raster::plan::Carries;
use crate::raster::plan::Content;
use crate::raster::plan::Court;
use crate::raster::plan::GameState;
use crate::raster::plan::Mark;
use crate::raster::plan::Paddle;
use crate::raster::plan::PinPlan;
use crate::raster::plan::RasterPlan;
use crate::raster::plan::ScorePlace;
use crate::raster::plan_error::MOST_ELEMENTS;
use crate::raster::plan_error::MOST_LINES;
use crate::raster::plan_error::PlanError;
use crate::raster::rectangle::Rectangle;
use crate::signal::element::ElementId;
use crate::signal::element::ElementMap;
use crate::signal::timing::FieldSync;
use crate::signal::timing::FieldTiming;
use std::ops::Range;

/// Finds the first thing that keeps a plan from being drawn.
pub(super) fn check(plan: &RasterPlan) -> Result<(), PlanError> {
    check_timing(&plan.timing)?;
    match &plan.sync_blocks {
        Some(blocks) => blocks.iter().try_for_each(|block| check_block(&plan.timing, block))?,
        None => check_field_sync(&plan.timing)?,
    }
    let count = plan.elements.len();
    if count > MOST_ELEMENTS {
        return Err(PlanError::TooManyElements { count });
    }
    check_pins(&plan.pins, count)?;
    match &plan.content {
        Content::Game(court, state) => {
            check_state(state)?;
            Scene { timing: &plan.timing, elements: count }.check_court(court)
        }
        Content::Pattern(map) => check_pattern(plan, map),
    }
}

fn at_least_one(what: impl Into<String>, size: u32) -> Result<(), PlanError> {
    if size == 0 { Err(PlanError::Zero { what: what.into() }) } else { Ok(()) }
}

fn check_timing(timing: &FieldTiming) -> Result<(), PlanError> {
    let &FieldTiming { active_start: start, active_stop: stop, line_sync, .. } = timing;
    at_least_one("the number of clocks in a line", timing.clocks_per_line)?;
    at_least_one("the number of lines in a field", timing.lines_per_field)?;
    at_least_one("the width of line sync", line_sync)?;
    if timing.lines_per_field > MOST_LINES {
        return Err(PlanError::TooManyLines { lines: timing.lines_per_field });
    }
    if start >= stop {
        return Err(PlanError::NoActiveLine { start, stop });
    }
    in_line(timing, "the active line", u64::from(stop))?;
    if timing.first_active_line >= timing.lines_per_field {
        let (first, lines) = (timing.first_active_line, timing.lines_per_field);
        return Err(PlanError::NoActiveField { first, lines });
    }
    if line_sync > start {
        return Err(PlanError::SyncPastPorch { line_sync, start });
    }
    Ok(())
}

fn check_field_sync(timing: &FieldTiming) -> Result<(), PlanError> {
    let (lines, first) = (timing.field_sync_lines, timing.first_active_line);
    at_least_one("the number of lines of field sync", lines)?;
    if lines > first {
        return Err(PlanError::FieldSyncPastBlanking { lines, first });
    }
    if let FieldSync::Broad { gap } = timing.field_sync {
        let half = timing.clocks_per_line / 2;
        at_least_one("the gap between broad pulses", gap)?;
        if gap >= half {
            return Err(PlanError::BroadGap { gap, half });
        }
    }
    Ok(())
}

fn check_block(timing: &FieldTiming, block: &Block) -> Result<(), PlanError> {
    not_empty("a sync block's range of lines", &block.lines)?;
    not_empty("a sync block's range of clocks", &block.clocks)?;
    in_line(timing, "a sync block", u64::from(block.clocks.end))?;
    in_field(timing, "a sync block", u64::from(block.lines.end))
}

fn not_empty(what: &str, range: &Range<u32>) -> Result<(), PlanError> {
    if range.is_empty() {
        let what = what.to_owned();
        return Err(PlanError::Empty { what, start: range.start, stop: range.end });
    }
    Ok(())
}

fn in_line(timing: &FieldTiming, what: &str, stop: u64) -> Result<(), PlanError> {
    let clocks = timing.clocks_per_line;
    if stop > u64::from(clocks) {
        return Err(PlanError::PastLine { what: what.to_owned(), stop, clocks });
    }
    Ok(())
}

fn in_field(timing: &FieldTiming, what: &str, stop: u64) -> Result<(), PlanError> {
    let lines = timing.lines_per_field;
    if stop > u64::from(lines) {
        return Err(PlanError::PastField { what: what.to_owned(), stop, lines });
    }
    Ok(())
}

fn known_element(what: &str, element: ElementId, count: usize) -> Result<(), PlanError> {
    if usize::from(element.0) >= count {
        let what = what.to_owned();
        return Err(PlanError::UnknownElement { what, element: element.0, count });
    }
    Ok(())
}

fn check_pins(pins: &[PinPlan], elements: usize) -> Result<(), PlanError> {
    for (index, pin) in pins.iter().enumerate() {
        if pins[..index].iter().any(|before| before.name == pin.name) {
            return Err(PlanError::PinTwice { name: pin.name.clone() });
        }
        let known = |element| known_element(&format!("pin `{}`", pin.name), element, elements);
        match &pin.carries {
            Carries::Sync => {}
            Carries::Elements(carried) => carried.iter().try_for_each(known)?,
            Carries::Combined(levels) => {
                levels.lit.iter().try_for_each(|&(element, _)| known(element))?;
            }
        }
    }
    Ok(())
}

fn check_state(state: &GameState) -> Result<(), PlanError> {
    for (player, (&position, &score)) in state.players.iter().zip(&state.score).enumerate() {
        if !(0.0..=1.0).contains(&position) {
            return Err(PlanError::Position { player, position });
        }
        if score > 99 {
            return Err(PlanError::Score { player, score });
        }
    }
    Ok(())
}

fn check_pattern(plan: &RasterPlan, map: &ElementMap) -> Result<(), PlanError> {
    if map.elements != plan.elements {
        let (pattern, plan) = (map.elements.clone(), plan.elements.clone());
        return Err(PlanError::OtherElements { pattern, plan });
    }
    let scene = Scene { timing: &plan.timing, elements: plan.elements.len() };
    for shape in &map.shapes {
        known_element(&quoted(&shape.name), shape.element, scene.elements)?;
    }
    let mut areas: Vec<Vec<Rectangle>> = vec![Vec::new(); map.shapes.len()];
    for &patch in &map.patches {
        let count = map.shapes.len();
        let unknown = PlanError::UnknownShape { line: patch.line, shape: patch.shape, count };
        let what = quoted(&map.shapes.get(patch.shape).ok_or(unknown)?.name);
        not_empty(&format!("a patch of {what}"), &(patch.start..patch.stop))?;
        in_line(scene.timing, &what, u64::from(patch.stop))?;
        in_field(scene.timing, &what, u64::from(patch.line) + 1)?;
        areas[patch.shape].push(Rectangle::from(patch));
    }
    for (shape, areas) in map.shapes.iter().zip(&areas) {
        if !areas.is_empty() {
            scene.seen(&quoted(&shape.name), areas)?;
        }
    }
    Ok(())
}

fn quoted(name: &str) -> String {
    format!("`{name}`")
}

/// Where things are drawn.
struct Scene<'plan> {
    timing: &'plan FieldTiming,
    elements: usize,
}

impl Scene<'_> {
    fn check_court(&self, court: &Court) -> Result<(), PlanError> {
        court.marks.iter().try_for_each(|mark| self.check_mark(mark))?;
        court.scores.iter().try_for_each(|score| self.check_score(score))?;
        court.paddles.iter().try_for_each(|paddle| self.check_paddle(paddle))?;
        let bands = u32::try_from(court.rules.angles.len()).unwrap_or(u32::MAX);
        at_least_one("the number of bands of a paddle", bands)?;
        let what = quoted(&court.ball.name);
        known_element(&what, court.ball.element, self.elements)?;
        has_size(&what, court.ball.width, court.ball.height)?;
        self.fits("the field of the ball", court.field)
    }

    fn check_mark(&self, mark: &Mark) -> Result<(), PlanError> {
        let what = quoted(&mark.name);
        known_element(&what, mark.element, self.elements)?;
        self.fits(&what, mark.area)?;
        if let Some((on, _)) = mark.dash {
            at_least_one(format!("the length of a dash of {what}"), on)?;
        }
        self.seen(&what, &court::dashes(mark))
    }

    /// Both figures must fit, whatever the score.
    fn check_score(&self, place: &ScorePlace) -> Result<(), PlanError> {
        let what = quoted(&place.name);
        known_element(&what, place.element, self.elements)?;
        known_player(&what, place.player)?;
        has_size(&format!("a cell of {what}"), place.cell_width, place.cell_height)?;
        let across = 2 * u64::from(digits::COLUMNS) * u64::from(place.cell_width);
        let down = u64::from(digits::ROWS) * u64::from(place.cell_height);
        let stop = u64::from(place.x) + across + u64::from(place.gap);
        in_line(self.timing, &what, stop)?;
        in_field(self.timing, &what, u64::from(place.y) + down)?;
        let corner = (i64::from(place.x), i64::from(place.y));
        let width = digits::COLUMNS * 2 * place.cell_width + place.gap;
        let height = digits::ROWS * place.cell_height;
        self.seen(&what, &[Rectangle::at(corner, (width, height))])
    }

    /// A paddle may leave the picture, but not for good.
    fn check_paddle(&self, paddle: &Paddle) -> Result<(), PlanError> {
        let what = quoted(&paddle.name);
        known_element(&what, paddle.element, self.elements)?;
        known_player(&what, paddle.player)?;
        has_size(&what, paddle.width, paddle.height)?;
        let at = |line: u32| {
            let corner = (i64::from(paddle.x), i64::from(line));
            Rectangle::at(corner, (paddle.width, paddle.height))
        };
        let (highest, lowest) =
            (at(paddle.top.min(paddle.bottom)), at(paddle.top.max(paddle.bottom)));
        let reach = highest.lines.start..lowest.lines.end;
        self.seen(&what, &[Rectangle { clocks: highest.clocks, lines: reach }])
    }

    fn fits(&self, what: &str, area: Area) -> Result<(), PlanError> {
        has_size(what, area.width, area.height)?;
        in_line(self.timing, what, u64::from(area.x) + u64::from(area.width))?;
        in_field(self.timing, what, u64::from(area.y) + u64::from(area.height))
    }

    fn seen(&self, what: &str, areas: &[Rectangle]) -> Result<(), PlanError> {
        let picture = Rectangle::picture(self.timing);
        if areas.iter().any(|area| !area.within(&picture).is_empty()) {
            return Ok(());
        }
        let &FieldTiming { active_start, active_stop, first_active_line, lines_per_field, .. } =
            self.timing;
        let clocks = active_start..active_stop;
        let lines = first_active_line..lines_per_field;
        Err(PlanError::Unseen { what: what.to_owned(), clocks, lines })
    }
}

fn has_size(what: &str, width: u32, height: u32) -> Result<(), PlanError> {
    at_least_one(format!("the width of {what}"), width)?;
    at_least_one(format!("the height of {what}"), height)
}

fn known_player(what: &str, player: usize) -> Result<(), PlanError> {
    if player > 1 {
        return Err(PlanError::UnknownPlayer { what: what.to_owned(), player });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::example;
    use crate::raster::plan::CombinedLevels;
    use crate::raster::plan::Sense;
    use crate::signal::element::ElementSet;
    use crate::signal::element::Patch;
    use crate::signal::element::Shape;
    use crate::signal::pulse_train::Level;

    /// The message for the example plan after `spoil`.
    fn message(spoil: impl FnOnce(&mut RasterPlan)) -> String {
        let mut plan = example::plan();
        check(&plan).unwrap();
        spoil(&mut plan);
        check(&plan).unwrap_err().to_string()
    }

    fn court_message(spoil: impl FnOnce(&mut Court)) -> String {
        message(|plan| {
            let mut court = example::court();
            spoil(&mut court);
            plan.content = Content::Game(Box::new(court), example::state());
        })
    }

    fn state_message(spoil: impl FnOnce(&mut GameState)) -> String {
        message(|plan| {
            let mut state = example::state();
            spoil(&mut state);
            plan.content = Content::Game(Box::new(example::court()), state);
        })
    }

    fn pattern(patches: Vec<Patch>) -> Content {
        let shape = |name: &str, element| Shape { name: name.to_owned(), element };
        Content::Pattern(ElementMap {
            elements: example::plan().elements,
            shapes: vec![shape("bar", example::FIELD), shape("dot", example::BALL)],
            patches,
        })
    }

    fn patch(line: u32, clocks: Range<u32>, shape: usize) -> Patch {
        Patch { line, start: clocks.start, stop: clocks.end, shape }
    }

    #[test]
    fn timing_that_cannot_be_is_refused() {
        let timing = |spoil: fn(&mut FieldTiming)| message(|plan| spoil(&mut plan.timing));
        assert_eq!(
            timing(|t| t.clocks_per_line = 0),
            "the number of clocks in a line is 0, but must be at least 1"
        );
        assert_eq!(
            timing(|t| t.lines_per_field = 0),
            "the number of lines in a field is 0, but must be at least 1"
        );
        assert_eq!(
            timing(|t| t.line_sync = 0),
            "the width of line sync is 0, but must be at least 1"
        );
        assert_eq!(
            timing(|t| t.lines_per_field = 70_000),
            "a field has 70000 lines, but no more than 65536 can be drawn"
        );
        assert_eq!(
            timing(|t| t.active_stop = 21),
            "the active line starts at clock 21, but stops at clock 21"
        );
        assert_eq!(
            timing(|t| t.active_stop = 129),
            "the active line reaches clock 129, but a line has 128 clocks"
        );
        assert_eq!(
            timing(|t| t.first_active_line = 312),
            "picture starts on line 312, but a field has 312 lines"
        );
        assert_eq!(
            timing(|t| t.line_sync = 22),
            "line sync is 22 clocks wide, but the active line starts at clock 21"
        );
        assert_eq!(
            timing(|t| t.field_sync_lines = 0),
            "the number of lines of field sync is 0, but must be at least 1"
        );
        assert_eq!(
            timing(|t| t.field_sync_lines = 25),
            "field sync lasts 25 lines, but picture starts on line 24"
        );
        assert_eq!(
            timing(|t| t.field_sync = FieldSync::Broad { gap: 64 }),
            "broad pulses have a gap of 64 clocks, but half a line has only 64"
        );
        assert_eq!(
            timing(|t| t.field_sync = FieldSync::Broad { gap: 0 }),
            "the gap between broad pulses is 0, but must be at least 1"
        );
    }

    #[test]
    fn sync_blocks_outside_line_or_field_are_refused() {
        let block = |lines: Range<u32>, clocks: Range<u32>| {
            message(|plan| plan.sync_blocks = Some(vec![Block { lines, clocks }]))
        };
        assert_eq!(
            block(0..4, 9..129),
            "a sync block reaches clock 129, but a line has 128 clocks"
        );
        assert_eq!(
            block(310..313, 0..9),
            "a sync block reaches line 313, but a field has 312 lines"
        );
        assert_eq!(block(4..4, 0..9), "a sync block's range of lines starts at 4, but stops at 4");
        assert_eq!(block(0..4, 9..9), "a sync block's range of clocks starts at 9, but stops at 9");
    }

    #[test]
    fn elements_that_are_not_there_are_refused() {
        let unknown = ElementId(4);
        assert_eq!(
            message(|plan| plan.elements = vec!["dot".to_owned(); 33]),
            "there are 33 elements, but no more than 32 can be told apart"
        );
        assert_eq!(
            message(|plan| plan.pins[1].carries = Carries::Elements(ElementSet::only(unknown))),
            "pin `field` names element 4, but there are 4, counted from 0"
        );
        let levels = CombinedLevels {
            tip: Level(0),
            blanking: Level(1),
            black: Level(1),
            lit: vec![(ElementId(200), Level(2))],
        };
        assert_eq!(
            message(|plan| plan.pins[1].carries = Carries::Combined(levels)),
            "pin `field` names element 200, but there are 4, counted from 0"
        );
        assert_eq!(
            court_message(|court| court.marks[2].element = unknown),
            "`net` names element 4, but there are 4, counted from 0"
        );
        assert_eq!(
            court_message(|court| court.ball.element = unknown),
            "`ball` names element 4, but there are 4, counted from 0"
        );
    }

    #[test]
    fn two_pins_of_one_name_are_refused() {
        let twin = example::pin("ball", Carries::Sync, Sense::ActiveHigh);
        assert_eq!(message(|plan| plan.pins.push(twin)), "two pins are called `ball`");
    }

    #[test]
    fn a_game_state_outside_its_range_is_refused() {
        assert_eq!(
            state_message(|state| state.players[1] = 1.01),
            "player 1 stands at 1.01, but positions run from 0 to 1"
        );
        assert_eq!(
            state_message(|state| state.players[0] = f64::NAN),
            "player 0 stands at NaN, but positions run from 0 to 1"
        );
        assert_eq!(
            state_message(|state| state.score[0] = 100),
            "player 0 has a score of 100, but only two figures are shown"
        );
    }

    #[test]
    fn things_without_size_are_refused() {
        assert_eq!(
            court_message(|court| court.rules.angles.clear()),
            "the number of bands of a paddle is 0, but must be at least 1"
        );
        assert_eq!(
            court_message(|court| court.ball.width = 0),
            "the width of `ball` is 0, but must be at least 1"
        );
        assert_eq!(
            court_message(|court| court.marks[0].area.height = 0),
            "the height of `top line` is 0, but must be at least 1"
        );
        assert_eq!(
            court_message(|court| court.marks[2].dash = Some((0, 6))),
            "the length of a dash of `net` is 0, but must be at least 1"
        );
        assert_eq!(
            court_message(|court| court.scores[1].cell_width = 0),
            "the width of a cell of `right score` is 0, but must be at least 1"
        );
        assert_eq!(
            court_message(|court| court.paddles[0].height = 0),
            "the height of `left paddle` is 0, but must be at least 1"
        );
    }

    #[test]
    fn things_past_the_line_or_the_field_are_refused() {
        assert_eq!(
            court_message(|court| court.marks[0].area.width = 95),
            "`top line` reaches clock 129, but a line has 128 clocks"
        );
        assert_eq!(
            court_message(|court| court.marks[1].area.y = 309),
            "`bottom line` reaches line 313, but a field has 312 lines"
        );
        assert_eq!(
            court_message(|court| court.scores[0].gap = u32::MAX),
            "`left score` reaches clock 4294967357, but a line has 128 clocks"
        );
        assert_eq!(
            court_message(|court| court.scores[0].cell_height = u32::MAX),
            "`left score` reaches line 21474836535, but a field has 312 lines"
        );
        assert_eq!(
            court_message(|court| court.field.x = u32::MAX),
            "the field of the ball reaches clock 4294967399, but a line has 128 clocks"
        );
    }

    #[test]
    fn a_mark_in_blanking_is_refused_but_one_half_outside_is_not() {
        assert_eq!(
            court_message(|court| court.marks[0].area = Area { x: 10, y: 50, width: 11, height: 9 }),
            "`top line` is never seen: picture is clocks 21..125 of lines 24..312"
        );
        let mut half_outside = example::court();
        half_outside.marks[0].area = Area { x: 10, y: 20, width: 12, height: 9 };
        let mut plan = example::plan();
        plan.content = Content::Game(Box::new(half_outside), example::state());
        assert_eq!(check(&plan), Ok(()));
    }

    #[test]
    fn a_paddle_that_no_position_shows_is_refused() {
        let message =
            court_message(|court| (court.paddles[1].top, court.paddles[1].bottom) = (312, 999));
        assert_eq!(
            message,
            "`right paddle` is never seen: picture is clocks 21..125 of lines 24..312"
        );
        assert_eq!(
            court_message(|court| court.paddles[1].player = 2),
            "`right paddle` belongs to player 2, but there are 0 (left) and 1 (right)"
        );
    }

    #[test]
    fn a_patch_that_is_no_part_of_the_field_is_refused() {
        let patches = |patches| message(|plan| plan.content = pattern(patches));
        assert_eq!(
            patches(vec![patch(30, 50..129, 1)]),
            "`dot` reaches clock 129, but a line has 128 clocks"
        );
        assert_eq!(
            patches(vec![patch(312, 50..60, 0)]),
            "`bar` reaches line 313, but a field has 312 lines"
        );
        assert_eq!(
            patches(vec![patch(30, 50..50, 0)]),
            "a patch of `bar` starts at 50, but stops at 50"
        );
        assert_eq!(
            patches(vec![patch(30, 50..60, 2)]),
            "a patch on line 30 names shape 2, but there are 2, counted from 0"
        );
        assert_eq!(
            patches(vec![patch(30, 50..60, 0), patch(30, 0..21, 1), patch(23, 50..60, 1)]),
            "`dot` is never seen: picture is clocks 21..125 of lines 24..312"
        );
    }

    #[test]
    fn a_pattern_with_its_own_list_of_elements_is_refused() {
        let message = message(|plan| {
            plan.content = pattern(Vec::new());
            plan.elements.truncate(2);
            plan.pins.truncate(3);
        });
        assert!(message.starts_with("the pattern's elements are [\"field lines\", "), "{message}");
    }
}
