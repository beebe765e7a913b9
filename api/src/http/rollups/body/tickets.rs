use serde::Serialize;
use utoipa::ToSchema;

use super::RateBody;
use crate::http::quantity::Number;

/// How long tickets took. Percentiles come from merged histograms, never from an average.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RollupTicketsBody {
    /// All tickets: timed, never closed, and closed in a lump.
    pub orders: u64,
    /// Those with a time that counts.
    pub timed: u64,
    /// Half took no longer; exact to 15 minutes, then the longest time of a bin of 5 s to an hour
    /// and 60 s beyond. Missing below the network's least number of timed tickets.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p50_seconds: Option<u32>,
    /// Nine of ten took no longer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p90_seconds: Option<u32>,
    /// Timed tickets within the target in force when they were tallied; missing without a target.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub within_target: Option<RollupWithinTargetBody>,
    /// Never closed: in no percentile.
    pub never_closed: u64,
    /// Closed together in a lump: in no percentile.
    pub lump_closed: u64,
    /// More of them were never closed or closed in a lump than the network allows for.
    pub doubtful: bool,
}

/// A share of tickets with the range it is known to.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RollupWithinTargetBody {
    /// The share, per cent.
    #[serde(flatten)]
    pub share: RateBody,
    /// Lower end of Wilson's 95 % interval, per cent.
    pub low: Number,
    /// Upper end of that interval, per cent.
    pub high: Number,
}

/// A daypart and channel.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RollupDaypartBody {
    /// The daypart's code; `outside` for outside every daypart, `unknown` where nobody said.
    #[schema(example = "dinner")]
    pub daypart: String,
    /// The channel's code; `every` for what concerns all alike, `unknown` where nobody said.
    #[schema(example = "counter")]
    pub channel: String,
    /// Units that used food.
    pub units: u64,
    /// Net sales of the daypart and channel.
    pub sales: Number,
    /// Its share of the sales of all dayparts and channels, per cent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share_of_sales: Option<RateBody>,
    /// Its share of the orders of all dayparts and channels, per cent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share_of_orders: Option<RateBody>,
    /// Tickets; missing when there were none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tickets: Option<RollupTicketsBody>,
    /// Minutes that items were out, added up over items; missing when none were recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stock_out_minutes: Option<u64>,
}
