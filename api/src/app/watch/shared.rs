//! What districts share, put together for head office by lot and by area.

use anyhow::Context;
use chrono::{DateTime, Utc};
use parings_core::access::{Action, Target};
use parings_core::calendar::BusinessDate;
use parings_core::ids::RegionId;
use parings_core::review::{FindingKind, Moved, Together, together};
use parings_core::stats::Interval;

use crate::app::Deps;
use crate::app::ground::{audit, catalog};
use crate::app::watch::findings::Told;
use crate::context::Caller;
use crate::db;
use crate::db::findings::Which;
use crate::error::AppError;

/// What the last reviews up to a night found that districts share, as known at a moment.
///
/// # Errors
/// 403 for who is not head office.
pub async fn list(
    deps: &Deps,
    caller: &Caller,
    as_of: Option<BusinessDate>,
    known_at: Option<DateTime<Utc>>,
) -> Result<Vec<Together>, AppError> {
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::ReadShared, &Target::Network)?;
        audit::note_reading_of_all(conn, ctx, Action::ReadShared, "shared").await?;
        let until = as_of.unwrap_or_else(|| ctx.today());
        let known = known_at.map_or(ctx.now, |known| known.min(ctx.now));
        let which = Which { kind: Some(FindingKind::Shared.word()), ..Which::default() };
        let rows = db::findings::list(conn, (until, known), which, None, i64::MAX).await?;
        let mut all = Vec::new();
        for row in rows {
            let told = Told::read(row, Vec::new())?;
            // Of the night that was reviewed: a district may have been given up since.
            let network = catalog::in_force(deps, conn, told.as_of, known, None).await?;
            let said = network.districts.get(&told.district).context("a district on record")?;
            all.push(moved(told, said.region.clone()));
        }
        Ok(together(all))
    })
    .await
}

fn moved(told: Told, area: RegionId) -> Moved {
    let [size, low, high] = told.seen.size;
    let evidence = told.seen.evidence;
    Moved {
        district: told.district,
        area,
        measure: told.measure,
        lot: evidence.lot.zip(evidence.lot_share),
        since: told.since,
        size,
        range: Interval { low, high },
        money_per_week: told.money_per_week,
    }
}
