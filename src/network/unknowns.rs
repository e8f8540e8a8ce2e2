//! What a part adds to the unknowns besides the board's nodes: voltages inside it, and currents.

use crate::network::circuit::Part;
use crate::network::circuit::PartKind;

/// Names of the nodes inside a part, in the order in which the equations take them.
pub(crate) fn inside(part: &Part) -> Vec<String> {
    let name = &part.name;
    let behind = |(ohms, terminal): (f64, &str)| {
        (ohms > 0.0).then(|| format!("inside `{name}`, behind its {terminal}"))
    };
    match &part.kind {
        PartKind::Diode { model, .. } => behind((model.series_ohms, "anode")).into_iter().collect(),
        PartKind::Transistor { model, .. } => [
            (model.collector_ohms, "collector"),
            (model.base_ohms, "base"),
            (model.emitter_ohms, "emitter"),
        ]
        .into_iter()
        .filter_map(behind)
        .collect(),
        PartKind::RealCapacitor(real) => {
            behind((real.present_series_ohms(), "plus end")).into_iter().collect()
        }
        PartKind::Trimmer { contact_ohms, .. } => {
            behind((*contact_ohms, "wiper")).into_iter().collect()
        }
        PartKind::LossyInductor { ohms, .. } => behind((*ohms, "first end")).into_iter().collect(),
        PartKind::Cable(_) => {
            ["first", "second"].map(|end| format!("inside `{name}`, at its {end} end")).to_vec()
        }
        PartKind::VideoDriver(_) => vec![format!("inside `{name}`")],
        _ => Vec::new(),
    }
}

/// Number of currents that are unknowns of their own.
pub(crate) fn branches(kind: &PartKind) -> usize {
    match kind {
        PartKind::Inductor { .. } | PartKind::LossyInductor { .. } => 1,
        PartKind::Supply { ohms, .. } if *ohms <= 0.0 => 1,
        _ => 0,
    }
}

/// Gives away the next unknown.
pub(crate) fn take(next: &mut usize) -> usize {
    *next += 1;
    *next - 1
}
