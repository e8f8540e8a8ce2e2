//! What a diode on the way does: it blocks until its far side is reached, and drops its own volts
//! from there on.

use crate::analysis::cause::scene::Scene;
use crate::analysis::cause::words::volts;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;

/// A diode that carries less blocks, A: no node here is moved by a microampere.
const BLOCKS_AMPS: f64 = 1e-6;

impl Scene<'_> {
    /// "blocks until `grey` comes up to the 873 mV of `bus`, and drops 541 mV then"; `None` for what
    /// is no diode, or breaks down on purpose.
    pub(in crate::analysis) fn blocking(
        &self,
        part: PartId,
        [from, to]: [NodeId; 2],
    ) -> Option<String> {
        let PartKind::Diode { anode, cathode, model } = &self.part(part).kind else { return None };
        if model.breakdown.is_some() {
            return None;
        }
        let [idle_v, lit_v] = [&self.black_v, &self.lit_v].map(|at| at[anode.0] - at[cathode.0]);
        let conducts = |drop_v: f64| model.forward_current(drop_v).value >= BLOCKS_AMPS;
        let [near, far] = [from, to].map(|node| self.circuit().node_name(node));
        Some(match (conducts(idle_v), conducts(lit_v)) {
            (true, true) => {
                format!("drops {} before and {} in the pulse", volts(idle_v), volts(lit_v))
            }
            (false, true) => format!(
                "blocks until `{near}` comes {} to the {} of `{far}`, and drops {} then",
                if self.pulse_v(from) >= 0.0 { "up" } else { "down" },
                volts(self.black_v[to.0]),
                volts(lit_v)
            ),
            (true, false) => format!("drops {} before and blocks in the pulse", volts(idle_v)),
            (false, false) => format!(
                "blocks all the time: its anode stands at most {} above its cathode",
                volts(idle_v.max(lit_v))
            ),
        })
    }
}
