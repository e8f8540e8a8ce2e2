//! Reads what the user says is seen and measured.

use crate::cli::failure::Failure;
use crate::cli::said::Said;
use backporch::analysis::hunt::observe::Look;
use backporch::analysis::hunt::observe::Measured;
use backporch::analysis::hunt::observe::Observation;
use backporch::analysis::hunt::predict::State;
use backporch::analysis::verdict::SyncState;
use backporch::document::quantity::VOLTAGE;
use backporch::network::circuit::NodeId;
use backporch::scenario::Scenario;
use backporch::signal::element::ElementId;

const LOOKS: [Look; 4] = [Look::Clear, Look::Faint, Look::Missing, Look::Dark];
const SYNC: [SyncState; 3] = [SyncState::Good, SyncState::Weak, SyncState::Failing];

/// Takes in `left=missing` or `sync=weak`.
///
/// # Errors
///
/// An element or a word that is not known, one that has been spoken of before, or a board that cannot
/// be solved.
pub(crate) fn see(known: &mut Observation, board: &Scenario, text: &str) -> Result<(), Failure> {
    let said = Said::new("--seen", text);
    let sign = said.sign('=', "an element and a word, as in `left=missing`")?;
    let mut names: Vec<&str> = board.raster.elements.iter().map(String::as_str).collect();
    names.push("sync");
    let element = said.pick(0..sign, "element of this game", &names)?;
    let id = ElementId(u8::try_from(element).unwrap_or(u8::MAX));
    let is_sync = names[element] == "sync";
    if is_sync && known.sync.is_some() || known.seen.iter().any(|(other, _)| *other == id) {
        let message = format!("`{}` is spoken of twice", names[element]);
        return Err(said.wrong_at(0..sign, message, "expected one word for each".to_owned(), None));
    }
    let word = sign + 1..text.len();
    if is_sync {
        let words = SYNC.map(SyncState::word);
        known.sync = Some(SYNC[said.pick(word, "word for the sync", &words)?]);
    } else {
        let mut words = LOOKS.map(Look::word).to_vec();
        words.push(Look::BRIGHTER);
        let look = match LOOKS.get(said.pick(word, "word for what is seen", &words)?) {
            Some(look) => *look,
            None => Look::brighter(board, id).map_err(|error| Failure::network(board, &error))?,
        };
        known.seen.push((id, look));
    }
    Ok(())
}

/// Takes in `mix@left=1.2`: the node, what is lit (an element, `black` or `tip`), the volts.
///
/// # Errors
///
/// A node, a state or a voltage that is not known.
pub(crate) fn measure(
    known: &mut Observation,
    board: &Scenario,
    text: &str,
) -> Result<(), Failure> {
    const FORM: &str = "a node, what is lit, and volts, as in `mix@left=1.2`";
    let said = Said::new("--measured", text);
    let sign = said.sign('=', FORM)?;
    let at = said.sign_within(0..sign, '@', FORM)?;
    let nodes: Vec<&str> = board.circuit.nodes.iter().map(String::as_str).collect();
    let node = NodeId(said.pick(0..at, "node of this board", &nodes)?);
    let states = State::all(board);
    let names: Vec<&str> = states.iter().map(|state| state.name(board)).collect();
    let state = states[said.pick(at + 1..sign, "element or level", &names)?];
    let volts = said.value_at(sign + 1..text.len(), &VOLTAGE)?;
    known.measured.push(Measured { node, state, volts });
    Ok(())
}
