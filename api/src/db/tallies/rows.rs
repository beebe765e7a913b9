//! Rows of the tally tables. Field names are column names: rows are written column by column, and read
//! with `to_jsonb`.

use std::collections::BTreeSet;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::QueryResult;
use diesel::pg::Pg;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::result::Error;
use diesel::sql_types::{Array, Date, SmallInt, Text, Untyped};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::BusinessDate;
use parings_core::ids::{CodeError, ItemId};
use parings_core::money::Money;
use parings_core::quantity::Tallied;
use parings_core::tally::{
    Counted, DaypartKey, DaypartTally, Doubt, ItemDay, ItemSpan, NightTally, RULES, SalesSource,
    WasteLine,
};
use parings_core::tickets::Histogram;
use parings_core::usage::Samples;
use serde::{Deserialize, Serialize};

use super::Key;
use crate::db::bulk::{Column, many, whole};

/// A code as it is stored.
pub(in crate::db) fn code<T: std::str::FromStr<Err = CodeError>>(text: &str) -> QueryResult<T> {
    text.parse().map_err(|e: CodeError| Error::DeserializationError(e.into()))
}

fn unsigned(count: i64) -> QueryResult<u64> {
    u64::try_from(count).map_err(|e| Error::DeserializationError(e.into()))
}

/// Whose row it is: the first columns of every tally.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeyColumns {
    business_date: BusinessDate,
    store_id: String,
    rules: i16,
    district_id: String,
    region_id: String,
    owner_id: String,
}

impl KeyColumns {
    pub(super) fn new(key: Key<'_>) -> Self {
        let at = key.standing;
        Self {
            business_date: key.date,
            store_id: at.store.to_string(),
            rules: RULES,
            district_id: at.district.to_string(),
            region_id: at.region.to_string(),
            owner_id: at.owner.to_string(),
        }
    }

    /// Adds everything after the date to a statement.
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_sql(", ");
        out.push_bind_param::<Text, _>(&self.store_id)?;
        out.push_sql(", ");
        out.push_bind_param::<SmallInt, _>(&self.rules)?;
        for place in [&self.district_id, &self.region_id, &self.owner_id] {
            out.push_sql(", ");
            out.push_bind_param::<Text, _>(place)?;
        }
        Ok(())
    }
}

macro_rules! row {
    ($(#[$doc:meta])* $name:ident in $table:literal by $insert:ident {
        $($field:ident: $type:ty),* $(,)?
    }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        pub struct $name {
            #[serde(flatten)]
            key: KeyColumns,
            $($field: $type,)*
        }

        impl $name {
            /// Adds rows of many nights.
            ///
            /// # Errors
            /// When the acting part is not the rules', or the database cannot be reached.
            pub async fn add(conn: &mut AsyncPgConnection, rows: &[Self]) -> QueryResult<()> {
                many!(AddMany of $name, $table:
                    business_date: BusinessDate [key.business_date],
                    store_id: String [key.store_id],
                    rules: i16 [key.rules],
                    district_id: String [key.district_id],
                    region_id: String [key.region_id],
                    owner_id: String [key.owner_id],
                    $($field: $type [$field],)*
                );
                if !rows.is_empty() {
                    AddMany::new(rows)?.execute(conn).await?;
                }
                Ok(())
            }
        }

        /// The insert of such rows of one night.
        pub(super) struct $insert {
            date: NaiveDate,
            key: KeyColumns,
            $($field: Vec<<$type as Column>::Sent>,)*
        }

        impl $insert {
            pub(super) fn new<'a>(
                key: KeyColumns,
                rows: impl Iterator<Item = &'a $name> + Clone,
            ) -> QueryResult<Self> {
                Ok(Self {
                    date: key.business_date.into(),
                    $($field: rows.clone().map(|row| row.$field.sent()).collect::<Result<_, _>>()?,)*
                    key,
                })
            }
        }

        impl QueryId for $insert {
            type QueryId = $insert;
            const HAS_STATIC_QUERY_ID: bool = true;
        }

        impl Query for $insert {
            type SqlType = Untyped;
        }

        impl QueryFragment<Pg> for $insert {
            fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
                out.push_sql(concat!("INSERT INTO ", $table, " (business_date, store_id, rules, \
                    district_id, region_id, owner_id", $(", ", stringify!($field),)* ") SELECT "));
                out.push_bind_param::<Date, _>(&self.date)?;
                self.key.walk_ast(out.reborrow())?;
                out.push_sql(", fields.* FROM unnest(");
                let mut comma = "";
                $(
                    out.push_sql(std::mem::replace(&mut comma, ", "));
                    out.push_bind_param::<Array<<$type as Column>::Sql>, _>(&self.$field)?;
                )*
                out.push_sql(") AS fields");
                Ok(())
            }
        }
    };
}

row! {
    /// A row of `item_days`.
    ItemDayRow in "item_days" by AddItemDays {
        known_at: DateTime<Utc>, item_id: String,
        received: i64, price_effect: i64, transferred_in: i64, transferred_out: i64, made: i64,
        made_into: i64, made_into_cost: i64, expected: i64, expected_cost: i64,
        wasted: i64, wasted_cost: i64, wasted_safety: i64, wasted_safety_cost: i64,
        waste: Vec<WasteLine>,
        batch_in: i64, batch_out: i64, batch_expected_out: i64,
        yield_loss: i64, yield_loss_cost: i64,
        samples: i64, sample_sum: i64, sample_squares: i64,
        over_cap: bool, stock_out_minutes: i64, closing: Option<i64>, closing_sd: Option<i64>,
    }
}

fn squares(samples: &Samples) -> QueryResult<i64> {
    i64::try_from(samples.squares()).map_err(|e| Error::SerializationError(e.into()))
}

impl ItemDayRow {
    /// The row of a day of an item.
    ///
    /// # Errors
    /// When a figure is too large to keep.
    pub fn new(key: Key<'_>, item: &ItemId, day: &ItemDay) -> QueryResult<Self> {
        Ok(Self {
            key: KeyColumns::new(key),
            known_at: key.known_at,
            item_id: item.to_string(),
            received: day.received.thousandths(),
            price_effect: day.price_effect.ten_thousandths(),
            transferred_in: day.transferred_in.thousandths(),
            transferred_out: day.transferred_out.thousandths(),
            made: day.made.thousandths(),
            made_into: day.made_into.thousandths(),
            made_into_cost: day.made_into_cost.ten_thousandths(),
            expected: day.expected.thousandths(),
            expected_cost: day.expected_cost.ten_thousandths(),
            wasted: day.wasted.thousandths(),
            wasted_cost: day.wasted_cost.ten_thousandths(),
            wasted_safety: day.wasted_safety.thousandths(),
            wasted_safety_cost: day.wasted_safety_cost.ten_thousandths(),
            waste: day.waste.clone(),
            batch_in: day.batch_in.thousandths(),
            batch_out: day.batch_out.thousandths(),
            batch_expected_out: day.batch_expected_out.thousandths(),
            yield_loss: day.yield_loss.thousandths(),
            yield_loss_cost: day.yield_loss_cost.ten_thousandths(),
            samples: whole(day.samples.count())?,
            sample_sum: day.samples.sum(),
            sample_squares: squares(&day.samples)?,
            over_cap: day.over_cap,
            stock_out_minutes: whole(day.stock_out_minutes)?,
            closing: day.count.map(|c| c.closing.thousandths()),
            closing_sd: day.count.map(|c| c.sd.thousandths()),
        })
    }

    pub(super) fn into_parts(self) -> QueryResult<(BusinessDate, ItemId, ItemDay)> {
        let amount = Tallied::from_thousandths;
        let money = Money::from_ten_thousandths;
        let day = ItemDay {
            received: amount(self.received),
            price_effect: money(self.price_effect),
            transferred_in: amount(self.transferred_in),
            transferred_out: amount(self.transferred_out),
            made: amount(self.made),
            made_into: amount(self.made_into),
            made_into_cost: money(self.made_into_cost),
            expected: amount(self.expected),
            expected_cost: money(self.expected_cost),
            wasted: amount(self.wasted),
            wasted_cost: money(self.wasted_cost),
            wasted_safety: amount(self.wasted_safety),
            wasted_safety_cost: money(self.wasted_safety_cost),
            waste: self.waste,
            batch_in: amount(self.batch_in),
            batch_out: amount(self.batch_out),
            batch_expected_out: amount(self.batch_expected_out),
            yield_loss: amount(self.yield_loss),
            yield_loss_cost: money(self.yield_loss_cost),
            samples: Samples::from_parts(
                unsigned(self.samples)?,
                self.sample_sum,
                self.sample_squares.into(),
            ),
            over_cap: self.over_cap,
            stock_out_minutes: unsigned(self.stock_out_minutes)?,
            count: self
                .closing
                .zip(self.closing_sd)
                .map(|(closing, sd)| Counted { closing: amount(closing), sd: amount(sd) }),
        };
        Ok((self.key.business_date, code(&self.item_id)?, day))
    }
}

row! {
    /// A row of `item_spans`.
    ItemSpanRow in "item_spans" by AddItemSpans {
        item_id: String, opened_on: BusinessDate, nights: i64,
        opening: i64, opening_sd: i64, received: i64, transferred_in: i64, transferred_out: i64,
        made: i64, closing: i64, closing_sd: i64, used: i64, used_cost: Option<i64>,
        made_into: i64, made_into_cost: i64, expected: Option<i64>, expected_cost: Option<i64>,
        variance_cost: Option<i64>, wasted: i64, wasted_cost: i64,
        wasted_safety: i64, wasted_safety_cost: i64,
        yield_loss: i64, yield_loss_cost: i64,
        samples: i64, sample_sum: i64, sample_squares: i64, sales: Option<i64>,
        doubts: BTreeSet<Doubt>, restated_at: Option<DateTime<Utc>>,
    }
}

impl ItemSpanRow {
    /// The row of a span.
    ///
    /// # Errors
    /// When a figure is too large to keep.
    pub fn new(
        key: Key<'_>,
        item: &ItemId,
        span: &ItemSpan,
        restated_at: Option<DateTime<Utc>>,
    ) -> QueryResult<Self> {
        Ok(Self {
            key: KeyColumns::new(key),
            item_id: item.to_string(),
            opened_on: span.opened_on,
            nights: whole(span.nights)?,
            opening: span.opening.closing.thousandths(),
            opening_sd: span.opening.sd.thousandths(),
            received: span.received.thousandths(),
            transferred_in: span.transferred_in.thousandths(),
            transferred_out: span.transferred_out.thousandths(),
            made: span.made.thousandths(),
            closing: span.closing.closing.thousandths(),
            closing_sd: span.closing.sd.thousandths(),
            used: span.used.thousandths(),
            used_cost: span.used_cost.map(Money::ten_thousandths),
            made_into: span.made_into.thousandths(),
            made_into_cost: span.made_into_cost.ten_thousandths(),
            expected: span.expected.map(Tallied::thousandths),
            expected_cost: span.expected_cost.map(Money::ten_thousandths),
            variance_cost: span.variance_cost.map(Money::ten_thousandths),
            wasted: span.wasted.thousandths(),
            wasted_cost: span.wasted_cost.ten_thousandths(),
            wasted_safety: span.wasted_safety.thousandths(),
            wasted_safety_cost: span.wasted_safety_cost.ten_thousandths(),
            yield_loss: span.yield_loss.thousandths(),
            yield_loss_cost: span.yield_loss_cost.ten_thousandths(),
            samples: whole(span.samples.count())?,
            sample_sum: span.samples.sum(),
            sample_squares: squares(&span.samples)?,
            sales: span.sales.map(Money::ten_thousandths),
            doubts: span.doubts.clone(),
            restated_at,
        })
    }

    /// Whose it is.
    pub(super) fn key(&self) -> &KeyColumns {
        &self.key
    }

    /// The date of the count it ends with.
    pub fn date(&self) -> BusinessDate {
        self.key.business_date
    }

    /// Its item.
    ///
    /// # Errors
    /// When the row holds what no rule wrote.
    pub fn item(&self) -> QueryResult<ItemId> {
        code(&self.item_id)
    }

    /// Whether it is the span of an item that ends on a date.
    pub fn is_of(&self, item: &ItemId, date: BusinessDate) -> bool {
        self.item_id == item.as_str() && self.key.business_date == date
    }

    /// When a change elsewhere last restated it.
    pub fn restated_at(&self) -> Option<DateTime<Utc>> {
        self.restated_at
    }

    /// The item and the span.
    ///
    /// # Errors
    /// When the row holds what no rule wrote.
    pub fn into_parts(self) -> QueryResult<(ItemId, ItemSpan)> {
        let amount = Tallied::from_thousandths;
        let money = Money::from_ten_thousandths;
        let span = ItemSpan {
            opened_on: self.opened_on,
            nights: unsigned(self.nights)?,
            opening: Counted { closing: amount(self.opening), sd: amount(self.opening_sd) },
            received: amount(self.received),
            transferred_in: amount(self.transferred_in),
            transferred_out: amount(self.transferred_out),
            made: amount(self.made),
            closing: Counted { closing: amount(self.closing), sd: amount(self.closing_sd) },
            used: amount(self.used),
            used_cost: self.used_cost.map(money),
            made_into: amount(self.made_into),
            made_into_cost: money(self.made_into_cost),
            expected: self.expected.map(amount),
            expected_cost: self.expected_cost.map(money),
            variance_cost: self.variance_cost.map(money),
            wasted: amount(self.wasted),
            wasted_cost: money(self.wasted_cost),
            wasted_safety: amount(self.wasted_safety),
            wasted_safety_cost: money(self.wasted_safety_cost),
            yield_loss: amount(self.yield_loss),
            yield_loss_cost: money(self.yield_loss_cost),
            samples: Samples::from_parts(
                unsigned(self.samples)?,
                self.sample_sum,
                self.sample_squares.into(),
            ),
            sales: self.sales.map(money),
            doubts: self.doubts,
        };
        Ok((code(&self.item_id)?, span))
    }
}

row! {
    /// A row of `daypart_tallies`.
    DaypartRow in "daypart_tallies" by AddDayparts {
        daypart_id: String, channel_id: String, units: i64, sales: i64, orders: i64,
        times: Histogram, with_target: i64, late: i64, never_closed: i64, lump_closed: i64,
        stock_out_minutes: i64,
    }
}

impl DaypartRow {
    /// The row of a daypart and channel.
    ///
    /// # Errors
    /// When a figure is too large to keep.
    pub fn new(key: Key<'_>, part: &DaypartKey, tally: &DaypartTally) -> QueryResult<Self> {
        Ok(Self {
            key: KeyColumns::new(key),
            daypart_id: part.daypart.to_string(),
            channel_id: part.channel.to_string(),
            units: whole(tally.units)?,
            sales: tally.sales.ten_thousandths(),
            orders: whole(tally.tickets.orders)?,
            times: tally.tickets.times.clone(),
            with_target: whole(tally.tickets.with_target)?,
            late: whole(tally.tickets.timed_late)?,
            never_closed: whole(tally.tickets.never_closed)?,
            lump_closed: whole(tally.tickets.lump_closed)?,
            stock_out_minutes: whole(tally.stock_out_minutes)?,
        })
    }
}

row! {
    /// A row of `night_tallies`.
    NightRow in "night_tallies" by AddNight {
        known_at: DateTime<Utc>, revision: Option<i32>, counted: bool, partial: bool,
        items_due: u64, items_counted: u64, items_left_out: u64, sales_source: SalesSource, sales: Option<i64>,
        units: Option<u64>, wasted_cost: i64, wasted_safety_cost: i64, unmapped_units: u64, short: bool,
    }
}

impl NightRow {
    /// The row of a night.
    pub fn new(key: Key<'_>, revision: Option<i32>, night: &NightTally) -> Self {
        Self {
            key: KeyColumns::new(key),
            known_at: key.known_at,
            revision,
            counted: night.counted,
            partial: night.partial,
            items_due: night.items_due,
            items_counted: night.items_counted,
            items_left_out: night.items_left_out,
            sales_source: night.sales_source,
            sales: night.sales.map(Money::ten_thousandths),
            units: night.units,
            wasted_cost: night.wasted_cost.ten_thousandths(),
            wasted_safety_cost: night.wasted_safety_cost.ten_thousandths(),
            unmapped_units: night.unmapped_units,
            short: night.short,
        }
    }

    pub(super) fn into_parts(self) -> (BusinessDate, NightTally) {
        let night = NightTally {
            counted: self.counted,
            partial: self.partial,
            items_due: self.items_due,
            items_counted: self.items_counted,
            items_left_out: self.items_left_out,
            sales_source: self.sales_source,
            sales: self.sales.map(Money::from_ten_thousandths),
            units: self.units,
            wasted_cost: Money::from_ten_thousandths(self.wasted_cost),
            wasted_safety_cost: Money::from_ten_thousandths(self.wasted_safety_cost),
            unmapped_units: self.unmapped_units,
            short: self.short,
        };
        (self.key.business_date, night)
    }
}
