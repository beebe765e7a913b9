//! Files of facts that head office sends.

use actix_web::http::header;
use actix_web::web::{Data, Payload, Query};
use actix_web::{HttpRequest, HttpResponse};
use anyhow::Context;
use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::app::Deps;
use crate::app::night::loading::Loaded;
use crate::app::office::imports::{self, FileId, Import, Imported, Manner, Outcome};
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::files::gather::Recorded;
use crate::files::read::Declared;
use crate::files::{Dialect, Format, gather};
use crate::http::answers::{OfficeOnly, Sent};
use crate::http::body::Whole;
use crate::http::entries::text;
use crate::http::faults::Faults;
use crate::http::reply::{self, IdempotencyKey};

/// Longest name of a file.
const NAME_MAX: usize = 200;
/// The most characters of a reason.
const REASON_MAX: usize = 500;

/// How a file is to be taken.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ImportQuery {
    /// What the file is called, for people.
    #[param(max_length = 200, example = "nights-2026-06.csv")]
    pub name: Option<String>,
    /// nights, entries, sales or tickets; told by the header or the members when left out.
    #[param(example = "tickets")]
    pub kind: Option<String>,
    /// Of CSV: comma (and decimals with a point) or semicolon (and decimals with a comma); comma when
    /// left out.
    #[param(example = "comma")]
    pub dialect: Option<String>,
    /// Whether everything is only looked at, and nothing written.
    #[serde(default)]
    pub dry_run: bool,
    /// Why nights that are on record are changed; without a reason they are refused.
    #[param(max_length = 500)]
    pub amend: Option<String>,
}

/// A file as it came.
struct Upload {
    format: Format,
    whole: Whole,
}

impl Upload {
    /// Reads a file of so many bytes at most.
    async fn read(request: &HttpRequest, payload: Payload, limit: usize) -> Result<Self, AppError> {
        let stated = request.headers().get(header::CONTENT_TYPE);
        let stated = stated.and_then(|v| v.to_str().ok()).unwrap_or("missing").to_owned();
        let media = stated.split(';').next().unwrap_or_default().trim().to_ascii_lowercase();
        let format = match media.as_str() {
            "text/csv" => Format::Csv,
            "application/x-ndjson" => Format::Ndjson,
            _ => {
                let expected = "text/csv or application/x-ndjson";
                return Err(AppError::MediaType { stated, expected });
            }
        };
        let too_long = || {
            format!(
                "a file may have {limit} bytes here; longer ones go in by the command \
                 `parings import` on the server's machine"
            )
        };
        let whole = Whole::read(request, &mut payload.into_inner(), limit, too_long).await?;
        Ok(Self { format, whole })
    }
}

/// A file on record.
#[derive(Debug, Serialize, ToSchema)]
pub struct ImportedBody {
    /// Its id, which follows from its content.
    pub id: Uuid,
    /// What it was called.
    pub name: String,
    /// The kind of facts that it holds.
    #[schema(example = "nights")]
    pub kind: String,
    /// Its rows: records of CSV, lines of NDJSON.
    pub rows: i64,
    /// Stores it is about.
    pub stores: i64,
    /// Nights it is about.
    pub nights: i64,
    /// Its first business date.
    #[schema(value_type = String, format = Date)]
    pub first_date: BusinessDate,
    /// Its last business date.
    #[schema(value_type = String, format = Date)]
    pub last_date: BusinessDate,
    /// By whom it was brought in.
    pub imported_by: Uuid,
    /// When it was brought in.
    pub imported_at: DateTime<Utc>,
}

impl From<&Imported> for ImportedBody {
    fn from(imported: &Imported) -> Self {
        Self {
            id: imported.id,
            name: imported.name.clone(),
            kind: imported.kind.clone(),
            rows: imported.rows,
            stores: imported.stores,
            nights: imported.nights,
            first_date: imported.first,
            last_date: imported.last,
            imported_by: imported.by.0,
            imported_at: imported.at,
        }
    }
}

/// What was loaded of a file, or would be.
#[derive(Debug, Serialize, ToSchema)]
pub struct LoadedBody {
    /// Nights that something is recorded of.
    pub nights: usize,
    /// Counts that are recorded.
    pub counts: usize,
    /// Counts of items that look wrong: kept, and left out of all figures.
    pub left_out: usize,
    /// Entries that are recorded.
    pub entries: usize,
    /// Batches of sales and tickets, one a night.
    pub batches: usize,
}

impl From<&Loaded> for LoadedBody {
    fn from(loaded: &Loaded) -> Self {
        Self {
            nights: loaded.nights,
            counts: loaded.counts,
            left_out: loaded.left_out,
            entries: loaded.entries,
            batches: loaded.batches,
        }
    }
}

/// What came of a file.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum OutcomeWord {
    /// The file is recorded.
    Imported,
    /// The same file went in before; nothing was done.
    AlreadyImported,
    /// It was looked at and could go in; nothing was written.
    LookedAt,
}

/// What came of a file.
#[derive(Debug, Serialize, ToSchema)]
pub struct ImportBody {
    /// Whether it was recorded, now or before.
    pub outcome: OutcomeWord,
    /// The file on record; missing when it was only looked at.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<ImportedBody>,
    /// What was loaded, or would be; missing when it went in before.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loaded: Option<LoadedBody>,
}

impl From<&Outcome> for ImportBody {
    fn from(outcome: &Outcome) -> Self {
        let (outcome, file, loaded) = match outcome {
            Outcome::Done(file, loaded) => (OutcomeWord::Imported, Some(file), Some(loaded)),
            Outcome::Before(file) => (OutcomeWord::AlreadyImported, Some(file), None),
            Outcome::Looked(loaded) => (OutcomeWord::LookedAt, None, Some(loaded)),
        };
        Self { outcome, file: file.map(Into::into), loaded: loaded.map(Into::into) }
    }
}

/// Bring a file of facts in: nights, entries, sales or tickets.
///
/// The file goes in as a whole or not at all, and the same file goes in once. Its columns, and the
/// members of NDJSON, are those that `parings import --columns` prints: NDJSON has the shapes of this
/// API with `store` and `business_date` beside them. What can only be wrong refuses the file; counts
/// that would be asked about are kept and left out of all figures; nothing is held, and neither age nor
/// lock matters. Facts are recorded in the sender's name, at the moment of the import.
#[utoipa::path(post, path = "/v1/imports", operation_id = "import_file", tag = "files",
    request_body(content((String = "text/csv"), (String = "application/x-ndjson")),
        description = "The file, 8 MiB at most; longer ones go in by the command `parings import`"),
    params(ImportQuery,
        IdempotencyKey),
    responses(
        (status = 200, description = "Looked at, or in before", body = ImportBody),
        (status = 201, description = "In, all of it", body = ImportBody),
        OfficeOnly, Sent,
        (status = 409, description = "The database has no place for months of the file, or the network is not set up", body = Problem, content_type = "application/problem+json"),
        (status = 413, description = "The file is too large", body = Problem, content_type = "application/problem+json"),
        (status = 415, description = "Neither text/csv nor application/x-ndjson", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "Rows that cannot be taken, each under `rows` with its line and column; something in the query cannot be taken; or the key belongs to another write", body = Problem, content_type = "application/problem+json")))]
pub async fn add(
    deps: Data<Deps>,
    caller: Caller,
    key: IdempotencyKey,
    query: Query<ImportQuery>,
    request: HttpRequest,
    payload: Payload,
) -> Result<HttpResponse, AppError> {
    // Megabytes are read and looked through for nobody who may not send them.
    imports::allow(&deps, &caller).await?;
    let query = query.into_inner();
    let mut faults = Faults::default();
    let name = query.name.unwrap_or_else(|| "a file".to_owned());
    let name = text(&mut faults, "name", &name, NAME_MAX);
    let kind = faults.maybe(query.kind, |f, kind| f.parse("kind", &kind));
    let dialect: Option<Option<Dialect>> =
        faults.maybe(query.dialect, |f, dialect| f.parse("dialect", &dialect));
    let amend = faults.maybe(query.amend, |f, why| text(f, "amend", &why, REASON_MAX));
    let asked = name.zip(kind).zip(dialect).zip(amend);
    let (((name, kind), dialect), amend) = faults.finish(asked)?;

    let upload = Upload::read(&request, payload, deps.config.http.import_limit).await?;
    let read = actix_web::web::block(move || {
        let file = FileId::of(&upload.whole.bytes);
        let known = Declared { file: file.id, kind, format: Some(upload.format), dialect };
        (file, gather::file(&upload.whole.bytes, known))
    });
    let (file, read) = read.await.context("read a file")?;
    let read = match read {
        Ok(read) => read,
        Err(broken) => {
            return Err(broken.whole(&deps, &caller, file, amend.as_deref()).await?.into());
        }
    };
    let manner = Manner { dry_run: query.dry_run, amend: amend.as_deref() };
    let recorded = Recorded { by: caller.person, at: deps.clock.now(), amend: manner.amend };
    let (kind, rows, stores) = (read.kind, read.rows, read.facts(file.id, recorded));
    let import = Import { file, name, kind, rows, stores };
    let tell = |refused: &[_]| read.refused(refused).into();
    let show = |outcome: &Outcome| ImportBody::from(outcome);
    reply::send(imports::send(&deps, &caller, key.0, import, manner, tell, show).await?)
}
