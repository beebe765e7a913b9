//! Tallies on their way to the rows of a roll-up.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, NaiveDate, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::calendar::{BusinessDate, DateSpan, business_date};
use parings_core::catalog::Settings;
use parings_core::ids::{ItemId, StoreId};
use parings_core::rollup::{CountedDates, ItemSum, Level, Measures, Nights, Sum};
use parings_core::tally::DaypartKey;
use parings_core::usage::Samples;

use super::asked::{child_of, holds};
use super::read::{day_sum, daypart_sum, night_sum, over_sales, put_span, read, waste_lines};
use super::{Asked, MOST_ROWS, Row};
use crate::app::catalog::Network;
use crate::db;
use crate::db::known::Overlay;
use crate::db::rollups::Grouping;
use crate::error::AppError;

/// Rows on their way, by child (empty for the scope itself) and first date of the bucket.
pub(super) struct Adding<'a> {
    asked: &'a Asked,
    network: &'a Network,
    now: DateTime<Utc>,
    then: Option<&'a Overlay>,
    buckets: &'a [DateSpan],
    starts: &'a [NaiveDate],
    rows: BTreeMap<(String, BusinessDate), (Nights, Sum)>,
}

impl<'a> Adding<'a> {
    pub(super) fn new(
        asked: &'a Asked,
        (buckets, starts): (&'a [DateSpan], &'a [NaiveDate]),
        network: &'a Network,
        now: DateTime<Utc>,
        then: Option<&'a Overlay>,
    ) -> Self {
        let whole = buckets.iter().map(|b| ((String::new(), b.from()), <_>::default())).collect();
        Self { asked, network, now, then, buckets, starts, rows: whole }
    }

    fn grouping(&self, children: Option<Level>) -> Grouping<'a> {
        self.asked.grouping(children, self.starts, self.then)
    }

    pub(super) fn check_rows(&self) -> Result<(), AppError> {
        let rows = self.rows.len();
        if rows > MOST_ROWS {
            let said = format!(
                "this makes {rows} rows and {MOST_ROWS} is the most: ask for wider buckets, fewer \
                 nights, or without children"
            );
            return Err(AppError::invalid("/children", said));
        }
        Ok(())
    }

    /// Goes through the nights of every store of the scope by its calendar. A child has a row for
    /// every bucket it stood in, also without tallies: missing is not zero.
    pub(super) async fn nights(&mut self, conn: &mut AsyncPgConnection) -> Result<(), AppError> {
        let by_store = self.counted(conn).await?;
        let (network, level) = (self.network, self.asked.level());
        let none = CountedDates::default();
        for timeline in &network.stores {
            let counted = by_store.get(&timeline.store).unwrap_or(&none);
            for bucket in self.buckets {
                for date in bucket.iter() {
                    let Some(at) = network.standing(timeline, date) else { continue };
                    let Some(store) = timeline.at(date) else { continue };
                    if !holds(&self.asked.scope, &at) {
                        continue;
                    }
                    let child = level.map(|level| child_of(level, &at).to_owned());
                    let over = date < business_date(self.now, &store.zone, store.cut_off);
                    let night = counted.night(date, store.is_open(date), over);
                    for child in [Some(String::new()), child].into_iter().flatten() {
                        let (nights, _) = self.rows.entry((child, bucket.from())).or_default();
                        *nights = nights.merge(night);
                    }
                }
            }
        }
        Ok(())
    }

    /// What is known of each store's counts.
    async fn counted(
        &self,
        conn: &mut AsyncPgConnection,
    ) -> Result<BTreeMap<StoreId, CountedDates>, AppError> {
        let dates = |dates: &[NaiveDate]| dates.iter().map(|date| (*date).into()).collect();
        let mut by_store: BTreeMap<StoreId, CountedDates> = BTreeMap::new();
        for row in db::rollups::counted(conn, &self.grouping(Some(Level::Store))).await? {
            let items = row.items_left_out.iter().map(|(date, items)| ((*date).into(), *items));
            let dates = CountedDates {
                counted: dates(&row.counted),
                partial: dates(&row.partial),
                left_out: dates(&row.left_out),
                short: dates(&row.short),
                items_left_out: items.collect(),
                ..CountedDates::default()
            };
            by_store.insert(read(&row.child)?, dates);
        }
        for (store, date) in db::rollups::waiting(conn, self.asked.span, self.now).await? {
            by_store.entry(read(&store)?).or_default().waiting.insert(date.into());
        }
        Ok(by_store)
    }

    fn sum(&mut self, child: &str, bucket: NaiveDate) -> &mut Sum {
        &mut self.rows.entry((child.to_owned(), bucket.into())).or_default().1
    }

    fn item(
        &mut self,
        child: &str,
        bucket: NaiveDate,
        item: &str,
    ) -> Result<&mut ItemSum, AppError> {
        let item: ItemId = read(item)?;
        Ok(self.sum(child, bucket).items.entry(item).or_default())
    }

    /// Merges a part into the row of its child and that of the scope.
    fn add(&mut self, child: &str, bucket: NaiveDate, part: &Sum) {
        for child in BTreeSet::from(["", child]) {
            let sum = self.sum(child, bucket);
            *sum = std::mem::take(sum).merge(part);
        }
    }

    /// What is additive whatever the grouping: read once, at the finest.
    pub(super) async fn own_dates(
        &mut self,
        conn: &mut AsyncPgConnection,
        settings: &Settings,
    ) -> Result<(), AppError> {
        let of = self.grouping(self.asked.level());
        for row in db::rollups::days(conn, &of).await? {
            let items = BTreeMap::from([(read(&row.item_id)?, day_sum(&row))]);
            self.add(&row.child, row.bucket, &Sum { items, ..Sum::default() });
        }
        for row in db::rollups::nights(conn, &of).await? {
            self.add(&row.child, row.bucket, &Sum { night: night_sum(&row)?, ..Sum::default() });
        }
        for row in db::rollups::waste(conn, &of).await? {
            let waste = BTreeMap::from([waste_lines(&row)?]);
            self.add(&row.child, row.bucket, &Sum { waste, ..Sum::default() });
        }
        for row in db::rollups::dayparts(conn, &of).await? {
            let key =
                DaypartKey { daypart: read(&row.daypart_id)?, channel: read(&row.channel_id)? };
            let dayparts = BTreeMap::from([(key, daypart_sum(&row)?)]);
            self.add(&row.child, row.bucket, &Sum { dayparts, ..Sum::default() });
        }
        self.portions(conn, settings, &of).await
    }

    /// What is not: where a store changed from one child to another, count errors cancel in the
    /// scope and not in its children, and a night may be covered by spans of both.
    pub(super) async fn spans(
        &mut self,
        conn: &mut AsyncPgConnection,
        children: Option<Level>,
    ) -> Result<(), AppError> {
        let of = self.grouping(children);
        for row in db::rollups::spans(conn, &of).await? {
            put_span(self.item(&row.child, row.bucket, &row.item_id)?, &row)?;
        }
        for row in db::rollups::against_sales(conn, &of).await? {
            let sum = self.sum(&row.child, row.bucket);
            *sum = std::mem::take(sum).merge(&over_sales(&row));
        }
        Ok(())
    }

    /// Portions weighed speak for the nights that follow them: for a bucket shorter than the
    /// network pools samples over, those of the nights before it are taken in.
    async fn portions(
        &mut self,
        conn: &mut AsyncPgConnection,
        settings: &Settings,
        of: &Grouping<'_>,
    ) -> Result<(), AppError> {
        let back = i64::from(settings.sample_nights.max(1)) - 1;
        let since = |bucket: &DateSpan| bucket.from().min(bucket.to().plus_days(-back));
        let from = self.buckets.iter().map(since).min().unwrap_or(of.span.from());
        let span = DateSpan::new(from, of.span.to()).map_err(anyhow::Error::new)?;
        let rows = db::rollups::samples(conn, &Grouping { span, ..*of }).await?;
        for row in rows {
            let squares = row.squares.parse().map_err(anyhow::Error::new)?;
            let samples = Samples::from_parts(row.count, row.sum, squares);
            let (item, date) = (read::<ItemId>(&row.item_id)?, row.bucket.into());
            for bucket in self.buckets.iter().filter(|b| since(b) <= date && date <= b.to()) {
                for child in BTreeSet::from(["", row.child.as_str()]) {
                    let sum = self.rows.get_mut(&(child.to_owned(), bucket.from()));
                    if let Some(sum) = sum.and_then(|(_, sum)| sum.items.get_mut(&item)) {
                        sum.samples = sum.samples.merge(samples);
                    }
                }
            }
        }
        Ok(())
    }

    pub(super) fn rows(self) -> Vec<Row> {
        let bucket =
            |from: BusinessDate| self.buckets.iter().find(|bucket| bucket.from() == from).copied();
        self.rows
            .into_iter()
            .filter_map(|((child, from), (nights, sum))| {
                let child = (!child.is_empty()).then_some(child);
                let measures = Measures::of(&sum);
                Some(Row { child, bucket: bucket(from)?, nights, sum, measures })
            })
            .collect()
    }
}
