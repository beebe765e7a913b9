//! Works every night out again from its facts, with the reference data it was pinned to, and compares
//! it with what is kept, number by number: as the database unpacks it for analysts, so that packing and
//! unpacking are held to it too.
//!
//! Not compared are `restated_at`, which says when and not what, and the district, region and owner of a
//! night, which were those known when it was written and decide who sees it. Nights of older rules, which
//! wait to be tallied anew, are counted and not compared. Weeks that are kept are compared with their
//! nights.

use std::collections::{BTreeMap, BTreeSet};

use anyhow::Context;
use diesel_async::{AsyncConnection, AsyncPgConnection};
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use parings_core::tally::pack::{Listed, Part, list, pack};
use parings_core::tally::{Nights, RULES};
use serde_json::Value;

use crate::app::ground::catalog::Lately;
use crate::app::night::{stood, tallying, weeks};
use crate::db;
use crate::error::AppError;

/// What was compared, and what differed.
#[derive(Debug, Default)]
pub struct Report {
    /// Stores that have facts or tallies.
    pub stores: usize,
    /// Nights of these stores that were compared.
    pub nights: usize,
    /// Parts of nights that are kept or should be: items, spans, dayparts and the nights themselves.
    pub rows: usize,
    /// Weeks that are kept, stand by their nights, and were compared with what these add up to.
    pub weeks: usize,
    /// Nights of older rules, which are tallied anew in the background.
    pub older: usize,
    /// Numbers that differ, each with the night and the part of it where it stands.
    pub differences: Vec<Difference>,
}

/// A column that does not say what the facts add up to.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// The store whose night it is.
    pub store: StoreId,
    /// The business date of the night.
    pub date: BusinessDate,
    /// The kind of part of the night.
    pub part: &'static str,
    /// The item, or the daypart and channel; empty for a night.
    pub of: String,
    /// The name of the number; empty for a part that is missing or too many.
    pub column: String,
    /// What is stored; null for a row that is missing.
    pub stored: Value,
    /// What the facts add up to; null for a row that is too many.
    pub recomputed: Value,
}

impl std::fmt::Display for Difference {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { store, date, part, of, column, stored, recomputed } = self;
        write!(f, "{store} {date} {part}")?;
        for part in [of, column].into_iter().filter(|part| !part.is_empty()) {
            write!(f, " {part}")?;
        }
        write!(f, ": stored {stored}, recomputed {recomputed}")
    }
}

/// How far the work is.
#[derive(Debug, Clone, Copy)]
pub struct Step<'a> {
    /// The store that is done.
    pub store: &'a StoreId,
    /// Stores done, this one included.
    pub done: usize,
    /// Stores in all.
    pub of: usize,
    /// Differences so far.
    pub differences: usize,
}

/// Compares everything, store by store, connected as the read-only role. Each store is read as it
/// was at one moment, so writes that go on meanwhile do no harm.
///
/// # Errors
/// When the database cannot be reached or holds what no rule wrote.
pub async fn run(read_url: &str, mut progress: impl FnMut(Step<'_>)) -> anyhow::Result<Report> {
    let connecting = AsyncPgConnection::establish(read_url).await;
    let mut conn = connecting.context("connect as the read-only role")?;
    let catalogs = Lately::default();
    let stores = db::verify::stores(&mut conn).await?;
    let of = stores.len();
    let mut report = Report { stores: of, ..Report::default() };
    for (n, store) in stores.iter().enumerate() {
        let store = StoreId::new(store)?;
        conn.build_transaction()
            .read_only()
            .repeatable_read()
            .run(async |conn| one_store(conn, &catalogs, &store, &mut report).await)
            .await
            .map_err(plain)
            .with_context(|| format!("store {store}"))?;
        let differences = report.differences.len();
        progress(Step { store: &store, done: n + 1, of, differences });
    }
    Ok(report)
}

/// Whoever runs this may see causes.
fn plain(error: AppError) -> anyhow::Error {
    match error {
        AppError::Internal(cause) => cause,
        other => other.into(),
    }
}

/// A night's differences, as they are found.
struct Night<'a> {
    store: &'a StoreId,
    date: BusinessDate,
    report: &'a mut Report,
}

impl Night<'_> {
    fn differs(
        &mut self,
        (part, of, column): (Part, &str, &str),
        stored: Value,
        recomputed: Value,
    ) {
        self.report.differences.push(Difference {
            store: self.store.clone(),
            date: self.date,
            part: part.word(),
            of: of.to_owned(),
            column: column.to_owned(),
            stored,
            recomputed,
        });
    }

    fn compare(&mut self, stored: Vec<Listed>, made: Vec<Listed>) {
        let (stored, made) = (by_place(stored), by_place(made));
        let places: BTreeSet<&(Part, String)> = stored.keys().chain(made.keys()).collect();
        self.report.rows += places.len();
        for place @ (part, of) in places {
            match (stored.get(place), made.get(place)) {
                (Some(was), Some(is)) => {
                    let numbers = part.columns().into_iter().zip(was.iter().zip(is));
                    for (column, (was, is)) in numbers.filter(|(_, (was, is))| was != is) {
                        self.differs((*part, of, column), (*was).into(), (*is).into());
                    }
                }
                (was, is) => self.differs((*part, of, ""), was.cloned().into(), is.cloned().into()),
            }
        }
    }
}

/// The numbers of each part, without those that say when and not what. Lines of waste of one kind are
/// told apart by their numbers, times by their bins.
fn by_place(all: Vec<Listed>) -> BTreeMap<(Part, String), Vec<i64>> {
    let columns = Part::Span.columns();
    let place = |name: &str| columns.iter().position(|column| *column == name);
    let moments = [("known", 0b1_1111), ("restated_at", 0)];
    let moments: Vec<(usize, i64)> =
        moments.iter().filter_map(|(name, mask)| Some((place(name)?, *mask))).collect();
    let mut found = BTreeMap::new();
    for Listed { part, codes, mut numbers } in all {
        let mut of = codes.join("/");
        match part {
            Part::Times => of = format!("{of}/{}", numbers.first().copied().unwrap_or_default()),
            Part::Span => {
                for (place, mask) in &moments {
                    if let Some(number) = numbers.get_mut(*place) {
                        *number &= mask;
                    }
                }
            }
            _ => {}
        }
        found.insert((part, of), numbers);
    }
    found
}

async fn one_store(
    conn: &mut AsyncPgConnection,
    catalogs: &Lately,
    store: &StoreId,
    report: &mut Report,
) -> Result<(), AppError> {
    let rows = db::tallies::all_of_store(conn, store).await?;
    let kept: BTreeMap<BusinessDate, _> = rows.iter().map(|row| (row.date(), row)).collect();
    let mut stored: BTreeMap<BusinessDate, Vec<Listed>> = BTreeMap::new();
    for (date, part) in db::verify::parts(conn, store).await? {
        stored.entry(date).or_default().push(part);
    }
    let mut dates: BTreeSet<BusinessDate> = kept.keys().copied().collect();
    dates.extend(db::verify::nights_with_facts(conn, store).await?);
    report.nights += dates.len();

    let (mut nights, mut revisions) = (Nights::default(), BTreeMap::new());
    for date in dates {
        let mut found = Night { store, date, report };
        let Some(row) = kept.get(&date) else {
            // What it should be made with was in the row that is gone.
            found.report.rows += 1;
            found.differs((Part::Night, "", ""), Value::Null, "a night that has facts".into());
            continue;
        };
        let known_at = row.known_at();
        let catalog = catalogs.in_force(conn, date, known_at, Some(store)).await?;
        let (facts, revision) = db::nights::facts(conn, store, date, db::nights::ever()).await?;
        let day = match tallying::tally(&catalog, store, date, &facts).map_err(plain) {
            Ok(day) => day,
            Err(cause) => {
                let cause = cause.to_string();
                found.differs((Part::Night, "", "facts"), Value::Null, cause.into());
                continue;
            }
        };
        let mut endings = BTreeMap::new();
        for end in nights.ends(date, Some(&day)) {
            endings.insert(end, stood::ending(catalogs, conn, store, end, known_at).await?);
        }
        nights.put(date, Some(day), &endings, known_at).map_err(anyhow::Error::new)?;
        revisions.insert(date, revision);
    }
    for (date, row) in kept {
        let Some((night, revision)) = nights.get(date).zip(revisions.get(&date)) else { continue };
        if row.rules() != RULES {
            report.older += 1;
            continue;
        }
        let before = report.differences.len();
        let mut found = Night { store, date, report };
        let made = list(date, night).map_err(anyhow::Error::new)?;
        found.compare(stored.remove(&date).unwrap_or_default(), made);
        if row.revision() != *revision {
            let said = (Part::Night, "", "revision");
            found.differs(said, row.revision().into(), (*revision).into());
        }
        if found.report.differences.len() > before {
            continue;
        }
        let packed = pack(date, night).map_err(anyhow::Error::new)?;
        let (counted, others, _) = row.packed();
        for (column, was, is) in [
            ("counted", counted, packed.codes.counted.as_str()),
            ("others", others, packed.codes.others.as_str()),
        ] {
            if was != is {
                found.differs((Part::Night, "", column), was.into(), is.into());
            }
        }
    }
    compare_weeks(conn, store, report).await
}

/// Weeks that are kept say what their nights, as these are kept, add up to.
async fn compare_weeks(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    report: &mut Report,
) -> Result<(), AppError> {
    let kept = db::weeks::kept(conn, store).await?;
    let mondays: Vec<BusinessDate> = kept.iter().map(|row| row.week.into()).collect();
    let made = weeks::added_up(conn, store, &mondays).await?;
    let made: BTreeMap<_, _> = made.iter().map(|row| (row.week, row)).collect();
    report.weeks += kept.len();
    for row in kept.iter().filter(|row| made.get(&row.week) != Some(row)) {
        report.differences.push(Difference {
            store: store.clone(),
            date: row.week.into(),
            part: "week",
            of: String::new(),
            column: String::new(),
            stored: "another sum".into(),
            recomputed: "what its nights add up to".into(),
        });
    }
    Ok(())
}
