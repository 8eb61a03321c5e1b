//! What is answered to a request.
//!
//! The rule inside: the paths are a closed list, no part of a request names a file, and every answer carries the headers that keep a
//! browser from doing anything else with it.

use std::convert::Infallible;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use http_body_util::channel::Channel;
use http_body_util::{BodyExt, Either, Full, LengthLimitError, Limited};
use hyper::body::{Body, Bytes, Incoming};
use hyper::header::{self, HeaderName, HeaderValue};
use hyper::{Method, Request, Response, StatusCode};
use serde::Deserialize;
use serde::de::DeserializeOwned;

use super::caller::{Caller, TIME};
use super::chosen::Sent;
use super::secret::Secret;
use super::shared::{Had, Pairing, Shared};
use super::told::Told;
use super::upload;

/// Most bytes of a request's body.
const BODY_MAX: usize = 4 * 1024;

/// What a request's body may be: a picture where one is sent, else JSON.
const PICTURES: [&str; 2] = ["image/jpeg", "image/png"];
const JSON: [&str; 1] = ["application/json"];

/// How often a sign of life is sent on.
const BEAT: Duration = Duration::from_millis(300);

/// What a guessed code waits before it is refused.
const WRONG_CODE: Duration = Duration::from_millis(250);

const HTML: &str = include_str!("files/page.html");
const CSS: &str = include_str!("files/page.css");
const JS: &str = include_str!("files/page.js");

const ALWAYS: [(&str, &str); 6] = [
    (
        "content-security-policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; base-uri 'none'; \
         form-action 'none'; frame-ancestors 'none'; require-trusted-types-for 'script'; trusted-types 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "no-referrer"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("cache-control", "no-store"),
];

type Out = Either<Full<Bytes>, Channel<Bytes>>;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Code {
    code: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Seen {
    danger: u64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Here {}

/// Answers a request.
pub(super) async fn reply(
    shared: Arc<Shared>,
    caller: Arc<Caller>,
    tell: Arc<dyn Fn(Told) + Send + Sync>,
    request: Request<Incoming>,
) -> Result<Response<Out>, Infallible> {
    caller.asked.store(true, Ordering::Relaxed);
    let answer = answered(&shared, &caller, &*tell, request).await;
    let mut response = answer.unwrap_or_else(|status| {
        let mut response = text("text/plain; charset=utf-8", status.canonical_reason().unwrap_or(""));
        *response.status_mut() = status;
        if status == StatusCode::REQUEST_TIMEOUT || status == StatusCode::PAYLOAD_TOO_LARGE {
            // what is left of the body is not waited for
            response
                .headers_mut()
                .insert(header::CONNECTION, HeaderValue::from_static("close"));
        }
        response
    });
    for (name, value) in ALWAYS {
        let headers = response.headers_mut();
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    Ok(response)
}

async fn answered(
    shared: &Arc<Shared>,
    caller: &Caller,
    tell: &(dyn Fn(Told) + Send + Sync),
    request: Request<Incoming>,
) -> Result<Response<Out>, StatusCode> {
    let is_picture = request.uri().path() == "/photograph";
    let kinds: &[&str] = if is_picture { &PICTURES } else { &JSON };
    shared.address.admits(request.method(), request.headers(), kinds)?;
    let session = shared
        .address
        .session(request.headers())
        .filter(|session| shared.knows(session));
    if session.is_some() {
        caller.known.store(true, Ordering::Relaxed);
    }
    let known = || session.clone().ok_or(StatusCode::UNAUTHORIZED);
    if request.uri().query().is_some() {
        return Err(StatusCode::NOT_FOUND);
    }
    let method = request.method().clone();
    match (&method, request.uri().path()) {
        (&Method::GET, "/") => Ok(text("text/html; charset=utf-8", HTML)),
        (&Method::GET, "/page.css") => Ok(text("text/css; charset=utf-8", CSS)),
        (&Method::GET, "/page.js") => Ok(text("text/javascript; charset=utf-8", JS)),
        (&Method::GET, "/favicon.ico") => Ok(status(StatusCode::NO_CONTENT)),
        (&Method::GET, "/events") => Ok(events(shared.clone(), known()?)),
        (&Method::POST, "/pair") => pair(shared, caller, tell, request).await,
        (&Method::POST, path @ ("/answer" | "/photograph" | "/seen" | "/here")) => {
            let (session, path) = (known()?, path.to_owned());
            taken(shared, &session, &path, request).await?;
            Ok(status(StatusCode::ACCEPTED))
        }
        (_, "/" | "/page.css" | "/page.js" | "/events" | "/pair" | "/answer" | "/photograph" | "/seen" | "/here") => {
            Err(StatusCode::METHOD_NOT_ALLOWED)
        }
        _ => Err(StatusCode::NOT_FOUND),
    }
}

/// Takes what a page that is known sends.
async fn taken(shared: &Shared, session: &Secret, path: &str, request: Request<Incoming>) -> Result<(), StatusCode> {
    match path {
        "/answer" => {
            let sent: Sent = read(request).await?;
            shared.answer(session, &sent)
        }
        "/photograph" => upload::photograph(shared, session, request).await,
        "/seen" => {
            let Seen { danger } = read(request).await?;
            shared.acknowledge(session, danger)
        }
        _ => {
            let Here {} = read(request).await?;
            shared.answers_here(session);
            Ok(())
        }
    }
}

/// Lets the browser in that has the code.
async fn pair(
    shared: &Shared,
    caller: &Caller,
    tell: &(dyn Fn(Told) + Send + Sync),
    request: Request<Incoming>,
) -> Result<Response<Out>, StatusCode> {
    let from = caller.from;
    let Code { code } = read(request).await?;
    match shared.pair(&code, from) {
        Pairing::Paired(cookie, number) => {
            caller.known.store(true, Ordering::Relaxed);
            tell(Told::Paired { from, number });
            let cookie =
                HeaderValue::try_from(shared.address.set_cookie(&cookie)).expect("hexadecimal digits and names");
            let mut response = status(StatusCode::NO_CONTENT);
            response.headers_mut().insert(header::SET_COOKIE, cookie);
            Ok(response)
        }
        Pairing::Spent(next) => {
            if let Some(next) = next {
                tell(Told::Renewed(shared.address.opens(&next)));
            }
            Err(StatusCode::GONE)
        }
        Pairing::Unknown => {
            tokio::time::sleep(WRONG_CODE).await;
            Err(StatusCode::FORBIDDEN)
        }
    }
}

/// The body of a request, read to its end within its time and its length.
async fn read<T: DeserializeOwned>(request: Request<Incoming>) -> Result<T, StatusCode> {
    let body = request.into_body();
    if (BODY_MAX as u64) < body.size_hint().lower() {
        return Err(StatusCode::PAYLOAD_TOO_LARGE);
    }
    let whole = tokio::time::timeout(TIME, Limited::new(body, BODY_MAX).collect()).await;
    let whole = whole.map_err(|_| StatusCode::REQUEST_TIMEOUT)?.map_err(|error| {
        if error.is::<LengthLimitError>() {
            StatusCode::PAYLOAD_TOO_LARGE
        } else {
            StatusCode::BAD_REQUEST
        }
    })?;
    serde_json::from_slice(&whole.to_bytes()).map_err(|_| StatusCode::BAD_REQUEST)
}

/// The state and each change of it, for as long as the page listens. What it has not taken yet is never more than one event.
fn events(shared: Arc<Shared>, session: Secret) -> Response<Out> {
    let (mut sender, body) = Channel::new(1);
    tokio::spawn(async move {
        let mut changes = shared.changes();
        let mut had = Had::default();
        loop {
            changes.mark_unchanged();
            if let Some(text) = shared.event(&session, &mut had)
                && sender.send_data(Bytes::from(text)).await.is_err()
            {
                return;
            }
            tokio::select! {
                changed = changes.changed() => if changed.is_err() { return },
                () = tokio::time::sleep(BEAT) => {}
            }
        }
    });
    let mut response = Response::new(Either::Right(body));
    let kind = HeaderValue::from_static("text/event-stream");
    response.headers_mut().insert(header::CONTENT_TYPE, kind);
    response
}

fn text(kind: &'static str, text: &'static str) -> Response<Out> {
    let mut response = Response::new(Either::Left(Full::from(text)));
    response
        .headers_mut()
        .insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    response
}

fn status(status: StatusCode) -> Response<Out> {
    let mut response = Response::new(Either::Left(Full::default()));
    *response.status_mut() = status;
    response
}
