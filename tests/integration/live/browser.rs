//! A real browser without a window, driven by the protocol of W3C for that.

use crate::running::Running;
use serde_json::Value;
use serde_json::json;
use std::io::BufRead;
use std::io::BufReader;
use std::path::Path;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;

const BROWSER: &str = "/usr/bin/chromium";
const DRIVER: &str = "/usr/bin/chromedriver";
const PATIENCE: Duration = Duration::from_secs(120);

/// A browser with a fresh profile; it ends with the test, however that ends.
pub(crate) struct Browser {
    _driver: Running,
    session: String,
    agent: ureq::Agent,
    _profile: tempfile::TempDir,
}

impl Browser {
    /// Starts the browser.
    pub(crate) fn new() -> Self {
        assert!(
            Path::new(BROWSER).exists() && Path::new(DRIVER).exists(),
            "this test drives a real browser: install the packages chromium and chromium-driver"
        );
        let mut driver = Running::new(
            Command::new(DRIVER).arg("--port=0").stdout(Stdio::piped()).stderr(Stdio::null()),
        );
        let mut lines = BufReader::new(driver.child().stdout.take().unwrap()).lines();
        let port = lines.by_ref().map_while(Result::ok).find_map(|line| {
            let digits =
                line.split("successfully on port ").nth(1)?.trim_end_matches('.').to_owned();
            digits.parse::<u16>().ok()
        });
        // What the driver says later has to go somewhere.
        std::thread::spawn(move || lines.for_each(drop));
        let agent = ureq::Agent::config_builder()
            .http_status_as_error(false)
            .timeout_global(Some(PATIENCE))
            .build()
            .into();
        let profile = tempfile::tempdir().unwrap();
        let port = port.expect("the driver says on which port it listens");
        let session = format!("http://127.0.0.1:{port}/session");
        let mut browser = Self { _driver: driver, session, agent, _profile: profile };
        browser.begin();
        browser
    }

    fn begin(&mut self) {
        let profile = format!("--user-data-dir={}", self._profile.path().display());
        let arguments = [
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--disable-dev-shm-usage",
            "--window-size=1400,1000",
            &profile,
        ];
        let options = json!({ "binary": BROWSER, "args": arguments });
        let wanted = json!({ "browserName": "chrome", "goog:chromeOptions": options });
        let reply = self.post("", &json!({ "capabilities": { "alwaysMatch": wanted } }));
        let id = reply["sessionId"].as_str().unwrap_or_else(|| panic!("no browser: {reply}"));
        self.session = format!("{}/{id}", self.session);
    }

    fn post(&self, what: &str, body: &Value) -> Value {
        let url = format!("{}{what}", self.session);
        let request = self.agent.post(&url).content_type("application/json");
        let mut response = request.send(body.to_string()).unwrap();
        let text = response.body_mut().read_to_string().unwrap();
        let reply: Value = serde_json::from_str(&text).unwrap();
        assert!(response.status() == 200, "{what}: {}", reply["value"]["message"]);
        reply["value"].clone()
    }

    /// Opens a page.
    pub(crate) fn go(&self, address: &str) {
        self.post("/url", &json!({ "url": address }));
    }

    /// Opens another tab and goes on there.
    pub(crate) fn new_tab(&self) {
        let reply = self.post("/window/new", &json!({ "type": "tab" }));
        self.post("/window", &json!({ "handle": reply["handle"] }));
    }

    /// Runs a script in the page; what it returns.
    pub(crate) fn run(&self, script: &str, arguments: &[Value]) -> Value {
        self.post("/execute/sync", &json!({ "script": script, "args": arguments }))
    }

    /// The same for a script that calls its last argument when it is done.
    pub(crate) fn wait_for(&self, script: &str, arguments: &[Value]) -> Value {
        self.post("/timeouts", &json!({ "script": 110_000 }));
        self.post("/execute/async", &json!({ "script": script, "args": arguments }))
    }

    /// Presses keys, one after another; those of a chord are held together.
    pub(crate) fn press(&self, chords: &[&[&str]]) {
        let key = |kind: &str, value: &str| json!({ "type": kind, "value": value });
        let mut actions = Vec::new();
        for chord in chords {
            actions.extend(chord.iter().map(|value| key("keyDown", value)));
            actions.extend(chord.iter().rev().map(|value| key("keyUp", value)));
        }
        let keyboard = json!({ "type": "key", "id": "keyboard", "actions": actions });
        self.post("/actions", &json!({ "actions": [keyboard] }));
    }

    /// Asks the browser itself for something.
    pub(crate) fn tell(&self, command: &str, parameters: &Value) -> Value {
        self.post("/goog/cdp/execute", &json!({ "cmd": command, "params": parameters }))
    }

    /// Waits until nothing is under way on the live page.
    pub(crate) fn settle(&self) {
        let asked = Instant::now();
        let still = "const main = document.querySelector('main'); \
                     return main !== null && main.getAttribute('aria-busy') === 'false'";
        while self.run(still, &[]) != json!(true) {
            assert!(asked.elapsed() < PATIENCE, "the page does not come to rest");
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // The browser goes with its session, before the driver that would leave it running.
        let _ = self.agent.delete(&self.session).call();
    }
}
