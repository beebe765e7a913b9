//! Transfers between stores, as a live list: each store records its own end, and what belongs
//! together is told anew whenever somebody asks. It is never part of a tally.

use std::collections::BTreeMap;

use parings_core::access::Action;
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::catalog::{Catalog, Network};
use parings_core::ids::{EntryId, ItemId, StoreId};
use parings_core::night::{Entry, EntryBody, Transfer, TransferEnd, match_transfers};
use parings_core::quantity::Dimension;
use parings_core::rollup::Scope;

use crate::app::Deps;
use crate::app::figures::rollups::Asked;
use crate::app::ground::catalog;
use crate::app::night::tallying;
use crate::context::Caller;
use crate::db;
use crate::db::transfers::EndRow;
use crate::error::AppError;

/// The longest span, in nights.
pub const MOST_NIGHTS: u32 = 100;

/// Where a page of transfers begins: after this one.
pub type Cursor = (BusinessDate, ItemId, EntryId);

/// A transfer, and how it stands.
pub struct Listed {
    /// What was sent and what came in, as each store recorded it.
    pub transfer: Transfer,
    /// What its item is measured by.
    pub base: Dimension,
    /// Whether its other end is missing for more than a day.
    pub overdue: bool,
}

/// The transfers of a scope that have an end dated in a span, in order of date, item and id, from
/// after `after` on.
///
/// # Errors
/// 404 and 403 as the policy says, 422 for too long a span.
pub async fn list(
    deps: &Deps,
    caller: &Caller,
    scope: Scope,
    span: DateSpan,
    after: Option<Cursor>,
    limit: usize,
) -> Result<Vec<Listed>, AppError> {
    if span.nights() > MOST_NIGHTS {
        let said = format!("{MOST_NIGHTS} nights at most: ask for fewer");
        return Err(AppError::invalid("/to", said));
    }
    let asked = Asked::new(scope, span);
    deps.acting(caller, async |conn, ctx| {
        let network = catalog::stores(conn, &asked.scope, span, ctx.now).await?;
        asked.require(conn, ctx, &network, Action::ReadTransfers).await?;
        // The other end may be dated a day apart, and that one's other end one more.
        let wide = DateSpan::new(span.from().plus_days(-2), span.to().plus_days(2));
        let wide = wide.map_err(anyhow::Error::new)?;
        let mut catalogs = BTreeMap::new();
        let mut ends = Vec::new();
        for row in db::transfers::ends(conn, wide, ctx.now).await? {
            let date = BusinessDate::from(row.business_date);
            if let std::collections::btree_map::Entry::Vacant(free) = catalogs.entry(date) {
                free.insert(catalog::in_force(deps, conn, date, ctx.now, None).await?);
            }
            ends.extend(end(&catalogs[&date], row)?);
        }
        let inside = |transfer: &Transfer| {
            transfer
                .ends()
                .iter()
                .any(|end| span.contains(end.date) && concerns(&asked.scope, &network, end))
        };
        let later = |t: &Transfer| after.as_ref().is_none_or(|after| t.key() > *after);
        let settings = catalogs.values().next_back().and_then(|c| c.settings.as_ref());
        let limits = settings.map(|settings| settings.limits.clone()).unwrap_or_default();
        let found = match_transfers(&ends, &limits).into_iter();
        let found = found.filter(|t| inside(t) && later(t)).take(limit);
        let listed = found.map(|transfer| {
            let (date, item, _) = transfer.key();
            let base = catalogs.get(&date).and_then(|c| c.items.get(&item)).map(|item| item.base);
            let overdue = transfer.is_overdue(ctx.now, &limits);
            Listed { transfer, base: base.unwrap_or(Dimension::Count), overdue }
        });
        Ok(listed.collect())
    })
    .await
}

/// Whether an end is of, or names, a store of the scope.
fn concerns(scope: &Scope, network: &Network, end: &TransferEnd) -> bool {
    let is_of = |store: &StoreId| match scope {
        Scope::Store(code) => code == store,
        _ => network
            .stores
            .iter()
            .find(|timeline| timeline.store == *store)
            .and_then(|timeline| network.standing(timeline, end.date))
            .is_some_and(|at| scope.holds(&at)),
    };
    is_of(&end.store) || is_of(&end.other)
}

fn end(catalog: &Catalog, row: EndRow) -> Result<Option<TransferEnd>, AppError> {
    let store: StoreId = row.store_id.parse().map_err(anyhow::Error::new)?;
    let (id, date) = (EntryId(row.id), BusinessDate::from(row.business_date));
    let body: EntryBody = serde_json::from_value(row.body).map_err(anyhow::Error::new)?;
    let (settings, entry) = (tallying::settings(catalog)?, Entry { id, body });
    TransferEnd::read(catalog, settings, &store, date, &entry, row.recorded_at).map_err(|cause| {
        AppError::Conflict(format!("a transfer of {store} on {date} cannot be read: {cause}"))
    })
}
