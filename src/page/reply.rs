//! Replies: what is sent, and what a browser may do with it.

use http_body_util::Full;
use hyper::body::Bytes;
use hyper::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, HeaderValue, REFERRER_POLICY};
use hyper::{Response, StatusCode};
use serde_json::Value;

/// What is sent.
pub(super) type Reply = Response<Full<Bytes>>;

/// Scripts and style sheets only from the server, no frames, no forms, nothing from elsewhere. Pictures carry their
/// inks as attributes of style.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; \
    img-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// A text of a kind.
pub(super) fn text(kind: &'static str, content: impl Into<Bytes>) -> Reply {
    of(StatusCode::OK, kind, content)
}

/// A result.
pub(super) fn json(value: &Value) -> Reply {
    of(StatusCode::OK, "application/json", value.to_string())
}

/// A result that is no success.
pub(super) fn refused(status: StatusCode, value: &Value) -> Reply {
    of(status, "application/json", value.to_string())
}

/// A sentence that says why there is nothing.
pub(super) fn plain(status: StatusCode, why: &str) -> Reply {
    of(status, "text/plain; charset=utf-8", format!("{why}\n"))
}

fn of(status: StatusCode, kind: &'static str, content: impl Into<Bytes>) -> Reply {
    let mut reply = Response::new(Full::new(content.into()));
    *reply.status_mut() = status;
    let headers = reply.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static(kind));
    headers.insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
    headers.insert(CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY));
    headers.insert(REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    for (name, value) in [
        ("x-content-type-options", "nosniff"),
        ("x-frame-options", "DENY"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    reply
}
