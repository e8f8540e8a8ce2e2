//! `render --report`: what a render found, on one page.

use crate::cli::failure::Failure;
use crate::cli::render::Told;
use crate::cli::render::Views;
use backporch::analysis::ladder::LadderError;
use backporch::analysis::ladder::ladder;
use backporch::analysis::node_levels::node_levels;
use backporch::output::page::PageParts;
use backporch::output::page::Pictures;
use backporch::output::page::write_page;
use backporch::output::panel::blanking_v;
use backporch::scenario::Scenario;

/// The whole page.
pub(crate) fn draw(scenario: &Scenario, told: &Told, views: &Views) -> Result<Vec<u8>, Failure> {
    let levels = node_levels(scenario).map_err(|error| Failure::network(scenario, &error))?;
    let ladder = match ladder(scenario) {
        Ok(ladder) => Ok(ladder),
        Err(LadderError::Network(error)) => return Err(Failure::network(scenario, &error)),
        Err(error @ LadderError::TooManyElements { .. }) => Err(error.to_string()),
    };
    let parts = PageParts {
        scenario,
        reading: told.reading,
        reception: &told.field.reception,
        blanking_v: blanking_v(&told.field.reception, told.reading),
        ladder: ladder.as_ref().map_err(String::as_str),
        ratings: told.ratings,
        levels: &levels,
        warnings: told.warnings,
        modulation: told.modulation,
        pictures: Pictures {
            frame: &views.frame,
            line: &views.line,
            field: &views.field,
            carrier: views.carrier.as_deref(),
        },
    };
    let mut bytes = Vec::new();
    write_page(&parts, &mut bytes).map_err(|error| Failure::world("report.html", &error))?;
    Ok(bytes)
}
