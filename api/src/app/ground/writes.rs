//! Writes that can be sent again: the tablet that lost the answer asks once more.
//!
//! Every write has an id made by its client. The id, the effect and the audit row commit together;
//! a resend with the same content is given the first answer, one with other content is refused.
//! The id is looked up before any precondition: a resend of a change that went through would
//! otherwise fail on the ETag that the change itself has made old.

use diesel_async::AsyncPgConnection;
use parings_core::ids::WriteId;
use serde::Serialize;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use crate::context::Ctx;
use crate::db;
use crate::db::writes::WriteRow;
use crate::error::AppError;

/// What request a write comes with, in the words of the layer that took it. Here it is kept and compared:
/// the same id with another operation is another write.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Operation(pub String);

impl Operation {
    /// A write of it, under its client's id.
    pub fn under(self, id: WriteId) -> Write {
        Write { id, operation: self }
    }
}

/// A write, as its client names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Write {
    /// The client's own id of it.
    pub id: WriteId,
    /// The request it belongs to.
    pub operation: Operation,
}

/// The answer to a write.
#[derive(Debug, Clone, PartialEq)]
pub struct Reply {
    /// The status code of HTTP.
    pub status: u16,
    /// The ETag of what the write left, with its quotation marks.
    pub etag: Option<String>,
    /// The body, which is JSON.
    pub body: String,
    /// The body to keep for a resend, where it differs: a secret is shown once and never kept.
    pub kept: Option<String>,
}

impl Reply {
    /// The answer to a write that made something: 201.
    ///
    /// # Errors
    /// When the body is not JSON.
    pub fn created(body: impl Serialize) -> Result<Self, AppError> {
        Self::with(201, body)
    }

    /// The answer to a write that changed something: 200.
    ///
    /// # Errors
    /// When the body is not JSON.
    pub fn changed(body: impl Serialize) -> Result<Self, AppError> {
        Self::with(200, body)
    }

    /// The answer to a write that is saved and waits for somebody: 202.
    ///
    /// # Errors
    /// When the body is not JSON.
    pub fn accepted(body: impl Serialize) -> Result<Self, AppError> {
        Self::with(202, body)
    }

    pub(in crate::app) fn with(status: u16, body: impl Serialize) -> Result<Self, AppError> {
        Ok(Self { status, etag: None, body: json(body)?, kept: None })
    }

    /// Adds an ETag, which has its quotation marks.
    pub fn etag(mut self, etag: impl Into<String>) -> Self {
        self.etag = Some(etag.into());
        self
    }

    /// Keeps `body` for a resend instead of the body that is sent now.
    ///
    /// # Errors
    /// When the body is not JSON.
    pub fn keeping(mut self, body: impl Serialize) -> Result<Self, AppError> {
        self.kept = Some(json(body)?);
        Ok(self)
    }
}

fn json(body: impl Serialize) -> Result<String, AppError> {
    serde_json::to_string(&body).map_err(|e| AppError::Internal(e.into()))
}

/// What a write says it expects to find (RFC 9110, section 13).
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Expected {
    /// `If-None-Match: *`: nothing yet.
    Nothing,
    /// `If-Match: *`: something, whatever its state.
    Something,
    /// `If-Match` with ETags: something in one of these states. A weak ETag is none of ours, so it
    /// never matches.
    OneOf(Vec<String>),
}

impl Expected {
    /// Compares with the ETag of what there is.
    ///
    /// # Errors
    /// [`AppError::PreconditionFailed`] when it is not as expected.
    pub fn check(&self, current: Option<&str>) -> Result<(), AppError> {
        let said = match (self, current) {
            (Self::Nothing, None) | (Self::Something, Some(_)) => return Ok(()),
            (Self::OneOf(tags), Some(current)) if tags.iter().any(|tag| tag == current) => {
                return Ok(());
            }
            (Self::Nothing, Some(current)) => format!("this is on record, with ETag {current}"),
            (_, Some(current)) => format!("this is at ETag {current} by now"),
            (_, None) => "this is not on record yet".to_owned(),
        };
        Err(AppError::PreconditionFailed(said))
    }
}

/// Answers a resend with the first answer, or runs `work` and keeps its answer. Call it first in a
/// use case's transaction, after the policy was asked and before any precondition is looked at.
///
/// `content` is what the request said beside that, without secrets: its hash is kept for ever.
///
/// # Errors
/// [`AppError::IdTaken`] when the id was used for anything else or by anybody else; whatever `work`
/// answers, and then nothing is kept.
pub async fn replay_or(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    write: &Write,
    content: &impl Serialize,
    work: impl AsyncFnOnce(&mut AsyncPgConnection) -> Result<Reply, AppError>,
) -> Result<Reply, AppError> {
    let Write { id, operation: Operation(operation) } = write;
    let id = *id;
    let content_hash = hash(operation, content)?;
    db::writes::lock(conn, id).await?;
    if let Some(first) = db::writes::find(conn, id).await? {
        if first.operation != *operation || first.content_hash != content_hash {
            return Err(AppError::IdTaken(id.to_string()));
        }
        let status = u16::try_from(first.status).map_err(|e| AppError::Internal(e.into()))?;
        return Ok(Reply { status, etag: first.etag, body: first.response, kept: None });
    }
    let reply = work(conn).await?;
    let row = WriteRow {
        operation: operation.clone(),
        content_hash,
        status: i16::try_from(reply.status).map_err(|e| AppError::Internal(e.into()))?,
        etag: reply.etag.clone(),
        response: reply.kept.clone().unwrap_or_else(|| reply.body.clone()),
    };
    db::writes::add(conn, id, ctx.actor.person, ctx.now, &row).await?;
    Ok(reply)
}

/// SHA-256 of the operation and its content as JSON with sorted members, so that neither the order
/// of members nor white space makes a resend another write.
fn hash(operation: &str, content: &impl Serialize) -> Result<Vec<u8>, AppError> {
    let content = serde_json::to_value(content).map_err(|e| AppError::Internal(e.into()))?;
    let mut text = String::new();
    write_sorted(&json!([operation, content]), &mut text);
    Ok(Sha256::digest(text.as_bytes()).to_vec())
}

fn write_sorted(value: &Value, text: &mut String) {
    let list = |text: &mut String, open: char, close: char, parts: Vec<String>| {
        text.push(open);
        text.push_str(&parts.join(","));
        text.push(close);
    };
    let sorted = |value: &Value| {
        let mut part = String::new();
        write_sorted(value, &mut part);
        part
    };
    match value {
        Value::Array(values) => list(text, '[', ']', values.iter().map(sorted).collect()),
        Value::Object(members) => {
            let mut members: Vec<_> = members.iter().collect();
            members.sort_by_key(|(name, _)| *name);
            let member = |(name, value): (&String, &Value)| {
                format!("{}:{}", Value::from(name.as_str()), sorted(value))
            };
            list(text, '{', '}', members.into_iter().map(member).collect());
        }
        plain => text.push_str(&plain.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;
    use sha2::{Digest, Sha256};

    use super::{Expected, hash};

    // RFC 9110, sections 8.8.3.2 and 13.1 (from memory): If-Match compares strongly, `*` matches
    // whatever there is, If-None-Match: * only nothing.
    #[test]
    fn preconditions_of_rfc_9110() {
        let one_of =
            |tags: &[&str]| Expected::OneOf(tags.iter().map(|t| (*t).to_owned()).collect());
        let holds = |expected: &Expected, current| expected.check(current).is_ok();
        assert!(holds(&Expected::Nothing, None) && !holds(&Expected::Nothing, Some("\"1\"")));
        assert!(holds(&Expected::Something, Some("\"1\"")) && !holds(&Expected::Something, None));
        assert!(holds(&one_of(&["\"1\""]), Some("\"1\"")));
        assert!(holds(&one_of(&["\"0\"", "\"1\""]), Some("\"1\"")));
        assert!(!holds(&one_of(&["\"2\""]), Some("\"1\"")));
        assert!(!holds(&one_of(&["W/\"1\""]), Some("\"1\"")));
        assert!(!holds(&one_of(&["\"1\""]), None));
    }

    #[test]
    fn the_order_of_members_is_no_content() {
        let one = serde_json::from_str::<serde_json::Value>(r#"{"b":[1,{"d":1,"c":2}],"a":"x"}"#);
        let other = serde_json::from_str::<serde_json::Value>(r#"{"a":"x","b":[1,{"c":2,"d":1}]}"#);
        let (one, other) = (one.unwrap(), other.unwrap());
        assert_eq!(hash("PUT /v1/a", &one).unwrap(), hash("PUT /v1/a", &other).unwrap());
        let text = br#"["PUT /v1/a",{"a":"x","b":[1,{"c":2,"d":1}]}]"#;
        assert_eq!(hash("PUT /v1/a", &one).unwrap(), Sha256::digest(text).to_vec());
    }

    #[test]
    fn another_place_another_value_or_another_order_of_a_list_is_other_content() {
        let first = hash("PUT /v1/a", &json!({ "a": [1, 2] })).unwrap();
        assert_ne!(first, hash("PUT /v1/b", &json!({ "a": [1, 2] })).unwrap());
        assert_ne!(first, hash("PUT /v1/a", &json!({ "a": [2, 1] })).unwrap());
        assert_ne!(first, hash("PUT /v1/a", &json!({ "a": [1, 2], "b": null })).unwrap());
    }
}
