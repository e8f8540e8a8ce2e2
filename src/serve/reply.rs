//! Answers as bytes, with what a browser has to be told of each.

use axum::body::Body;
use axum::http::HeaderName;
use axum::http::HeaderValue;
use axum::http::StatusCode;
use axum::http::header;
use axum::response::Response;
use serde::Serialize;

/// Nothing from elsewhere, no script and no style but the page's files, no frame around it. Pictures
/// come inside the answers.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; \
                      img-src data:; connect-src 'self'; base-uri 'none'; form-action 'none'; \
                      frame-ancestors 'none'";

/// What every answer says besides.
const HEADERS: [(HeaderName, &str); 7] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::CACHE_CONTROL, "no-store"),
    (header::X_FRAME_OPTIONS, "DENY"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
];

/// A file of the page.
pub(crate) fn file(kind: &'static str, bytes: impl Into<Body>) -> Response {
    with_headers(StatusCode::OK, kind, bytes.into())
}

/// An answer.
pub(crate) fn json(value: &impl Serialize) -> Response {
    match serde_json::to_vec(value) {
        Ok(bytes) => with_headers(StatusCode::OK, "application/json", bytes.into()),
        Err(error) => refusal(StatusCode::INTERNAL_SERVER_ERROR, &error.to_string()),
    }
}

/// Why there is none, for people.
pub(crate) fn refusal(status: StatusCode, message: &str) -> Response {
    let body = serde_json::json!({ "error": message }).to_string();
    with_headers(status, "application/json", body.into())
}

fn with_headers(status: StatusCode, kind: &'static str, body: Body) -> Response {
    let mut response = Response::new(body);
    *response.status_mut() = status;
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    for (name, value) in HEADERS {
        headers.insert(name, HeaderValue::from_static(value));
    }
    response
}
