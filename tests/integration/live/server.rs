//! The program as a server, and requests to it as bytes.

use crate::running::Running;
use std::io::BufRead;
use std::io::BufReader;
use std::io::Read;
use std::io::Write;
use std::net::TcpStream;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::process::ExitStatus;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;

/// Longer than anything here may take on a busy machine.
const PATIENCE: Duration = Duration::from_secs(60);

/// A server with a board of its own in a folder of its own; it ends with the test.
pub(crate) struct Server {
    child: Running,
    folder: tempfile::TempDir,
    /// The page's address.
    pub(crate) address: String,
    /// "127.0.0.1:port".
    pub(crate) host: String,
    /// The token between slashes.
    pub(crate) prefix: String,
}

impl Server {
    /// Serves a copy of an example.
    pub(crate) fn new(example: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let scenario = folder.path().join("board.toml");
        let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
        std::fs::copy(examples.join(example), &scenario).unwrap();
        // A measurement is of the program as it is given to people: `LIVE_PROGRAM` names that one.
        let own = env!("CARGO_BIN_EXE_backporch").into();
        let mut child = Running::new(
            Command::new(std::env::var_os("LIVE_PROGRAM").unwrap_or(own))
                .arg("live")
                .arg(&scenario)
                .stdout(Stdio::piped()),
        );
        let lines = BufReader::new(child.child().stdout.take().unwrap()).lines();
        let mut found = lines.map_while(Result::ok).map(|line| line.trim().to_owned());
        let address = found.find(|line| line.starts_with("http://127.0.0.1:"));
        let address = address.expect("the program prints its address");
        let (host, token) = address["http://".len()..].split_once('/').unwrap();
        let (host, prefix) = (host.to_owned(), format!("/{token}"));
        Self { child, folder, address, host, prefix }
    }

    /// A file of the folder.
    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Names in the folder, sorted.
    pub(crate) fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.folder.path()).unwrap();
        let mut names: Vec<String> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    /// Sends bytes as they are; the status and the body of what comes back.
    pub(crate) fn send(&self, request: &[u8]) -> (u16, String) {
        let mut stream = TcpStream::connect(&self.host).unwrap();
        stream.set_read_timeout(Some(PATIENCE)).unwrap();
        // A server that has heard enough may close while we still talk.
        let _ = stream.write_all(request);
        let mut bytes = Vec::new();
        let _ = stream.read_to_end(&mut bytes);
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let status = text.split(' ').nth(1).and_then(|word| word.parse().ok()).unwrap_or(0);
        let body = text.split_once("\r\n\r\n").map_or(String::new(), |(_, body)| body.to_owned());
        (status, body)
    }

    /// The head of an honest request of the page, but for its end.
    pub(crate) fn head(&self, what: &str, length: usize) -> String {
        let Self { host, prefix, .. } = self;
        format!(
            "POST {prefix}{what} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n\
             Sec-Fetch-Site: same-origin\r\nContent-Type: application/json\r\n\
             Content-Length: {length}\r\nConnection: close\r\n"
        )
    }

    /// Asks as the page does.
    pub(crate) fn post(&self, what: &str, body: &serde_json::Value) -> (u16, serde_json::Value) {
        let body = body.to_string();
        let (status, text) =
            self.send(format!("{}\r\n{body}", self.head(what, body.len())).as_bytes());
        (status, serde_json::from_str(&text).unwrap_or_else(|error| panic!("{error}: {text}")))
    }

    /// Ctrl-C, and how it ended.
    pub(crate) fn interrupt(&mut self) -> ExitStatus {
        self.child.interrupt();
        let asked = Instant::now();
        loop {
            if let Some(status) = self.child.child().try_wait().unwrap() {
                return status;
            }
            assert!(asked.elapsed() < PATIENCE, "the server does not end");
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}
