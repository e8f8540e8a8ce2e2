//! The same input gives the same bytes, however many threads there are and however often it is run.

use crate::boards::read;
use backporch::analysis::examine::examine;
use backporch::analysis::ladder::ladder;
use backporch::output::png::write_frame;
use backporch::simulate::Bench;
use rayon::ThreadPoolBuilder;

/// A game chip, two gates with their own output curves and delays, a follower and a coupling
/// capacitor.
const BOARD: &str = r#"
title = "two gates and a follower"
[chip]
profile = "two-player-60"
supply = "chip_rail"
[game]
left = 0.35
right = 0.60
ball = [0.55, 0.40]
score = [3, 11]
[board.V1]
supply = "6.5 V"
resistance = 10
node = "chip_rail"
[board.V2]
supply = "5 V"
node = "rail5"
[board.U1a]
gate = "or"
family = "4000B"
inputs = ["field", "ball", "right"]
output = "white"
supply = "rail5"
[board.U1b]
gate = "buffer"
family = "4000B"
inputs = ["left"]
output = "grey"
supply = "rail5"
[board.R1]
resistor = "2k"
from = "white"
to = "base"
[board.R2]
resistor = "2k2"
from = "sync"
to = "base"
[board.R3]
resistor = "5k6"
from = "grey"
to = "base"
[board.R4]
resistor = "3k9"
from = "rail5"
to = "base"
[board.R5]
resistor = "2k"
from = "base"
to = "ground"
[board.Q1]
transistor = "small NPN"
collector = "rail5"
base = "base"
emitter = "drive"
[board.R6]
resistor = "1k"
from = "drive"
to = "ground"
[board.R7]
resistor = 75
from = "drive"
to = "joint"
[board.C1]
capacitor = "470 uF"
from = "joint"
to = "plug"
[output]
node = "plug"
"#;

/// Everything a run gives, on so many threads: samples of two nodes and the picture as bytes, the
/// levels and the readings in words that show every bit of a number.
#[derive(PartialEq, Eq)]
struct Outcome {
    samples: Vec<u8>,
    frames: Vec<u8>,
    words: String,
}

fn outcome(threads: usize) -> Outcome {
    ThreadPoolBuilder::new().num_threads(threads).build().unwrap().install(|| {
        let scenario = read(BOARD);
        let taps = [scenario.circuit.node("base").unwrap()];
        let bench = Bench::new(&scenario, &taps).unwrap();
        let mut run = bench.run().unwrap();
        let (mut samples, mut frames) = (Vec::new(), Vec::new());
        let mut words = format!("{:?}", ladder(&scenario).unwrap());
        for _ in 0..2 {
            let field = run.advance_field(&mut |_| {}).unwrap();
            for trace in &field.traces {
                samples.extend(trace.volts.iter().flat_map(|volts| volts.to_le_bytes()));
            }
            write_frame(&field.reception.picture, &mut frames).unwrap();
            words += &format!("{:?}", examine(&scenario, &field).unwrap());
        }
        words += &format!("{:?}", run.counts());
        Outcome { samples, frames, words }
    })
}

#[test]
fn one_thread_two_threads_and_a_second_run_give_the_same_bytes() {
    let first = outcome(1);
    assert_eq!(first.samples.len(), 2 * 2 * 4 * 262 * 128 * 8);
    assert!(first.frames.len() > 1000, "{} bytes of frames", first.frames.len());
    for (what, other) in [("a second run", outcome(1)), ("two threads", outcome(2))] {
        assert!(other.samples == first.samples, "{what}: other samples");
        assert!(other.frames == first.frames, "{what}: other frames");
        assert_eq!(other.words, first.words, "{what}");
    }
}
