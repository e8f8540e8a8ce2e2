//! What can be told from the names of nodes alone.

use crate::document::near;
use crate::document::problems::Problems;
use crate::network::circuit::NodeId;
use crate::scenario::nodes::Nodes;
use crate::scenario::nodes::Role;
use crate::scenario::nodes::Terminal;

/// Looks for slips in node names and for supplies that are missing.
pub(crate) fn check(nodes: &Nodes, problems: &Problems) {
    for terminal in &nodes.terminals {
        if terminal.node == NodeId::GROUND {
            continue;
        }
        match terminal.role {
            Role::End | Role::Pin => lonely(terminal, nodes, problems),
            Role::Control => undriven(terminal, nodes, problems),
            Role::Socket => socket(terminal, nodes, problems),
            Role::Supplied => fed(terminal, nodes, problems),
            Role::Output | Role::Source => {}
        }
    }
}

fn others<'a>(terminal: &'a Terminal, nodes: &'a Nodes) -> impl Iterator<Item = &'a Terminal> {
    nodes
        .terminals
        .iter()
        .filter(move |other| other.node == terminal.node && !std::ptr::eq(*other, terminal))
}

/// A node that only one terminal names, with a name that is nearly another's, is a slip.
fn lonely(terminal: &Terminal, nodes: &Nodes, problems: &Problems) {
    let Some(span) = &terminal.span else { return };
    if others(terminal, nodes).next().is_some() {
        return;
    }
    let name = &nodes.names[terminal.node.0];
    let names = nodes.names.iter().map(String::as_str);
    let Some(near) = near::nearest_unnumbered(name, names) else { return };
    let message = format!("{} ends at node `{name}`, which nothing else names", terminal.part);
    let expected = "expected a node that another part, a pin or the output names too";
    let alone = only_one_at(near, nodes).filter(|other| other.node != NodeId::GROUND);
    let hint = match alone {
        Some(other) => format!(
            "{} ends at `{near}`, which nothing else names either: one of the two is a slip",
            other.part
        ),
        None => near::did_you_mean(near),
    };
    problems.add_hinted(span, message, expected, Some(hint));
}

/// The part's terminal that names a node, if no other does; a pin's name is no slip of the user's.
fn only_one_at<'a>(name: &str, nodes: &'a Nodes) -> Option<&'a Terminal> {
    let mut at = nodes.terminals.iter().filter(|other| nodes.names[other.node.0] == name);
    at.next().filter(|other| at.next().is_none() && other.role != Role::Pin)
}

/// Nothing but a slip or a lead that came off leaves a base or a gate alone on its node.
fn undriven(terminal: &Terminal, nodes: &Nodes, problems: &Problems) {
    let Some(span) = &terminal.span else { return };
    if others(terminal, nodes).next().is_some() {
        return;
    }
    let name = &nodes.names[terminal.node.0];
    let near = near::nearest(name, nodes.names.iter().map(String::as_str));
    let message =
        format!("{} is controlled from node `{name}`, which nothing drives", terminal.part);
    let expected = "expected a node that another part, a pin or a gate drives";
    problems.add_hinted(span, message, expected, near.map(near::did_you_mean));
}

fn socket(terminal: &Terminal, nodes: &Nodes, problems: &Problems) {
    let Some(span) = &terminal.span else { return };
    if others(terminal, nodes).next().is_some() {
        return;
    }
    let name = &nodes.names[terminal.node.0];
    let near = near::nearest(name, nodes.names.iter().map(String::as_str));
    let message = format!("the output is taken from node `{name}`, which nothing drives");
    let expected = "expected a node of the board";
    problems.add_hinted(span, message, expected, near.map(near::did_you_mean));
}

/// Something has to feed what is supplied.
fn fed(terminal: &Terminal, nodes: &Nodes, problems: &Problems) {
    let Some(span) = &terminal.span else { return };
    if others(terminal, nodes).any(|other| other.role != Role::Supplied) {
        return;
    }
    let name = &nodes.names[terminal.node.0];
    let sources = nodes.terminals.iter().filter(|other| other.role == Role::Source);
    let near = near::nearest(name, sources.map(|source| nodes.names[source.node.0].as_str()));
    let hint = near.map_or_else(
        || format!("add a part with `supply = \"5 V\"` and `node = \"{name}\"`"),
        near::did_you_mean,
    );
    let message = format!("{} is supplied from node `{name}`, which nothing feeds", terminal.part);
    problems.add_hinted(span, message, "expected a node that a supply feeds", Some(hint));
}
