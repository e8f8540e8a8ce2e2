//! From fresh to flat: the board step by step, where each thing is lost, and after how many hours.

use crate::analysis::examine::glance;
use crate::analysis::supply::Feed;
use crate::analysis::supply::Runs;
use crate::analysis::supply::SupplyError;
use crate::analysis::supply::look::Look;
use crate::analysis::supply::look::regulators;
use crate::analysis::supply::look::turning_point;
use crate::analysis::verdict::LockState;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::base::math;
use crate::base::parallel;
use crate::network::circuit::PartId;
use crate::scenario::Scenario;
use crate::scenario::battery::Battery;
use crate::simulate::RunError;

/// Where a source that is no battery is taken to, as a share of its volts; our own choice: nothing
/// of the class runs so low.
const LOWEST_SHARE: f64 = 0.3;
/// Halvings between two steps: to a ten-thousandth of the way at rest, to a thirtieth in time.
const HALVINGS: u32 = 10;
const HALVINGS_IN_TIME: u32 = 3;
/// What is lost this close together goes at once, V.
const SAME_VOLTS: f64 = 2e-3;
const SECONDS_IN_AN_HOUR: f64 = 3600.0;

/// A source on its way down.
#[derive(Clone, Debug, PartialEq)]
pub struct Discharge {
    /// From fresh, or from what it is now, to flat, as far as the board can be solved.
    pub steps: Vec<Step>,
    /// Why there are no more, if they end early.
    pub ends: Option<String>,
    /// What is lost on the way, in the order in which it is.
    pub losses: Vec<Loss>,
}

/// One step.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Where.
    pub at: Place,
    /// The board there.
    pub look: Look,
    /// How the picture stands with the source's mean, if boards were run.
    pub lock: Option<Vec<LockState>>,
}

/// How far down a source is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Share of a battery's charge that is left.
    pub charge: Option<f64>,
    /// Open volts, V.
    pub open_v: f64,
    /// What is in series, Ω.
    pub ohms: f64,
    /// Hours since a battery was fresh; `None` if it is none, or if nothing is drawn from it.
    pub hours: Option<f64>,
}

/// Something that is lost.
#[derive(Clone, Debug, PartialEq)]
pub struct Loss {
    /// What.
    pub what: Lost,
    /// From where on; the first step if it is so from the start.
    pub at: Place,
    /// At the source's terminals there, V.
    pub source_v: f64,
    /// Whether it is so from the start.
    pub from_start: bool,
}

/// What may be lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lost {
    /// An element, by its number, is seen so or worse.
    Element(usize, Seen),
    /// The sync is so or worse.
    Sync(SyncState),
    /// A regulator drops out.
    Dropout(PartId),
    /// The chip is fed with less than it is rated for.
    Chip,
    /// The set lets go: torn, rolling or refused.
    Lock,
}

impl Lost {
    /// All that can be lost of a board at rest.
    pub(crate) fn possible(scenario: &Scenario) -> Vec<Self> {
        let elements = 0..scenario.raster.elements.len();
        let words = [Seen::Faint, Seen::Missing];
        let elements = elements.flat_map(|element| words.map(|word| Self::Element(element, word)));
        let syncs = [SyncState::Weak, SyncState::Failing].map(Self::Sync);
        let dropouts = regulators(scenario).into_iter().map(Self::Dropout);
        let chip = scenario.chip_supply.map(|_| Self::Chip);
        elements.chain(syncs).chain(dropouts).chain(chip).collect()
    }

    /// What comes after it, if it is lost by degrees.
    pub(crate) fn worse(self) -> Option<Self> {
        match self {
            Self::Element(element, Seen::Faint) => Some(Self::Element(element, Seen::Missing)),
            Self::Sync(SyncState::Weak) => Some(Self::Sync(SyncState::Failing)),
            _ => None,
        }
    }
}

/// Where a step lies: a share of charge for a battery, of the volts for another source.
fn placed(feed: &Feed<'_>, share: f64) -> Place {
    match feed.battery {
        Some(battery) => {
            let (open_v, ohms) = battery.at(share);
            Place { charge: Some(share), open_v, ohms, hours: None }
        }
        None => {
            let (volts, ohms) = feed.stands();
            Place { charge: None, open_v: share * volts, ohms, hours: None }
        }
    }
}

fn board(feed: &Feed<'_>, share: f64) -> Scenario {
    let place = placed(feed, share);
    feed.with(place.open_v, place.ohms)
}

/// Takes a source down.
pub(crate) fn discharge(
    feed: &Feed<'_>,
    steps: usize,
    runs: Runs,
) -> Result<Discharge, SupplyError> {
    let last = math::from_usize(steps.max(2) - 1);
    let flat = if feed.battery.is_some() { 0.0 } else { LOWEST_SHARE };
    let shares = (0..steps.max(2)).map(|step| math::lerp(1.0, flat, math::from_usize(step) / last));
    let shares: Vec<f64> = shares.collect();
    let looked = parallel::map(&shares, |&share| step(feed, share, runs));
    let mut steps = Vec::new();
    let mut ends = None;
    for step in looked {
        match step {
            Ok(step) if ends.is_none() => steps.push(step),
            // A board that cannot be solved when it is fed well has no answer at all.
            Err(error) if steps.is_empty() => return Err(error),
            Err(error) => ends = ends.or(Some(error.to_string())),
            Ok(_) => {}
        }
    }
    if let Some(battery) = feed.battery {
        count_hours(battery, &mut steps);
    }
    let way = Way { feed, shares: &shares, steps: &steps };
    let asked: Vec<Lost> = way.possible();
    let found = parallel::map(&asked, |&what| way.loss(what));
    let mut losses: Vec<Loss> = Vec::new();
    for loss in found {
        losses.extend(loss?);
    }
    losses.sort_by(|a, b| b.at.open_v.total_cmp(&a.at.open_v));
    let known = losses.clone();
    losses.retain(|loss| {
        let worse = known.iter().find(|other| Some(other.what) == loss.what.worse());
        worse.is_none_or(|worse| (worse.at.open_v - loss.at.open_v).abs() > SAME_VOLTS)
    });
    Ok(Discharge { steps, ends, losses })
}

fn step(feed: &Feed<'_>, share: f64, runs: Runs) -> Result<Step, SupplyError> {
    let board = board(feed, share);
    let look = feed.look(&board)?;
    let lock = match runs {
        Runs::InTime => Some(lock(feed, &board)?),
        Runs::None => None,
    };
    Ok(Step { at: placed(feed, share), look, lock })
}

fn lock(feed: &Feed<'_>, board: &Scenario) -> Result<Vec<LockState>, RunError> {
    Ok(glance(&Feed::without_ripple(board, feed.source))?.lock)
}

fn lets_go(lock: &[LockState]) -> bool {
    lock.iter()
        .any(|state| matches!(state, LockState::Torn | LockState::Rolling | LockState::Refused))
}

/// Hours to each step: charge over current, by the trapezoid between the steps.
fn count_hours(battery: &Battery, steps: &mut [Step]) {
    let mut hours = 0.0;
    for index in 0..steps.len() {
        if index > 0 {
            let (before, here) = (&steps[index - 1], &steps[index]);
            let used = before.at.charge.unwrap_or(0.0) - here.at.charge.unwrap_or(0.0);
            let mean_a = f64::midpoint(before.look.source_a, here.look.source_a);
            hours += battery.seconds(used, mean_a) / SECONDS_IN_AN_HOUR;
        }
        let is_drained = steps[..=index].iter().all(|step| step.look.source_a > 0.0);
        steps[index].at.hours = is_drained.then_some(hours);
    }
}

/// A source's way down.
struct Way<'a> {
    feed: &'a Feed<'a>,
    shares: &'a [f64],
    steps: &'a [Step],
}

impl Way<'_> {
    fn possible(&self) -> Vec<Lost> {
        let lock = self.steps.iter().any(|step| step.lock.is_some()).then_some(Lost::Lock);
        Lost::possible(self.feed.scenario).into_iter().chain(lock).collect()
    }

    /// The first step at which something is lost, and then the place between it and the one before.
    fn loss(&self, what: Lost) -> Result<Option<Loss>, SupplyError> {
        let is_lost_at = |step: &Step| match what {
            Lost::Lock => step.lock.as_deref().is_some_and(lets_go),
            _ => is_lost(self.feed.scenario, what, &step.look),
        };
        let Some(first) = self.steps.iter().position(is_lost_at) else { return Ok(None) };
        let Some(before) = first.checked_sub(1) else {
            let Step { at, look, .. } = &self.steps[0];
            let (at, source_v) = (*at, look.source_v);
            return Ok(Some(Loss { what, at, source_v, from_start: true }));
        };
        let (from, to) = (self.shares[before], self.shares[first]);
        let share = match what {
            Lost::Lock => turning_point(from, to, HALVINGS_IN_TIME, |share| {
                lock(self.feed, &board(self.feed, share)).is_ok_and(|lock| lets_go(&lock))
            }),
            _ => turning_point(from, to, HALVINGS, |share| {
                let look = self.feed.look(&board(self.feed, share));
                look.is_ok_and(|look| is_lost(self.feed.scenario, what, &look))
            }),
        };
        let source_v = self.feed.look(&board(self.feed, share))?.source_v;
        let hours = self.steps[before].at.hours.zip(self.steps[first].at.hours);
        let passed = (from - share) / (from - to);
        let hours = hours.map(|(before, after)| math::lerp(before, after, passed));
        let at = Place { hours, ..placed(self.feed, share) };
        Ok(Some(Loss { what, at, source_v, from_start: false }))
    }
}

/// Whether something is lost on a board that comes to this at rest.
pub(crate) fn is_lost(scenario: &Scenario, what: Lost, look: &Look) -> bool {
    match what {
        Lost::Element(element, word) => look.elements[element].seen <= word,
        Lost::Sync(word) => look.sync.state <= word,
        Lost::Dropout(part) => {
            let place = regulators(scenario).iter().position(|&other| other == part);
            place.is_some_and(|place| look.regulators[place].has_dropped())
        }
        Lost::Chip => look.chip_v.is_some_and(|volts| volts < scenario.chip_limits.least_volts),
        Lost::Lock => false,
    }
}
