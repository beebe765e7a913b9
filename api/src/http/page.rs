//! Lists in pages: an opaque cursor that says where the next page begins.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use parings_core::calendar::BusinessDate;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::error::AppError;
use crate::http::body::read_json;

/// The most rows of a page.
pub const LONGEST: usize = 200;
/// A page when nothing is said.
const USUAL: usize = 50;

/// Which page of a list.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct PageQuery {
    /// `next` of the page before; leave it out for the first page.
    pub after: Option<String>,
    /// How many at most: 1 to 200, 50 when left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<usize>,
}

/// Which page of a list that a night has.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct NightQuery {
    /// The business date of the night.
    #[param(value_type = String, format = Date)]
    pub business_date: BusinessDate,
    /// `next` of the page before; leave it out for the first page.
    pub after: Option<String>,
    /// How many at most: 1 to 200, 50 when left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<usize>,
}

impl NightQuery {
    /// The page that is asked for.
    pub fn page(&self) -> PageQuery {
        PageQuery { after: self.after.clone(), limit: self.limit }
    }
}

/// From which date to which, both inside.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct SpanQuery {
    /// The first date.
    #[param(value_type = String, format = Date)]
    pub from: BusinessDate,
    /// The last date.
    #[param(value_type = String, format = Date)]
    pub to: BusinessDate,
}

/// A page of a list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Page<T> {
    /// What is on it.
    pub items: Vec<T>,
    /// Send it as `after` for the next page; missing on the last.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next: Option<String>,
}

impl PageQuery {
    /// How many rows the page has at most. Ask the records for one more, which tells
    /// [`Page::cut`] whether another page follows.
    ///
    /// # Errors
    /// 422 when it is not 1 to [`LONGEST`].
    pub fn limit(&self) -> Result<usize, AppError> {
        match self.limit.unwrap_or(USUAL) {
            limit @ 1..=LONGEST => Ok(limit),
            other => Err(AppError::invalid("/limit", format!("1 to {LONGEST}, not {other}"))),
        }
    }

    /// The key of the last row of the page before.
    ///
    /// # Errors
    /// 422 when the cursor is not one of this list's.
    pub fn after<K: DeserializeOwned>(&self) -> Result<Option<K>, AppError> {
        let Some(cursor) = &self.after else { return Ok(None) };
        let key = URL_SAFE_NO_PAD.decode(cursor).ok();
        let key = key.and_then(|json| read_json(&json).ok());
        key.map(Some).ok_or_else(|| {
            AppError::invalid("/after", "this is not the next of an earlier page of this list")
        })
    }
}

impl<T> Page<T> {
    /// Makes a page of the rows that were found, one more of which than `limit` says that another
    /// page follows. `key` is what the list is ordered by.
    ///
    /// # Errors
    /// When the key is not JSON.
    pub fn cut<R: Into<T>, K: Serialize>(
        mut rows: Vec<R>,
        limit: usize,
        key: impl Fn(&R) -> K,
    ) -> Result<Self, AppError> {
        let more = rows.len() > limit;
        rows.truncate(limit);
        let last = rows.last().filter(|_| more).map(|row| serde_json::to_vec(&key(row)));
        let last = last.transpose().map_err(|e| AppError::Internal(e.into()))?;
        Ok(Self {
            next: last.map(|json| URL_SAFE_NO_PAD.encode(json)),
            items: rows.into_iter().map(Into::into).collect(),
        })
    }
}

#[cfg(test)]
mod tests {
    use base64::Engine;
    use base64::engine::general_purpose::URL_SAFE_NO_PAD;

    use super::{Page, PageQuery};

    fn page(after: Option<String>) -> Page<u8> {
        let query = PageQuery { after, limit: Some(2) };
        let limit = query.limit().unwrap();
        let after: Option<u8> = query.after().unwrap();
        let rows = (1..=5).filter(|n| after.is_none_or(|after| *n > after)).take(limit + 1);
        Page::cut(rows.collect::<Vec<u8>>(), limit, |n| *n).unwrap()
    }

    #[test]
    fn pages_follow_one_another_without_gap_or_overlap() {
        let first = page(None);
        let second = page(first.next.clone());
        let third = page(second.next.clone());
        assert_eq!([first.items, second.items, third.items].concat(), [1, 2, 3, 4, 5]);
        assert_eq!(third.next, None);
    }

    #[test]
    fn what_is_no_cursor_or_limit_is_refused() {
        let query = |after: &str, limit| PageQuery { after: Some(after.to_owned()), limit };
        assert!(query("???", None).after::<u8>().is_err());
        assert!(query("IngiCg", None).after::<u8>().is_err());
        let nul = URL_SAFE_NO_PAD.encode(r#""a\u0000b""#);
        assert!(query(&nul, None).after::<String>().is_err(), "what no text keeps");
        assert!(query("", Some(0)).limit().is_err());
        assert!(query("", Some(201)).limit().is_err());
        assert_eq!(query("", Some(200)).limit().unwrap(), 200);
        assert_eq!(query("", None).limit().unwrap(), 50);
    }
}
