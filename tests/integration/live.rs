//! The live page in a real browser: it shows what `render` writes, and nobody else can drive it.

mod browser;
mod measured;
mod requests;
mod server;

use crate::live::browser::Browser;
use crate::live::server::Server;
use crate::program::backporch;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::json;
use std::collections::BTreeMap;
use std::path::Path;

/// The board that the design tools are measured by.
const BOARD: &str = "table-follower.toml";

/// Numbers by lot, the same in every run.
struct Lot(u64);

impl Lot {
    fn below(&mut self, count: usize) -> usize {
        // The multiplier and addend of Knuth's MMIX.
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % count
    }
}

/// Turns a control as a hand does, and says what was set. A pair is turned at its first half.
const TURN: &str = "
const [path, share] = arguments;
const box = document.querySelector(`[data-path='${path}']`);
const input = box.querySelector('input[type=range], select');
if (input.tagName === 'SELECT') {
  input.selectedIndex = Math.floor(share * input.options.length);
} else {
  input.value = String(Math.floor(share * (Number(input.max) + 1)));
  input.dispatchEvent(new Event('input', { bubbles: true }));
}
input.dispatchEvent(new Event('change', { bubbles: true }));
const other = box.nextElementSibling;
if (input.tagName === 'SELECT') return input.value;
const text = box.querySelector('input[type=text]').value;
if (!['game.ball', 'game.score'].includes(path)) return text;
return `[${text}, ${other.querySelector('input[type=text]').value}]`;
";

/// Waits for what the page says of a file that is saved, or of why it is not.
const SAVED: &str = "
const [done] = arguments;
const kept = document.getElementById('kept');
const look = () => (kept.textContent === '' ? setTimeout(look, 10) : done(kept.textContent));
look();
";

/// What the page shows.
struct Seen {
    frame: Vec<u8>,
    words: Vec<String>,
    message: String,
}

fn words_of(text: &str) -> Vec<String> {
    text.split_whitespace().map(str::to_owned).collect()
}

fn seen(browser: &Browser) -> Seen {
    browser.settle();
    let script = "const text = (id) => document.getElementById(id).innerText;
        return [document.getElementById('screen').src, text('words'), text('message')]";
    let found = browser.run(script, &[]);
    let text = |at: usize| found[at].as_str().unwrap().to_owned();
    let frame = text(0);
    let frame = frame.strip_prefix("data:image/png;base64,").expect("a picture");
    Seen { frame: STANDARD.decode(frame).unwrap(), words: words_of(&text(1)), message: text(2) }
}

/// What `render` makes of a board: the picture and its words without title and files, or why there are none.
fn rendered(scenario: &Path, sets: &[String]) -> Result<(Vec<u8>, Vec<String>), String> {
    let out = tempfile::tempdir().unwrap();
    let folder = out.path().to_str().unwrap();
    let mut arguments = vec!["render", scenario.to_str().unwrap(), "-o", folder];
    arguments.extend(sets.iter().flat_map(|set| ["--set", set]));
    let output = backporch(&arguments);
    if !output.status.success() {
        return Err(String::from_utf8(output.stderr).unwrap());
    }
    let printed = String::from_utf8(output.stdout).unwrap();
    let lines = printed.lines().skip(1).filter(|line| !line.starts_with(folder));
    let words = words_of(&lines.collect::<Vec<_>>().join("\n"));
    Ok((std::fs::read(out.path().join("frame.png")).unwrap(), words))
}

fn paths(browser: &Browser) -> Vec<String> {
    let script =
        "return [...document.querySelectorAll('[data-path]')].map((box) => box.dataset.path)";
    let found = browser.run(script, &[]);
    found.as_array().unwrap().iter().map(|path| path.as_str().unwrap().to_owned()).collect()
}

#[test]
fn at_twenty_random_settings_the_page_shows_what_render_writes_and_so_does_the_saved_file() {
    let (server, browser) = (Server::new(BOARD), Browser::new());
    browser.go(&server.address);
    browser.settle();
    let paths = paths(&browser);
    assert!(paths.len() > 25, "{paths:?}");
    let mut lot = Lot(1976);
    let mut set: BTreeMap<String, String> = BTreeMap::new();
    let mut pictures = 0;
    for round in 0..20 {
        for _ in 0..=lot.below(3) {
            let path = &paths[lot.below(paths.len())];
            let share = f64::from(u32::try_from(lot.below(1000)).unwrap()) / 1000.0;
            let text = browser.run(TURN, &[json!(path), json!(share)]);
            browser.settle();
            // Hold knobs are only on the old kind of set: what is refused is not set.
            let refused =
                "const box = document.querySelector(`[data-path='${arguments[0]}'] .problem`);
                return box.textContent !== ''";
            if browser.run(refused, &[json!(path)]) == json!(false) {
                set.insert(path.clone(), text.as_str().unwrap().to_owned());
            }
        }
        let shown = seen(&browser);
        let sets = set.iter().filter(|(_, text)| *text != "fitted");
        let sets: Vec<String> = sets.map(|(path, text)| format!("{path}={text}")).collect();
        match rendered(&server.path("board.toml"), &sets) {
            Ok((frame, words)) => {
                assert!(shown.frame == frame, "another picture: {sets:?}");
                assert_eq!(shown.words, words, "{sets:?}");
                pictures += 1;
            }
            Err(why) => {
                assert_eq!(words_of(&shown.message), words_of(&why), "{sets:?}");
                continue;
            }
        }
        let name = format!("round-{round}");
        browser.run(
            "document.getElementById('kept').textContent = '';
             document.getElementById('name').value = arguments[0];
             document.getElementById('keep').requestSubmit();",
            &[json!(name)],
        );
        let saved = server.path(&format!("{name}.toml"));
        let said = browser.wait_for(SAVED, &[]);
        assert_eq!(said, json!(format!("Saved as {}", saved.display())));
        let (frame, words) = rendered(&saved, &[]).unwrap();
        assert!(shown.frame == frame, "another picture of the saved file: {sets:?}");
        assert_eq!(shown.words, words, "{sets:?}");
    }
    assert!(pictures >= 15, "only {pictures} of 20 had a picture");
}

#[test]
fn a_thousand_rapid_changes_end_with_the_last_and_one_undo_takes_the_gesture_back() {
    let (server, browser) = (Server::new(BOARD), Browser::new());
    browser.go(&server.address);
    let before = seen(&browser);
    browser.run(
        "const range = document.querySelector(`[data-path='R1.resistor'] input[type=range]`);
         range.dispatchEvent(new Event('pointerdown'));
         const highest = Number(range.max);
         for (let turn = 0; turn < 1000; turn += 1) {
           range.value = String((turn * 7) % highest);
           range.dispatchEvent(new Event('input', { bubbles: true }));
         }
         range.value = '20';
         range.dispatchEvent(new Event('input', { bubbles: true }));",
        &[],
    );
    let after = seen(&browser);
    let text = "return document.querySelector(`[data-path='R1.resistor'] input[type=text]`).value";
    let text = browser.run(text, &[]);
    let set = format!("R1.resistor={}", text.as_str().unwrap());
    let (frame, words) = rendered(&server.path("board.toml"), &[set]).unwrap();
    assert!(after.frame == frame && after.words == words);
    assert!(after.frame != before.frame);
    browser.run("document.getElementById('undo').click()", &[]);
    let undone = seen(&browser);
    assert!(undone.frame == before.frame && undone.words == before.words);
    let disabled = browser.run("return document.getElementById('undo').disabled", &[]);
    assert_eq!(disabled, json!(true));
}

#[test]
fn two_browsers_and_two_tabs_turn_boards_of_their_own() {
    let server = Server::new(BOARD);
    let (first, second) = (Browser::new(), Browser::new());
    first.go(&server.address);
    second.go(&server.address);
    first.settle();
    second.settle();
    first.run(TURN, &[json!("R1.resistor"), json!(0.9)]);
    second.run(TURN, &[json!("P1.position"), json!(0.9)]);
    let (one, two) = (seen(&first), seen(&second));
    first.new_tab();
    first.go(&server.address);
    let three = seen(&first);
    let board = server.path("board.toml");
    let (plain, _) = rendered(&board, &[]).unwrap();
    let (turned, _) = rendered(&board, &["P1.position=0.9".to_owned()]).unwrap();
    assert!(three.frame == plain && two.frame == turned);
    assert!(one.frame != two.frame && one.frame != plain);
    // A page that is loaded anew is as it was.
    second.go(&server.address);
    assert!(seen(&second).frame == turned);
}

#[test]
fn the_page_can_be_worked_with_the_keyboard_alone() {
    const TAB: &str = "\u{e004}";
    const RIGHT: &str = "\u{e014}";
    const UP: &str = "\u{e013}";
    const CONTROL: &str = "\u{e009}";
    const ENTER: &str = "\u{e007}";
    let (server, browser) = (Server::new(BOARD), Browser::new());
    browser.go(&server.address);
    browser.settle();
    let here = "const box = document.activeElement.closest('[data-path]');
        return [box ? box.dataset.path : '', document.activeElement.type || '']";
    let reach = |path: &str, kind: &str| {
        for _ in 0..60 {
            if browser.run(here, &[]) == json!([path, kind]) {
                return;
            }
            browser.press(&[&[TAB]]);
        }
        panic!("{path} is not reached by the keyboard");
    };
    let value = |path: &str| {
        let script =
            "return document.querySelector(`[data-path='${arguments[0]}'] input[type=text]`).value";
        browser.settle();
        browser.run(script, &[json!(path)]).as_str().unwrap().to_owned()
    };
    reach("R1.resistor", "range");
    browser.press(&[&[RIGHT]]);
    assert_eq!(value("R1.resistor"), "2k2");
    browser.press(&[&[TAB], &[UP], &[UP]]);
    assert_eq!(value("R1.resistor"), "2k7");
    // Any value may be typed; one that is none is refused where it was written.
    browser.press(&[&[CONTROL, "a"], &["2"], &["k"], &["1"], &["5"], &[ENTER]]);
    assert_eq!(value("R1.resistor"), "2k15");
    browser.press(&[&[CONTROL, "a"], &["u"], &["x"], &[ENTER]]);
    browser.settle();
    let problem = "return document.querySelector(`[data-path='R1.resistor'] .problem`).textContent";
    let said = browser.run(problem, &[]);
    assert!(said.as_str().unwrap().starts_with("error: `ux` is not a resistance"), "{said}");
    let terminal = rendered(&server.path("board.toml"), &["R1.resistor=ux".to_owned()]);
    assert_eq!(Some(said.as_str().unwrap()), terminal.unwrap_err().as_str().into());
    assert_eq!(value("R1.resistor"), "2k15");
    reach("P1.position", "range");
    browser.press(&[&[CONTROL, "z"]]);
    assert_eq!(value("R1.resistor"), "2k7");
    browser.press(&[&[CONTROL, "y"]]);
    assert_eq!(value("R1.resistor"), "2k15");
    // Everything that takes the focus has a name.
    let nameless = "return [...document.querySelectorAll('input, select, button, [tabindex]')]
        .filter((one) => !(one.getAttribute('aria-label') || one.textContent.trim()
          || (one.labels && one.labels.length))).map((one) => one.outerHTML)";
    assert_eq!(browser.run(nameless, &[]), json!([]));
}

#[test]
fn a_late_reply_never_overwrites_a_newer_one() {
    let (server, browser) = (Server::new(BOARD), Browser::new());
    browser.go(&server.address);
    browser.settle();
    // The first reply is held back until the second has been shown.
    let script = "
      const done = arguments[arguments.length - 1];
      const plain = window.fetch;
      const range = document.querySelector(`[data-path='P1.position'] input[type=range]`);
      const ask = async (number, text) => {
        const response = await plain('change', { method: 'POST',
          headers: { 'Content-Type': 'application/json' },
          body: JSON.stringify({ tab: sessionStorage.getItem('tab'), number,
            do: { set: { path: 'P1.position', text, gesture: number } } }) });
        return response.json();
      };
      (async () => {
        const old = await ask(1001, '0.1');
        const newer = await ask(1002, '0.9');
        await show(newer);
        const kept = document.getElementById('screen').src;
        await show(old);
        done([old.picture !== null, document.getElementById('screen').src === kept, range.value]);
      })();";
    assert_eq!(browser.wait_for(script, &[]), json!([true, true, "90"]));
}

#[test]
fn ctrl_c_ends_the_server_cleanly_while_a_page_is_open() {
    let (mut server, browser) = (Server::new(BOARD), Browser::new());
    browser.go(&server.address);
    browser.settle();
    browser.run(TURN, &[json!("R1.resistor"), json!(0.9)]);
    assert_eq!(server.interrupt().code(), Some(0));
    browser.run(TURN, &[json!("R1.resistor"), json!(0.1)]);
    browser.settle();
    let said = browser.run("return document.getElementById('message').textContent", &[]);
    assert_eq!(said, json!("The server does not answer: it may have been ended."));
    assert_eq!(server.names(), ["board.toml"]);
}

#[test]
fn the_page_asks_nobody_else_and_breaks_none_of_its_own_rules() {
    let (server, browser) = (Server::new(BOARD), Browser::new());
    browser.go(&server.address);
    browser.settle();
    let script = "return performance.getEntriesByType('resource').map((one) => one.name)";
    let asked = browser.run(script, &[]);
    let asked: Vec<&str> =
        asked.as_array().unwrap().iter().map(|one| one.as_str().unwrap()).collect();
    assert!(asked.len() >= 4, "{asked:?}");
    assert!(
        asked.iter().all(|one| one.starts_with(&server.address) || one.starts_with("data:")),
        "{asked:?}"
    );
    // What the policy forbids does not run.
    let forbidden = "
      const done = arguments[arguments.length - 1];
      document.addEventListener('securitypolicyviolation', (event) => done(event.violatedDirective));
      const script = document.createElement('script');
      script.textContent = 'window.ran = true';
      document.body.append(script);";
    assert_eq!(browser.wait_for(forbidden, &[]), json!("script-src-elem"));
    assert_eq!(browser.run("return window.ran === undefined", &[]), json!(true));
}
