use chrono::{DateTime, Utc};

use super::{About, Check, CheckKind};
use crate::catalog::Limits;
use crate::night::{Transfer, TransferEnd};

/// The transfers whose other end is missing for too long, to be said to both stores. Tallies know
/// nothing of it: each store records its own end.
pub fn one_sided(transfers: &[Transfer], now: DateTime<Utc>, limits: &Limits) -> Vec<Check> {
    let overdue = transfers.iter().filter(|transfer| transfer.is_overdue(now, limits));
    overdue.flat_map(Transfer::ends).map(said).collect()
}

fn said(end: &TransferEnd) -> Check {
    let TransferEnd { id, store, other, date, item, .. } = end;
    let says = format!(
        "{store} recorded a transfer of {item} with {other} on {date}, and {other} has no such entry"
    );
    Check::new(CheckKind::OneSidedTransfer, About::Entry { entry: *id, item: item.clone() }, says)
}
