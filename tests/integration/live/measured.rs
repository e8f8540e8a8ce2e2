//! How long it takes from a control to the picture, and how the page looks: run by hand.

use crate::live::BOARD;
use crate::live::Lot;
use crate::live::TURN;
use crate::live::browser::Browser;
use crate::live::paths;
use crate::live::server::Server;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::json;
use std::path::Path;

/// Turns a control; when the picture was put on the page and painted, and when all was, ms.
const MEASURE: &str = "
const done = arguments[arguments.length - 1];
const turn = function () { TURN };
performance.clearResourceTimings();
const painted = (then) =>
  requestAnimationFrame(() => setTimeout(() => then(performance.now())));
const main = document.querySelector('main');
const before = document.getElementById('screen');
const start = performance.now();
let put = null;
let picture = null;
const rest = (observer) => {
  if (main.getAttribute('aria-busy') !== 'false') return;
  if (put !== null && picture === null) return;
  observer.disconnect();
  // Refused, or a board that cannot be solved: there is no picture.
  if (put === null) return done(null);
  const asked = performance.getEntriesByType('resource');
  const [last] = asked.filter((one) => one.name.endsWith('/change')).slice(-1);
  const answered = last.responseEnd;
  painted((all) => done([
    picture - start, answered - start, put - answered, picture - put, all - start]));
};
new MutationObserver((_, observer) => {
  if (put === null && document.getElementById('screen') !== before) {
    put = performance.now();
    painted((now) => { picture = now; rest(observer); });
  }
  rest(observer);
}).observe(main, { attributes: true, childList: true, subtree: true });
turn(arguments[0], arguments[1]);";

/// From a control event to the new picture, in the page: 200 events by lot, kinds of gates among them.
/// Every board is solved from nothing.
/// `LIVE_PROGRAM=target/release/backporch cargo test --test integration live::measured::latency -- --ignored --nocapture`
#[test]
#[ignore = "measures: run it on a quiet machine, with the program of the release profile"]
#[expect(clippy::print_stdout, reason = "figures for people")]
fn latency() {
    let (server, browser) = (Server::new(BOARD), Browser::new());
    browser.go(&server.address);
    browser.settle();
    let paths: Vec<String> = paths(&browser);
    let mut lot = Lot(2026);
    let mut times: Vec<[f64; 5]> = Vec::new();
    let measured = MEASURE.replace("TURN", TURN);
    while times.len() < 200 {
        let path =
            if times.len().is_multiple_of(5) { "U1.gate" } else { &paths[lot.below(paths.len())] };
        let share = f64::from(u32::try_from(lot.below(1000)).unwrap()) / 1000.0;
        let found = browser.wait_for(&measured, &[json!(path), json!(share)]);
        if found.is_array() {
            times.push([0, 1, 2, 3, 4].map(|at| found[at].as_f64().unwrap()));
        }
        if times.len().is_multiple_of(10) {
            browser.run("document.getElementById('back').click()", &[]);
            browser.settle();
        }
    }
    println!("ms                            median     95 %  greatest");
    let names = [
        "event to picture on screen",
        "  asked and answered",
        "  decoded and put there",
        "  until it is painted",
        "event to all words painted",
    ];
    for (at, name) in names.iter().enumerate() {
        let mut all: Vec<f64> = times.iter().map(|one| one[at]).collect();
        all.sort_by(f64::total_cmp);
        println!("{name:28} {:8.1} {:8.1} {:9.1}", all[100], all[189], all[199]);
    }
}

/// The page as it looks, into `out/`: `cargo test --test integration live::measured::looks -- --ignored`
#[test]
#[ignore = "takes pictures for people to look at"]
fn looks() {
    let (server, browser) = (Server::new(BOARD), Browser::new());
    let out = Path::new(env!("CARGO_MANIFEST_DIR")).join("out");
    for (size, width, height, mobile) in [("desktop", 1400, 1000, false), ("phone", 380, 800, true)]
    {
        for scheme in ["light", "dark"] {
            let metrics = json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": mobile });
            browser.tell("Emulation.setDeviceMetricsOverride", &metrics);
            let feature = json!({ "name": "prefers-color-scheme", "value": scheme });
            browser.tell("Emulation.setEmulatedMedia", &json!({ "features": [feature] }));
            browser.go(&server.address);
            browser.settle();
            browser.run(TURN, &[json!("U1.gate"), json!(0.2)]);
            browser.settle();
            let shot = |name: &str, whole: bool| {
                let reply = browser
                    .tell("Page.captureScreenshot", &json!({ "captureBeyondViewport": whole }));
                let bytes = STANDARD.decode(reply["data"].as_str().unwrap()).unwrap();
                std::fs::write(out.join(format!("live-{size}-{scheme}-{name}.png")), bytes)
                    .unwrap();
            };
            shot("top", false);
            browser.run("window.scrollTo(0, 1400)", &[]);
            shot("below", false);
            browser.run("window.scrollTo(0, 0); document.getElementById('back').click()", &[]);
            browser.settle();
        }
    }
}
