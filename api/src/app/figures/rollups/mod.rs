//! Roll-ups: the tallies of a scope and span added up, and the measures made from them.

mod asked;
mod gathering;
mod ranking;

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::Action;
use parings_core::calendar::DateSpan;
use parings_core::catalog::{Catalog, Document, Kind, Settings};
use parings_core::ids::{ChannelId, DaypartId, ItemId};
use parings_core::quantity::Dimension;
use parings_core::rollup::{Against, By, Headline, Measures, Nights, Scope, Sum};

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::night::as_known;
use crate::context::{Caller, Ctx};
use crate::db;
use crate::error::AppError;
use gathering::Gathering;

pub use ranking::{Comparison, Ranked, Unranked};

/// The longest span, in nights.
pub const MOST_NIGHTS: u32 = 400;
/// The most buckets of a span.
pub const MOST_BUCKETS: usize = 53;
/// The most rows: buckets of the scope and of each child.
pub const MOST_ROWS: usize = 400;

/// What is asked for.
#[derive(Debug, Clone)]
pub struct Asked {
    /// Whose nights: a store, a district, a region, an owner or the network.
    pub scope: Scope,
    /// The nights that are asked for.
    pub span: DateSpan,
    /// How they are divided into buckets.
    pub by: By,
    /// Whether the scope's children have rows of their own.
    pub children: bool,
    /// The one item whose use and waste are asked for; every item's when left out.
    pub item: Option<ItemId>,
    /// The one daypart whose tickets, waste and stock-outs are asked for.
    pub daypart: Option<DaypartId>,
    /// The one channel whose tickets are asked for.
    pub channel: Option<ChannelId>,
    /// Whether waste is told by reason, stage and daypart together.
    pub waste_lines: bool,
    /// What the span is compared with.
    pub compare: Vec<Against>,
    /// What children are ranked by.
    pub rank_by: Option<Headline>,
    /// The moment whose knowledge is asked for; all that is known now when left out.
    pub as_known_at: Option<DateTime<Utc>>,
}

/// What the nights of a scope add up to, with what is needed to show it.
#[derive(Debug, Clone)]
pub struct Rollup {
    /// What was asked for.
    pub asked: Asked,
    /// The network's settings at the end of the span.
    pub settings: Settings,
    /// What each item is measured by.
    pub items: BTreeMap<ItemId, Dimension>,
    /// The scope's rows, then those of its children by code; each in order of its buckets.
    pub rows: Vec<Row>,
    /// The same of the spans that were to be compared with, in the order asked for.
    pub compared: Vec<Comparison>,
    /// The children, worst first; none unless asked for.
    pub ranking: Option<Vec<Ranked>>,
    /// The oldest version of the rules that made any of the nights.
    pub rules: i16,
}

/// One bucket of a scope or child.
#[derive(Debug, Clone)]
pub struct Row {
    /// The child's code; none for the scope itself.
    pub child: Option<String>,
    /// The dates of the bucket.
    pub bucket: DateSpan,
    /// Nights by what became of them.
    pub nights: Nights,
    /// What its tallies add up to.
    pub sum: Sum,
    /// The measures made from that.
    pub measures: Measures,
}

/// Adds up the tallies of a scope.
///
/// # Errors
/// 404 and 403 as the policy says, 404 also for a scope that never was, 422 for more than can be
/// answered at once, 409 while the network has no settings.
pub async fn find(deps: &Deps, caller: &Caller, asked: Asked) -> Result<Rollup, AppError> {
    asked.check()?;
    let is_wide = matches!(asked.scope, Scope::Network | Scope::Region(_));
    let work = async |conn: &mut AsyncPgConnection, ctx: &Ctx| {
        add_up(deps, caller, conn, ctx, asked).await
    };
    match is_wide {
        true => deps.reading_all(caller, work).await,
        false => deps.acting(caller, work).await,
    }
}

/// The same within a transaction.
async fn add_up(
    deps: &Deps,
    caller: &Caller,
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    asked: Asked,
) -> Result<Rollup, AppError> {
    let current = catalog::stores(conn, &asked.scope, asked.span, ctx.now).await?;
    asked.require(conn, ctx, &current, Action::ReadRollup).await?;
    let of = as_known::settled(conn, asked.as_known_at, ctx.now, "/as_known_at").await?;
    let (asked, at) = (Asked { as_known_at: of, ..asked }, of.unwrap_or(ctx.now));
    let known = catalog::in_force(deps, conn, asked.span.to(), at, None).await?;
    let settings = known.settings.clone().ok_or_else(|| {
        AppError::Conflict("the network has no settings in force on that date".to_owned())
    })?;
    let (known_by, settings) = (known.as_ref(), &settings);
    let gathering = Gathering { deps, caller, ctx, known: known_by, settings, at };
    let found = gathering.rows(conn, &asked, current).await?;
    let mut rules = found.rules;
    let mut compared = Vec::new();
    for against in &asked.compare {
        let span = against.span(asked.span, &settings.periods);
        let current = catalog::stores(conn, &asked.scope, span, ctx.now).await?;
        let asked = Asked { span, ..asked.clone() };
        let then = gathering.rows(conn, &asked, current).await?;
        rules = rules.min(then.rules);
        compared.push(Comparison { against: *against, span, rows: then.rows });
    }
    let (rows, network) = (found.rows, found.network);
    let ranking = asked.rank_by.map(|by| ranking::ranking(by, &asked, &rows, &network, settings));
    let items = dimensions(conn, &known, &asked, at, &rows).await?;
    let settings = settings.clone();
    Ok(Rollup { asked, settings, items, rows, compared, ranking, rules })
}

/// What each item of the rows is measured by. One that ended before the end of the span is looked
/// up for itself.
async fn dimensions(
    conn: &mut AsyncPgConnection,
    known: &Catalog,
    asked: &Asked,
    now: DateTime<Utc>,
    rows: &[Row],
) -> Result<BTreeMap<ItemId, Dimension>, AppError> {
    let met: BTreeSet<&ItemId> = rows.iter().flat_map(|row| row.sum.items.keys()).collect();
    let mut found = BTreeMap::new();
    for item in met {
        let base = match known.items.get(item) {
            Some(item) => item.base,
            None => {
                let to = asked.span.to();
                let row = db::catalog::one(conn, Kind::Item, item.as_str(), to, now).await?;
                let row = row.ok_or_else(|| anyhow::anyhow!("item {item} was never known"))?;
                match catalog::document(&row)? {
                    Document::Item(item) => item.base,
                    _ => return Err(anyhow::anyhow!("item {item} is none").into()),
                }
            }
        };
        found.insert(item.clone(), base);
    }
    Ok(found)
}
