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
use crate::raster::sync;
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
        if let Some(game) = &mut self.state {
            motion::advance(game);
        }
        let pins = self.plan.pins.iter().map(|pin| pin.name.clone()).collect();
        FieldTrains { timing: self.plan.timing, pins, trains, map }
    }

    fn draw(&self) -> ElementMap {
        let mut map = self.map.clone();
        if let (Content::Game(court, _), Some(state)) = (&self.plan.content, &self.state) {
            map.patches = court::patches(court, state, &Rectangle::picture(&self.plan.timing));
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
