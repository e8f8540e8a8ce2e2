//! Ratings: whether a board spares its parts, *ok*, *look* or *stop*, each with its figure, its limit
//! and where the limit comes from.
//!
//! Every rule is looked at with nothing lit, in the sync pulse, with each element alone and with
//! everything lit, under the scenario's own load and with nothing plugged in; the worst of them is
//! told. The socket is shorted as well. An adapter's ripple is taken at its trough and its crest.

mod adapter;
mod capacitors;
mod gate_inputs;
mod gate_outputs;
mod judged;
mod pins;
mod regulators;
mod semiconductors;
mod socket;
mod standing;
mod tally;
mod words;

pub use judged::Rating;
pub use judged::Side;
pub use judged::Subject;
pub use judged::Unit;
pub use judged::Word;
pub use standing::Feed;
pub use standing::Plugged;
pub use standing::State;
pub use words::amount;

use crate::analysis::rating::standing::Standing;
use crate::analysis::rating::tally::Tally;
use crate::network::error::NetworkError;
use crate::scenario::Scenario;

/// What is rated where no data sheet says anything.
pub(super) const COMMON: &str = "common practice, no source";

/// Rates every part of a board: in the order of the parts, then chip, nodes, socket.
///
/// A part whose limits are not known, and a rule of which the scenario says nothing, gives none: a
/// capacitor without `rated` volts is rated for its polarity only, unused gates of a package are
/// unknown, and what was taken off the board is seen by comparing two boards, not here.
///
/// # Errors
///
/// A board that cannot be solved. One with a floating input may be such a board: the error then
/// names its node.
pub fn ratings(scenario: &Scenario) -> Result<Vec<Rating>, NetworkError> {
    let mut tally = Tally::default();
    standing::visit(scenario, &mut |at| rate(at, &mut tally))?;
    regulators::capacitors(scenario, &mut tally);
    adapter::rate(scenario, &mut tally);
    socket::levels(scenario, &mut tally)?;
    Ok(tally.ratings())
}

fn rate(at: &Standing<'_>, tally: &mut Tally) -> Result<(), NetworkError> {
    if at.state.plugged == Plugged::Shorted {
        socket::short(at, tally);
        return Ok(());
    }
    gate_inputs::rate(at, tally)?;
    gate_outputs::rate(at, tally);
    pins::rate(at, tally);
    semiconductors::rate(at, tally);
    capacitors::rate(at, tally);
    regulators::rate(at, tally);
    adapter::feeds(at, tally);
    Ok(())
}
