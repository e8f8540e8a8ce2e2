//! Boards whose pins have neither rise time nor capacitance and go to the set through resistors, and
//! what has to be found in their waveforms: the chip's grid, written out, and Millman's theorem.

pub(crate) const CLOCKS_PER_LINE: usize = 128;
pub(crate) const LINE_SYNC: usize = 9;

/// Form of field sync, and lines of it.
#[derive(Clone, Copy, Debug)]
pub(crate) enum FieldSync {
    Held(usize),
    Inverted(usize),
    Broad(usize, usize),
}

/// Something that is drawn, as it should be found.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mark {
    pub(crate) line: usize,
    pub(crate) clocks: (usize, usize),
    pub(crate) beside_v: f64,
    pub(crate) level_v: f64,
    /// Whether it fills the active line, so that the porches can be seen.
    pub(crate) fills_line: bool,
}

/// A board and what has to be found in its waveform.
#[derive(Clone, Debug)]
pub(crate) struct Case {
    pub(crate) name: &'static str,
    pub(crate) text: String,
    pub(crate) clock_hz: u64,
    pub(crate) lines: usize,
    pub(crate) samples_per_clock: usize,
    pub(crate) field_sync: FieldSync,
    pub(crate) tip_v: f64,
    pub(crate) black_v: f64,
    pub(crate) mark: Mark,
}

/// Voltage of a node that sources of some volts feed through some ohms each.
fn millman(sources: &[(f64, f64)]) -> f64 {
    let amps: f64 = sources.iter().map(|(volts, ohms)| volts / ohms).sum();
    amps / sources.iter().map(|(_, ohms)| 1.0 / ohms).sum::<f64>()
}

const SET: (f64, f64) = (0.0, 75.0);

/// Ideal 5 V pins through 1000 Ω for sync and 3000/7 Ω for white: 0, 0.3 and 1 V.
pub(crate) fn pattern() -> Case {
    let text = "[chip.timing]\nclock = \"2 MHz\"\nclocks_per_line = 128\nlines = 312\nsync = 9\n\
                back_porch = 12\nfront_porch = 3\nfield_sync = \"inverted\"\n\
                field_sync_lines = 4\nfirst_active_line = 24\n\
                [chip.pattern.bar]\nactive = [{ lines = [60, 120], clocks = [21, 125] }]\n\
                high_ohms = 428.5714285714286\nlow_ohms = 428.5714285714286\n\
                [chip.drive]\nkind = \"fixed\"\nhigh_volts = 5\nlow_volts = 0\n\
                high_ohms = 1000\nlow_ohms = 1000\n[chip.pins]\nsync = \"plug\"\nbar = \"plug\"\n\
                [board]\n[wiring]\nstray = 0\n[output]\nnode = \"plug\"\n\
                [solve]\nsamples_per_clock = 16\n";
    let level = |sync, bar| millman(&[(sync, 1000.0), (bar, 3000.0 / 7.0), SET]);
    Case {
        name: "pattern",
        text: text.to_owned(),
        clock_hz: 2_000_000,
        lines: 312,
        samples_per_clock: 16,
        field_sync: FieldSync::Inverted(4),
        tip_v: level(0.0, 0.0),
        black_v: level(5.0, 0.0),
        mark: Mark {
            line: 61,
            clocks: (21, 125),
            beside_v: level(5.0, 0.0),
            level_v: level(5.0, 5.0),
            fills_line: true,
        },
    }
}

/// A profile's chip at its nominal 6.5 V with instant pins.
fn profile(name: &'static str, parts: &str, own: &str) -> String {
    let mut text = format!("[chip]\nprofile = \"{name}\"\nsupply = \"rail6\"\n");
    for pin in ["sync", "field", "ball", "left", "right"] {
        text += &format!("[chip.pin.{pin}]\nrise = 0\nfall = 0\ncapacitance = 0\n");
    }
    text + own
        + "[game]\nleft = 0.9\nright = 0.9\nball = [0.5, 0.8]\n"
        + "[board.V1]\nsupply = 6.5\nnode = \"rail6\"\n"
        + parts
        + "[wiring]\nstray = 0\n[output]\nnode = \"plug\"\n"
}

/// Sync through 330 Ω, the field signal through a resistance of its own.
fn resistors(field_ohms: u32) -> String {
    format!(
        "[board.R1]\nresistor = 330\nfrom = \"sync\"\nto = \"plug\"\n\
         [board.R2]\nresistor = {field_ohms}\nfrom = \"field\"\nto = \"plug\"\n"
    )
}

/// High 5.4 V behind 3 kΩ, low 0 V behind 800 Ω; the field signal through 1 kΩ.
fn separate(name: &'static str, clock_hz: u64, lines: usize, field_sync: FieldSync) -> Case {
    let (high, low) = ((5.4, 3000.0), (0.0, 800.0));
    let level = |sync: (f64, f64), field: (f64, f64)| {
        millman(&[(sync.0, sync.1 + 330.0), (field.0, field.1 + 1000.0), SET])
    };
    Case {
        name,
        text: profile(name, &resistors(1000), ""),
        clock_hz,
        lines,
        samples_per_clock: 8,
        field_sync,
        tip_v: level(low, low),
        black_v: level(high, low),
        mark: Mark {
            line: if lines == 312 { 49 } else { 41 },
            clocks: (34, 112),
            beside_v: level(high, low),
            level_v: level(high, high),
            fills_line: false,
        },
    }
}

/// Pins that only pull down: 800 Ω or 100 MΩ to ground, with 1 kΩ to the rail; lit is low, so
/// that the field lines are darker than black, not so much as to reach the slicing level.
fn open_drain() -> Case {
    let mut parts = resistors(10_000);
    for (index, pin) in ["sync", "field"].iter().enumerate() {
        let number = 3 + index;
        parts +=
            &format!("[board.R{number}]\nresistor = \"1k\"\nfrom = \"rail6\"\nto = \"{pin}\"\n");
    }
    let pulled = |ohms: f64| (6.5 * ohms / (ohms + 1e3), ohms * 1e3 / (ohms + 1e3));
    let (high, low) = (pulled(100e6), pulled(800.0));
    let level = |sync: (f64, f64), field: (f64, f64)| {
        millman(&[(sync.0, sync.1 + 330.0), (field.0, field.1 + 10_000.0), SET])
    };
    let name = "open-drain-60";
    let case = separate(name, 2_012_160, 262, FieldSync::Held(4));
    let mark = Mark { beside_v: level(high, high), level_v: level(high, low), ..case.mark };
    let (tip_v, black_v) = (level(low, high), level(high, high));
    Case { text: profile(name, &parts, ""), tip_v, black_v, mark, ..case }
}

/// The combined pin through 75 Ω, its blanking set below black so that the porches can be seen.
fn combined() -> Case {
    let own = "[chip.pin.combined]\nrise = 0\nfall = 0\ndelay = 0\ncapacitance = 0\n\
               blanking = { volts = 1.0, ohms = 2000 }\n";
    let parts = "[board.R1]\nresistor = 75\nfrom = \"combined\"\nto = \"plug\"\n";
    let level = |volts| millman(&[(volts, 2075.0), SET]);
    Case {
        name: "combined-50",
        text: profile("combined-50", parts, own),
        clock_hz: 2_000_000,
        lines: 312,
        samples_per_clock: 8,
        field_sync: FieldSync::Broad(3, 9),
        tip_v: level(0.3),
        black_v: level(1.0),
        mark: Mark {
            line: 30,
            clocks: (21, 125),
            beside_v: level(1.0),
            level_v: level(1.2),
            fills_line: true,
        },
    }
}

pub(crate) fn cases() -> Vec<Case> {
    vec![
        pattern(),
        separate("two-player-50", 2_000_000, 312, FieldSync::Inverted(4)),
        separate("two-player-60", 2_012_160, 262, FieldSync::Held(4)),
        combined(),
        open_drain(),
    ]
}

/// Every sync pulse of a field: where it begins and ends, in ticks.
pub(crate) fn pulses_of_field(case: &Case) -> Vec<(usize, usize)> {
    let start = |line: usize| line * CLOCKS_PER_LINE;
    let (mut pulses, sync_lines) = match case.field_sync {
        FieldSync::Held(lines) => (vec![(0, start(lines) + LINE_SYNC)], lines + 1),
        FieldSync::Inverted(lines) => {
            let end = |line| start(line + 1) + if line + 1 == lines { LINE_SYNC } else { 0 };
            let inverted = (0..lines).map(|line| (start(line) + LINE_SYNC, end(line)));
            (inverted.collect(), lines + 1)
        }
        FieldSync::Broad(lines, gap) => {
            let half = CLOCKS_PER_LINE / 2;
            let halves = (0..2 * lines).map(|at| (at * half, (at + 1) * half - gap));
            (halves.collect::<Vec<_>>(), lines)
        }
    };
    pulses.extend((sync_lines..case.lines).map(|line| (start(line), start(line) + LINE_SYNC)));
    pulses
}
