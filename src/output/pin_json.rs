//! A measured pin as JSON for other programs.

use crate::analysis::pin::Better;
use crate::analysis::pin::Figure;
use crate::analysis::pin::Model;
use crate::analysis::pin::PinModel;
use crate::analysis::pin::StateModel;
use crate::network::circuit::PinStage;
use crate::output::json::FORMAT;
use crate::output::json::write;
use serde::Serialize;
use std::io::Write;

/// Writes the model, indented, with a line end; `toml` are the lines for a scenario.
///
/// # Errors
///
/// If `out` fails.
pub fn write_pin(model: &PinModel, toml: &str, out: &mut impl Write) -> std::io::Result<()> {
    let state = |state: &Option<StateModel>| state.as_ref().map(state_report);
    write(
        &PinReport { format: FORMAT, high: state(&model.high), low: state(&model.low), toml },
        out,
    )
}

/// The pin.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PinReport<'a> {
    /// [`FORMAT`].
    pub format: u32,
    /// High; null if it was not measured.
    pub high: Option<StateReport>,
    /// Low; null if it was not measured.
    pub low: Option<StateReport>,
    /// The lines for a scenario.
    pub toml: &'a str,
}

/// One state.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StateReport {
    /// Volts behind a resistance.
    pub linear: ModelReport,
    /// The square law; null if it cannot give the readings.
    pub square_law: Option<ModelReport>,
    /// "linear", "square-law", "alike" or "untold".
    pub better: &'static str,
}

/// A model: either volts and ohms, or k and threshold.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ModelReport {
    /// Open volts, V.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub volts: Option<FigureReport>,
    /// Resistance, Ω.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ohms: Option<FigureReport>,
    /// k, A/V².
    #[serde(skip_serializing_if = "Option::is_none")]
    pub k: Option<FigureReport>,
    /// Threshold, V.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub threshold: Option<FigureReport>,
    /// Whether the threshold was taken for typical.
    pub threshold_assumed: bool,
    /// Largest disagreement with a reading, V.
    pub worst_v: f64,
    /// Sum of squares of the disagreements in deviations.
    pub chi_square: f64,
    /// Volts with the planned load, V.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub planned_volts: Option<FigureReport>,
    /// Current out of the pin into the planned load, A.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub planned_amps: Option<FigureReport>,
}

/// A value and one standard deviation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FigureReport {
    /// The value.
    pub value: f64,
    /// One standard deviation.
    pub deviation: f64,
}

impl From<Figure> for FigureReport {
    fn from(figure: Figure) -> Self {
        Self { value: figure.value, deviation: figure.deviation }
    }
}

fn state_report(state: &StateModel) -> StateReport {
    let better = match state.better {
        Better::Linear => "linear",
        Better::Square => "square-law",
        Better::Alike => "alike",
        Better::Untold => "untold",
    };
    let square_law = state.square.as_ref().map(model_report);
    StateReport { linear: model_report(&state.linear), square_law, better }
}

fn model_report(model: &Model) -> ModelReport {
    let is_linear = matches!(model.stage, PinStage::Linear { .. });
    let [first, second] = model.figures.map(FigureReport::from);
    let only = |wanted: bool, figure| wanted.then_some(figure);
    ModelReport {
        volts: only(is_linear, first),
        ohms: only(is_linear, second),
        k: only(!is_linear, second),
        threshold: only(!is_linear, first),
        threshold_assumed: model.assumed,
        worst_v: model.worst_v,
        chi_square: model.chi_square,
        planned_volts: model.crossing.map(|crossing| crossing[0].into()),
        planned_amps: model.crossing.map(|crossing| crossing[1].into()),
    }
}
