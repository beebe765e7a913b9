//! A change of the rules: nights that older rules made are worked out again, store by store, while the
//! server answers. Until then they answer as they are, and say so.

use std::collections::{BTreeMap, BTreeSet};

use diesel_async::AsyncPgConnection;
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use parings_core::tally::RULES;

use crate::app::Deps;
use crate::app::night::stood::{self, Stood};
use crate::app::night::tallying::Reckoned;
use crate::db;
use crate::error::AppError;

/// Works out again what older rules made, each store in a transaction of its own; answers with how many
/// nights it did. A store that cannot be is told in the log, keeps what it has, and does not keep the
/// others.
///
/// # Errors
/// When the database cannot be reached.
pub async fn run(deps: &Deps) -> Result<usize, AppError> {
    let stores = deps.transaction(async |conn| {
        db::findings::act_for_nightly(conn).await?;
        Ok(db::tallies::of_older_rules(conn).await?)
    });
    let mut done = 0;
    for store in stores.await? {
        match deps.transaction(async |conn| one_store(deps, conn, &store).await).await {
            Ok(nights) => done += nights,
            Err(error) => {
                tracing::error!(%store, error.cause = ?error, "tally a store anew");
            }
        }
    }
    Ok(done)
}

/// Works the nights of a store out again, each with the reference data it is pinned to, as one change
/// after the other: so spans that say something else are marked as restated.
async fn one_store(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    store: &StoreId,
) -> Result<usize, AppError> {
    db::acting::act_at_opening(conn, store, deps.clock.now()).await?;
    db::tallies::lock(conn, store).await?;
    let now = deps.clock.now();
    let mut stood = Stood::whole(conn, store).await?;
    let pins: BTreeMap<BusinessDate, _> = stood
        .nights
        .iter()
        .filter_map(|(date, _)| Some((date, stood.beside(date)?.clone())))
        .collect();
    if pins.values().all(|beside| beside.rules == RULES) {
        return Ok(0);
    }
    let mut changed = BTreeSet::new();
    for (date, beside) in pins {
        let night = Reckoned::read(deps, conn, store, date, beside.known_at).await?;
        let known = vec![stood::ending(&deps.catalogs, conn, store, date, beside.known_at).await?];
        let (whose, day) = ((store, now), (date, night.day));
        let change = stood.put(conn, &deps.catalogs, whose, day, known).await?;
        changed.extend(change.nights);
        stood.say(date, stood::Beside { rules: RULES, ..beside });
    }
    db::tallies::put(conn, &stood.rows(&changed)?).await?;
    Ok(changed.len())
}
