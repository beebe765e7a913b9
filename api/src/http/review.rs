//! Which stores of a district to look at, and why.
#![expect(unused_qualifications, reason = "utoipa repeats the path of a query")]

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::NaiveDate;
use parings_core::calendar::BusinessDate;
use parings_core::review::{Listed, ListedMeasure, Past, Peers, Unranked};
use parings_core::rollup::Rank;
use parings_core::stats::{Interval, Robust};
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::app::Deps;
use crate::app::watch::review;
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Allowed, Found, Queried, SetUp};
use crate::http::quantity::Number;
use crate::http::rollups::{NightsBody, RankBody};

/// Up to which night.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ReviewQuery {
    /// The last business date looked at; the last that is over in every store of the district when
    /// left out.
    #[param(value_type = Option<String>, format = Date, example = "2026-06-14")]
    pub as_of: Option<BusinessDate>,
}

/// A number that is known only so well.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct EstimateBody {
    /// The number as it is estimated.
    pub value: Number,
    /// Lower end of its 95 % range.
    pub low: Number,
    /// Upper end of that range.
    pub high: Number,
}

/// Fair peers: how many, and where they lie. They are never named.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct PeersBody {
    /// How alike they are: `same_format_and_volume` (within 30 %), or widened, while those would be
    /// fewer than five, to `same_format` or to `all_stores`.
    #[schema(example = "same_format_and_volume")]
    pub basis: String,
    /// How many, the store itself left out; five at least.
    #[schema(minimum = 5)]
    pub stores: usize,
    /// The median of the peers.
    pub median: Number,
    /// Their spread: 1.4826 times the median absolute deviation.
    pub spread: Number,
    /// The store's modified z, above nothing for the worse; beyond 3.5 it lies out. Missing where
    /// most peers are the same.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub z: Option<Number>,
}

/// The store's own weeks before.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct PastBody {
    /// The last seven nights.
    pub value: Number,
    /// How many weeks before those, fifteen at most.
    pub weeks: usize,
    /// The median of those weeks.
    pub median: Number,
    /// The spread of those weeks: 1.4826 times their median absolute deviation.
    pub spread: Number,
    /// The modified z of the last seven nights, above nothing for the worse; missing where most weeks
    /// are the same.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub z: Option<Number>,
}

/// A measure of a store over the nights looked at.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LookedBody {
    /// `use`: use beyond what sales should have taken, over that; recorded waste is in it.
    /// `recorded_waste`: over what sales should have taken; it says little without `use`.
    /// `batch_yield`: what came out of batches over what should have. `lateness`: tickets later than
    /// their target over tickets.
    #[schema(example = "use")]
    pub measure: String,
    /// A ratio of sums, safety discards, short days and nights left out apart; missing while unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ratio: Option<Number>,
    /// Lower end of its 95 % range, as nights differ from each other.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub low: Option<Number>,
    /// Upper end of that range.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub high: Option<Number>,
    /// The nights it comes from.
    pub nights: u64,
    /// Whether it lies out, for the worse, against peers or against its own past. It says where to
    /// look, not what is wrong.
    pub stands_out: bool,
    /// Against fair peers over the same nights.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub peers: Option<PeersBody>,
    /// Why it is not compared with peers: `unknown`, `too_few_nights` (20 of 28; 200 tickets),
    /// `new_store` (fewer than 28 open nights) or `no_peers`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "new_store")]
    pub not_compared: Option<String>,
    /// Against its own past.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub past: Option<PastBody>,
    /// Money a week beyond what peers take; below nothing where it is less. Missing for what has no
    /// price.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub money_per_week: Option<EstimateBody>,
}

/// A store of the list.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ListedBody {
    /// The code of the store.
    #[schema(example = "ford")]
    pub store: String,
    /// Its nights, by what became of them.
    pub nights: NightsBody,
    /// Whether it is new and compared with nobody.
    pub new_store: bool,
    /// The most that one measure puts at stake a week. Use holds what is wasted and lost in batches,
    /// so measures do not add.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub money_per_week: Option<EstimateBody>,
    /// Its plausible ranks by use within the district, from 1 for the best.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rank: Option<RankBody>,
    /// Why it has no rank: as `not_compared`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "too_few_nights")]
    pub unranked: Option<String>,
    /// What was measured of the store, a measure each.
    pub measures: Vec<LookedBody>,
}

/// The stores of a district over the nights that were looked at.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ReviewBody {
    /// The code of the district.
    #[schema(example = "upper")]
    pub district: String,
    /// The first night of the ratios.
    pub from: NaiveDate,
    /// The last night looked at.
    pub as_of: NaiveDate,
    /// The currency of every amount of money, ISO 4217.
    #[schema(example = "EUR")]
    pub currency: String,
    /// The stores, most money at stake first; those of which it is not known last.
    pub stores: Vec<ListedBody>,
}

pub(super) fn number(value: f64, places: u32) -> Option<Number> {
    Some(Number(Decimal::from_f64(value)?.round_dp(places)))
}

/// Ratios are shown in hundredths of a per cent.
pub(super) fn ratio(value: f64) -> Number {
    number(value, 4).unwrap_or(Number(Decimal::ZERO))
}

fn z(z: Option<f64>) -> Option<Number> {
    number(z?, 2)
}

fn money((value, range): (f64, Interval), places: u32) -> Option<EstimateBody> {
    Some(EstimateBody {
        value: number(value, places)?,
        low: number(range.low, places)?,
        high: number(range.high, places)?,
    })
}

fn spread(values: Robust) -> (Number, Number) {
    (ratio(values.centre()), ratio(values.spread().value()))
}

fn word(why: Unranked) -> String {
    let word = match why {
        Unranked::Unknown => "unknown",
        Unranked::TooFewNights => "too_few_nights",
        Unranked::NewStore => "new_store",
        Unranked::NoPeers => "no_peers",
    };
    word.to_owned()
}

impl From<Peers> for PeersBody {
    fn from(peers: Peers) -> Self {
        let (median, spread) = spread(peers.values);
        let basis = peers.basis.word().to_owned();
        Self { basis, stores: peers.stores, median, spread, z: z(peers.z) }
    }
}

impl From<Past> for PastBody {
    fn from(past: Past) -> Self {
        let (median, spread) = spread(past.values);
        Self { value: ratio(past.value), weeks: past.weeks, median, spread, z: z(past.z) }
    }
}

fn looked(looked: &ListedMeasure, places: u32) -> LookedBody {
    LookedBody {
        measure: looked.measure.word().to_owned(),
        ratio: looked.value.map(ratio),
        low: looked.range.map(|range| ratio(range.low)),
        high: looked.range.map(|range| ratio(range.high)),
        nights: looked.nights,
        stands_out: looked.stands_out(),
        peers: looked.peers.ok().map(PeersBody::from),
        not_compared: looked.peers.err().map(word),
        past: looked.past.map(PastBody::from),
        money_per_week: looked.money_per_week.and_then(|of| money(of, places)),
    }
}

fn listed(store: &str, listed: &Listed, places: u32) -> ListedBody {
    ListedBody {
        store: store.to_owned(),
        nights: listed.nights.into(),
        new_store: listed.is_new,
        money_per_week: listed.money_per_week.and_then(|of| money(of, places)),
        rank: listed.rank.ok().map(|Rank { low, high, of }| RankBody { low, high, of }),
        unranked: listed.rank.err().map(word),
        measures: listed.measures.iter().map(|one| looked(one, places)).collect(),
    }
}

impl From<&review::Review> for ReviewBody {
    fn from(found: &review::Review) -> Self {
        let places = found.settings.currency.exponent();
        let stores = found.reviewed.stores.iter();
        Self {
            district: found.district.to_string(),
            from: found.reviewed.window.from().into(),
            as_of: found.as_of.into(),
            currency: found.settings.currency.to_string(),
            stores: stores.map(|one| listed(found.labels.word(one.store), one, places)).collect(),
        }
    }
}

/// Which stores of a district to look at, most money at stake first.
///
/// Each measure of the last 28 nights is compared with fair peers anywhere in the network and, week
/// by week, with the store's own past, by a modified z on medians. It is a place to start looking, and
/// says nothing of why: no store is judged by one night, a new one by none. What was thrown away for
/// safety is in no figure.
#[utoipa::path(get, path = "/v1/districts/{district}/review", operation_id = "read_review", tag = "review",
    params(("district" = String, Path, description = "The district's code", example = "upper"), ReviewQuery),
    responses(
        (status = 200, description = "The stores of the district", body = ReviewBody),
        Allowed, Found, Queried, SetUp,
        (status = 422, description = "The night is still to come", body = Problem, content_type = "application/problem+json")))]
pub async fn read(
    deps: Data<Deps>,
    caller: Caller,
    district: Path<String>,
    query: Query<ReviewQuery>,
) -> Result<HttpResponse, AppError> {
    let district = district.parse().map_err(|_| AppError::not_found("district of this name"))?;
    let found = review::of_district(&deps, &caller, district, query.as_of).await?;
    Ok(HttpResponse::Ok().json(ReviewBody::from(&found)))
}
