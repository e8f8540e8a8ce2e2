//! Every board of a run as a row of CSV (RFC 4180), in the order of their numbers.

use crate::analysis::spread::Board;
use crate::analysis::spread::level_names;
use crate::scenario::Scenario;
use std::io::Error;
use std::io::Write;

/// Rows on their way to a file.
#[derive(Debug)]
pub struct BoardsCsv<W: Write> {
    out: csv::Writer<W>,
    columns: usize,
}

impl<W: Write> BoardsCsv<W> {
    /// Begins with the names of the columns: the number, the factors in the units of the scenario's
    /// base (Ω, F, H, V, °C), the levels in mV, the words, whether it is good.
    ///
    /// # Errors
    ///
    /// If `out` fails.
    pub fn new(scenario: &Scenario, out: W) -> Result<Self, Error> {
        let mut out = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
        let factors = scenario.spread.iter().map(|factor| factor.name.clone());
        let levels = level_names(scenario).into_iter().map(|name| format!("{name} mV"));
        let words = scenario.raster.elements.iter().map(|name| format!("{name} seen"));
        let names = std::iter::once("board".to_owned()).chain(factors).chain(levels).chain(words);
        let more = ["sync".to_owned(), "good".to_owned()];
        let names: Vec<String> = names.chain(more).collect();
        out.write_record(&names)?;
        Ok(Self { out, columns: names.len() })
    }

    /// Adds a board; one that could not be solved has no levels and is not good.
    ///
    /// # Errors
    ///
    /// If the file fails.
    pub fn write(&mut self, board: &Board) -> Result<(), Error> {
        let mut row = vec![board.number.to_string()];
        row.extend(board.draws.iter().map(|value| format!("{value:.6e}")));
        match &board.measured {
            Some(measured) => {
                row.extend(measured.levels.iter().map(|volts| format!("{:.3}", 1e3 * volts)));
                row.extend(measured.seen.iter().map(|seen| seen.word().to_owned()));
                row.push(measured.sync.word().to_owned());
                row.push(if measured.is_good() { "yes" } else { "no" }.to_owned());
            }
            None => {
                let columns = self.columns - row.len() - 1;
                row.extend(std::iter::repeat_n(String::new(), columns));
                row.push("no".to_owned());
            }
        }
        self.out.write_record(row)?;
        Ok(())
    }

    /// All rows are written.
    ///
    /// # Errors
    ///
    /// If the file fails.
    pub fn finish(mut self) -> Result<(), Error> {
        self.out.flush()
    }
}
