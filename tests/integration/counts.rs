//! Work done for one settled field of every example board, so that a change of cost shows.

use backporch::scenario;
use backporch::simulate::Bench;
use std::env;
use std::fmt::Write;
use std::fs;
use std::path::Path;
use std::path::PathBuf;

/// Example boards, by name.
pub(crate) fn examples() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut paths: Vec<PathBuf> =
        entries.filter(|path| path.extension().is_some_and(|end| end == "toml")).collect();
    paths.sort();
    assert!(paths.len() > 10, "example boards are missing");
    paths
}

/// An example board, read from its file.
pub(crate) fn load(path: &Path) -> scenario::Scenario {
    let mut fetch = |name: &str| fs::read_to_string(name);
    scenario::load(path.to_str().unwrap(), &[], &mut fetch).unwrap()
}

fn counted() -> String {
    let mut table =
        String::from("scenario,steps,rejected,iterations,factorizations,warm_up_fields\n");
    for path in examples() {
        let scenario = load(&path);
        let bench = Bench::new(&scenario, &[]).unwrap();
        let mut run = bench.run().unwrap();
        run.advance_field(&mut |_| ()).unwrap();
        let name = path.file_stem().unwrap().to_str().unwrap();
        let (counts, fields) = (run.counts(), run.warm_up_fields);
        writeln!(
            table,
            "{name},{},{},{},{},{fields}",
            counts.steps, counts.rejected, counts.iterations, counts.factorizations
        )
        .unwrap();
    }
    table
}

#[test]
fn every_example_costs_what_it_did() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/counts.csv");
    let counted = counted();
    if env::var_os("UPDATE_GOLDEN").is_some() {
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, counted).unwrap();
        panic!("tests/golden/counts.csv is written anew: look at what moved");
    }
    let golden = fs::read_to_string(&path).unwrap();
    assert_eq!(golden, counted, "UPDATE_GOLDEN=1 accepts");
}
