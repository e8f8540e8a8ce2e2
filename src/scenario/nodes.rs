//! The nodes of a board as its parts name them, and who names each.

use crate::base::diagnostic::Span;
use crate::document::fields::Fields;
use crate::document::fields::as_text;
use crate::document::problems::Problems;
use crate::document::tree::Item;
use crate::network::circuit::NodeId;

/// The name of the reference node.
pub(crate) const GROUND: &str = "ground";

/// Other people's words for ground, which would otherwise quietly become a node of their own.
const NOT_GROUND: [&str; 8] = ["gnd", "0", "0v", "earth", "chassis", "mass", "vss", "grd"];

const LONGEST_NAME: usize = 40;

/// What a terminal does to its node.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Role {
    /// One end of a part that needs something at its other side.
    End,
    /// What controls a part and has to be driven: a base, a gate, a control.
    Control,
    /// A gate's output, which may be left unused.
    Output,
    /// A supply pin: it takes and does not give.
    Supplied,
    /// A source.
    Source,
    /// A chip pin.
    Pin,
    /// The socket.
    Socket,
}

/// A node named by a part.
#[derive(Clone, Debug)]
pub(crate) struct Terminal {
    pub(crate) node: NodeId,
    /// The part in words: "part `R3`".
    pub(crate) part: String,
    pub(crate) role: Role,
    pub(crate) span: Option<Span>,
}

/// All nodes so far.
#[derive(Debug)]
pub(crate) struct Nodes {
    pub(crate) names: Vec<String>,
    pub(crate) spans: Vec<Option<Span>>,
    pub(crate) terminals: Vec<Terminal>,
}

impl Nodes {
    pub(crate) fn new() -> Self {
        Self { names: vec![GROUND.to_owned()], spans: vec![None], terminals: Vec::new() }
    }

    /// Ties a terminal to the node of that name, which is made if it is new.
    pub(crate) fn tie(
        &mut self,
        name: &str,
        part: &str,
        role: Role,
        span: Option<&Span>,
    ) -> NodeId {
        let node = self.find(name).unwrap_or_else(|| {
            self.names.push(name.to_owned());
            self.spans.push(span.cloned());
            NodeId(self.names.len() - 1)
        });
        let terminal = Terminal { node, part: part.to_owned(), role, span: span.cloned() };
        self.terminals.push(terminal);
        node
    }

    /// The node of that name, if it has been named.
    pub(crate) fn find(&self, name: &str) -> Option<NodeId> {
        self.names.iter().position(|known| known == name).map(NodeId)
    }

    /// Ties the node that a key names.
    pub(crate) fn tie_key(&mut self, fields: &Fields<'_>, key: &str, role: Role) -> Option<NodeId> {
        let item = fields.item(key);
        let item = fields.needed(key, "expected the name of a node", item)?;
        self.tie_item(item, fields.what(), role, fields.problems())
    }

    /// Ties the node that an item names.
    pub(crate) fn tie_item(
        &mut self,
        item: &Item,
        part: &str,
        role: Role,
        problems: &Problems,
    ) -> Option<NodeId> {
        let (name, span) = as_text(item, problems)?;
        check_name(name, span, problems)?;
        Some(self.tie(name, part, role, Some(span)))
    }
}

/// Refuses a name that cannot be meant as one.
pub(crate) fn check_name(name: &str, span: &Span, problems: &Problems) -> Option<()> {
    if NOT_GROUND.contains(&name.to_lowercase().as_str()) || is_ground_in_other_letters(name) {
        let hint = Some(format!("did you mean `{GROUND}`?"));
        let message = format!("`{name}` is not the reference node");
        problems.add_hinted(span, message, "expected `ground`, or another name", hint);
        return None;
    }
    let clean = name.trim() == name && !name.contains(char::is_control);
    if !clean || name.chars().count() > LONGEST_NAME {
        let message = "this cannot be a name".to_owned();
        let expected = format!("expected at most {LONGEST_NAME} letters, digits and signs");
        problems.add(span, message, &expected);
        return None;
    }
    Some(())
}

fn is_ground_in_other_letters(name: &str) -> bool {
    name != GROUND && name.eq_ignore_ascii_case(GROUND)
}
