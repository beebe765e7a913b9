//! Tallies of before nights were packed: a row for each item, span, daypart and night. They are read
//! here once, packed as they are and not worked out anew, and taken away.

use std::collections::{BTreeMap, BTreeSet};

use anyhow::Context;
use chrono::{DateTime, Utc};
use diesel::QueryableByName;
use diesel::sql_types::{Jsonb, Text};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl};
use parings_core::access::Standing;
use parings_core::calendar::BusinessDate;
use parings_core::ids::{ChannelId, DaypartId, ItemId};
use parings_core::money::Money;
use parings_core::quantity::Tallied;
use parings_core::tally::{
    Counted, Day, DaypartKey, DaypartTally, Doubt, EndedSpan, ItemDay, ItemSpan, Night, NightTally,
    SalesSource, WasteLine,
};
use parings_core::tickets::{Histogram, TicketTally};
use parings_core::usage::Samples;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::json::Json;
use super::statement::statement;
use super::tallies::{Key, NightRow, put};

/// The version of the rules that made them.
const RULES: i16 = 1;

#[derive(Deserialize)]
struct ItemDayRow {
    business_date: BusinessDate,
    item_id: ItemId,
    received: i64,
    price_effect: i64,
    transferred_in: i64,
    transferred_out: i64,
    made: i64,
    made_into: i64,
    made_into_cost: i64,
    expected: i64,
    expected_cost: i64,
    wasted: i64,
    wasted_cost: i64,
    wasted_safety: i64,
    wasted_safety_cost: i64,
    waste: Vec<WasteLine>,
    batch_in: i64,
    batch_out: i64,
    batch_expected_out: i64,
    yield_loss: i64,
    yield_loss_cost: i64,
    #[serde(flatten)]
    weighed: SamplesRow,
    over_cap: bool,
    stock_out_minutes: u64,
    closing: Option<i64>,
    closing_sd: Option<i64>,
}

#[derive(Deserialize)]
struct SamplesRow {
    samples: u64,
    sample_sum: i64,
    sample_squares: i64,
}

impl From<SamplesRow> for Samples {
    fn from(row: SamplesRow) -> Self {
        Self::from_parts(row.samples, row.sample_sum, row.sample_squares.into())
    }
}

impl From<ItemDayRow> for ItemDay {
    fn from(row: ItemDayRow) -> Self {
        let (amount, money) = (Tallied::from_thousandths, Money::from_ten_thousandths);
        let count = row.closing.zip(row.closing_sd);
        Self {
            received: amount(row.received),
            price_effect: money(row.price_effect),
            transferred_in: amount(row.transferred_in),
            transferred_out: amount(row.transferred_out),
            made: amount(row.made),
            made_into: amount(row.made_into),
            made_into_cost: money(row.made_into_cost),
            expected: amount(row.expected),
            expected_cost: money(row.expected_cost),
            wasted: amount(row.wasted),
            wasted_cost: money(row.wasted_cost),
            wasted_safety: amount(row.wasted_safety),
            wasted_safety_cost: money(row.wasted_safety_cost),
            waste: row.waste,
            batch_in: amount(row.batch_in),
            batch_out: amount(row.batch_out),
            batch_expected_out: amount(row.batch_expected_out),
            yield_loss: amount(row.yield_loss),
            yield_loss_cost: money(row.yield_loss_cost),
            samples: row.weighed.into(),
            over_cap: row.over_cap,
            stock_out_minutes: row.stock_out_minutes,
            count: count.map(|(closing, sd)| Counted { closing: amount(closing), sd: amount(sd) }),
        }
    }
}

#[derive(Deserialize)]
struct SpanRow {
    business_date: BusinessDate,
    item_id: ItemId,
    opened_on: BusinessDate,
    nights: u64,
    opening: i64,
    opening_sd: i64,
    received: i64,
    transferred_in: i64,
    transferred_out: i64,
    made: i64,
    closing: i64,
    closing_sd: i64,
    used: i64,
    used_cost: Option<i64>,
    made_into: i64,
    made_into_cost: i64,
    expected: Option<i64>,
    expected_cost: Option<i64>,
    variance_cost: Option<i64>,
    wasted: i64,
    wasted_cost: i64,
    wasted_safety: i64,
    wasted_safety_cost: i64,
    yield_loss: i64,
    yield_loss_cost: i64,
    #[serde(flatten)]
    weighed: SamplesRow,
    sales: Option<i64>,
    doubts: BTreeSet<Doubt>,
    restated_at: Option<DateTime<Utc>>,
}

impl From<SpanRow> for EndedSpan {
    fn from(row: SpanRow) -> Self {
        let (amount, money) = (Tallied::from_thousandths, Money::from_ten_thousandths);
        let count = |closing, sd| Counted { closing: amount(closing), sd: amount(sd) };
        let span = ItemSpan {
            opened_on: row.opened_on,
            nights: row.nights,
            opening: count(row.opening, row.opening_sd),
            received: amount(row.received),
            transferred_in: amount(row.transferred_in),
            transferred_out: amount(row.transferred_out),
            made: amount(row.made),
            closing: count(row.closing, row.closing_sd),
            used: amount(row.used),
            used_cost: row.used_cost.map(money),
            made_into: amount(row.made_into),
            made_into_cost: money(row.made_into_cost),
            expected: row.expected.map(amount),
            expected_cost: row.expected_cost.map(money),
            variance_cost: row.variance_cost.map(money),
            wasted: amount(row.wasted),
            wasted_cost: money(row.wasted_cost),
            wasted_safety: amount(row.wasted_safety),
            wasted_safety_cost: money(row.wasted_safety_cost),
            yield_loss: amount(row.yield_loss),
            yield_loss_cost: money(row.yield_loss_cost),
            samples: row.weighed.into(),
            sales: row.sales.map(money),
            // The rules of then did not ask.
            owner_changed: false,
            doubts: row.doubts,
        };
        Self { span, restated_at: row.restated_at }
    }
}

#[derive(Deserialize)]
struct DaypartRow {
    business_date: BusinessDate,
    daypart_id: DaypartId,
    channel_id: ChannelId,
    units: u64,
    sales: i64,
    orders: u64,
    times: Histogram,
    with_target: u64,
    late: u64,
    never_closed: u64,
    lump_closed: u64,
    stock_out_minutes: u64,
}

impl From<DaypartRow> for (DaypartKey, DaypartTally) {
    fn from(row: DaypartRow) -> Self {
        let tickets = TicketTally {
            orders: row.orders,
            times: row.times,
            with_target: row.with_target,
            timed_late: row.late,
            never_closed: row.never_closed,
            lump_closed: row.lump_closed,
        };
        let tally = DaypartTally {
            units: row.units,
            sales: Money::from_ten_thousandths(row.sales),
            tickets,
            stock_out_minutes: row.stock_out_minutes,
        };
        (DaypartKey { daypart: row.daypart_id, channel: row.channel_id }, tally)
    }
}

#[derive(Deserialize)]
struct TallyRow {
    business_date: BusinessDate,
    known_at: DateTime<Utc>,
    revision: Option<i32>,
    #[serde(flatten)]
    place: Place,
    counted: bool,
    partial: bool,
    items_due: u64,
    items_counted: u64,
    items_left_out: u64,
    sales_source: SalesSource,
    sales: Option<i64>,
    units: Option<u64>,
    wasted_cost: i64,
    wasted_safety_cost: i64,
    unmapped_units: u64,
    short: bool,
}

#[derive(Deserialize)]
struct Place {
    store_id: String,
    district_id: String,
    region_id: String,
    owner_id: String,
}

impl Place {
    fn standing(&self) -> anyhow::Result<Standing> {
        Ok(Standing {
            store: self.store_id.parse()?,
            district: self.district_id.parse()?,
            region: self.region_id.parse()?,
            owner: self.owner_id.parse()?,
        })
    }
}

impl TallyRow {
    fn tally(&self) -> NightTally {
        let money = Money::from_ten_thousandths;
        NightTally {
            counted: self.counted,
            partial: self.partial,
            items_due: self.items_due,
            items_counted: self.items_counted,
            items_left_out: self.items_left_out,
            sales_source: self.sales_source,
            sales: self.sales.map(money),
            units: self.units,
            wasted_cost: money(self.wasted_cost),
            wasted_safety_cost: money(self.wasted_safety_cost),
            unmapped_units: self.unmapped_units,
            short: self.short,
        }
    }
}

#[derive(QueryableByName)]
struct Named {
    #[diesel(sql_type = Text)]
    store_id: String,
}

#[derive(QueryableByName)]
struct Document {
    #[diesel(sql_type = Jsonb)]
    row: Json<Value>,
}

statement!(Stores {} = "unpacked/stores.sql");
statement!(Nights<'a> { store: &'a str => Text } = "unpacked/nights.sql");
statement!(Days<'a> { store: &'a str => Text } = "unpacked/days.sql");
statement!(Spans<'a> { store: &'a str => Text } = "unpacked/spans.sql");
statement!(Dayparts<'a> { store: &'a str => Text } = "unpacked/dayparts.sql");

fn read<T: DeserializeOwned>(rows: Vec<Document>) -> anyhow::Result<Vec<T>> {
    let rows = rows.into_iter().map(|Document { row: Json(row) }| serde_json::from_value(row));
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Packs the nights of every store that still has rows of before, each store in a transaction of its
/// own, so that it can be stopped and go on; `step` is told how many stores are done, and of how many.
/// Answers with how many nights it packed.
///
/// # Errors
/// When the owner cannot connect, or a row holds what no rule wrote.
pub async fn pack(owner_url: &str, mut step: impl FnMut(usize, usize)) -> anyhow::Result<usize> {
    let connecting = AsyncPgConnection::establish(owner_url).await;
    let mut conn = connecting.context("connect as the owner")?;
    let stores: Vec<Named> = Stores {}.load(&mut conn).await?;
    let (of, mut packed) = (stores.len(), 0);
    for (n, Named { store_id }) in stores.iter().enumerate() {
        let work = conn.transaction(async |conn| {
            let rows = nights(conn, store_id).await?;
            put(conn, &rows).await?;
            anyhow::Ok(rows.len())
        });
        packed += work.await.with_context(|| format!("pack the nights of {store_id}"))?;
        step(n + 1, of);
    }
    Ok(packed)
}

async fn nights(conn: &mut AsyncPgConnection, store: &str) -> anyhow::Result<Vec<NightRow>> {
    let mut days: BTreeMap<BusinessDate, Night> = BTreeMap::new();
    let tallies: Vec<TallyRow> = read(Nights { store }.load(conn).await?)?;
    for row in &tallies {
        let day = Day { night: row.tally(), ..Day::default() };
        days.insert(row.business_date, Night { day, spans: BTreeMap::new() });
    }
    for row in read::<ItemDayRow>(Days { store }.load(conn).await?)? {
        let (date, item) = (row.business_date, row.item_id.clone());
        if let Some(night) = days.get_mut(&date) {
            night.day.items.insert(item, row.into());
        }
    }
    for row in read::<SpanRow>(Spans { store }.load(conn).await?)? {
        let (date, item) = (row.business_date, row.item_id.clone());
        if let Some(night) = days.get_mut(&date) {
            night.spans.insert(item, row.into());
        }
    }
    for row in read::<DaypartRow>(Dayparts { store }.load(conn).await?)? {
        if let Some(night) = days.get_mut(&row.business_date) {
            let (key, tally) = row.into();
            night.day.dayparts.insert(key, tally);
        }
    }
    keep(&mut days);
    tallies
        .iter()
        .filter_map(|row| Some((row, days.get(&row.business_date)?)))
        .map(|(row, night)| {
            let standing = &row.place.standing()?;
            let key = Key { standing, date: row.business_date, known_at: row.known_at };
            Ok(NightRow::under(RULES, key, row.revision, night)?)
        })
        .collect()
}

/// Says of which items a store kept which nights, as far as rows of before tell: from the first count to
/// the last. The rules in force say it by the catalogue, once they have worked the nights out anew.
fn keep(days: &mut BTreeMap<BusinessDate, Night>) {
    let mut counted: BTreeMap<ItemId, (BusinessDate, BusinessDate)> = BTreeMap::new();
    for (date, night) in &*days {
        for (item, _) in night.day.items.iter().filter(|(_, day)| day.count.is_some()) {
            counted.entry(item.clone()).or_insert((*date, *date)).1 = *date;
        }
    }
    for (date, night) in days {
        let kept = counted.iter().filter(|(_, (first, last))| (first..=last).contains(&&*date));
        night.day.kept = kept.map(|(item, _)| item.clone()).collect();
    }
}
