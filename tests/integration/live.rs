//! The live page in a real browser: it shows what `render` writes, and nobody else can drive it.

mod browser;
mod server;

use crate::live::browser::Browser;
use crate::live::server::Server;
use crate::program::backporch;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::Value;
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
            "document.getElementById('name').value = arguments[0];
             document.getElementById('keep').requestSubmit();",
            &[json!(name)],
        );
        let saved = server.path(&format!("{name}.toml"));
        for _ in 0..500 {
            if saved.exists() {
                break;
            }
            std::thread::sleep(std::time::Duration::from_millis(20));
        }
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
fn nobody_but_the_page_itself_gets_an_answer() {
    let server = Server::new(BOARD);
    let Server { host, prefix, .. } = &server;
    let open = |headers: &str| {
        let request = format!(
            "POST {prefix}open HTTP/1.1\r\n{headers}Content-Length: 2\r\nConnection: close\r\n\r\n{{}}"
        );
        server.send(request.as_bytes())
    };
    let kind = "Content-Type: application/json\r\n";
    let own = format!("Host: {host}\r\nOrigin: http://{host}\r\n");
    assert_eq!(open(&format!("{own}{kind}")).0, 200);
    for (headers, status) in [
        (format!("Host: {host}\r\nOrigin: https://elsewhere.example\r\n{kind}"), 403),
        (format!("Host: {host}\r\nOrigin: null\r\n{kind}"), 403),
        (format!("Host: {host}\r\n{kind}"), 403),
        (format!("Host: elsewhere.example\r\nOrigin: http://elsewhere.example\r\n{kind}"), 403),
        (format!("{own}Sec-Fetch-Site: cross-site\r\n{kind}"), 403),
        (format!("{own}Content-Type: text/plain\r\n"), 415),
    ] {
        let (found, body) = open(&headers);
        assert_eq!(found, status, "{headers}: {body}");
        let why: Value = serde_json::from_str(&body).unwrap();
        assert!(why["error"].as_str().unwrap().len() > 10, "{body}");
    }
    for path in ["/", "/open", "/0123/", "//", "/..", "/%2e%2e/"] {
        let (found, _) = server.send(
            format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n").as_bytes(),
        );
        assert_eq!(found, 403, "{path}");
    }
    for path in [
        "../Cargo.toml",
        "%2e%2e/board.toml",
        "board.toml",
        "..%2fboard.toml",
        "page.js/",
        "\\..\\x",
    ] {
        let (found, body) = server.send(
            format!("GET {prefix}{path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n")
                .as_bytes(),
        );
        assert!(found == 404 || found == 400, "{path}: {found} {body}");
        assert!(!body.contains("[board"), "{path}");
    }
    let delete =
        format!("DELETE {prefix}open HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n");
    assert_eq!(server.send(delete.as_bytes()).0, 405);
    assert_eq!(server.send(b"\x16\x03\x01\x02nonsense\r\n\r\n").0, 400);
}

#[test]
fn bad_requests_get_clear_errors_and_change_nothing() {
    let mut server = Server::new(BOARD);
    let (status, opened) = server.post("open", &json!({}));
    assert_eq!(status, 200, "{opened}");
    let tab = opened["tab"].as_str().unwrap();
    let change = |number: u64, deed: Value| json!({ "tab": tab, "number": number, "do": deed });
    let set =
        |path: &str, text: &str| json!({ "set": { "path": path, "text": text, "gesture": 1 } });
    for (what, body, status, words) in [
        ("change", change(1, set("R1.resistor", "-5")), 422, "error: "),
        ("change", change(2, set("chip.profile", "/etc/hostname")), 422, "is no control"),
        ("change", change(3, set("R1.resistor", "")), 422, "nothing"),
        ("change", change(4, set("R1.resistor", "1k\n[board.X]")), 422, "one short line"),
        ("change", change(5, set("game.ball", "[0.1")), 422, "error: "),
        ("change", change(5, set("R1.resistor", "3k")), 409, "nothing was changed"),
        ("change", json!({ "tab": "x", "number": 9, "do": "undo" }), 404, "load the page again"),
        ("change", json!({ "tab": tab, "number": 9, "do": "fly" }), 400, "not understood"),
        ("change", json!({ "tab": tab }), 400, "not understood"),
        ("open", json!([1, 2]), 400, "not understood"),
        ("save", json!({ "tab": tab, "name": "../evil" }), 422, "no plain file name"),
        ("save", json!({ "tab": tab, "name": "board" }), 422, "there already"),
        ("nothing", json!({}), 404, "nothing here"),
    ] {
        let (found, reply) = server.post(what, &body);
        assert_eq!(found, status, "{body}: {reply}");
        let why = reply["error"].as_str().unwrap();
        assert!(why.contains(words), "{body}: {why}");
        assert!(!why.contains(env!("CARGO_MANIFEST_DIR")), "{why}");
    }
    let huge = "x".repeat(1 << 20);
    let (found, body) =
        server.send(format!("{}\r\n{huge}", server.head("change", huge.len())).as_bytes());
    // A server that closes early may be gone before its words are read.
    assert!(found == 413 && body.contains("at most") || found == 0, "{found} {body}");
    let (found, body) = server.send(format!("{}\r\n{{", server.head("change", 1)).as_bytes());
    assert!(found == 400 && body.contains("not understood"), "{found} {body}");
    let (_, after) = server.post("open", &json!({ "tab": tab }));
    assert_eq!(after["picture"]["frame"], opened["picture"]["frame"]);
    assert_eq!(after["undo"], json!(false));
    assert_eq!(server.names(), ["board.toml"]);
    assert_eq!(server.interrupt().code(), Some(0));
}

#[test]
fn many_requests_at_once_lose_nothing_and_the_last_one_counts() {
    let server = Server::new(BOARD);
    let (_, opened) = server.post("open", &json!({}));
    let tab = opened["tab"].as_str().unwrap();
    let turn = |number: u64| {
        let text = format!("0.{:03}", number % 1000);
        let set = json!({ "path": "P1.position", "text": text, "gesture": number });
        server.post("change", &json!({ "tab": tab, "number": number, "do": { "set": set } }))
    };
    let counts = std::sync::Mutex::new([0; 3]);
    let next = std::sync::atomic::AtomicU64::new(1);
    std::thread::scope(|scope| {
        for _ in 0..8 {
            scope.spawn(|| {
                for _ in 0..125 {
                    let number = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                    let (status, reply) = turn(number);
                    // Worked out, overtaken by a later one, or come after a later one and told so.
                    let which = match (status, reply["overtaken"].as_bool()) {
                        (200, Some(false)) => 0,
                        (200, Some(true)) => 1,
                        (409, None) => 2,
                        other => panic!("{other:?}: {reply}"),
                    };
                    counts.lock().unwrap()[which] += 1;
                }
            });
        }
    });
    let counts = counts.into_inner().unwrap();
    assert_eq!(counts.iter().sum::<i32>(), 1000);
    println!("worked out, overtaken, came too late: {counts:?}");
    let (status, last) = turn(1999);
    assert_eq!((status, last["overtaken"].as_bool()), (200, Some(false)));
    let (frame, _) =
        rendered(&server.path("board.toml"), &["P1.position=0.999".to_owned()]).unwrap();
    assert_eq!(last["picture"]["frame"].as_str().unwrap(), STANDARD.encode(frame));
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

/// From a control event to the new picture, in the page: 200 events by lot, kinds of gates among them.
/// Every board is solved from nothing.
/// `LIVE_PROGRAM=target/release/backporch cargo test --test integration live::latency -- --ignored --nocapture`
#[test]
#[ignore = "measures: run it on a quiet machine, with the program of the release profile"]
fn latency() {
    let (server, browser) = (Server::new(BOARD), Browser::new());
    browser.go(&server.address);
    browser.settle();
    let paths: Vec<String> = paths(&browser);
    let mut lot = Lot(2026);
    let mut times: Vec<[f64; 5]> = Vec::new();
    let measured = format!(
        "const done = arguments[arguments.length - 1];
         const turn = function () {{ {TURN} }};
         performance.clearResourceTimings();
         const painted = (then) =>
           requestAnimationFrame(() => setTimeout(() => then(performance.now())));
         const main = document.querySelector('main');
         const before = document.getElementById('screen');
         const start = performance.now();
         let put = null;
         let picture = null;
         const rest = (observer) => {{
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
         }};
         new MutationObserver((_, observer) => {{
           if (put === null && document.getElementById('screen') !== before) {{
             put = performance.now();
             painted((now) => {{ picture = now; rest(observer); }});
           }}
           rest(observer);
         }}).observe(main, {{ attributes: true, childList: true, subtree: true }});
         turn(arguments[0], arguments[1]);"
    );
    while times.len() < 200 {
        let path = if times.len() % 5 == 0 { "U1.gate" } else { &paths[lot.below(paths.len())] };
        let share = f64::from(u32::try_from(lot.below(1000)).unwrap()) / 1000.0;
        let found = browser.wait_for(&measured, &[json!(path), json!(share)]);
        if found.is_array() {
            times.push([0, 1, 2, 3, 4].map(|at| found[at].as_f64().unwrap()));
        }
        if times.len() % 10 == 0 {
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

/// The page as it looks, into `out/`: `cargo test --test integration live::looks -- --ignored`
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
