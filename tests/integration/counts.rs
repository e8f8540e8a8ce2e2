//! Work done for one settled field of every example board, so that a change of cost shows; and the
//! field put together from stretches that were solved once, against the one solved line by line.

use crate::boards::examples;
use crate::boards::load;
use crate::published::show;
use backporch::network::recall::RecallCounts;
use backporch::network::transient::Counts;
use backporch::scenario::Reuse;
use backporch::simulate::Bench;
use std::env;
use std::fmt::Write;
use std::fs;
use std::path::Path;

/// One settled field at the socket, and what it cost.
struct Field {
    volts: Vec<f32>,
    counts: Counts,
    recall: RecallCounts,
    warm_up_fields: u32,
}

fn field(path: &Path, reuse: Reuse) -> Field {
    let mut scenario = load(path);
    scenario.solve.reuse = reuse;
    let bench = Bench::new(&scenario, &[]).unwrap();
    let mut run = bench.run().unwrap();
    let volts = run.advance_field(&mut |_| ()).unwrap().traces.swap_remove(0).volts;
    let (counts, recall) = (run.counts(), run.recall_counts());
    Field { volts, counts, recall, warm_up_fields: run.warm_up_fields }
}

/// Both ways of solving may be wrong by this at the default tolerance; see the table in
/// `DEVELOPERS.md` of what that tolerance means in errors.
const APART_V: f32 = 60e-6;

fn counted() -> (String, Vec<String>) {
    let mut table = String::from(
        "scenario,steps,rejected,iterations,factorizations,warm_up_fields,\
         steps_with_reuse,stretches_solved,stretches_recalled\n",
    );
    let mut apart = Vec::new();
    for path in examples() {
        let [plain, reused] = [Reuse::Nothing, Reuse::Stretches].map(|reuse| field(&path, reuse));
        let name = path.file_stem().unwrap().to_str().unwrap();
        writeln!(
            table,
            "{name},{},{},{},{},{},{},{},{}",
            plain.counts.steps,
            plain.counts.rejected,
            plain.counts.iterations,
            plain.counts.factorizations,
            plain.warm_up_fields,
            reused.counts.steps,
            reused.recall.solved,
            reused.recall.recalled
        )
        .unwrap();
        assert_eq!(plain.volts.len(), reused.volts.len(), "{name}");
        let pairs = plain.volts.iter().zip(&reused.volts);
        let worst_v = pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
        show(&format!("{name}: the two ways are {:.1} µV apart", 1e6 * worst_v));
        if worst_v > APART_V || worst_v.is_nan() {
            apart.push(format!("{name}: {worst_v} V"));
        }
    }
    (table, apart)
}

#[test]
fn every_example_costs_what_it_did_and_comes_out_the_same_with_reuse() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/counts.csv");
    let (counted, apart) = counted();
    assert!(apart.is_empty(), "{apart:?}");
    if env::var_os("UPDATE_GOLDEN").is_some() {
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, counted).unwrap();
        panic!("tests/golden/counts.csv is written anew: look at what moved");
    }
    let golden = fs::read_to_string(&path).unwrap();
    assert_eq!(golden, counted, "UPDATE_GOLDEN=1 accepts");
}
