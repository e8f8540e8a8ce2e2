//! A made-up field for the tests of the views: trains as a chip would put them out, and a waveform
//! through one RC time constant.

use crate::analysis::ladder::ElementLevel;
use crate::analysis::ladder::Ladder;
use crate::analysis::ladder::LadderLevel;
use crate::analysis::ladder::LoadLadder;
use crate::analysis::ladder::SyncLevels;
use crate::analysis::ladder::SyncSide;
use crate::analysis::reading::FieldReading;
use crate::analysis::reading::ShapeReading;
use crate::analysis::sight::Sight;
use crate::analysis::verdict::LockState;
use crate::analysis::verdict::Note;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::base::math;
use crate::base::ticks::ClockRate;
use crate::base::ticks::Tick;
use crate::base::ticks::TickSpan;
use crate::network::circuit::NodeId;
use crate::output::field_view::FieldView;
use crate::output::line_view::LineView;
use crate::receiver::lock::Lock;
use crate::receiver::spec::Reception;
use crate::receiver::spec::SyncMeasure;
use crate::receiver::spec::TimeBase;
use crate::signal::element::ElementId;
use crate::signal::element::ElementMap;
use crate::signal::element::ElementSet;
use crate::signal::element::Patch;
use crate::signal::element::Shape;
use crate::signal::picture::Picture;
use crate::signal::pulse_train::Edge;
use crate::signal::pulse_train::FieldTrains;
use crate::signal::pulse_train::Level;
use crate::signal::pulse_train::PulseTrain;
use crate::signal::timing::FieldSync;
use crate::signal::timing::FieldTiming;
use crate::signal::trace::Trace;
use crate::simulate::FieldRun;

/// Everything the views need.
pub(crate) struct Sample {
    pub(crate) trains: FieldTrains,
    pub(crate) traces: Vec<Trace>,
    pub(crate) reception: Reception,
    pub(crate) reading: FieldReading,
}

impl Sample {
    pub(crate) fn run(&self) -> FieldRun {
        FieldRun {
            trains: self.trains.clone(),
            traces: self.traces.clone(),
            nodes: (0..self.traces.len()).map(NodeId).collect(),
            reception: self.reception.clone(),
        }
    }

    pub(crate) fn line_view(&self, line: u32) -> LineView<'_> {
        LineView {
            title: "Two gates and a follower, grey left player",
            line,
            trains: &self.trains,
            traces: &self.traces,
            reception: &self.reception,
            reading: &self.reading,
        }
    }

    pub(crate) fn field_view(&self) -> FieldView<'_> {
        FieldView {
            title: "Two gates and a follower, grey left player",
            timing: &self.trains.timing,
            trace: &self.traces[0],
            reception: &self.reception,
            reading: &self.reading,
        }
    }
}

/// 50 Hz, 2 MHz, 128 clocks, 312 lines; the socket alone.
pub(crate) fn fifty() -> Sample {
    build(timing((2_000_000, 1), 312, FieldSync::Inverted), 0)
}

/// 60 Hz, 262 lines; three taps and a combined pin.
pub(crate) fn sixty() -> Sample {
    build(timing((2_012_160, 1), 262, FieldSync::Broad { gap: 5 }), 3)
}

fn timing((hertz, over): (u64, u64), lines_per_field: u32, field_sync: FieldSync) -> FieldTiming {
    FieldTiming {
        clock: ClockRate::new(hertz, over).unwrap(),
        clocks_per_line: 128,
        lines_per_field,
        line_sync: 9,
        active_start: 20,
        active_stop: 125,
        field_sync,
        field_sync_lines: 4,
        first_active_line: 24,
    }
}

/// Name, element, clocks, lines.
type Drawn = (&'static str, u8, std::ops::Range<u32>, std::ops::Range<u32>);

fn map(lines: u32) -> ElementMap {
    let drawn: [Drawn; 9] = [
        ("top line", 0, 22..120, 34..38),
        ("left score", 0, 50..52, 44..64),
        ("left score", 0, 54..56, 44..64),
        ("net", 0, 71..72, 36..lines - 12),
        ("right score", 0, 84..86, 44..64),
        ("left paddle", 2, 28..30, 40..66),
        ("right paddle", 3, 112..114, 48..74),
        ("ball", 1, 109..111, 50..54),
        ("forward", 3, 100..102, 48..74),
    ];
    let names: std::collections::BTreeMap<&str, u8> =
        drawn.iter().map(|(name, element, ..)| (*name, *element)).collect();
    let order: Vec<&str> = names.keys().copied().collect();
    let mut patches: Vec<Patch> = drawn
        .iter()
        .flat_map(|(name, _, clocks, lines)| {
            let shape = order.iter().position(|known| known == name).unwrap();
            let patch = move |line| Patch { line, start: clocks.start, stop: clocks.end, shape };
            lines.clone().map(patch)
        })
        .collect();
    patches.sort();
    ElementMap {
        elements: ["field", "ball", "left", "right"].map(String::from).into(),
        shapes: names
            .iter()
            .map(|(name, &element)| Shape {
                // The ball is its own element's only shape.
                name: (*name).into(),
                element: ElementId(element),
            })
            .collect(),
        patches,
    }
}

fn is_sync(timing: &FieldTiming, line: u32, clock: u32) -> bool {
    if line >= timing.field_sync_lines {
        return clock < timing.line_sync;
    }
    match timing.field_sync {
        FieldSync::Held => true,
        FieldSync::Inverted => clock >= timing.line_sync,
        FieldSync::Broad { gap } => clock % 64 < 64 - gap,
    }
}

fn train(timing: &FieldTiming, level: impl Fn(u32, u32) -> u8) -> PulseTrain {
    let moments = (0..timing.lines_per_field)
        .flat_map(|line| (0..timing.clocks_per_line).map(move |clock| (line, clock)));
    let edges = moments.map(|(line, clock)| Edge {
        at: Tick(timing.tick(line, clock)),
        level: Level(level(line, clock)),
    });
    PulseTrain::new(Level(level(0, 0)), edges, TickSpan(timing.clocks_per_field()))
}

fn build(timing: FieldTiming, taps: usize) -> Sample {
    let map = map(timing.lines_per_field);
    let lit = |element: u8| {
        let map = &map;
        move |line, clock| u8::from(map.lit(line, clock).contains(ElementId(element)))
    };
    let mut pins: Vec<(&str, PulseTrain)> = vec![
        ("sync", train(&timing, |line, clock| u8::from(!is_sync(&timing, line, clock)))),
        ("field", train(&timing, lit(0))),
        ("ball", train(&timing, lit(1))),
        ("left", train(&timing, lit(2))),
        ("right", train(&timing, lit(3))),
    ];
    if taps > 0 {
        pins.push((
            "combined",
            train(&timing, |line, clock| combined(&timing, &map, (line, clock))),
        ));
    }
    let socket = waveform(&timing, &map);
    let mut traces = vec![socket.clone()];
    for (tap, node) in ["mix", "gate output", "emitter"].into_iter().take(taps).enumerate() {
        let gain = 2.0 + math::to_f32(math::from_usize(tap));
        let volts = socket.volts.iter().map(|volts| gain * volts + 0.2).collect();
        traces.push(Trace { node: node.into(), volts, ..socket.clone() });
    }
    let reading = reading(&map);
    let (pins, trains) = pins.into_iter().map(|(name, train)| (name.to_owned(), train)).unzip();
    Sample {
        trains: FieldTrains { timing, pins, trains, map },
        reception: reception(&socket),
        traces,
        reading,
    }
}

fn combined(timing: &FieldTiming, map: &ElementMap, (line, clock): (u32, u32)) -> u8 {
    if is_sync(timing, line, clock) {
        return 0;
    }
    map.lit(line, clock).iter().last().map_or(1, |element| 2 + element.0)
}

fn waveform(timing: &FieldTiming, map: &ElementMap) -> Trace {
    let per_clock = 8;
    let mut volts = Vec::new();
    let mut now = 0.33;
    for line in 0..timing.lines_per_field {
        for clock in 0..timing.clocks_per_line {
            let rise = map.lit(line, clock).iter().map(|element| RISE[usize::from(element.0)]);
            let target = if is_sync(timing, line, clock) { 0.03 } else { 0.33 + rise.sum::<f64>() };
            for _ in 0..per_clock {
                now += 0.45 * (target - now);
                volts.push(math::to_f32(now));
            }
        }
    }
    let rate = timing.clock.times(per_clock).unwrap();
    Trace { node: "plug".into(), rate, volts }
}

/// What each element adds, V.
const RISE: [f64; 4] = [0.66, 0.64, 0.29, 0.12];

fn reading(map: &ElementMap) -> FieldReading {
    let words = [Seen::Clear, Seen::Clear, Seen::Faint, Seen::Missing];
    let shapes = map.shapes.iter().map(|shape| {
        let index = usize::from(shape.element.0);
        ShapeReading {
            element: map.elements[index].clone(),
            shape: shape.name.clone(),
            level_v: Some(0.33 + RISE[index]),
            delta_v: Some(RISE[index]),
            surround_v: Some(0.0),
            rise_s: Some(180e-9),
            fall_s: Some(220e-9),
            sight: Some(Sight {
                light: 31.25,
                surround: 0.5,
                steps: 287.46,
                signal_to_noise: 1e3 * RISE[index],
            }),
            seen: Some(words[index]),
            notes: if index == 1 { vec![Note::SameShade] } else { Vec::new() },
            band: Vec::new(),
            cause: None,
        }
    });
    FieldReading {
        black_v: 0.33,
        tip_v: 0.03,
        sync: SyncState::Good,
        sync_cause: None,
        sync_found: true,
        lock: vec![LockState::Locked],
        span_v: 0.7,
        shapes: shapes.collect(),
    }
}

fn reception(video: &Trace) -> Reception {
    Reception {
        video: video.clone(),
        delay_s: 0.0,
        sync: Some(SyncMeasure {
            tip_v: 0.03,
            porch_v: 0.33,
            slice_v: 0.18,
            line_period_s: 64e-6,
            line_sync_s: 4.5e-6,
        }),
        time_base: TimeBase::default(),
        own_base: TimeBase::default(),
        lock: Lock::default(),
        answers: Vec::new(),
        picture: Picture { width: 1, height: 1, luminance: vec![0.0] },
    }
}

/// Two elements under two loads.
pub(crate) fn ladder() -> Ladder {
    let load = |load_ohms: f64, share: f64, state| {
        let picture = [0.3341, 1.0341, 1.0241, 1.034_123_4];
        let pulse = picture.map(|volts| volts - 0.3);
        let levels = [(SyncSide::Picture, picture), (SyncSide::Pulse, pulse)];
        LoadLadder {
            load_ohms,
            levels: levels
                .into_iter()
                .flat_map(|(sync, volts)| (0..).zip(volts).map(move |pair| (sync, pair)))
                .map(|(sync, (on, volts))| LadderLevel {
                    sync,
                    on: ElementSet(on),
                    volts: share * volts,
                })
                .collect(),
            sync: SyncLevels {
                black_v: share * 0.3341,
                tip_v: share * 0.0341,
                depth_v: share * 0.3,
                state,
            },
            elements: vec![
                ElementLevel { delta_v: share * 0.7, seen: Seen::Clear, notes: Vec::new() },
                ElementLevel {
                    delta_v: share * 0.69,
                    seen: if share < 1.0 { Seen::Faint } else { Seen::Clear },
                    notes: vec![Note::SameShade],
                },
            ],
        }
    };
    Ladder {
        node: "plug".into(),
        elements: vec!["field".into(), "ball".into()],
        loads: vec![
            load(75.0, 1.0, SyncState::Good),
            load(37.5, 0.5, SyncState::Weak),
            load(1e6, 2.0, SyncState::Good),
        ],
    }
}
