//! The sheet a store counts by.

use actix_web::HttpResponse;
use actix_web::web::{Data, Path};
use chrono::NaiveDate;
use parings_core::calendar::BusinessDate;
use parings_core::night::{CountSheet, SheetLine};
use serde::Serialize;
use utoipa::ToSchema;

use crate::app::Deps;
use crate::app::night::sheet;
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Allowed, Found};
use crate::http::quantity::QuantityBody;
use crate::http::stores::store_of;

/// What a store counts on a date, in the order in which it is walked. It never says what a count
/// should come to.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SheetBody {
    /// The code of the store.
    #[schema(example = "ford")]
    pub store: String,
    /// What people call it.
    pub title: String,
    /// The business date that is counted for.
    pub business_date: NaiveDate,
    /// Whether the store stays closed on that date; then nothing is due.
    pub closed: bool,
    /// What is to be counted, in the order of the walk.
    pub lines: Vec<SheetLineBody>,
}

/// A line of the sheet: an item at one stage in one place.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SheetLineBody {
    /// The code of the storage place to look in.
    #[schema(example = "cold-room")]
    pub place: String,
    /// What people call the place.
    #[schema(example = "Cold room")]
    pub place_title: String,
    /// The code of the item to count.
    #[schema(example = "potato")]
    pub item: String,
    /// What people call the item.
    #[schema(example = "Potatoes")]
    pub title: String,
    /// The stage the item is in; missing for as purchased.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stage: Option<NamedBody>,
    /// The unit to count in: a unit's symbol or a pack's code. Any other of the item may be typed.
    #[schema(example = "bag")]
    pub unit: String,
    /// Every pack the item comes in.
    pub packs: Vec<SheetPackBody>,
    /// The pans it may be weighed in.
    pub pans: Vec<SheetPanBody>,
}

/// A code and what people call it.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct NamedBody {
    /// The code that facts name it by.
    #[schema(example = "chill")]
    pub code: String,
    /// What people call it.
    #[schema(example = "Chilled")]
    pub title: String,
}

/// A pack in words.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SheetPackBody {
    /// The code that a typed amount names the pack by.
    #[schema(example = "bag")]
    pub code: String,
    /// What the pack is, in words.
    #[schema(example = "Bag of 22.68 kg")]
    pub says: String,
}

/// A pan with what it weighs empty.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SheetPanBody {
    /// The code that a line of the count names the pan by.
    #[schema(example = "deep")]
    pub code: String,
    /// What people call it.
    #[schema(example = "Deep pan")]
    pub title: String,
    /// What it weighs empty.
    pub tare: QuantityBody,
}

impl From<SheetLine> for SheetLineBody {
    fn from(line: SheetLine) -> Self {
        let pack = |pack: &parings_core::night::SheetPack| SheetPackBody {
            code: pack.code.to_string(),
            says: pack.says.clone(),
        };
        let pan = |pan: &parings_core::night::SheetPan| SheetPanBody {
            code: pan.code.to_string(),
            title: pan.title.clone(),
            tare: pan.tare.into(),
        };
        Self {
            place: line.place.to_string(),
            place_title: line.place_title,
            item: line.item.to_string(),
            title: line.title,
            stage: line
                .stage
                .map(|stage| NamedBody { code: stage.code.to_string(), title: stage.title }),
            unit: line.unit.to_string(),
            packs: line.packs.iter().map(pack).collect(),
            pans: line.pans.iter().map(pan).collect(),
        }
    }
}

impl From<CountSheet> for SheetBody {
    fn from(sheet: CountSheet) -> Self {
        Self {
            store: sheet.store.to_string(),
            title: sheet.title,
            business_date: sheet.date.into(),
            closed: sheet.closed,
            lines: sheet.lines.into_iter().map(Into::into).collect(),
        }
    }
}

/// The sheet to count a night by.
#[utoipa::path(get, path = "/v1/stores/{store}/nights/{business_date}/sheet", operation_id = "read_sheet", tag = "stores",
    params(("store" = String, Path, description = "The store's code", example = "ford"),
        ("business_date" = NaiveDate, Path, description = "The business date")), responses(
        (status = 200, description = "The sheet; of a closed day it has no lines", body = SheetBody),
        Allowed, Found,
        (status = 403, description = "Not for tills", body = Problem, content_type = "application/problem+json")))]
pub async fn find(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, BusinessDate)>,
) -> Result<HttpResponse, AppError> {
    let (store, date) = path.into_inner();
    let found = sheet::find(&deps, &caller, &store_of(&store)?, date).await?;
    Ok(HttpResponse::Ok().json(SheetBody::from(found)))
}
