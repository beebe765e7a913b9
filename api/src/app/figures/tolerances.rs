//! Tolerances that answers say are too narrow: the same question, answered *it is right* so often that
//! it is the question that is wrong. Proposed to head office, with what speaks for it.

use std::collections::BTreeMap;

use parings_core::access::{Action, Target};
use parings_core::calendar::BusinessDate;
use parings_core::checks::{CheckKind, Proposal, wider};
use parings_core::ids::{ItemId, StoreId};

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::night::tallying;
use crate::context::Caller;
use crate::db;
use crate::error::AppError;

/// So many nights back are looked at.
const NIGHTS: i64 = 28;

/// A wider tolerance, proposed.
#[derive(Debug, Clone)]
pub struct Wider {
    /// The kind of question.
    pub kind: CheckKind,
    /// The item that it is asked about; none for the night as a whole.
    pub item: Option<ItemId>,
    /// The limit, what it is and what it would be.
    pub limit: Proposal,
    /// What speaks for it.
    pub stores: Vec<Evidence>,
}

/// How often the question was answered *it is right* at a store.
#[derive(Debug, Clone)]
pub struct Evidence {
    /// The store that answered.
    pub store: StoreId,
    /// On how many nights.
    pub nights: u32,
    /// The first of them.
    pub since: BusinessDate,
    /// The last of them.
    pub last: BusinessDate,
}

/// The tolerances that answers of the last four weeks say are too narrow.
///
/// # Errors
/// 403 for all but head office.
pub async fn list(deps: &Deps, caller: &Caller) -> Result<Vec<Wider>, AppError> {
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditCatalogue, &Target::Network)?;
        let today = ctx.today();
        let catalog = catalog::in_force(deps, conn, today, ctx.now, None).await?;
        let limits = &tallying::settings(&catalog)?.limits;
        let least = i64::from(limits.same_answers);
        let from = today.plus_days(-NIGHTS);
        let rows = db::answers::repeated(conn, from, today.succ(), least).await?;
        let mut found: BTreeMap<(CheckKind, Option<ItemId>), Vec<Evidence>> = BTreeMap::new();
        for row in rows {
            let kind = CheckKind::ALL.iter().find(|kind| kind.word() == row.kind);
            let Some(kind) = kind else { continue };
            let item = Some(row.item).filter(|item| !item.is_empty());
            let item = item.map(|item| item.parse()).transpose().map_err(anyhow::Error::new)?;
            found.entry((*kind, item)).or_default().push(Evidence {
                store: row.store_id.parse().map_err(anyhow::Error::new)?,
                nights: u32::try_from(row.times).unwrap_or(u32::MAX),
                since: row.since.into(),
                last: row.last.into(),
            });
        }
        let wider = found.into_iter().filter_map(|((kind, item), stores)| {
            let most = stores.iter().map(|evidence| evidence.nights).max()?;
            Some(Wider { kind, item, limit: wider(kind, most, limits)?, stores })
        });
        Ok(wider.collect())
    })
    .await
}
