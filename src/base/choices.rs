//! A setting and the values that it is to take.

/// A setting and its values.
#[derive(Clone, Debug, PartialEq)]
pub struct Choices {
    /// What is set: a part, or any entry of a scenario.
    pub path: String,
    /// The values, in order; at least one.
    pub values: Vec<Choice>,
}

/// One value.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// As a setting takes it.
    pub text: String,
    /// The same for people: "4k7".
    pub label: String,
    /// As a number in base units, if it is one of a range.
    pub number: Option<f64>,
}
