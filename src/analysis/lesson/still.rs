//! The picture that a lesson takes apart: a still one, in which one line crosses as much as it can,
//! and the same with only some of its elements lit.

use crate::raster::generate::Raster;
use crate::raster::plan::Content;
use crate::raster::plan::RasterPlan;
use crate::raster::plan_error::PlanError;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::signal::element::ElementMap;
use crate::signal::element::ElementSet;

/// A still picture.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Still {
    /// Which clocks belong to which element.
    pub(super) map: ElementMap,
    /// Whether paddles and ball were brought to one height for it.
    pub(super) moved: bool,
}

/// The scenario's first field, with its paddles and its ball at one height unless there is a line
/// already that crosses all that is drawn.
pub(super) fn still(plan: &RasterPlan) -> Result<Still, PlanError> {
    let map = drawn(plan)?;
    let most = |map: &ElementMap| map.on_line(map.line_that_shows_most()).0.count_ones();
    if most(&map) == lit_anywhere(&map).0.count_ones() {
        return Ok(Still { map, moved: false });
    }
    let lined_up = lined_up(plan)?;
    if let Some(lined_up) = lined_up.filter(|lined_up| most(lined_up) > most(&map)) {
        return Ok(Still { map: lined_up, moved: true });
    }
    Ok(Still { map, moved: false })
}

/// The elements that are lit anywhere in the field.
pub(super) fn lit_anywhere(map: &ElementMap) -> ElementSet {
    let elements = map.patches.iter().map(|patch| map.shapes[patch.shape].element);
    elements.fold(ElementSet::EMPTY, ElementSet::with)
}

/// The line that shows most of those that cross `element`; `None` if none does.
pub(super) fn line_with(map: &ElementMap, element: ElementId) -> Option<u32> {
    let mut crossed = map.clone();
    crossed.patches.retain(|patch| map.on_line(patch.line).contains(element));
    (!crossed.patches.is_empty()).then(|| crossed.line_that_shows_most())
}

/// The scenario with nothing but `lit` of a picture: pins that carry the rest stay at rest.
pub(super) fn only(scenario: &Scenario, map: &ElementMap, lit: ElementSet) -> Scenario {
    let mut part = scenario.clone();
    let mut map = map.clone();
    let shapes = map.shapes.clone();
    map.patches.retain(|patch| lit.contains(shapes[patch.shape].element));
    part.raster.content = Content::Pattern(map);
    part
}

fn drawn(plan: &RasterPlan) -> Result<ElementMap, PlanError> {
    Ok(Raster::new(plan)?.advance_field().map)
}

/// Paddles in the middle of their travel, the ball beside them where it has most room.
fn lined_up(plan: &RasterPlan) -> Result<Option<ElementMap>, PlanError> {
    let mut plan = plan.clone();
    let Content::Game(court, state) = &mut plan.content else { return Ok(None) };
    let Some(paddle) = court.paddles.first() else { return Ok(None) };
    let middle = u32::midpoint(paddle.top, paddle.bottom) + paddle.height / 2;
    let top = i64::from(middle) - i64::from(court.ball.height / 2);
    let (field, width, height) = (court.field, court.ball.width, court.ball.height);
    state.controllers = None;
    state.players = [0.5; 2];
    // Far to the left, where it is not drawn, until the place for it is known.
    state.ball = (-i64::from(plan.timing.clocks_per_line), top);
    let others = drawn(&plan)?;
    let first = middle - middle.min(height / 2);
    let lines = first..first + height;
    let room = |x: u32| {
        let patches = lines.clone().flat_map(|line| others.line(line));
        let gap =
            |start: u32, stop: u32| start.saturating_sub(x + width).max(x.saturating_sub(stop));
        patches.map(|patch| gap(patch.start, patch.stop)).min().unwrap_or(0)
    };
    let last = (field.x + field.width).saturating_sub(width);
    // Of equal places the first: `max_by_key` takes the last.
    let Some(x) = (field.x..=last).rev().max_by_key(|&x| room(x)) else { return Ok(None) };
    if let Content::Game(_, state) = &mut plan.content {
        state.ball.0 = i64::from(x);
    }
    drawn(&plan).map(Some)
}
