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
