//! What can be asked: the page and its files, `open`, `change`, `read` and `save`.

use crate::cli::failure::Failure;
use crate::serve::desk::Desk;
use crate::serve::desk::Read;
use crate::serve::desk::Standing;
use crate::serve::desk::look;
use crate::serve::desk::read as read_off;
use crate::serve::guard::Guard;
use crate::serve::reply;
use crate::serve::save;
use crate::serve::session::Session;
use crate::serve::session::arguments;
use crate::serve::sessions::Sessions;
use crate::serve::sessions::Tab;
use axum::body::Bytes;
use axum::extract::Request;
use axum::extract::State;
use axum::http::Method;
use axum::http::StatusCode;
use axum::http::header;
use axum::response::Response;
use backporch::output::font;
use backporch::output::live_json::GroupReport;
use backporch::output::live_json::LiveReport;
use backporch::output::page::advice::CAUTIONS;
use backporch::output::page::advice::WHO_DECIDES;
use backporch::scenario::Scenario;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::Deserialize;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::sync::Arc;

/// Largest request, bytes.
const MOST_BYTES: usize = 16 * 1024;
/// Longest text of a setting, bytes.
const LONGEST_TEXT: usize = 200;

const PAGE: &str = include_str!("page/page.html");
const STYLE: &str = include_str!("page/page.css");
const SCRIPT: &str = include_str!("page/page.js");

/// What every request is answered from.
#[derive(Debug)]
pub(crate) struct Bench {
    desk: Desk,
    guard: Guard,
    sessions: Sessions,
}

impl Bench {
    /// A desk behind a guard, with no page open.
    pub(crate) fn new(desk: Desk, guard: Guard) -> Self {
        Self { desk, guard, sessions: Sessions::default() }
    }
}

/// Why a request has no answer: the status and the words.
type Refused = (StatusCode, String);

/// Answers a request.
pub(crate) async fn answer(State(bench): State<Arc<Bench>>, request: Request) -> Response {
    let done = dispatch(&bench, request).await;
    done.unwrap_or_else(|(status, message)| reply::refusal(status, &message))
}

async fn dispatch(bench: &Arc<Bench>, request: Request) -> Result<Response, Refused> {
    let (parts, body) = request.into_parts();
    let (method, path) = (&parts.method, parts.uri.path());
    let asked = bench.guard.admit(method, path, &parts.headers);
    let asked = asked.map_err(|(status, why)| (status, why.to_owned()))?;
    match (method, asked) {
        (&Method::GET, "") => Ok(reply::file("text/html; charset=utf-8", PAGE)),
        (&Method::GET, "page.css") => Ok(reply::file("text/css; charset=utf-8", STYLE)),
        (&Method::GET, "page.js") => Ok(reply::file("text/javascript; charset=utf-8", SCRIPT)),
        (&Method::GET, "font.ttf") => Ok(reply::file("font/ttf", font::BYTES)),
        (&Method::POST, "open" | "change" | "read" | "save") => {
            let kind = parts.headers.get(header::CONTENT_TYPE);
            if kind.is_none_or(|kind| kind != "application/json") {
                let why = "expected a Content-Type of application/json";
                return Err((StatusCode::UNSUPPORTED_MEDIA_TYPE, why.to_owned()));
            }
            let bytes = axum::body::to_bytes(body, MOST_BYTES).await.map_err(|_| {
                let why = format!("a request has at most {MOST_BYTES} bytes");
                (StatusCode::PAYLOAD_TOO_LARGE, why)
            })?;
            match asked {
                "open" => open(bench, read(&bytes)?).await,
                "change" => change(bench, read(&bytes)?).await,
                "read" => words(bench, &read(&bytes)?).await,
                _ => save(bench, read(&bytes)?).await,
            }
        }
        (_, "" | "page.css" | "page.js" | "font.ttf") => {
            Err((StatusCode::METHOD_NOT_ALLOWED, "expected GET".to_owned()))
        }
        (_, "open" | "change" | "read" | "save") => {
            Err((StatusCode::METHOD_NOT_ALLOWED, "expected POST".to_owned()))
        }
        _ => Err((StatusCode::NOT_FOUND, "there is nothing here".to_owned())),
    }
}

fn read<T: DeserializeOwned>(bytes: &Bytes) -> Result<T, Refused> {
    serde_json::from_slice(bytes).map_err(|error| {
        (StatusCode::BAD_REQUEST, format!("the request is not understood: {error}"))
    })
}

fn unprocessable(failure: &Failure) -> Refused {
    (StatusCode::UNPROCESSABLE_ENTITY, failure.text())
}

/// A page begins, or begins again.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Open {
    /// What the tab was called before it was loaded anew.
    tab: Option<String>,
}

/// What the page is laid out by.
#[derive(Debug, Serialize)]
struct Opened<'a> {
    tab: &'a str,
    title: &'a str,
    file: String,
    groups: &'a [GroupReport],
    cautions: &'a [&'a str],
    closing: &'a str,
    #[serde(flatten)]
    shown: Shown,
}

/// What the page shows of a board.
#[derive(Debug, Serialize)]
struct Shown {
    /// Number of the request that this answers.
    number: u64,
    controls: Vec<Standing>,
    undo: bool,
    redo: bool,
    /// Whether a later request was there before the board was worked out: there is no picture then.
    overtaken: bool,
    /// Why there is no picture.
    failure: Option<String>,
    picture: Option<PictureReport>,
}

/// The picture, which is there before its words are.
#[derive(Debug, Serialize)]
struct PictureReport {
    /// `frame.png` as base64.
    frame: String,
}

/// What is read off a picture.
#[derive(Debug, Serialize)]
struct WordsReport {
    /// The drawing of a line.
    svg: String,
    line: u32,
    lines: u32,
    #[serde(flatten)]
    report: LiveReport,
}

async fn open(bench: &Arc<Bench>, asked: Open) -> Result<Response, Refused> {
    let known = asked.tab.and_then(|name| bench.sessions.find(&name));
    let tab = match known {
        Some(tab) => tab,
        None => bench
            .sessions
            .open(bench.desk.start.clone())
            .map_err(|failure| (StatusCode::INTERNAL_SERVER_ERROR, failure.text()))?,
    };
    let number = tab.session().number;
    let shown = show(bench, &tab, number, None).await?;
    let desk = &bench.desk;
    Ok(reply::json(&Opened {
        tab: &tab.name,
        title: &desk.title,
        file: desk.path().display().to_string(),
        groups: &desk.reports,
        cautions: &CAUTIONS,
        closing: WHO_DECIDES,
        shown,
    }))
}

/// Something is turned.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Change {
    tab: String,
    /// Greater than that of any request of the tab before.
    number: u64,
    #[serde(rename = "do")]
    deed: Deed,
}

/// What is done.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "lowercase", deny_unknown_fields)]
enum Deed {
    /// A control is turned; a slider drawn along is one gesture.
    Set { path: String, text: String, gesture: u64 },
    /// A step back.
    Undo,
    /// A step forward again.
    Redo,
    /// To the board as it was opened.
    Back,
    /// Another line is to be drawn; none for the one that shows most.
    Line(Option<u32>),
}

fn tab_of(bench: &Bench, name: &str) -> Result<Arc<Tab>, Refused> {
    bench.sessions.find(name).ok_or_else(|| {
        (StatusCode::NOT_FOUND, "this tab is not known any more: load the page again".to_owned())
    })
}

async fn change(bench: &Arc<Bench>, asked: Change) -> Result<Response, Refused> {
    let tab = tab_of(bench, &asked.tab)?;
    let board = take(&bench.desk, &mut tab.session(), &asked)?;
    Ok(reply::json(&show(bench, &tab, asked.number, board).await?))
}

/// Takes a change over if the board can be read with it; otherwise nothing is changed. The board, if it
/// had to be read for that.
fn take(desk: &Desk, session: &mut Session, asked: &Change) -> Result<Option<Scenario>, Refused> {
    if asked.number <= session.number {
        let last = session.number;
        let why = format!("request {} came after {last}: nothing was changed", asked.number);
        return Err((StatusCode::CONFLICT, why));
    }
    session.number = asked.number;
    match &asked.deed {
        Deed::Set { path, text, gesture } => {
            let refuse = |why: String| Err((StatusCode::UNPROCESSABLE_ENTITY, why));
            let Some(control) = desk.control(path) else {
                return refuse(format!("`{path}` is no control of this board"));
            };
            if text.trim().is_empty() {
                return refuse(format!("`{path}` is set to nothing"));
            }
            if text.len() > LONGEST_TEXT || text.chars().any(char::is_control) {
                return refuse(format!("`{path}`: expected one short line"));
            }
            let next = session.turned(control, text.trim());
            let board = desk.load(&arguments(&next)).map_err(|failure| unprocessable(&failure))?;
            session.take(path, *gesture, next);
            return Ok(Some(board));
        }
        Deed::Undo => session.undo(),
        Deed::Redo => session.redo(),
        Deed::Back => session.back(),
        Deed::Line(line) => session.line = *line,
    }
    Ok(None)
}

/// The words of a picture that was answered.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Words {
    tab: String,
    /// Number of the request that the picture answers.
    number: u64,
}

/// The same for the page.
#[derive(Debug, Serialize)]
struct WordsShown {
    number: u64,
    /// Whether a later picture was there, or these words were asked for before: there are none then.
    overtaken: bool,
    /// Why there are no words.
    failure: Option<String>,
    words: Option<WordsReport>,
}

async fn words(bench: &Arc<Bench>, asked: &Words) -> Result<Response, Refused> {
    let tab = tab_of(bench, &asked.tab)?;
    let _turn = tab.turn.lock().await;
    let number = asked.number;
    let seen = tab.seen().take_if(|(of, _)| *of == number);
    let mut shown = WordsShown { number, overtaken: false, failure: None, words: None };
    let Some((_, seen)) = seen.filter(|_| tab.session().number == number) else {
        return Ok(reply::json(&WordsShown { overtaken: true, ..shown }));
    };
    let line = tab.session().line;
    match blocking(move || read_off(&seen, line)).await? {
        Ok(read) => {
            let Read { line_svg: svg, line, lines, report } = read;
            shown.words = Some(WordsReport { svg, line, lines, report });
        }
        Err(failure) => shown.failure = Some(failure.text()),
    }
    Ok(reply::json(&shown))
}

/// Away from the thread that answers.
async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, Refused> {
    let done = tokio::task::spawn_blocking(work).await;
    done.map_err(|error| (StatusCode::INTERNAL_SERVER_ERROR, error.to_string()))
}

/// Works out what a tab has set, unless a later request of the tab has come by then; `board` is what it
/// has set, if that has been read already.
async fn show(
    bench: &Arc<Bench>,
    tab: &Arc<Tab>,
    number: u64,
    board: Option<Scenario>,
) -> Result<Shown, Refused> {
    let _turn = tab.turn.lock().await;
    let (mut shown, set) = {
        let session = tab.session();
        let (undo, redo) = session.ways();
        let shown = Shown {
            number,
            controls: bench.desk.standings(session.settings()),
            undo,
            redo,
            overtaken: session.number != number,
            failure: None,
            picture: None,
        };
        (shown, session.arguments())
    };
    if shown.overtaken {
        return Ok(shown);
    }
    let worker = Arc::clone(bench);
    let work = move || look(board.map_or_else(|| worker.desk.load(&set), Ok)?);
    match blocking(work).await? {
        Ok(seen) => {
            shown.picture = Some(PictureReport { frame: STANDARD.encode(&seen.frame) });
            *tab.seen() = Some((number, seen));
        }
        Err(failure) => {
            *tab.seen() = None;
            shown.failure = Some(failure.text());
        }
    }
    Ok(shown)
}

/// What is set is to be kept.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Save {
    tab: String,
    name: String,
}

async fn save(bench: &Arc<Bench>, asked: Save) -> Result<Response, Refused> {
    let tab = tab_of(bench, &asked.tab)?;
    let settings = tab.session().settings().clone();
    let worker = Arc::clone(bench);
    // What is written is loaded first, as slow as any change.
    let path = blocking(move || save::save(&worker.desk, &settings, &asked.name)).await?;
    let path = path.map_err(|failure| unprocessable(&failure))?;
    Ok(reply::json(&serde_json::json!({ "saved": path.display().to_string() })))
}
