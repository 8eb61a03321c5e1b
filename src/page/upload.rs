//! A picture as it comes from a page.
//!
//! The rule inside: whether it is wanted is asked before it is read and again once it is kept; one at a time is in memory.

use std::time::Duration;

use http_body_util::BodyExt;
use hyper::body::{Body, Incoming};
use hyper::header::HeaderName;
use hyper::{Request, StatusCode};

use super::caller::TIME;
use super::guard::one;
use super::picture::{BYTES_MAX, NotKept, keep};
use super::secret::Secret;
use super::shared::Shared;

/// Time for the whole of a picture, each part of which comes within [`TIME`] of the one before.
const PICTURE_TIME: Duration = Duration::from_secs(60);

/// The prompt that a picture belongs to. A header of its own: no form of another site can send it.
const PROMPT: HeaderName = HeaderName::from_static("coreproof-prompt");

/// Reads a picture, keeps it in a file of our own naming, and has it bound in.
///
/// # Errors
/// As of [`Shared::picture`]; 400 without the number of a prompt or the end of its body, 429 while another is on its way, 408 and 413 for a body
/// that is slow or long, 415 for what is no picture, 507 where it cannot be kept. Nothing of it is then left.
pub(super) async fn photograph(
    shared: &Shared,
    session: &Secret,
    request: Request<Incoming>,
) -> Result<(), StatusCode> {
    let prompt = one(request.headers(), &PROMPT).and_then(|number| number.parse().ok());
    let prompt = prompt.ok_or(StatusCode::BAD_REQUEST)?;
    // before it is read, and once more when it is kept: much happens meanwhile
    shared.awaits_picture(session, prompt)?;
    let one_at_a_time = shared.picture.try_lock();
    let _held = one_at_a_time.map_err(|_| StatusCode::TOO_MANY_REQUESTS)?;
    let whole = tokio::time::timeout(PICTURE_TIME, read(request.into_body())).await;
    let whole = whole.map_err(|_| StatusCode::REQUEST_TIMEOUT)??;
    let beginning = shared.pictures().to_owned();
    let kept = tokio::task::spawn_blocking(move || keep(&beginning, &whole)).await;
    let file = match kept.unwrap_or_else(|error| Err(NotKept::Disk(error.into()))) {
        Ok(file) => file,
        Err(NotKept::NoPicture) => return Err(StatusCode::UNSUPPORTED_MEDIA_TYPE),
        Err(NotKept::Disk(error)) => {
            tracing::warn!(%error, "a picture is not kept");
            return Err(StatusCode::INSUFFICIENT_STORAGE);
        }
    };
    shared
        .picture(session, prompt, &file)
        .inspect_err(|_| drop(std::fs::remove_file(&file)))
}

/// The bytes of a picture, each part within its time.
async fn read(mut body: Incoming) -> Result<Vec<u8>, StatusCode> {
    let mut whole = Vec::new();
    loop {
        // what is stated as too long is not begun with
        if (BYTES_MAX as u64) < whole.len() as u64 + body.size_hint().lower() {
            return Err(StatusCode::PAYLOAD_TOO_LARGE);
        }
        let frame = tokio::time::timeout(TIME, body.frame()).await;
        let frame = frame.map_err(|_| StatusCode::REQUEST_TIMEOUT)?;
        let Some(frame) = frame.transpose().map_err(|_| StatusCode::BAD_REQUEST)? else {
            return Ok(whole);
        };
        let part = frame.into_data().unwrap_or_default();
        if BYTES_MAX < whole.len() + part.len() {
            return Err(StatusCode::PAYLOAD_TOO_LARGE);
        }
        whole.extend_from_slice(&part);
    }
}
