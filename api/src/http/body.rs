//! Reading what a request carries, with an error that names the place.

use std::sync::Arc;

use actix_web::dev::Payload;
use actix_web::error::{PathError, PayloadError, QueryPayloadError};
use actix_web::http::header;
use actix_web::web::Data;
use actix_web::{FromRequest, HttpRequest};
use anyhow::anyhow;
use futures::StreamExt;
use futures::future::LocalBoxFuture;
use serde::de::DeserializeOwned;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use crate::app::Deps;
use crate::error::{AppError, Fault};
use crate::http::nul;

/// The bytes of bodies that are being read, of all requests together: however many begin one and do not
/// end it, the server has room for no more.
pub struct Room(Arc<Semaphore>);

impl Room {
    /// For so many bytes.
    pub fn new(bytes: usize) -> Self {
        Self(Arc::new(Semaphore::new(bytes.min(Semaphore::MAX_PERMITS))))
    }

    fn take(&self, bytes: usize) -> Result<OwnedSemaphorePermit, AppError> {
        let taken =
            u32::try_from(bytes).ok().map(|n| Arc::clone(&self.0).try_acquire_many_owned(n));
        taken.and_then(Result::ok).ok_or_else(|| {
            AppError::Busy("too many bodies are being sent to the server at once".to_owned())
        })
    }
}

/// A body as it came, and the room that it takes as long as this is held.
pub struct Whole {
    /// What was sent.
    pub bytes: Vec<u8>,
    _room: Option<OwnedSemaphorePermit>,
}

impl Whole {
    /// Reads a body to its end.
    ///
    /// # Errors
    /// 413 with what `too_long` says when it has more than `limit` bytes, 503 when there is no room.
    pub async fn read(
        request: &HttpRequest,
        payload: &mut Payload,
        limit: usize,
        too_long: impl FnOnce() -> String,
    ) -> Result<Self, AppError> {
        let room = request.app_data::<Data<Room>>();
        let room = room.ok_or_else(|| AppError::Internal(anyhow!("the server has no room")))?;
        let (mut bytes, mut taken) = (Vec::new(), None);
        while let Some(chunk) = payload.next().await {
            let chunk = chunk.map_err(|e: PayloadError| AppError::Unreadable(e.to_string()))?;
            if bytes.len() + chunk.len() > limit {
                return Err(AppError::TooLarge(too_long()));
            }
            let more = room.take(chunk.len())?;
            match &mut taken {
                None => taken = Some(more),
                Some(taken) => taken.merge(more),
            }
            bytes.extend_from_slice(&chunk);
        }
        Ok(Self { bytes, _room: taken })
    }
}

/// A JSON body, of `MOST` bytes at most, whatever the settings say. Unlike the framework's own it answers
/// 415 to other content types and points at the place that does not fit.
pub struct Body<T, const MOST: usize = { usize::MAX }>(pub T);

impl<T: DeserializeOwned + 'static, const MOST: usize> FromRequest for Body<T, MOST> {
    type Error = AppError;
    type Future = LocalBoxFuture<'static, Result<Self, AppError>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let request = request.clone();
        let mut payload = payload.take();
        Box::pin(async move {
            let limit = request
                .app_data::<Data<Deps>>()
                .map_or(MOST, |deps| deps.config.http.body_limit.min(MOST));
            let stated = request.headers().get(header::CONTENT_TYPE);
            let stated = stated.and_then(|v| v.to_str().ok()).unwrap_or("missing");
            let media = stated.split(';').next().unwrap_or_default().trim().to_ascii_lowercase();
            if media != "application/json" {
                let (stated, expected) = (stated.to_owned(), "application/json");
                return Err(AppError::MediaType { stated, expected });
            }
            let too_long = || format!("a body may have {limit} bytes");
            let whole = Whole::read(&request, &mut payload, limit, too_long).await?;
            read_json(&whole.bytes).map(Body)
        })
    }
}

/// Reads JSON. Not JSON at all is 400; JSON of another shape is 422 with the place.
///
/// # Errors
/// Those two, and 422 for a text with the character U+0000, which no text keeps.
pub fn read_json<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, AppError> {
    if nul::in_json(bytes) {
        return Err(AppError::invalid("", nul::SAYS));
    }
    let mut json = serde_json::Deserializer::from_slice(bytes);
    let read = serde_path_to_error::deserialize(&mut json).map_err(|e| refused(e, ""))?;
    json.end().map_err(|e| AppError::Unreadable(format!("the body is not JSON: {e}")))?;
    Ok(read)
}

/// Reads a part of a body whose shape was not known when the whole was read; `at` is where it is.
///
/// # Errors
/// 422 with the place, when it has another shape.
pub fn read_value<T: DeserializeOwned>(value: &serde_json::Value, at: &str) -> Result<T, AppError> {
    serde_path_to_error::deserialize(value).map_err(|error| refused(error, at))
}

fn refused(error: serde_path_to_error::Error<serde_json::Error>, at: &str) -> AppError {
    let pointer = format!("{at}{}", pointer(error.path()));
    let cause = error.into_inner();
    if cause.is_data() {
        let said = cause.to_string();
        let said = said.split(" at line ").next().unwrap_or_default().to_owned();
        AppError::Invalid(vec![Fault::new(pointer, said)])
    } else {
        AppError::Unreadable(format!("the body is not JSON: {cause}"))
    }
}

fn pointer(path: &serde_path_to_error::Path) -> String {
    use serde_path_to_error::Segment;
    path.iter()
        .filter_map(|segment| match segment {
            Segment::Seq { index } => Some(format!("/{index}")),
            Segment::Map { key } => Some(format!("/{}", key.replace('~', "~0").replace('/', "~1"))),
            Segment::Enum { .. } | Segment::Unknown => None,
        })
        .collect()
}

/// A path that does not fit is an address that does not exist.
pub fn path_error(error: PathError, _: &HttpRequest) -> actix_web::Error {
    AppError::not_found(format!("such address ({})", cause(&error.to_string()))).into()
}

/// A query that does not fit.
pub fn query_error(error: QueryPayloadError, _: &HttpRequest) -> actix_web::Error {
    AppError::Unreadable(format!("the query cannot be read: {}", cause(&error.to_string()))).into()
}

/// What does not fit, without the words that the web server puts before it.
fn cause(said: &str) -> &str {
    said.split_once("deserialize error: ").map_or(said, |(_, cause)| cause)
}

#[cfg(test)]
mod tests {
    use std::pin::pin;

    use actix_web::dev::Payload;
    use actix_web::error::PayloadError;
    use actix_web::test::TestRequest;
    use actix_web::web::{Bytes, Data, Query};
    use futures::stream::{self, StreamExt};
    use futures::{FutureExt, poll};
    use serde::Deserialize;

    use super::{Room, Whole, cause};
    use crate::error::AppError;

    #[actix_web::test]
    async fn a_body_that_does_not_end_takes_room_until_it_is_given_up() {
        let request = TestRequest::default().app_data(Data::new(Room::new(10))).to_http_request();
        let first =
            |bytes: &'static [u8]| stream::iter([Ok::<_, PayloadError>(Bytes::from(bytes))]);
        let sent = |bytes| Payload::from(first(bytes).boxed_local());
        let read = async |mut payload: Payload| {
            Whole::read(&request, &mut payload, 100, String::new).await.map(|whole| whole.bytes)
        };
        let unfinished = first(b"six by").chain(stream::pending());
        {
            let mut waiting = pin!(read(Payload::from(unfinished.boxed_local())));
            assert!(poll!(&mut waiting).is_pending());
            let refused = read(sent(b"5 byt")).now_or_never();
            assert!(matches!(refused, Some(Err(AppError::Busy(_)))), "{refused:?}");
            assert_eq!(read(sent(b"four")).await.unwrap(), b"four");
        }
        for _ in 0..3 {
            assert_eq!(read(sent(b"ten bytes.")).await.unwrap(), b"ten bytes.");
        }
    }

    #[test]
    fn what_does_not_fit_is_told_without_the_words_of_the_web_server() {
        #[derive(Debug, Deserialize)]
        struct Asked {
            #[expect(dead_code, reason = "only that it is missing is looked at")]
            from: String,
        }
        let said =
            Query::<Asked>::from_query("to=2026-06-15").expect_err("no beginning").to_string();
        assert_eq!(cause(&said), "missing field `from`");
        assert_eq!(cause("too long"), "too long");
    }
}
