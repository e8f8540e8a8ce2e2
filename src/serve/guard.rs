//! Who may ask. Any page that a browser shows can send requests to this machine; only our own, which
//! knows the token in its address, gets an answer.

use crate::cli::failure::Failure;
use axum::http::HeaderMap;
use axum::http::HeaderName;
use axum::http::Method;
use axum::http::StatusCode;
use axum::http::header;
use std::fmt::Write;

/// Bytes of a token: not to be guessed.
const TOKEN_BYTES: usize = 16;
const FETCH_SITE: HeaderName = HeaderName::from_static("sec-fetch-site");

/// What is asked of every request.
#[derive(Debug)]
pub(crate) struct Guard {
    port: u16,
    token: String,
}

/// Why a request gets no answer.
pub(crate) type Refusal = (StatusCode, &'static str);

/// A text of random digits that nobody can guess.
pub(crate) fn random_text() -> Result<String, Failure> {
    let mut bytes = [0; TOKEN_BYTES];
    getrandom::fill(&mut bytes).map_err(|error| Failure::world("random numbers", &error))?;
    Ok(bytes.iter().fold(String::new(), |mut text, byte| {
        write!(text, "{byte:02x}").expect("writing to a string cannot fail");
        text
    }))
}

impl Guard {
    /// A guard with a token of its own.
    pub(crate) fn new(port: u16) -> Result<Self, Failure> {
        Ok(Self { port, token: random_text()? })
    }

    /// Where the page is.
    pub(crate) fn address(&self) -> String {
        format!("http://127.0.0.1:{}/{}/", self.port, self.token)
    }

    /// Lets a request through, and says what it asks for: the path behind the token.
    pub(crate) fn admit<'a>(
        &self,
        method: &Method,
        path: &'a str,
        headers: &HeaderMap,
    ) -> Result<&'a str, Refusal> {
        let forbidden = |why| Err((StatusCode::FORBIDDEN, why));
        let Some(host) = text(headers, &header::HOST).filter(|host| self.is_ours(host)) else {
            return forbidden("this address is not served here: open the one that was printed");
        };
        let origin = text(headers, &header::ORIGIN);
        let own = format!("http://{host}");
        if headers.contains_key(header::ORIGIN) && origin != Some(own.as_str()) {
            return forbidden("a page of another site may not ask");
        }
        let site = text(headers, &FETCH_SITE);
        let changes = method == Method::POST;
        let sites: &[&str] = if changes { &["same-origin"] } else { &["same-origin", "none"] };
        if headers.contains_key(FETCH_SITE) && !site.is_some_and(|site| sites.contains(&site)) {
            return forbidden("a page of another site may not ask");
        }
        if changes && origin.is_none() {
            return forbidden("only the page itself may ask: there is no Origin");
        }
        let behind = path.strip_prefix('/').and_then(|path| path.split_once('/'));
        match behind {
            Some((token, rest)) if same(token, &self.token) => Ok(rest),
            _ => {
                forbidden("the token is missing or another one: open the address that was printed")
            }
        }
    }

    /// The names under which a browser on this machine finds us; a name of elsewhere that was made to
    /// point here is none of them.
    fn is_ours(&self, host: &str) -> bool {
        ["127.0.0.1", "localhost"].iter().any(|name| host == format!("{name}:{}", self.port))
    }
}

fn text<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    // Two of one header are nobody's honest request.
    let mut all = headers.get_all(name).iter();
    let first = all.next()?;
    if all.next().is_some() { None } else { first.to_str().ok() }
}

/// Whether two texts are the same, in a time that does not tell where they differ.
fn same(a: &str, b: &str) -> bool {
    let differing = a.bytes().zip(b.bytes()).fold(0, |all, (a, b)| all | (a ^ b));
    a.len() == b.len() && differing == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn guard() -> Guard {
        Guard { port: 4000, token: "abc".to_owned() }
    }

    fn asked(method: &Method, path: &str, headers: &[(&'static str, &'static str)]) -> bool {
        let mut map = HeaderMap::new();
        for (name, value) in headers {
            map.append(HeaderName::from_static(name), value.parse().unwrap());
        }
        guard().admit(method, path, &map).is_ok()
    }

    const HOST: (&str, &str) = ("host", "127.0.0.1:4000");
    const ORIGIN: (&str, &str) = ("origin", "http://127.0.0.1:4000");

    #[test]
    fn the_page_and_its_own_requests_are_let_through() {
        assert!(asked(&Method::GET, "/abc/", &[HOST]));
        assert!(asked(&Method::GET, "/abc/page.js", &[HOST, ("sec-fetch-site", "same-origin")]));
        assert!(asked(
            &Method::GET,
            "/abc/",
            &[("host", "localhost:4000"), ("sec-fetch-site", "none")]
        ));
        assert!(asked(
            &Method::POST,
            "/abc/change",
            &[HOST, ORIGIN, ("sec-fetch-site", "same-origin")]
        ));
    }

    #[test]
    fn everyone_else_is_refused() {
        for (path, headers) in [
            // Another site's page, by what browsers say of it.
            ("/abc/change", vec![HOST, ("origin", "https://elsewhere.example")]),
            ("/abc/change", vec![HOST, ("origin", "null")]),
            ("/abc/change", vec![HOST, ORIGIN, ("sec-fetch-site", "cross-site")]),
            ("/abc/change", vec![HOST, ORIGIN, ("sec-fetch-site", "same-site")]),
            ("/abc/change", vec![HOST, ORIGIN, ("sec-fetch-site", "none")]),
            // A name that was made to point here.
            (
                "/abc/change",
                vec![
                    ("host", "elsewhere.example:4000"),
                    ("origin", "http://elsewhere.example:4000"),
                ],
            ),
            ("/abc/change", vec![("host", "127.0.0.1:4001"), ("origin", "http://127.0.0.1:4001")]),
            ("/abc/change", vec![ORIGIN]),
            ("/abc/change", vec![HOST]),
            ("/abc/change", vec![HOST, HOST, ORIGIN]),
            ("/abc/change", vec![HOST, ORIGIN, ("origin", "https://elsewhere.example")]),
            // Not the token.
            ("/abd/change", vec![HOST, ORIGIN]),
            ("/abcd/change", vec![HOST, ORIGIN]),
            ("//change", vec![HOST, ORIGIN]),
            ("/change", vec![HOST, ORIGIN]),
            ("/abc", vec![HOST, ORIGIN]),
            ("/", vec![HOST, ORIGIN]),
            ("", vec![HOST, ORIGIN]),
        ] {
            assert!(!asked(&Method::POST, path, &headers), "{path} {headers:?}");
        }
        assert!(!asked(&Method::GET, "/abc/", &[HOST, ("sec-fetch-site", "cross-site")]));
    }

    #[test]
    fn tokens_are_long_and_never_the_same() {
        let [a, b] = [random_text().unwrap(), random_text().unwrap()];
        assert!(a.len() == 32 && a != b);
    }
}
