//! What bad contacts in the source's lead do: ohms that stay, and a contact that opens once.

use crate::analysis::supply::Feed;
use crate::analysis::supply::Runs;
use crate::analysis::supply::SupplyError;
use crate::analysis::supply::discharge::Lost;
use crate::analysis::supply::discharge::is_lost;
use crate::analysis::supply::in_time::InTime;
use crate::analysis::supply::look::Look;
use crate::analysis::supply::look::turning_point;
use crate::base::math;
use crate::base::parallel;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::network::ripple::Adapter;
use crate::network::schedule::Openings;
use crate::scenario::Scenario;

/// Ohms of contacts to look at: corroded springs add 0.1 to 5 Ω (common practice, no source), and more
/// before they open.
pub const STEPS_OHMS: [f64; 7] = [0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0];
/// How long a contact opens once, s; common practice, no source.
pub const OPENINGS_S: [f64; 3] = [1e-3, 3e-3, 10e-3];
/// Where in the field it opens, as a share of it.
const OPENS_AT: f64 = 0.25;
const HALVINGS: u32 = 10;
/// What is lost at ohms within this ratio goes at once.
const SAME_OHMS: f64 = 1.005;

/// What bad contacts do.
#[derive(Clone, Debug, PartialEq)]
pub struct Contacts {
    /// With ohms in series, in rising order, as far as the board can be solved.
    pub steps: Vec<ContactStep>,
    /// What is lost between them, in the order in which it is; what is so without a contact is left
    /// out.
    pub losses: Vec<ContactLoss>,
    /// A field in which the contact opens once, if boards were run.
    pub openings: Vec<Opening>,
}

/// The board with ohms in its source's lead.
#[derive(Clone, Debug, PartialEq)]
pub struct ContactStep {
    /// The ohms, Ω.
    pub ohms: f64,
    /// The board.
    pub look: Look,
}

/// Something that is lost.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ContactLoss {
    /// What.
    pub what: Lost,
    /// From how many ohms on, Ω.
    pub ohms: f64,
}

/// A field in which the contact opens once.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// When, s from the field's start.
    pub at_s: f64,
    /// How long, s.
    pub open_s: f64,
    /// What it comes to with the source's mean, or why that is not known.
    pub found: Result<InTime, String>,
}

/// Puts bad contacts into the source's lead.
pub(crate) fn contacts(feed: &Feed<'_>, now: &Look, runs: Runs) -> Result<Contacts, SupplyError> {
    let looked = parallel::map(&STEPS_OHMS, |&ohms| {
        Ok(ContactStep { ohms, look: feed.look(&with_contact(feed, ohms))? })
    });
    let looked: Vec<Result<ContactStep, NetworkError>> = looked;
    let steps: Vec<ContactStep> = looked.into_iter().map_while(Result::ok).collect();
    let openings = match runs {
        Runs::InTime => openings(feed),
        Runs::None => Vec::new(),
    };
    Ok(Contacts { losses: losses(feed, now, &steps), steps, openings })
}

fn with_contact(feed: &Feed<'_>, ohms: f64) -> Scenario {
    let (volts, own_ohms) = feed.stands();
    feed.with(volts, own_ohms + ohms)
}

fn losses(feed: &Feed<'_>, now: &Look, steps: &[ContactStep]) -> Vec<ContactLoss> {
    let scenario = feed.scenario;
    let asked = Lost::possible(scenario).into_iter();
    let asked: Vec<Lost> = asked.filter(|&what| !is_lost(scenario, what, now)).collect();
    let found = parallel::map(&asked, |&what| {
        let lost = |look: &Look| is_lost(scenario, what, look);
        let first = steps.iter().position(|step| lost(&step.look))?;
        let from = first.checked_sub(1).map_or(1e-3, |before| steps[before].ohms);
        let [from, to] = [from, steps[first].ohms].map(math::ln);
        let ohms = turning_point(from, to, HALVINGS, |ohms| {
            feed.look(&with_contact(feed, math::exp(ohms))).is_ok_and(|look| lost(&look))
        });
        Some(ContactLoss { what, ohms: math::exp(ohms) })
    });
    let mut losses: Vec<ContactLoss> = found.into_iter().flatten().collect();
    losses.sort_by(|a: &ContactLoss, b| a.ohms.total_cmp(&b.ohms));
    let known = losses.clone();
    losses.retain(|loss| {
        let worse = known.iter().find(|other| Some(other.what) == loss.what.worse());
        worse.is_none_or(|worse| worse.ohms / loss.ohms > SAME_OHMS)
    });
    losses
}

fn openings(feed: &Feed<'_>) -> Vec<Opening> {
    let at_s = OPENS_AT / feed.scenario.raster.timing.field_hz();
    parallel::map(&OPENINGS_S, |&open_s| {
        let board = opening(feed, Openings::Once { at_s, open_s });
        let found = InTime::of(&board, feed.rails).map_err(|error| error.to_string());
        Opening { at_s, open_s, found }
    })
}

/// The board with a contact in its source's lead that opens so.
fn opening(feed: &Feed<'_>, openings: Openings) -> Scenario {
    let mut board = Feed::without_ripple(feed.scenario, feed.source);
    let kind = &mut board.circuit.parts[feed.source.0].kind;
    match kind {
        PartKind::Adapter(adapter) => adapter.openings = Some(openings),
        PartKind::Supply { node, volts, ohms } => {
            let behind = Adapter::behind_contact(*node, *volts, *ohms, openings);
            *kind = PartKind::Adapter(Box::new(behind));
        }
        _ => {}
    }
    board
}
