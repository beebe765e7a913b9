//! Spans against each other, and children against each other.

use parings_core::rollup::{Against, Headline};
use parings_core::stats::Interval;
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;

use super::amounts::fixed;
use crate::app::figures::rollups::{Ranked, Rollup, Row, Unranked};
use crate::http::quantity::Number;
use crate::http::rollups::body::{
    AgainstBody, ComparedSpanBody, MeasureChangeBody, RankBody, RankedBody, RankingBody,
};

fn per(by: Headline) -> u32 {
    if by == Headline::WasteOfSales { 1000 } else { 100 }
}

fn number(value: Decimal, by: Headline) -> Option<Number> {
    value.checked_mul(per(by).into()).map(|value| fixed(value, 2))
}

fn limit(range: Option<Interval>, end: fn(Interval) -> f64, by: Headline) -> Option<Number> {
    number(Decimal::from_f64(end(range?))?, by)
}

/// A row against the same child's of every span compared with.
pub(super) fn compared(found: &Rollup, row: &Row) -> Vec<ComparedSpanBody> {
    let all = found.compared.iter();
    all.map(|other| {
        let then = other.rows.iter().find(|then| then.child == row.child);
        let nights = then.map(|then| then.nights).unwrap_or_default();
        let enough = row.nights.is_enough() && nights.is_enough();
        let change = |by: &Headline| {
            let now = by.of(&row.sum, &row.measures)?;
            let then = then.and_then(|then| by.of(&then.sum, &then.measures))?;
            let (change, range) = now.since(&then)?;
            let body = MeasureChangeBody {
                per: per(*by),
                then: number(then.rate.ratio.value()?, *by)?,
                then_nights: then.rate.nights,
                change: number(change, *by)?,
                low: limit(range, |range| range.low, *by),
                high: limit(range, |range| range.high, *by),
            };
            Some(((*by).into(), body))
        };
        ComparedSpanBody {
            against: match other.against {
                Against::Before => AgainstBody::Before,
                Against::YearAgo => AgainstBody::YearAgo,
            },
            from: other.span.from().into(),
            to: other.span.to().into(),
            nights: nights.into(),
            measures: Headline::ALL.iter().filter(|_| enough).filter_map(change).collect(),
            why: (!enough).then(|| "too_few_nights".to_owned()),
        }
    })
    .collect()
}

pub(super) fn ranking(found: &Rollup) -> Option<RankingBody> {
    let by = found.asked.rank_by?;
    let child = |ranked: &Ranked| RankedBody {
        child: ranked.child.clone(),
        value: ranked.known.and_then(|known| number(known.rate.ratio.value()?, by)),
        low: limit(ranked.known.and_then(|known| known.range), |range| range.low, by),
        high: limit(ranked.known.and_then(|known| known.range), |range| range.high, by),
        nights: ranked.known.map_or(0, |known| known.rate.nights),
        rank: ranked.rank.ok().map(|rank| RankBody { low: rank.low, high: rank.high, of: rank.of }),
        unranked: ranked.rank.err().map(|why| word(why).to_owned()),
    };
    Some(RankingBody {
        by: by.into(),
        per: per(by),
        least_nights: Headline::LEAST_NIGHTS,
        children: found.ranking.iter().flatten().map(child).collect(),
    })
}

fn word(why: Unranked) -> &'static str {
    match why {
        Unranked::Unknown => "unknown",
        Unranked::NoRange => "no_range",
        Unranked::TooFewNights => "too_few_nights",
        Unranked::NewStore => "new_store",
        Unranked::OtherItems => "other_items",
        Unranked::DoubtfulTickets => "doubtful_tickets",
    }
}
