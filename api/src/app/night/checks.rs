//! Asks the checks of core about a count: gathers what they compare it with, and leaves out what was
//! answered.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::{DateTime, TimeDelta, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::Role;
use parings_core::calendar::{BusinessDate, business_date};
use parings_core::catalog::{Catalog, Document, Limits, Minutes};
use parings_core::checks::{
    Changed, Check, CheckKind, Elsewhere, Given, ItemPast, ReferenceChange, Sent, Treatment,
    next_opening, night, triage, unanswered,
};
use parings_core::ids::{EntryId, StoreId};
use parings_core::night::Count;
use parings_core::tally::{DayFacts, Ending};
use tokio::try_join;
use uuid::Uuid;

use crate::app::ground::catalog;
use crate::app::night::facts::Ground;
use crate::app::night::revisions::{self, Revision};
use crate::app::night::stood::{self, BACK, Stood};
use crate::app::night::tallying::{self, Around};
use crate::context::Ctx;
use crate::db;
use crate::db::catalog::VersionRow;
use crate::error::AppError;

/// Days back in which something sent a moment ago may lie.
const DAYS_SENT: i64 = 7;

/// How a count came.
#[derive(Debug, Clone, Copy)]
pub enum Coming<'a> {
    /// Somebody sent it.
    Sent,
    /// Somebody sent a part of it, which differs from the others in this.
    InParts(&'a [Check]),
    /// Answers made it of the revision of this number.
    Answered(i32),
}

/// The checks of a count that is not saved yet, with the date's entries in the database as they will
/// be: those to be asked first, the most money before the others. What was answered about the same
/// value in an earlier revision is not asked again. What was read for that comes back, for the tallies.
/// Call it under the lock of the store: until it is given up, nothing of that changes.
///
/// # Errors
/// When facts and reference data do not fit, or the database cannot be reached.
pub async fn of(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    ground: &Ground,
    revisions: &[Revision],
    count: &Count,
    coming: Coming<'_>,
) -> Result<(Vec<Check>, Around), AppError> {
    let Ground { date, standing, catalog, .. } = ground;
    let (date, store) = (*date, &standing.store);
    let place = tallying::in_catalog(catalog, store)?;
    let limits = &tallying::settings(catalog)?.limits;

    // They need nothing of each other, so that none waits for the answer to another. A lock is never among
    // such: what it guards is read when it was answered.
    let known = ground.known_at;
    let ((stood, revision), entries, before, sent, changes, elsewhere, ending, mut nights) = try_join!(
        async { Ok(db::nights::facts(conn, store, date, db::nights::ever()).await?) },
        async { Ok(db::entries::of_night(conn, store, date).await?) },
        async { Ok(db::checks::lines_in_force(conn, store, date.plus_days(-BACK), date).await?) },
        async {
            match coming {
                Coming::Answered(_) => Ok(Vec::new()),
                Coming::Sent | Coming::InParts(_) => {
                    sent(conn, ctx, store, date, count, limits).await
                }
            }
        },
        changes(conn, ctx, date),
        elsewhere(conn, ctx, store, date, limits),
        stood::ending_with(conn, store, date, known, catalog),
        Stood::around(conn, store, date, BACK),
    )?;
    let DayFacts { entries: made, till, count: in_force, left_out } = stood;
    let facts = DayFacts { entries: made, till, count: Some(count.clone()), ..DayFacts::default() };
    let day = tallying::tally(catalog, store, date, &facts)?;
    nights.reach(conn, store, date, &day).await?;
    let mut people: Vec<Uuid> = entries.iter().map(|row| row.recorded_by).collect();
    people.extend(revisions.iter().flat_map(Revision::people));
    let recorded: BTreeMap<EntryId, DateTime<Utc>> =
        entries.iter().map(|row| (EntryId(row.id), row.recorded_at)).collect();
    let left = match people.is_empty() {
        true => Vec::new(),
        false => db::checks::left_of(conn, &people).await?,
    };
    let given = Given {
        items: ItemPast::of_day(&nights.nights, &ending, &day, BACK),
        before: &before,
        sent: &sent,
        recorded,
        amends: revisions::in_force(revisions).map(|revision| revision.recorded_at),
        open_days: open_days(conn, ctx, ground, &ending, limits).await?,
        changes: &changes,
        elsewhere: &elsewhere,
        left: &left,
        ..Given::new((catalog, limits), (store, place), date, ctx.now, count, (&facts, &day))
    };
    let mut found = night(&given);
    if let Coming::InParts(differ) = coming {
        found.extend_from_slice(differ);
    }
    let asked = ask(found, revisions, count, coming, limits);
    let (known_at, catalog) = (ground.known_at, Arc::clone(catalog));
    let around = Around {
        known_at,
        catalog,
        facts: DayFacts { count: in_force, left_out, ..facts },
        revision,
        day: Some(day),
        ending,
        stood: nights,
        revisions: None,
    };
    Ok((asked, around))
}

/// Divides what was found into what is asked, what is beyond that, and what is said.
fn ask(
    found: Vec<Check>,
    revisions: &[Revision],
    count: &Count,
    coming: Coming<'_>,
    limits: &Limits,
) -> Vec<Check> {
    // Of a locked night everything is for another person to decide: nobody is asked that.
    let found = found.into_iter().filter(|check| check.kind != CheckKind::BackDatedEdit).collect();
    let answered = answered(revisions, count);
    let most = limits.confirmations as usize;
    let (beyond, most) = match coming {
        Coming::Sent | Coming::InParts(_) => (BTreeSet::new(), most),
        // The same count still: nobody is asked more of it than they were told at first.
        Coming::Answered(number) => {
            let of = revisions.iter().find(|revision| revision.number == number);
            let beyond = of.iter().flat_map(|r| &r.checks).filter(|check| check.is_beyond());
            (beyond.map(Check::id).collect(), most.saturating_sub(answered.len()).max(1))
        }
    };
    let (mut again, new): (Vec<Check>, Vec<Check>) = unanswered(found, &answered)
        .into_iter()
        .partition(|check| check.asks() && beyond.contains(&check.id()));
    for check in &mut again {
        check.treatment = Treatment::LeaveOut;
    }
    let divided = triage(new, most);
    divided.asked.into_iter().chain(divided.left_out).chain(again).chain(divided.said).collect()
}

/// The ids of checks whose answer about an earlier revision holds for this count too.
fn answered(revisions: &[Revision], count: &Count) -> BTreeSet<String> {
    let mut answered = BTreeSet::new();
    for revision in revisions {
        for check in revision.checks.iter().filter(|check| check.asks()) {
            let id = check.id();
            if let Some(given) = revision.answers.get(&id)
                && check.stands(&given.answer, &revision.count, count)
            {
                answered.insert(id);
            }
        }
    }
    answered
}

/// What else was sent a moment ago. Of the same night only what says the same throughout: whoever
/// amends it may well keep its lines.
async fn sent(
    conn: &AsyncPgConnection,
    ctx: &Ctx,
    store: &StoreId,
    date: BusinessDate,
    count: &Count,
    limits: &Limits,
) -> Result<Vec<Sent>, AppError> {
    if limits.same_content_minutes == Minutes(0) {
        return Ok(Vec::new());
    }
    let since = ctx.now - TimeDelta::from(limits.same_content_minutes);
    let rows = db::checks::sent_since(conn, store, date.plus_days(-DAYS_SENT), since, date).await?;
    let figures = |c: &Count| (c.complete, c.units_sold.clone(), c.net_sales);
    let mine = figures(count);
    let others = rows.into_iter().filter(|row| match &row.count {
        Some(sent) if row.business_date == date => figures(sent) == mine,
        _ => true,
    });
    let sent = |row: db::checks::SentRow| Sent {
        at: row.recorded_at,
        date: row.business_date,
        lines: row.lines,
    };
    Ok(others.map(sent).collect())
}

/// Open days since the store's first, as far as it matters; none when it was never on record.
async fn open_days(
    conn: &AsyncPgConnection,
    ctx: &Ctx,
    ground: &Ground,
    ending: &Ending,
    limits: &Limits,
) -> Result<Option<u32>, AppError> {
    let date = ground.date;
    let now = match ending.known_at == ctx.now {
        true => None,
        false => Some(catalog::one_store(conn, &ground.standing.store, date, ctx.now).await?),
    };
    let network = now.as_ref().unwrap_or_else(|| ending.network());
    let store = network.stores.first();
    Ok(store.and_then(|store| store.open_days(date, limits.new_store_days)))
}

/// Recipes and prices that changed over the nights that a span may cover.
async fn changes(
    conn: &AsyncPgConnection,
    ctx: &Ctx,
    date: BusinessDate,
) -> Result<Vec<ReferenceChange>, AppError> {
    let rows = db::checks::changed(conn, date.plus_days(-BACK), date, ctx.now).await?;
    let mut changes = Vec::new();
    for row in &rows {
        changes.extend(change(row)?);
    }
    Ok(changes)
}

/// What a changed version changes.
///
/// # Errors
/// When the document is of no shape the rules know.
pub fn change(row: &VersionRow) -> Result<Vec<ReferenceChange>, AppError> {
    let from = row.valid_from.into();
    Ok(match catalog::document(row)? {
        Document::Product(product) => {
            let lines = product.sizes.iter().flat_map(|size| &size.lines);
            let what = Changed::Recipe;
            lines.map(|line| ReferenceChange { what, item: line.item.clone(), from }).collect()
        }
        Document::Price(_) => {
            let item = row.code.parse().map_err(|e| anyhow::anyhow!("{}: {e}", row.code))?;
            vec![ReferenceChange { what: Changed::Price, item, from }]
        }
        _ => Vec::new(),
    })
}

/// What the sender recorded at their other stores a moment ago.
async fn elsewhere(
    conn: &AsyncPgConnection,
    ctx: &Ctx,
    store: &StoreId,
    date: BusinessDate,
    limits: &Limits,
) -> Result<Vec<Elsewhere>, AppError> {
    let Role::Manager(stores) = &ctx.actor.role else { return Ok(Vec::new()) };
    let others: Vec<&str> = stores.iter().filter(|s| *s != store).map(StoreId::as_str).collect();
    if others.is_empty() {
        return Ok(Vec::new());
    }
    let since = ctx.now - TimeDelta::from(limits.elsewhere_minutes);
    let from = date.plus_days(-DAYS_SENT);
    let rows = db::checks::elsewhere(conn, ctx.actor.person, &others, from, since).await?;
    rows.into_iter()
        .map(|row| {
            let store =
                row.store_id.parse().map_err(|e| anyhow::anyhow!("{}: {e}", row.store_id))?;
            Ok(Elsewhere { store, at: row.recorded_at })
        })
        .collect()
}

/// When a held count is settled without an answer: at the first opening of the store after its date
/// that comes after the count came.
///
/// # Errors
/// When the catalogue has no such store.
pub fn settles_at(
    catalog: &Catalog,
    id: &StoreId,
    date: BusinessDate,
    recorded_at: DateTime<Utc>,
) -> Result<DateTime<Utc>, AppError> {
    let store = tallying::in_catalog(catalog, id)?;
    let dayparts = catalog.dayparts_of(id, store);
    let came = business_date(recorded_at, &store.zone, store.cut_off);
    let mut after = date.max(came.pred());
    let mut at = next_opening(store, &dayparts, after);
    while at <= recorded_at {
        after = after.succ();
        at = next_opening(store, &dayparts, after);
    }
    Ok(at)
}
