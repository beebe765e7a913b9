use std::collections::BTreeMap;

use chrono::NaiveDate;
use parings_core::rollup::Headline;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::NightsBody;
use crate::http::quantity::Number;

/// A measure that children and spans are compared by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum HeadlineBody {
    /// Recorded waste per 1,000 of sales, safety discards and short nights apart. Lower is better.
    WasteOfSales,
    /// Cost of the variance over sales, per cent. Nearer to zero is better.
    VarianceOfSales,
    /// Cost of use over sales, per cent. Lower is better.
    FoodCost,
    /// Timed tickets within their target, per cent. Higher is better.
    WithinTarget,
}

impl From<HeadlineBody> for Headline {
    fn from(body: HeadlineBody) -> Self {
        match body {
            HeadlineBody::WasteOfSales => Self::WasteOfSales,
            HeadlineBody::VarianceOfSales => Self::VarianceOfSales,
            HeadlineBody::FoodCost => Self::FoodCost,
            HeadlineBody::WithinTarget => Self::WithinTarget,
        }
    }
}

impl From<Headline> for HeadlineBody {
    fn from(headline: Headline) -> Self {
        match headline {
            Headline::WasteOfSales => Self::WasteOfSales,
            Headline::VarianceOfSales => Self::VarianceOfSales,
            Headline::FoodCost => Self::FoodCost,
            Headline::WithinTarget => Self::WithinTarget,
        }
    }
}

/// What a span is compared with.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum AgainstBody {
    /// As many nights just before; of whole periods or months, as many periods before.
    Before,
    /// The same a year ago: 52 weeks, which fall on the same days of the week; of whole periods or
    /// months, those of the same numbers.
    YearAgo,
}

/// A row against the same of another span.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ComparedSpanBody {
    /// What the other span is.
    pub against: AgainstBody,
    /// Its first business date.
    pub from: NaiveDate,
    /// The last business date of that span.
    pub to: NaiveDate,
    /// Nights of that span, by what became of them.
    pub nights: NightsBody,
    /// By measure; missing where either span has too few nights, or one does not know it.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub measures: BTreeMap<HeadlineBody, MeasureChangeBody>,
    /// Why there is nothing to compare: `too_few_nights`, when in either span fewer than ten of
    /// fourteen expected nights were counted (common practice, no source).
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "too_few_nights")]
    pub why: Option<String>,
}

/// How much a measure rose.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct MeasureChangeBody {
    /// What the numbers are for: 100 for per cent, 1000 for waste of sales.
    pub per: u32,
    /// The value of the other span.
    pub then: Number,
    /// The nights it comes from.
    pub then_nights: u64,
    /// The value of this span less that.
    pub change: Number,
    /// Lower end of the 95 % range of the change; missing where nobody can tell.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub low: Option<Number>,
    /// Upper end of its 95 % range.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub high: Option<Number>,
}

/// The children by a measure.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RankingBody {
    /// The measure that children are ranked by.
    pub by: HeadlineBody,
    /// What the numbers are for: 100 for per cent, 1000 for waste of sales.
    pub per: u32,
    /// Fewest nights for a rank (common practice, no source).
    pub least_nights: u64,
    /// Worst first; those without a value last.
    pub children: Vec<RankedBody>,
}

/// A child in a ranking. No mark is to be given by rank alone: the ranks are those that are
/// plausible.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RankedBody {
    /// The code of the child.
    #[schema(example = "ford")]
    pub child: String,
    /// Its value; missing while unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<Number>,
    /// Lower end of the 95 % range of the value; missing where nobody can tell.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub low: Option<Number>,
    /// Upper end of its 95 % range.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub high: Option<Number>,
    /// The nights it comes from.
    pub nights: u64,
    /// Its plausible ranks, from 1 for the best; missing for one that is not ranked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rank: Option<RankBody>,
    /// Why it is not ranked: `unknown`, `no_range`, `too_few_nights`, `new_store`, `other_items` (than
    /// those of most children were counted there) or `doubtful_tickets`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "new_store")]
    pub unranked: Option<String>,
}

/// Plausible ranks: from which to which, of how many.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RankBody {
    /// The best that is plausible.
    pub low: u32,
    /// The worst rank that is plausible.
    pub high: u32,
    /// How many are ranked.
    pub of: u32,
}
