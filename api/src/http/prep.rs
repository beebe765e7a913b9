//! What a store is to prepare for a daypart.

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::{DateTime, NaiveDate, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::prep::{Need, Offer, OnHand, Unknown, Usable};
use parings_core::quantity::{Amount, Base, Dimension};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::app::Deps;
use crate::app::demand::prep::{self, Prep, PrepItem};
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::amount::AmountBody;
use crate::http::answers::{Allowed, Found, Queried};
use crate::http::pars::{AppliedBody, InForceBody};
use crate::http::quantity::Number;
use crate::http::stores::store_of;

/// The daypart that is prepared for.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct PrepQuery {
    /// The business date.
    #[param(value_type = String, format = Date)]
    pub date: BusinessDate,
    /// The daypart's code.
    #[param(example = "dinner")]
    pub daypart: String,
}

/// So many batches, and where they land.
#[derive(Debug, Serialize, ToSchema)]
pub struct OfferBody {
    /// How many batches; half a batch is 0.5.
    #[schema(example = "4")]
    pub batches: Number,
    /// What they come to.
    pub makes: AmountBody,
    /// What is usable then.
    pub lands_at: AmountBody,
    /// How far that is over the par.
    pub overshoot: AmountBody,
    /// How far it is short of the par.
    pub shortfall: AmountBody,
}

/// What is to be made.
#[derive(Debug, Serialize, ToSchema)]
pub struct NeedBody {
    /// What is missing to the par.
    pub missing: AmountBody,
    /// The fewest whole batches that reach the par; missing where nobody said what a batch is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub make: Option<OfferBody>,
    /// One batch fewer, which is short of the par: for what cannot sell inside its life.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub one_batch_fewer: Option<OfferBody>,
    /// Half a batch fewer, where halves may be made and it reaches the par too.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub half_a_batch_fewer: Option<OfferBody>,
}

/// Some stock that must be thrown away at one time.
#[derive(Debug, Serialize, ToSchema)]
pub struct LotBody {
    /// How much stands there.
    pub amount: AmountBody,
    /// When it must be thrown away; missing where nobody wrote it down.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub discard_at: Option<DateTime<Utc>>,
}

/// Why something is unknown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum UnknownBody {
    /// The item was never counted at this stage.
    NotCounted,
    /// More was taken since the count than was there: something is missing on record.
    MoreTakenThanThere,
    /// An amount on record does not fit the item as it is now.
    DoesNotFit,
    /// Some stock has no discard time.
    NoDiscardTime,
}

/// What is on hand at the par's stage.
#[derive(Debug, Serialize, ToSchema)]
pub struct OnHandBody {
    /// The date of the last accepted count of it; missing where there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub counted_on: Option<NaiveDate>,
    /// How much: what was counted, and what entries since brought and took. What was sold or finished
    /// since is on no entry, so it is still in here. Missing when it is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub amount: Option<AmountBody>,
    /// By discard time, the first to go first.
    pub lots: Vec<LotBody>,
    /// Why it is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unknown: Option<UnknownBody>,
}

/// What of it will be usable when the daypart begins.
#[derive(Debug, Serialize, ToSchema)]
pub struct UsableBody {
    /// How much; missing when it is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub amount: Option<AmountBody>,
    /// Why it is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unknown: Option<UnknownBody>,
    /// When it is unknown: what has a discard time and will be usable.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub certain: Option<AmountBody>,
    /// When it is unknown: what has no discard time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub without_discard_time: Option<AmountBody>,
}

/// An item that is to be ready when the daypart begins.
#[derive(Debug, Serialize, ToSchema)]
pub struct PrepItemBody {
    /// The code of the item.
    pub item: String,
    /// What people call it.
    pub title: String,
    /// The par as head office typed it, and by which rule it applies.
    pub par: AppliedBody,
    /// How much that is.
    pub amount: AmountBody,
    /// What one batch comes to at that stage; missing where nobody said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub batch: Option<AmountBody>,
    /// What is on hand.
    pub on_hand: OnHandBody,
    /// What of it will be usable.
    pub usable: UsableBody,
    /// What is to be made; missing while it is unknown what is usable.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub need: Option<NeedBody>,
    /// While that is unknown: what is to be made if all that is on hand is usable. The labels decide.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub need_if_all_is_usable: Option<NeedBody>,
    /// While that is unknown: what is to be made if only what is certain is usable.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub need_if_none_of_it_is_usable: Option<NeedBody>,
}

/// An item that cannot be worked out.
#[derive(Debug, Serialize, ToSchema)]
pub struct PrepLeftOutBody {
    /// The code of the item.
    pub item: String,
    /// Why it cannot be worked out.
    pub says: String,
}

/// What a store is to prepare for a daypart.
#[derive(Debug, Serialize, ToSchema)]
pub struct PrepBody {
    /// The code of the store.
    pub store: String,
    /// The business date that is prepared for.
    pub business_date: NaiveDate,
    /// The code of the daypart that is prepared for.
    pub daypart: String,
    /// When it begins. What must be thrown away by then is not usable.
    pub needed_at: DateTime<Utc>,
    /// Whether the store stays closed on the date; then nothing is to be ready.
    pub closed: bool,
    /// The set of pars in force; missing where nothing was published.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub in_force: Option<InForceBody>,
    /// What is to be ready.
    pub items: Vec<PrepItemBody>,
    /// Items that cannot be worked out.
    pub left_out: Vec<PrepLeftOutBody>,
}

fn amount(base: Base, dimension: Dimension) -> AmountBody {
    Amount::new(dimension, base.value()).into()
}

impl OfferBody {
    fn new(offer: Offer, dimension: Dimension) -> Self {
        Self {
            batches: Number(offer.batches.decimal()),
            makes: amount(offer.makes, dimension),
            lands_at: amount(offer.lands_at, dimension),
            overshoot: amount(offer.overshoot, dimension),
            shortfall: amount(offer.shortfall, dimension),
        }
    }
}

impl NeedBody {
    fn new(need: Need, dimension: Dimension) -> Self {
        let offer = |offer: Option<Offer>| offer.map(|offer| OfferBody::new(offer, dimension));
        Self {
            missing: amount(need.missing, dimension),
            make: offer(need.whole),
            one_batch_fewer: offer(need.one_fewer),
            half_a_batch_fewer: offer(need.half_fewer),
        }
    }
}

impl From<Unknown> for UnknownBody {
    fn from(why: Unknown) -> Self {
        match why {
            Unknown::NotCounted => Self::NotCounted,
            Unknown::MoreTakenThanThere => Self::MoreTakenThanThere,
            Unknown::DoesNotFit => Self::DoesNotFit,
        }
    }
}

impl OnHandBody {
    fn new(item: &PrepItem) -> Self {
        let shown = |base| amount(base, item.dimension);
        let counted_on = item.counted_on.map(Into::into);
        match &item.on_hand {
            OnHand::Known(stock) => {
                let lots = stock.lots().iter();
                let lot = |lot: &parings_core::prep::Lot| LotBody {
                    amount: shown(lot.amount),
                    discard_at: lot.discard_at,
                };
                let total = Some(shown(stock.total()));
                Self { counted_on, amount: total, lots: lots.map(lot).collect(), unknown: None }
            }
            OnHand::Unknown(why) => {
                let unknown = Some((*why).into());
                Self { counted_on, amount: None, lots: Vec::new(), unknown }
            }
        }
    }
}

impl UsableBody {
    fn new(item: &PrepItem) -> Self {
        let shown = |base| Some(amount(base, item.dimension));
        let none = Self { amount: None, unknown: None, certain: None, without_discard_time: None };
        match (item.usable, &item.on_hand) {
            (Some(Usable::Known(usable)), _) => Self { amount: shown(usable), ..none },
            (Some(Usable::Unknown { certain, untimed }), _) => Self {
                unknown: Some(UnknownBody::NoDiscardTime),
                certain: shown(certain),
                without_discard_time: shown(untimed),
                ..none
            },
            (None, OnHand::Unknown(why)) => Self { unknown: Some((*why).into()), ..none },
            (None, OnHand::Known(_)) => none,
        }
    }
}

impl From<PrepItem> for PrepItemBody {
    fn from(item: PrepItem) -> Self {
        let need = |need: Option<Need>| need.map(|need| NeedBody::new(need, item.dimension));
        Self {
            par: (&item.applied).into(),
            amount: amount(item.par, item.dimension),
            batch: item.batch.map(|batch| amount(batch.size, item.dimension)),
            on_hand: OnHandBody::new(&item),
            usable: UsableBody::new(&item),
            need: need(item.need),
            need_if_all_is_usable: need(item.if_all),
            need_if_none_of_it_is_usable: need(item.if_none),
            item: item.item.to_string(),
            title: item.title,
        }
    }
}

impl From<Prep> for PrepBody {
    fn from(found: Prep) -> Self {
        let left_out = found.left_out.into_iter();
        Self {
            store: found.store.to_string(),
            business_date: found.date.into(),
            daypart: found.daypart.to_string(),
            needed_at: found.needed_at,
            closed: found.closed,
            in_force: found.in_force.as_ref().map(Into::into),
            items: found.items.into_iter().map(Into::into).collect(),
            left_out: left_out
                .map(|(item, says)| PrepLeftOutBody { item: item.to_string(), says })
                .collect(),
        }
    }
}

/// What is to be prepared for a daypart, to reach the pars in force.
///
/// On hand is what was counted last at the par's stage, with what entries brought and took since;
/// usable is what need not be thrown away by the time the daypart begins. Where some stock has no
/// discard time, what is usable is unknown, and both ends are told.
///
/// A discard time is taken as it was written down and never extended here. Local limits and the plans
/// approved for a kitchen decide what may be kept and served; they may be stricter.
#[utoipa::path(get, path = "/v1/stores/{store}/prep", operation_id = "read_prep", tag = "pars",
    params(("store" = String, Path, description = "The store's code", example = "ford"), PrepQuery),
    responses(
        (status = 200, description = "What is to be made; of a closed day nothing", body = PrepBody),
        Allowed, Found, Queried,
        (status = 403, description = "Not for tills", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "The store has no such daypart", body = Problem, content_type = "application/problem+json")))]
pub async fn find(
    deps: Data<Deps>,
    caller: Caller,
    store: Path<String>,
    query: Query<PrepQuery>,
) -> Result<HttpResponse, AppError> {
    let store = store_of(&store)?;
    let daypart = query.daypart.parse();
    let daypart = daypart
        .map_err(|e: parings_core::ids::CodeError| AppError::invalid("/daypart", e.to_string()))?;
    let found = prep::find(&deps, &caller, &store, query.date, &daypart).await?;
    Ok(HttpResponse::Ok().json(PrepBody::from(found)))
}
