//! Logic gates of a board.

use crate::document::fields::Fields;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::Quantity;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::SHARE;
use crate::document::quantity::Zero;
use crate::document::tree::Value;
use crate::network::circuit::Gate;
use crate::network::circuit::Logic;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Threshold;
use crate::network::device::OutputCurve;
use crate::scenario::gate_library;
use crate::scenario::gate_library::FAMILIES;
use crate::scenario::gate_library::Family;
use crate::scenario::gate_library::FamilyModel;
use crate::scenario::gate_library::GRADES;
use crate::scenario::gate_library::Grade;
use crate::scenario::nodes::Nodes;
use crate::scenario::nodes::Role;
use crate::scenario::parts::apart;

/// The words for the functions.
pub(crate) const LOGIC: [(&str, Logic); 7] = [
    ("or", Logic::Or),
    ("nor", Logic::Nor),
    ("and", Logic::And),
    ("nand", Logic::Nand),
    ("xor", Logic::Xor),
    ("not", Logic::Not),
    ("buffer", Logic::Buffer),
];

const MOST_INPUTS: usize = 4;

pub(crate) fn read(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let logic = fields.choice("gate", &LOGIC);
    let family = fields.needed_choice("family", &FAMILIES);
    let grade = fields.choice("grade", &GRADES).unwrap_or(Grade::Typical);
    let inputs = inputs(fields, nodes, logic);
    let output = nodes.tie_key(fields, "output", Role::Output);
    let supply = supply(fields, nodes);
    let threshold = threshold(fields);
    let ohms = fields.quantity("output_resistance", &RESISTANCE);
    let mut model = gate_library::model(family.unwrap_or(Family::Plain), grade);
    if let Some(threshold) = threshold {
        model.threshold = threshold;
    }
    if let Some(ohms) = ohms {
        model.high = OutputCurve::Resistance(ohms);
        model.low = OutputCurve::Resistance(ohms);
    }
    let _ = family?;
    let (output, supply) = (output?, supply?);
    apart(fields, ["supply", "output"], [supply, output])?;
    if output == NodeId::GROUND {
        let message = format!("the output of {} is tied to ground", fields.what());
        fields.problems().add(fields.place("output"), message, "expected the node that it drives");
        return None;
    }
    let FamilyModel { threshold, input_farads, clamp, high, low, speed } = model;
    Some(PartKind::Gate(Box::new(Gate {
        logic: logic?,
        inputs: inputs?,
        output,
        supply,
        threshold,
        input_farads,
        clamp,
        high,
        low,
        speed,
    })))
}

fn inputs(fields: &Fields<'_>, nodes: &mut Nodes, logic: Option<Logic>) -> Option<Vec<NodeId>> {
    let expected = "expected a list of 1 to 4 nodes such as `[\"field\", \"ball\"]`";
    let list = fields.needed("inputs", expected, fields.list("inputs", expected))?;
    let tied: Vec<Option<NodeId>> = list
        .iter()
        .map(|item| nodes.tie_item(item, fields.what(), Role::End, fields.problems()))
        .collect();
    let most = match logic {
        Some(Logic::Not | Logic::Buffer) => 1,
        _ => MOST_INPUTS,
    };
    if tied.is_empty() || tied.len() > most {
        let message = format!("{} has {} inputs", fields.what(), tied.len());
        let expected = if most == 1 { "expected one input" } else { expected };
        fields.problems().add(fields.place("inputs"), message, expected);
        return None;
    }
    tied.into_iter().collect()
}

/// The node that feeds a gate or a switch.
pub(crate) fn supply(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<NodeId> {
    let node = nodes.tie_key(fields, "supply", Role::Supplied)?;
    if node == NodeId::GROUND {
        let message = format!("{} is supplied from ground", fields.what());
        fields.problems().add(fields.place("supply"), message, "expected the node that feeds it");
        return None;
    }
    Some(node)
}

/// A stated switching level has no band: volts, or a share of the supply in percent.
pub(crate) fn threshold(fields: &Fields<'_>) -> Option<Threshold> {
    let is_share = match &fields.item("threshold")?.value {
        Value::Text(text) => text.trim_end().ends_with('%'),
        _ => false,
    };
    if is_share {
        let share = fields.quantity("threshold", &IMPOSSIBLE_AT_0)?;
        return Some(Threshold::Share { low: share, typical: share, high: share });
    }
    let volts = fields.quantity("threshold", &POSITIVE_VOLTAGE)?;
    Some(Threshold::Fixed { low: volts, typical: volts, high: volts })
}

const IMPOSSIBLE_AT_0: Quantity = Quantity { zero: Zero::Impossible, ..SHARE };
