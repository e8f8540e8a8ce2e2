//! What a beep does: the loudspeaker's current through the source, and how far rails and levels sag
//! while its driver conducts.

use crate::analysis::supply::Feed;
use crate::analysis::supply::look::Look;
use crate::analysis::supply::with_part;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::scenario::sound::LEAST_SPEAKER_OHMS;
use crate::scenario::sound::SERIES_OHMS;

/// A driver where the file has none, Ω: with the loudspeaker that draws most.
pub const USUAL_OHMS: f64 = SERIES_OHMS + LEAST_SPEAKER_OHMS;

/// A beep, at rest: as deep as rails can sag, for the reservoirs there are give way within a beep or
/// they do not.
#[derive(Clone, Debug, PartialEq)]
pub struct Beep {
    /// What feeds the loudspeaker.
    pub node: NodeId,
    /// Loudspeaker and what is in series with it, Ω.
    pub ohms: f64,
    /// Whether the file says so.
    pub is_stated: bool,
    /// What flows while the driver conducts, A.
    pub amps: f64,
    /// The board then.
    pub look: Look,
    /// How far black sags, V.
    pub black_sags_v: f64,
    /// How far each rail sags, V.
    pub rails_sag_v: Vec<f64>,
}

/// Lets the board beep.
pub(crate) fn beep(feed: &Feed<'_>, now: &Look) -> Result<Beep, NetworkError> {
    let sounder = feed.scenario.circuit.parts.iter().find_map(|part| match &part.kind {
        PartKind::Sounder(sounder) => Some((sounder.node, sounder.ohms)),
        _ => None,
    });
    let (node, ohms) = sounder.unwrap_or((feed.node(), USUAL_OHMS));
    let kind = PartKind::Resistor { ends: [node, NodeId::GROUND], ohms };
    let look = feed.look(&with_part(feed.scenario, "a beep", kind))?;
    let rails = feed.rails.iter().position(|&rail| rail == node);
    let volts = rails.map_or(0.0, |rail| look.rails_v[rail]);
    let sags = now.rails_v.iter().zip(&look.rails_v).map(|(now, then)| now - then);
    Ok(Beep {
        node,
        ohms,
        is_stated: sounder.is_some(),
        amps: volts / ohms,
        black_sags_v: now.sync.black_v - look.sync.black_v,
        rails_sag_v: sags.collect(),
        look,
    })
}
