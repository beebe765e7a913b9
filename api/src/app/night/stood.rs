//! The nights of a store as they stand around a date: as much of them as a change of the date may touch,
//! or needs to be worked out with. Core joins them; here they are read and kept.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::Standing;
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::catalog::Catalog;
use parings_core::ids::{ItemId, StoreId};
use parings_core::tally::pack::Dictionary;
use parings_core::tally::{Change, Day, Ending, Nights};

use crate::app::ground::catalog::{self, Lately};
use crate::db;
use crate::db::tallies::{Key, NightRow, PackedRow};
use crate::error::AppError;

/// So many nights before a date are read with it: what the checks of a count compare it with.
pub const BACK: i64 = 28;

/// What is kept beside the tallies of a night.
#[derive(Debug, Clone)]
pub struct Beside {
    /// Where the store stood on the date.
    pub standing: Standing,
    /// The moment whose reference data it is made with.
    pub known_at: DateTime<Utc>,
    /// The revision of its count.
    pub revision: Option<i32>,
    /// The version of the rules that made it.
    pub rules: i16,
}

/// Nights of a store as they stand.
#[derive(Default)]
pub struct Stood {
    /// What core joins to spans.
    pub nights: Nights,
    beside: BTreeMap<BusinessDate, Beside>,
    /// From where on every night is here.
    from: Option<BusinessDate>,
    /// Whether there may be nights later than those that are here.
    later: bool,
    dictionary: Dictionary,
}

impl Stood {
    /// Reads the night of a date, so many before it, and the later ones that a span reaches.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn around(
        conn: &AsyncPgConnection,
        store: &StoreId,
        date: BusinessDate,
        back: i64,
    ) -> Result<Self, AppError> {
        let from = date.plus_days(-back);
        let span = DateSpan::new(from, date).map_err(anyhow::Error::new)?;
        let (rows, later) = db::tallies::reaching(conn, store, span).await?;
        let mut stood = Self { from: Some(from), later, ..Self::default() };
        stood.take(rows)?;
        Ok(stood)
    }

    /// Reads every night of a store.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn whole(conn: &mut AsyncPgConnection, store: &StoreId) -> Result<Self, AppError> {
        let mut stood = Self::default();
        stood.take(db::tallies::all_of_store(conn, store).await?)?;
        Ok(stood)
    }

    /// Nothing yet, of nights up to a date.
    pub fn up_to(date: BusinessDate) -> Self {
        Self { from: Some(date.succ()), later: true, ..Self::default() }
    }

    /// Reads the nights from a date on that are not here yet.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn read_from(
        &mut self,
        conn: &mut AsyncPgConnection,
        store: &StoreId,
        from: BusinessDate,
    ) -> Result<(), AppError> {
        if let Some(before) = self.from.filter(|before| from < *before) {
            let span = DateSpan::new(from, before.pred()).map_err(anyhow::Error::new)?;
            self.take(db::tallies::of_store(conn, store, span).await?)?;
            self.from = Some(from);
        }
        Ok(())
    }

    fn take(&mut self, rows: Vec<PackedRow>) -> Result<(), AppError> {
        for row in rows {
            let night = row.unpack(&mut self.dictionary)?;
            self.nights.stands(row.date(), night);
            let beside = Beside {
                standing: row.standing()?,
                known_at: row.known_at(),
                revision: row.revision(),
                rules: row.rules(),
            };
            self.beside.insert(row.date(), beside);
        }
        Ok(())
    }

    /// What is kept beside the tallies of a date.
    pub fn beside(&self, date: BusinessDate) -> Option<&Beside> {
        self.beside.get(&date)
    }

    /// Reads what is missing to put a day in the place of what stands on a date: the counts before and
    /// after it of what it counts, and every night that the spans between them hold.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn reach(
        &mut self,
        conn: &mut AsyncPgConnection,
        store: &StoreId,
        date: BusinessDate,
        day: &Day,
    ) -> Result<(), AppError> {
        let counted = |item: &ItemId| day.items.get(item).is_some_and(|said| said.count.is_some());
        let touched = self.nights.touched(date, Some(day));
        let mut last = self.nights.iter().map(|(on, _)| on).next_back().filter(|on| *on > date);
        if self.later {
            let here: Vec<&str> =
                touched.iter().filter(|item| counted(item)).map(ItemId::as_str).collect();
            if !here.is_empty() {
                let after = db::tallies::counted_after(conn, store, date, &here).await?;
                last = last.into_iter().chain(after.into_values()).max();
            }
        }
        if let Some(last) = last {
            let span = DateSpan::new(date.succ(), last).map_err(anyhow::Error::new)?;
            self.take(db::tallies::of_store(conn, store, span).await?)?;
        }
        let opens = |item: &&ItemId| {
            let ends = counted(item) || self.nights.next_count(item, date).is_some();
            ends && self.nights.last_count(item, date).is_none()
        };
        let touched = self.nights.touched(date, Some(day));
        let asked: Vec<&str> = touched.iter().filter(opens).map(ItemId::as_str).collect();
        if !asked.is_empty() {
            let before = db::tallies::counted_before(conn, store, date, &asked).await?;
            if let Some(first) = before.into_values().min() {
                self.read_from(conn, store, first).await?;
            }
        }
        Ok(())
    }

    /// Reads what is missing to put days in the place of what stands on dates of a span, whatever of some
    /// items they count: the counts before and after it, and every night that spans between them hold.
    /// The nights of the span itself are here.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn reach_items(
        &mut self,
        conn: &mut AsyncPgConnection,
        store: &StoreId,
        (first, last): (BusinessDate, BusinessDate),
        items: &[&str],
    ) -> Result<(), AppError> {
        let after = db::tallies::counted_after(conn, store, last, items).await?;
        let reached = self.nights.iter().map(|(on, _)| on).next_back();
        let until = after.into_values().chain(reached).max();
        if let Some(until) = until.filter(|until| *until > last) {
            let span = DateSpan::new(last.succ(), until).map_err(anyhow::Error::new)?;
            self.take(db::tallies::of_store(conn, store, span).await?)?;
        }
        let before = db::tallies::counted_before(conn, store, first, items).await?;
        if let Some(from) = before.into_values().min() {
            self.read_from(conn, store, from).await?;
        }
        Ok(())
    }

    /// Puts a day in the place of what stands on a date, and makes the spans that it touches anew, each
    /// with the reference data of the night it ends on. What is needed for it was read; see
    /// [`Stood::reach`].
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn put(
        &mut self,
        conn: &mut AsyncPgConnection,
        catalogs: &Lately,
        (store, now): (&StoreId, DateTime<Utc>),
        (date, day): (BusinessDate, Day),
        known: Vec<Ending>,
    ) -> Result<Change, AppError> {
        let mut endings: BTreeMap<BusinessDate, Ending> =
            known.into_iter().map(|ending| (ending.date, ending)).collect();
        for end in self.nights.ends(date, Some(&day)) {
            if let Entry::Vacant(free) = endings.entry(end) {
                let known_at = self.beside(end).map_or(now, |beside| beside.known_at);
                free.insert(ending(catalogs, conn, store, end, known_at).await?);
            }
        }
        let change = self.nights.put(date, Some(day), &endings, now).map_err(anyhow::Error::new)?;
        // Where the store stood is told anew of nights that are kept anew.
        for end in change.nights.iter().filter(|end| **end != date) {
            let standing = endings.get(end).and_then(Ending::standing);
            if let (Some(beside), Some(standing)) = (self.beside.get_mut(end), standing) {
                beside.standing = standing;
            }
        }
        Ok(change)
    }

    /// Says what is to be kept beside the tallies of a date.
    pub fn say(&mut self, date: BusinessDate, beside: Beside) {
        self.beside.insert(date, beside);
    }

    /// The rows of nights that are to be kept anew.
    ///
    /// # Errors
    /// When a figure is too large to keep.
    pub fn rows(&self, dates: &BTreeSet<BusinessDate>) -> Result<Vec<NightRow>, AppError> {
        let mut rows = Vec::new();
        for date in dates {
            let (Some(night), Some(beside)) = (self.nights.get(*date), self.beside.get(date))
            else {
                continue;
            };
            let Beside { standing, known_at, revision, rules } = beside;
            let key = Key { standing, date: *date, known_at: *known_at };
            rows.push(NightRow::under(*rules, key, *revision, night)?);
        }
        Ok(rows)
    }
}

/// Reads the reference data that spans of a store are made with which end on a date.
///
/// # Errors
/// When the database cannot be reached.
pub async fn ending(
    catalogs: &Lately,
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    known_at: DateTime<Utc>,
) -> Result<Ending, AppError> {
    let catalog = catalogs.in_force(conn, date, known_at, Some(store)).await?;
    ending_with(conn, store, date, known_at, &catalog).await
}

/// The same with the catalogue of the date, as known at the moment, which has the store.
///
/// # Errors
/// When the database cannot be reached.
pub async fn ending_with(
    conn: &AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    known_at: DateTime<Utc>,
    catalog: &std::sync::Arc<Catalog>,
) -> Result<Ending, AppError> {
    let network = catalog::one_store(conn, store, date, known_at).await?;
    let (catalog, network) = (std::sync::Arc::clone(catalog), std::sync::Arc::new(network));
    Ok(Ending::new(date, known_at, catalog, network))
}
