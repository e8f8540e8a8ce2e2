//! Requests as bytes: who gets an answer, what is refused in which words, and many at once.

use crate::live::BOARD;
use crate::live::rendered;
use crate::live::server::Server;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::Value;
use serde_json::json;

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
    // The most, and one more, which is little enough to be taken in whole before it is refused.
    for (bytes, status, words) in
        [(16_384, 400, "not understood"), (16_385, 413, "at most 16384 bytes")]
    {
        let body = "x".repeat(bytes);
        let request = format!("{}\r\n{body}", server.head("change", bytes));
        let (found, body) = server.send(request.as_bytes());
        assert!(found == status && body.contains(words), "{bytes}: {found} {body}");
    }
    let (found, body) = server.send(format!("{}\r\n{{", server.head("change", 1)).as_bytes());
    assert!(found == 400 && body.contains("not understood"), "{found} {body}");
    let (_, after) = server.post("open", &json!({ "tab": tab }));
    assert_eq!(after["picture"]["frame"], opened["picture"]["frame"]);
    assert_eq!(after["undo"], json!(false));
    assert_eq!(server.names(), ["board.toml"]);
    assert_eq!(server.interrupt().code(), Some(0));
}

#[test]
#[expect(clippy::print_stdout, reason = "figures for people")]
fn many_requests_at_once_lose_nothing_and_the_last_one_counts() {
    let server = Server::new(BOARD);
    let (_, opened) = server.post("open", &json!({}));
    let tab = opened["tab"].as_str().unwrap();
    let turn = |number: u64| {
        let text = format!("0.{:03}", number % 1000);
        let set = json!({ "path": "P1.position", "text": text, "gesture": number });
        server.post("change", &json!({ "tab": tab, "number": number, "do": { "set": set } }))
    };
    let told = std::sync::Mutex::new(vec![0; 1001]);
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
                    told.lock().unwrap()[usize::try_from(number).unwrap()] = which;
                }
            });
        }
    });
    let told = told.into_inner().unwrap();
    let counts = [0, 1, 2].map(|which| told[1..].iter().filter(|&&one| one == which).count());
    println!("worked out, overtaken, came too late: {counts:?}");
    // Nothing comes after the last, and eight at once leave no time for all the others.
    assert_eq!(told[1000], 0, "the last is worked out");
    assert!(counts[0] < 1000, "of eight at once some are overtaken: {counts:?}");
    let (_, now) = server.post("open", &json!({ "tab": tab }));
    let (frame, _) =
        rendered(&server.path("board.toml"), &["P1.position=0.000".to_owned()]).unwrap();
    assert_eq!(now["picture"]["frame"].as_str().unwrap(), STANDARD.encode(frame));
    let (status, last) = turn(1999);
    assert_eq!((status, last["overtaken"].as_bool()), (200, Some(false)));
    let (frame, _) =
        rendered(&server.path("board.toml"), &["P1.position=0.999".to_owned()]).unwrap();
    assert_eq!(last["picture"]["frame"].as_str().unwrap(), STANDARD.encode(frame));
}
