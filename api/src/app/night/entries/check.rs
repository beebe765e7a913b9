//! What of entries and withdrawals cannot be taken, each with the place where the request has it.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::calendar::BusinessDate;
use parings_core::catalog::Catalog;
use parings_core::ids::StoreId;
use parings_core::night::{self, Entry, EntryBody};

use super::amount;
use crate::app::night::revisions::Withdrawal;
use crate::db;
use crate::error::{AppError, Fault};

/// Every place of entries that cannot be taken. `at` is where the request has the list.
pub fn faults(catalog: &Catalog, store: &StoreId, entries: &[Entry], at: &str) -> Vec<Fault> {
    let mut faults = Vec::new();
    let mut ids = BTreeSet::new();
    for (n, entry) in entries.iter().enumerate() {
        if !ids.insert(entry.id) {
            faults
                .push(Fault::new(format!("{at}/{n}/id"), "another entry of the list has this id"));
        }
        let flaws = night::check_entry(catalog, store, entry);
        let sound = flaws.is_empty();
        faults.extend(flaws.into_iter().map(|f| Fault::new(format!("{at}/{n}{}", f.at), f.says)));
        if sound && let Err(error) = amount(catalog, &entry.body) {
            faults.push(Fault::new(format!("{at}/{n}"), error.to_string()));
        }
    }
    faults
}

/// Every discard time of entries that lies before their date. `at` is where the request has the list.
pub fn discards(
    catalog: &Catalog,
    store: &StoreId,
    date: BusinessDate,
    entries: &[Entry],
    at: &str,
) -> Vec<Fault> {
    let Some(store) = catalog.stores.get(store) else { return Vec::new() };
    let flaw = |(n, entry)| {
        let flaw = night::check_discard(store, date, entry)?;
        Some(Fault::new(format!("{at}/{n}{}", flaw.at), flaw.says))
    };
    entries.iter().enumerate().filter_map(flaw).collect()
}

/// Every transfer that names a store which was not there on the date. `at` is where the request has
/// the entries.
///
/// # Errors
/// When the database cannot be reached.
pub async fn transfers(
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    date: BusinessDate,
    entries: &[Entry],
    at: &str,
) -> Result<Vec<Fault>, AppError> {
    let mut faults = Vec::new();
    for (n, entry) in entries.iter().enumerate() {
        let (member, other) = match &entry.body {
            EntryBody::TransferIn { from, .. } => ("from", from),
            EntryBody::TransferOut { to, .. } => ("to", to),
            _ => continue,
        };
        if !db::transfers::stood(conn, other, date, now).await? {
            let says = format!("there is no store {other} on {date}");
            faults.push(Fault::new(format!("{at}/{n}/{member}"), says));
        }
    }
    Ok(faults)
}

/// Every place of withdrawals that name no entry of the night, or one withdrawn before. `at` is where
/// the request has the list.
///
/// # Errors
/// When the database cannot be reached.
pub async fn cannot_withdraw(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    withdraw: &[Withdrawal],
    at: &str,
) -> Result<Vec<Fault>, AppError> {
    let mut faults = Vec::new();
    let mut ids = BTreeSet::new();
    for (n, Withdrawal { id, .. }) in withdraw.iter().enumerate() {
        let says = match db::entries::find(conn, store, date, *id).await? {
            None => "there is no such entry of this night",
            Some(row) if row.withdrawal.is_some() => "this entry was withdrawn before",
            Some(_) if !ids.insert(*id) => "this entry is in the list twice",
            Some(_) => continue,
        };
        faults.push(Fault::new(format!("{at}/{n}/id"), says));
    }
    Ok(faults)
}
