//! Waveforms as a table of plain numbers (RFC 4180): `time_s`, then a column for each node.

use crate::base::ticks::ClockRate;
use crate::signal::trace::Trace;
use csv::Terminator;
use csv::Writer;
use csv::WriterBuilder;
use std::io::Write;
use thiserror::Error;

/// Why a table cannot be written.
#[derive(Debug, Error)]
pub enum CsvError {
    /// A field's traces are not the columns of the table, in their order.
    #[error("the field has waveforms at {found:?}, but the table's columns are {expected:?}")]
    OtherNodes {
        /// Nodes of the traces.
        found: Vec<String>,
        /// Columns of the table.
        expected: Vec<String>,
    },
    /// A trace with another rate or length than the rest.
    #[error("the waveform at `{node}` has {samples} samples at {hertz} Hz, unlike the others")]
    OtherTrace {
        /// Its node.
        node: String,
        /// Its length.
        samples: usize,
        /// Its rate.
        hertz: f64,
    },
    /// The table could not be written.
    #[error("cannot write the table: {0}")]
    Write(#[from] csv::Error),
    /// The table could not be completed.
    #[error("cannot complete the table: {0}")]
    Flush(#[from] std::io::Error),
}

/// Writes waveforms field by field; time runs on from field to field.
///
/// Every number is the shortest decimal that reads back as the same value: 64 bits for times,
/// 32 bits for volts. Lines end in CR LF, as the standard has it.
#[derive(Debug)]
pub struct CsvSink<W: Write> {
    writer: Writer<W>,
    nodes: Vec<String>,
    rate: ClockRate,
    written: u64,
}

impl<W: Write> CsvSink<W> {
    /// Begins a table with its heading.
    ///
    /// # Errors
    ///
    /// [`CsvError::Write`].
    pub fn new(writer: W, rate: ClockRate, nodes: &[&str]) -> Result<Self, CsvError> {
        let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(writer);
        writer.write_field("time_s")?;
        for node in nodes {
            writer.write_field(node)?;
        }
        writer.write_record(None::<&[u8]>)?;
        let nodes = nodes.iter().map(|&node| node.to_owned()).collect();
        Ok(Self { writer, nodes, rate, written: 0 })
    }

    /// Appends one field: a trace for each column, in the order of the columns, V.
    ///
    /// # Errors
    ///
    /// Before anything of this field is written: [`CsvError::OtherNodes`] or
    /// [`CsvError::OtherTrace`]. [`CsvError::Write`] if the rows cannot be written.
    pub fn write_field(&mut self, traces: &[Trace]) -> Result<(), CsvError> {
        let length = self.check(traces)?;
        for sample in 0..length {
            self.writer.write_field(self.rate.seconds(self.written).to_string())?;
            for trace in traces {
                self.writer.write_field(trace.volts[sample].to_string())?;
            }
            self.writer.write_record(None::<&[u8]>)?;
            self.written += 1;
        }
        Ok(())
    }

    /// Completes the table.
    ///
    /// # Errors
    ///
    /// [`CsvError::Flush`].
    pub fn finish(mut self) -> Result<(), CsvError> {
        Ok(self.writer.flush()?)
    }

    fn check(&self, traces: &[Trace]) -> Result<usize, CsvError> {
        if !traces.iter().map(|trace| &trace.node).eq(&self.nodes) {
            let found = traces.iter().map(|trace| trace.node.clone()).collect();
            return Err(CsvError::OtherNodes { found, expected: self.nodes.clone() });
        }
        let length = traces.first().map_or(0, |trace| trace.volts.len());
        let odd = |trace: &&Trace| trace.volts.len() != length || trace.rate != self.rate;
        if let Some(trace) = traces.iter().find(odd) {
            return Err(CsvError::OtherTrace {
                node: trace.node.clone(),
                samples: trace.volts.len(),
                hertz: trace.rate.hertz(),
            });
        }
        Ok(length)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rate() -> ClockRate {
        ClockRate::new(8_000_000, 1).unwrap()
    }

    fn trace(node: &str, volts: &[f32]) -> Trace {
        Trace { node: node.to_owned(), rate: rate(), volts: volts.to_vec() }
    }

    fn table(nodes: &[&str], fields: &[&[Trace]]) -> String {
        let mut bytes = Vec::new();
        let mut sink = CsvSink::new(&mut bytes, rate(), nodes).unwrap();
        fields.iter().for_each(|traces| sink.write_field(traces).unwrap());
        sink.finish().unwrap();
        String::from_utf8(bytes).unwrap()
    }

    #[test]
    fn time_runs_on_from_field_to_field() {
        let first = [trace("plug", &[0.0, 0.3]), trace("mix", &[5.25, -1e-7])];
        let second = [trace("plug", &[1.0]), trace("mix", &[3.0])];
        assert_eq!(
            table(&["plug", "mix"], &[&first, &second]),
            "time_s,plug,mix\r\n0,0,5.25\r\n0.000000125,0.3,-0.0000001\r\n0.00000025,1,3\r\n"
        );
    }

    #[test]
    fn a_node_with_comma_and_quotes_is_quoted() {
        let node = "the \"hot\" end, R1";
        let text = table(&[node], &[&[trace(node, &[1.0])]]);
        assert_eq!(text, "time_s,\"the \"\"hot\"\" end, R1\"\r\n0,1\r\n");
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        assert_eq!(reader.headers().unwrap().get(1), Some(node));
    }

    #[test]
    fn every_volt_reads_back_bit_for_bit() {
        let volts = [0.1, f32::MIN_POSITIVE, -3.402_823e38, 1.0 / 3.0, 2.5e-5];
        let text = table(&["plug"], &[&[trace("plug", &volts)]]);
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let volt = |row: csv::StringRecord| row[1].parse::<f32>().unwrap().to_bits();
        let read: Vec<u32> = reader.records().map(|row| volt(row.unwrap())).collect();
        assert_eq!(read, volts.map(f32::to_bits));
    }

    #[test]
    fn traces_that_are_not_the_columns_are_refused() {
        let mut sink = CsvSink::new(Vec::new(), rate(), &["plug", "mix"]).unwrap();
        let swapped = [trace("mix", &[0.0]), trace("plug", &[0.0])];
        assert!(matches!(sink.write_field(&swapped), Err(CsvError::OtherNodes { .. })));
        let uneven = [trace("plug", &[0.0, 1.0]), trace("mix", &[0.0])];
        assert_eq!(
            sink.write_field(&uneven).unwrap_err().to_string(),
            "the waveform at `mix` has 1 samples at 8000000 Hz, unlike the others"
        );
    }
}
