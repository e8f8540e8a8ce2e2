//! Pulse trains as a value change dump, for logic-analyser software (IEEE 1364-2005).

use crate::base::ticks::ClockRate;
use crate::base::ticks::Tick;
use crate::raster::plan::PinPlan;
use crate::signal::pulse_train::FieldTrains;
use crate::signal::pulse_train::Level;
use crate::signal::pulse_train::PulseTrain;
use std::fmt;
use std::io::Write;
use thiserror::Error;
use vcd::IdCode;
use vcd::SimulationCommand;
use vcd::TimescaleUnit;
use vcd::Value;
use vcd::Writer;

/// Why a dump cannot be written.
#[derive(Debug, Error)]
pub enum VcdError {
    /// Two pins whose names differ only in characters that a dump cannot hold.
    #[error("pins `{first}` and `{second}` would both be called `{name}` in the dump")]
    SameName {
        /// One pin.
        first: String,
        /// The other.
        second: String,
        /// What both become.
        name: String,
    },
    /// A field with other pins than the dump was begun with.
    #[error("the field has pins {found:?}, but the dump was begun for {expected:?}")]
    OtherPins {
        /// Pins of the field.
        found: Vec<String>,
        /// Pins of the dump.
        expected: Vec<String>,
    },
    /// A field with another clock than the dump was begun with.
    #[error("the field has a clock of {found} Hz, but the dump was begun for {expected} Hz")]
    OtherClock {
        /// Clock of the field, Hz.
        found: f64,
        /// Clock of the dump, Hz.
        expected: f64,
    },
    /// A level that the pin's wire is too narrow for.
    #[error("pin `{pin}` goes to level {level}, but its highest is {highest}")]
    Level {
        /// The pin.
        pin: String,
        /// The level it goes to.
        level: u8,
        /// The highest it was begun for.
        highest: u8,
    },
    /// The dump could not be written.
    #[error("cannot write the dump: {0}")]
    Write(#[from] std::io::Error),
}

/// Writes pulse trains field by field; time runs on from field to field.
///
/// A two-level pin is a wire of one bit; a combined pin is a vector that holds its level index.
/// Times are picoseconds, each rounded once from its exact tick. There is no date in the file: the
/// same trains give the same bytes.
///
/// In names, whatever is not an ASCII letter, digit or `_` becomes `_`, and a leading digit gets a
/// `_` before it.
///
/// # Source
///
/// IEEE 1364-2005, clause 18 (clause number from memory).
pub struct VcdSink<W: Write> {
    writer: Writer<W>,
    clock: ClockRate,
    wires: Vec<Wire>,
    /// Ticks in the fields before.
    ticks: u64,
    /// Last time written, ps.
    time_ps: Option<u64>,
}

#[derive(Debug)]
struct Wire {
    pin: String,
    id: IdCode,
    highest: Level,
    /// Level last written; none before the first field.
    level: Option<Level>,
}

impl<W: Write> VcdSink<W> {
    /// Begins a dump with its header.
    ///
    /// # Errors
    ///
    /// Before the first byte is written [`VcdError::SameName`]; [`VcdError::Write`] if the header
    /// cannot be written.
    pub fn new(writer: W, clock: ClockRate, pins: &[PinPlan]) -> Result<Self, VcdError> {
        let names = identifiers(pins)?;
        let mut writer = Writer::new(writer);
        writer.version("Backporch")?;
        writer.timescale(1, TimescaleUnit::PS)?;
        writer.add_module("chip")?;
        let mut wires = Vec::new();
        for (pin, name) in pins.iter().zip(&names) {
            let highest = pin.highest_level();
            let id = writer.add_wire(bits(highest), name)?;
            wires.push(Wire { pin: pin.name.clone(), id, highest, level: None });
        }
        writer.upscope()?;
        writer.enddefinitions()?;
        Ok(Self { writer, clock, wires, ticks: 0, time_ps: None })
    }

    /// Appends one field.
    ///
    /// # Errors
    ///
    /// Before anything of this field is written: [`VcdError::OtherPins`], [`VcdError::OtherClock`]
    /// or [`VcdError::Level`]. [`VcdError::Write`] if it cannot be written.
    pub fn write_field(&mut self, field: &FieldTrains) -> Result<(), VcdError> {
        self.check(field)?;
        if self.time_ps.is_none() {
            self.dump_all(field)?;
        }
        for (at, index, level) in changes(&field.trains) {
            if self.wires[index].level != Some(level) {
                self.go_to(at)?;
                self.change(index, level)?;
            }
        }
        self.ticks += field.timing.clocks_per_field();
        Ok(())
    }

    /// Completes the dump with the time at which its last field ends.
    ///
    /// # Errors
    ///
    /// [`VcdError::Write`].
    pub fn finish(mut self) -> Result<(), VcdError> {
        self.go_to(Tick(0))?;
        Ok(self.writer.flush()?)
    }

    fn check(&self, field: &FieldTrains) -> Result<(), VcdError> {
        if !self.wires.iter().map(|wire| &wire.pin).eq(&field.pins) {
            let expected = self.wires.iter().map(|wire| wire.pin.clone()).collect();
            return Err(VcdError::OtherPins { found: field.pins.clone(), expected });
        }
        if field.timing.clock != self.clock {
            let (found, expected) = (field.timing.clock.hertz(), self.clock.hertz());
            return Err(VcdError::OtherClock { found, expected });
        }
        for (wire, train) in self.wires.iter().zip(&field.trains) {
            let levels = train.edges().iter().map(|edge| edge.level);
            let level = levels.fold(train.initial(), Level::max);
            if level > wire.highest {
                let (pin, highest) = (wire.pin.clone(), wire.highest.0);
                return Err(VcdError::Level { pin, level: level.0, highest });
            }
        }
        Ok(())
    }

    /// The levels from time 0 on.
    fn dump_all(&mut self, field: &FieldTrains) -> Result<(), VcdError> {
        self.go_to(Tick(0))?;
        self.writer.begin(SimulationCommand::Dumpvars)?;
        for (index, train) in field.trains.iter().enumerate() {
            self.change(index, train.level_at(Tick(0)))?;
        }
        Ok(self.writer.end()?)
    }

    /// Writes the time of a tick of the present field, unless it is already that time.
    fn go_to(&mut self, at: Tick) -> Result<(), VcdError> {
        let time_ps = self.clock.picoseconds(self.ticks + at.0);
        if self.time_ps != Some(time_ps) {
            self.writer.timestamp(time_ps)?;
            self.time_ps = Some(time_ps);
        }
        Ok(())
    }

    fn change(&mut self, index: usize, level: Level) -> Result<(), VcdError> {
        let wire = &mut self.wires[index];
        wire.level = Some(level);
        let bit = |place: u32| Value::from(level.0 >> place & 1 == 1);
        match bits(wire.highest) {
            1 => self.writer.change_scalar(wire.id, bit(0))?,
            width => self.writer.change_vector(wire.id, (0..width).rev().map(bit))?,
        }
        Ok(())
    }
}

impl<W: Write> fmt::Debug for VcdSink<W> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("VcdSink")
            .field("clock", &self.clock)
            .field("wires", &self.wires)
            .field("ticks", &self.ticks)
            .field("time_ps", &self.time_ps)
            .finish_non_exhaustive()
    }
}

/// Every change of a field in time order, pins in their own order within a tick. Starts with the
/// levels at tick 0, where a field may differ from the end of the one before.
fn changes(trains: &[PulseTrain]) -> Vec<(Tick, usize, Level)> {
    let mut changes = Vec::new();
    for (index, train) in trains.iter().enumerate() {
        changes.push((Tick(0), index, train.level_at(Tick(0))));
        let later = train.edges().iter().filter(|edge| edge.at > Tick(0));
        changes.extend(later.map(|edge| (edge.at, index, edge.level)));
    }
    changes.sort_unstable_by_key(|&(at, index, _)| (at, index));
    changes
}

/// Bits that hold every level up to `highest`; at least 1.
fn bits(highest: Level) -> u32 {
    (u8::BITS - highest.0.leading_zeros()).max(1)
}

fn identifiers(pins: &[PinPlan]) -> Result<Vec<String>, VcdError> {
    let names: Vec<String> = pins.iter().map(|pin| identifier(&pin.name)).collect();
    for (index, name) in names.iter().enumerate() {
        if let Some(before) = names[..index].iter().position(|other| other == name) {
            let (first, second) = (pins[before].name.clone(), pins[index].name.clone());
            return Err(VcdError::SameName { first, second, name: name.clone() });
        }
    }
    Ok(names)
}

fn identifier(name: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c } else { '_' };
    let name: String = name.chars().map(plain).collect();
    if name.starts_with(|c: char| !c.is_ascii_digit()) { name } else { format!("_{name}") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::ticks::TickSpan;
    use crate::raster::plan::Carries;
    use crate::raster::plan::CombinedLevels;
    use crate::raster::plan::Sense;
    use crate::signal::element::ElementId;
    use crate::signal::element::ElementMap;
    use crate::signal::pulse_train::Edge;
    use crate::signal::timing::FieldSync;
    use crate::signal::timing::FieldTiming;
    use vcd::Command;
    use vcd::Parser;

    fn clock() -> ClockRate {
        ClockRate::new(2_012_160, 1).unwrap()
    }

    fn pin(name: &str, carries: Carries) -> PinPlan {
        PinPlan { name: name.to_owned(), carries, sense: Sense::ActiveHigh }
    }

    fn combined(highest: u8) -> Carries {
        Carries::Combined(CombinedLevels {
            tip: Level(0),
            blanking: Level(1),
            black: Level(1),
            lit: vec![(ElementId(0), Level(highest))],
        })
    }

    fn train(initial: u8, edges: &[(u64, u8)]) -> PulseTrain {
        let edges = edges.iter().map(|&(at, level)| Edge { at: Tick(at), level: Level(level) });
        PulseTrain::new(Level(initial), edges, TickSpan(64))
    }

    fn field(pins: &[PinPlan], trains: Vec<PulseTrain>) -> FieldTrains {
        let timing = FieldTiming {
            clock: clock(),
            clocks_per_line: 16,
            lines_per_field: 4,
            line_sync: 1,
            active_start: 3,
            active_stop: 15,
            field_sync: FieldSync::Held,
            field_sync_lines: 1,
            first_active_line: 1,
        };
        let pins = pins.iter().map(|pin| pin.name.clone()).collect();
        FieldTrains { timing, pins, trains, map: ElementMap::default() }
    }

    fn dump(pins: &[PinPlan], fields: &[FieldTrains]) -> Vec<u8> {
        let mut bytes = Vec::new();
        let mut sink = VcdSink::new(&mut bytes, clock(), pins).unwrap();
        fields.iter().for_each(|field| sink.write_field(field).unwrap());
        sink.finish().unwrap();
        bytes
    }

    /// A pin and a combined pin with five levels over two fields.
    fn example() -> (Vec<PinPlan>, Vec<FieldTrains>) {
        let pins = vec![pin("sync", Carries::Sync), pin("video", combined(4))];
        let first = vec![train(1, &[(0, 0), (16, 1)]), train(1, &[(16, 4), (17, 1)])];
        let second = vec![train(1, &[(0, 0), (63, 1)]), train(1, &[(63, 3)])];
        let fields = vec![field(&pins, first), field(&pins, second)];
        (pins, fields)
    }

    #[test]
    fn the_text_is_as_the_standard_has_it() {
        let (pins, fields) = example();
        let text = String::from_utf8(dump(&pins, &fields)).unwrap();
        // 16 clocks of 2.012 16 MHz are 7 951 653.94... ps, 17 are 8 448 632.31..., 64 are
        // 31 806 615.77..., 127 are 63 116 253.18... and 128 are 63 613 231.55...
        let expected = "\
$version
    Backporch
$end
$timescale 1 ps $end
$scope module chip $end
$var wire 1 ! sync $end
$var wire 3 \" video $end
$upscope $end
$enddefinitions $end
#0
$dumpvars
0!
b001 \"
$end
#7951654
1!
b100 \"
#8448632
b001 \"
#31806616
0!
#63116253
1!
b011 \"
#63613232
";
        assert_eq!(text, expected);
    }

    /// Value of a level as its reader sees it.
    fn number(bits: &[Value]) -> u8 {
        bits.iter().fold(0, |number, &bit| number * 2 + u8::from(bit == Value::V1))
    }

    #[test]
    fn a_reader_finds_every_level_at_every_tick() {
        let (pins, fields) = example();
        let bytes = dump(&pins, &fields);
        let mut parser = Parser::new(&bytes[..]);
        let header = parser.parse_header().unwrap();
        assert_eq!(header.timescale, Some((1, TimescaleUnit::PS)));
        assert_eq!(header.date, None);
        let ids = ["sync", "video"].map(|name| header.find_var(&["chip", name]).unwrap().code);
        let mut read: Vec<(u64, usize, u8)> = Vec::new();
        let mut now = 0;
        for command in parser {
            let (id, level) = match command.unwrap() {
                Command::Timestamp(time) => {
                    assert!(time >= now);
                    now = time;
                    continue;
                }
                Command::ChangeScalar(id, value) => (id, number(&[value])),
                Command::ChangeVector(id, bits) => (id, number(&Vec::from(bits))),
                _ => continue,
            };
            read.push((now, ids.iter().position(|&known| known == id).unwrap(), level));
        }
        for tick in 0..128u64 {
            let time = clock().picoseconds(tick);
            let field = &fields[usize::from(tick >= 64)];
            for (pin, train) in field.trains.iter().enumerate() {
                let before = read.iter().rev().find(|change| change.0 <= time && change.1 == pin);
                let expected = train.level_at(Tick(tick % 64)).0;
                assert_eq!(before.unwrap().2, expected, "pin {pin} at tick {tick}");
            }
        }
        assert_eq!(now, clock().picoseconds(128), "the last field has its full length");
    }

    #[test]
    fn a_wire_is_as_wide_as_its_highest_level_needs() {
        let widths = [0, 1, 2, 3, 4, 7, 8, 255].map(|highest| bits(Level(highest)));
        assert_eq!(widths, [1, 1, 2, 2, 3, 3, 4, 8]);
    }

    #[test]
    fn names_become_identifiers_and_may_not_collide() {
        assert_eq!(
            ["left", "left paddle", "22", "", "Größe"].map(identifier),
            ["left", "left_paddle", "_22", "_", "Gr__e"]
        );
        let pins = [pin("a b", Carries::Sync), pin("a-b", Carries::Sync)];
        let refused = VcdSink::new(Vec::new(), clock(), &pins).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "pins `a b` and `a-b` would both be called `a_b` in the dump"
        );
    }

    #[test]
    fn fields_that_do_not_fit_the_dump_are_refused() {
        let pins = [pin("sync", Carries::Sync)];
        let mut sink = VcdSink::new(Vec::new(), clock(), &pins).unwrap();
        let stranger = field(&[pin("ball", Carries::Sync)], vec![train(0, &[])]);
        assert!(matches!(sink.write_field(&stranger), Err(VcdError::OtherPins { .. })));
        let mut slow = field(&pins, vec![train(0, &[])]);
        slow.timing.clock = ClockRate::new(2_000_000, 1).unwrap();
        assert!(matches!(sink.write_field(&slow), Err(VcdError::OtherClock { .. })));
        let high = field(&pins, vec![train(0, &[(5, 2)])]);
        assert_eq!(
            sink.write_field(&high).unwrap_err().to_string(),
            "pin `sync` goes to level 2, but its highest is 1"
        );
    }
}
