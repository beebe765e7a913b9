//! Packed nights on their way to the rows of a roll-up: the database fetches, core adds.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::calendar::DateSpan;
use parings_core::catalog::{Catalog, Network, Settings};
use parings_core::ids::{ItemId, StoreId};
use parings_core::rollup::{self, Every, Gathered, Level, Measures, Plan};
use parings_core::tally::RULES;
use parings_core::tally::pack::{Dictionary, pack};

use super::{Asked, MOST_ROWS, Row};
use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::night::as_known::{self, StoreThen};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::tallies::unreadable;
use crate::db::weeks::ScopeRow;
use crate::error::AppError;

/// What rows of any span are made with.
pub(super) struct Gathering<'a> {
    pub deps: &'a Deps,
    pub caller: &'a Caller,
    pub ctx: &'a Ctx,
    /// The catalogue at the end of the span that is asked for.
    pub known: &'a Catalog,
    pub settings: &'a Settings,
    /// As of when nights are over or to come.
    pub at: DateTime<Utc>,
}

/// The rows of a span.
pub(super) struct Found {
    pub rows: Vec<Row>,
    /// Where stores stood in it, as far as was known.
    pub network: Network,
    /// The oldest version of the rules that made any of its nights.
    pub rules: i16,
}

impl Gathering<'_> {
    /// How often an item is counted.
    pub fn every(&self, item: &ItemId) -> Every {
        self.known.items.get(item).map_or(Every::Other, |item| item.rhythm.into())
    }

    /// Adds a span up. `current` is where stores stood in it as known now.
    pub async fn rows(
        &self,
        conn: &mut AsyncPgConnection,
        asked: &Asked,
        current: Network,
    ) -> Result<Found, AppError> {
        let buckets = asked.buckets(&self.settings.periods)?;
        let (scope, span) = (&asked.scope, asked.span);
        let plan = Plan {
            scope,
            level: asked.level(),
            buckets: &buckets,
            item: asked.item.as_ref(),
            sample_nights: self.settings.sample_nights,
        };
        let sampled = rollup::Gathering::first_sampled(&plan).unwrap_or(span.from());
        let (network, then) = match asked.as_known_at {
            None => (current, BTreeMap::new()),
            Some(at) => {
                let network = catalog::stores(conn, scope, span, at).await?;
                let stores = asked.stores([&current, &network]);
                let (deps, caller, ctx) = (self.deps, self.caller, self.ctx);
                let (of, reach) = ((&stores, &network), (span, sampled));
                let then = as_known::stores(deps, conn, caller, ctx, of, reach, at).await?;
                (network, then)
            }
        };
        let mut gathering = rollup::Gathering::new(plan, &network, |item| self.every(item));
        let (mut dictionary, mut rules) = (Dictionary::default(), RULES);
        let recalled: BTreeSet<&str> = then.keys().map(StoreId::as_str).collect();
        let weeks = rollup::Gathering::weeks(&plan);
        db::weeks::of_scope(conn, scope, span, sampled, &weeks, |row| {
            let store = row.store_id.as_str();
            if recalled.contains(store) {
                return Ok(());
            }
            rules = rules.min(row.rules);
            let codes = dictionary.read(&row.counted, &row.others).map_err(unreadable)?;
            let (date, child, bytes) = (row.date(), child(plan.level, &row), row.packed.as_slice());
            let part = rollup::Row { store, date, child, codes: &codes, bytes };
            let added = if row.whole { gathering.week(part) } else { gathering.night(part) };
            added.map_err(unreadable)
        })
        .await?;
        recall(&mut gathering, plan, then, span, &mut dictionary)?;
        for (store, date) in db::settlements::waiting(conn, span, self.at).await? {
            gathering.waits(&store, date.into());
        }
        let rows = self.measured(gathering.finish(self.at))?;
        Ok(Found { rows, network, rules })
    }

    fn measured(&self, all: Vec<Gathered>) -> Result<Vec<Row>, AppError> {
        let rows = all.len();
        if rows > MOST_ROWS {
            let said = format!(
                "this makes {rows} rows and {MOST_ROWS} is the most: ask for wider buckets, fewer \
                 nights, or without children"
            );
            return Err(AppError::invalid("/children", said));
        }
        let row = |Gathered { child, bucket, nights, sum }| {
            let measures = Measures::of(&sum, |item| self.every(item));
            Row { child, bucket, nights, sum, measures }
        };
        Ok(all.into_iter().map(row).collect())
    }
}

/// The child that a store stood in on a night.
fn child(level: Option<Level>, row: &ScopeRow) -> &str {
    match level {
        None => "",
        Some(Level::Store) => &row.store_id,
        Some(Level::District) => &row.district_id,
        Some(Level::Region) => &row.region_id,
    }
}

/// Puts nights in as they were, of the stores that are not all as they are kept.
fn recall(
    gathering: &mut rollup::Gathering<'_>,
    plan: Plan<'_>,
    then: BTreeMap<StoreId, StoreThen>,
    span: DateSpan,
    dictionary: &mut Dictionary,
) -> Result<(), AppError> {
    for (store, nights) in then {
        for (date, at, night) in nights {
            let weighed = || night.day.items.values().any(|item| item.samples.count() > 0);
            if !plan.scope.holds(&at) || !(span.contains(date) || weighed()) {
                continue;
            }
            let packed = pack(date, &night).map_err(anyhow::Error::new)?;
            let codes = dictionary.read(&packed.codes.counted, &packed.codes.others);
            let codes = &codes.map_err(anyhow::Error::new)?;
            let child = plan.level.map_or("", |level| level.of(&at));
            let (store, bytes) = (store.as_str(), packed.bytes.as_slice());
            let row = rollup::Row { store, date, child, codes, bytes };
            gathering.night(row).map_err(anyhow::Error::new)?;
        }
    }
    Ok(())
}
