//! Scenes made from tallies: what a review or a roll-up looks at, put on record without the facts behind
//! it, and packed as the rules would.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, NaiveDate, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::ids::ItemId;
use parings_core::money::Money;
use parings_core::quantity::Tallied;
use parings_core::tally::pack::{Dictionary, pack, unpack};
use parings_core::tally::{
    Counted, DaypartKey, DaypartTally, Doubt, EndedSpan, ItemDay, ItemSpan, Night, NightTally,
    RULES, SalesSource, WasteLine,
};
use parings_core::tickets::{Histogram, TicketTally};
use parings_core::usage::Samples;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value, json};
use tokio_postgres::Client;

use crate::network;

/// The kinds of tallies that a scene may say something of, under the names of the views that show them.
const TALLIES: [&str; 4] = ["item_days", "item_spans", "daypart_tallies", "night_tallies"];

/// A row in which every column that must be said says nothing, and what is said.
async fn nothing(pg: &Client, table: &str) -> Map<String, Value> {
    let sql = "SELECT column_name::text, data_type::text FROM information_schema.columns
        WHERE table_name = $1 AND is_nullable = 'NO'";
    let columns = pg.query(sql, &[&table]).await.expect("columns");
    let said = |kind: &str| match kind {
        "boolean" => json!(false),
        "jsonb" => json!([]),
        _ => json!(0),
    };
    columns.into_iter().map(|row| (row.get(0), said(row.get(1)))).collect()
}

/// Puts rows on record, each with what it says; of what it must say and does not, nothing. A tally goes
/// into the packed night of its store and date, beside what that has already.
pub async fn put(pg: &Client, table: &str, rows: Vec<Value>) {
    if TALLIES.contains(&table) {
        return put_tallies(pg, table, rows).await;
    }
    let nothing = nothing(pg, table).await;
    let whole = |said: Value| {
        let mut row = nothing.clone();
        row.extend(said.as_object().expect("an object").clone());
        Value::Object(row)
    };
    let rows = Value::Array(rows.into_iter().map(whole).collect());
    let sql = format!(
        "INSERT INTO {table} SELECT * FROM jsonb_populate_recordset(NULL::{table}, $1::text::jsonb)"
    );
    pg.execute(&sql, &[&rows.to_string()]).await.expect("rows on record");
}

/// A night on record, and what is kept beside it.
struct Record {
    places: [String; 3],
    known_at: DateTime<Utc>,
    revision: Option<i32>,
    night: Night,
}

async fn read(pg: &Client, store: &str, date: BusinessDate) -> Option<Record> {
    let sql = "SELECT district_id, region_id, owner_id, known_at, revision, counted, others, packed
        FROM nights WHERE store_id = $1 AND business_date = $2";
    let row = pg.query_opt(sql, &[&store, &NaiveDate::from(date)]).await.expect("a night")?;
    let (counted, others): (String, String) = (row.get(5), row.get(6));
    let codes = Dictionary::default().read(&counted, &others).expect("codes");
    let night = unpack(date, &codes, row.get(7)).expect("a packed night");
    let places = [row.get(0), row.get(1), row.get(2)];
    Some(Record { places, known_at: row.get(3), revision: row.get(4), night })
}

async fn write(pg: &Client, store: &str, date: BusinessDate, record: &Record) {
    let Record { places: [district, region, owner], known_at, revision, night } = record;
    let packed = pack(date, night).expect("small figures");
    let opened = night.spans.values().map(|ended| ended.span.opened_on).min();
    let reaches = NaiveDate::from(opened.unwrap_or(date));
    let sampled = night.day.items.values().any(|item| item.samples.count() > 0);
    let sql = "INSERT INTO nights (business_date, store_id, rules, district_id, region_id, owner_id,
          known_at, generation, revision, reaches, sampled, counted, others, packed)
        VALUES ($1, $2, $3, $4, $5, $6, $7, nextval('night_generations'), $8, $9, $10, $11, $12, $13)
        ON CONFLICT (store_id, business_date) DO UPDATE SET generation = excluded.generation,
          revision = excluded.revision, reaches = excluded.reaches, sampled = excluded.sampled,
          counted = excluded.counted, others = excluded.others, packed = excluded.packed";
    let (counted, others) = (&packed.codes.counted, &packed.codes.others);
    pg.execute(
        sql,
        &[
            &NaiveDate::from(date),
            &store,
            &RULES,
            district,
            region,
            owner,
            known_at,
            revision,
            &reaches,
            &sampled,
            counted,
            others,
            &packed.bytes,
        ],
    )
    .await
    .expect("a night on record");
}

/// Changes a packed night by hand.
///
/// # Panics
/// When there is no such night.
pub async fn alter(pg: &Client, store: &str, date: &str, change: impl FnOnce(&mut Night)) {
    let date = date.parse().expect("a date");
    let mut record = read(pg, store, date).await.expect("a night on record");
    change(&mut record.night);
    write(pg, store, date, &record).await;
}

async fn put_tallies(pg: &Client, table: &str, rows: Vec<Value>) {
    // Every item on record is kept everywhere.
    let sql = "SELECT DISTINCT code FROM reference_versions WHERE kind = 'items'";
    let kept = pg.query(sql, &[]).await.expect("items");
    let kept: BTreeSet<ItemId> =
        kept.iter().map(|row| row.get::<_, &str>(0).parse().expect("a code")).collect();
    let mut nights: BTreeMap<(String, BusinessDate), Vec<Said>> = BTreeMap::new();
    for row in rows {
        let said = Said(row);
        let (store, date) = (said.text("store_id"), said.read("business_date"));
        nights.entry((store, date.expect("a date"))).or_default().push(said);
    }
    for ((store, date), rows) in nights {
        let new = || Record {
            places: ["district_id", "region_id", "owner_id"].map(|name| rows[0].text(name)),
            known_at: rows[0].read("known_at").unwrap_or_default(),
            revision: None,
            night: Night::default(),
        };
        let mut record = read(pg, &store, date).await.unwrap_or_else(new);
        record.night.day.kept.clone_from(&kept);
        for said in &rows {
            match table {
                "item_days" => {
                    record.night.day.items.insert(said.item(), said.item_day());
                }
                "item_spans" => {
                    record.night.spans.insert(said.item(), said.span(date));
                }
                "daypart_tallies" => {
                    record.night.day.dayparts.insert(said.key(), said.daypart());
                }
                _ => {
                    record.revision = said.read("revision");
                    record.night.day.night = said.night();
                }
            }
        }
        write(pg, &store, date, &record).await;
    }
}

/// A tally as a scene says it: what is not said is nothing.
struct Said(Value);

impl Said {
    fn read<T: DeserializeOwned>(&self, name: &str) -> Option<T> {
        let value = self.0.get(name).filter(|value| !value.is_null() && **value != json!(0))?;
        Some(serde_json::from_value(value.clone()).expect(name))
    }

    fn text(&self, name: &str) -> String {
        self.0.get(name).and_then(Value::as_str).unwrap_or_default().to_owned()
    }

    fn item(&self) -> ItemId {
        self.text("item_id").parse().expect("an item")
    }

    fn number(&self, name: &str) -> i64 {
        self.0.get(name).and_then(Value::as_i64).unwrap_or_default()
    }

    fn count(&self, name: &str) -> u64 {
        self.number(name).unsigned_abs()
    }

    fn flag(&self, name: &str) -> bool {
        self.0.get(name).and_then(Value::as_bool).unwrap_or_default()
    }

    fn known(&self, name: &str) -> Option<i64> {
        self.0.get(name).and_then(Value::as_i64)
    }

    fn amount(&self, name: &str) -> Tallied {
        Tallied::from_thousandths(self.number(name))
    }

    fn money(&self, name: &str) -> Money {
        Money::from_ten_thousandths(self.number(name))
    }

    fn samples(&self) -> Samples {
        let squares = self.number("sample_squares").into();
        Samples::from_parts(self.count("samples"), self.number("sample_sum"), squares)
    }

    fn item_day(&self) -> ItemDay {
        let closing = self.known("closing").map(Tallied::from_thousandths);
        ItemDay {
            received: self.amount("received"),
            price_effect: self.money("price_effect"),
            expected: self.amount("expected"),
            expected_cost: self.money("expected_cost"),
            wasted: self.amount("wasted"),
            wasted_cost: self.money("wasted_cost"),
            wasted_safety: self.amount("wasted_safety"),
            wasted_safety_cost: self.money("wasted_safety_cost"),
            waste: self.read::<Vec<WasteLine>>("waste").unwrap_or_default(),
            batch_in: self.amount("batch_in"),
            batch_out: self.amount("batch_out"),
            batch_expected_out: self.amount("batch_expected_out"),
            samples: self.samples(),
            stock_out_minutes: self.count("stock_out_minutes"),
            count: closing.map(|closing| Counted { closing, sd: self.amount("closing_sd") }),
            ..ItemDay::default()
        }
    }

    fn span(&self, date: BusinessDate) -> EndedSpan {
        let amount = |name| self.known(name).map(Tallied::from_thousandths);
        let money = |name| self.known(name).map(Money::from_ten_thousandths);
        let count = |closing, sd| Counted { closing: self.amount(closing), sd: self.amount(sd) };
        let span = ItemSpan {
            opened_on: self.read("opened_on").unwrap_or(date.pred()),
            nights: self.count("nights"),
            opening: count("opening", "opening_sd"),
            received: self.amount("received"),
            transferred_in: Tallied::ZERO,
            transferred_out: Tallied::ZERO,
            made: Tallied::ZERO,
            closing: count("closing", "closing_sd"),
            used: self.amount("used"),
            used_cost: money("used_cost"),
            made_into: self.amount("made_into"),
            made_into_cost: self.money("made_into_cost"),
            expected: amount("expected"),
            expected_cost: money("expected_cost"),
            variance_cost: money("variance_cost"),
            wasted: self.amount("wasted"),
            wasted_cost: self.money("wasted_cost"),
            wasted_safety: self.amount("wasted_safety"),
            wasted_safety_cost: self.money("wasted_safety_cost"),
            yield_loss: self.amount("yield_loss"),
            yield_loss_cost: self.money("yield_loss_cost"),
            samples: self.samples(),
            sales: money("sales"),
            owner_changed: self.flag("owner_changed"),
            doubts: self.read::<BTreeSet<Doubt>>("doubts").unwrap_or_default(),
        };
        EndedSpan { span, restated_at: self.read("restated_at") }
    }

    fn key(&self) -> DaypartKey {
        DaypartKey {
            daypart: self.text("daypart_id").parse().expect("a daypart"),
            channel: self.text("channel_id").parse().expect("a channel"),
        }
    }

    fn daypart(&self) -> DaypartTally {
        DaypartTally {
            units: self.count("units"),
            sales: self.money("sales"),
            tickets: TicketTally {
                orders: self.count("orders"),
                times: self.read::<Histogram>("times").unwrap_or_default(),
                with_target: self.count("with_target"),
                timed_late: self.count("late"),
                never_closed: self.count("never_closed"),
                lump_closed: self.count("lump_closed"),
            },
            stock_out_minutes: self.count("stock_out_minutes"),
        }
    }

    fn night(&self) -> NightTally {
        NightTally {
            counted: self.flag("counted"),
            partial: self.flag("partial"),
            items_due: self.count("items_due"),
            items_counted: self.count("items_counted"),
            items_left_out: self.count("items_left_out"),
            sales_source: self.read("sales_source").unwrap_or(SalesSource::None),
            sales: self.known("sales").map(Money::from_ten_thousandths),
            units: self.known("units").map(i64::unsigned_abs),
            wasted_cost: self.money("wasted_cost"),
            wasted_safety_cost: self.money("wasted_safety_cost"),
            unmapped_units: self.count("unmapped_units"),
            short: self.flag("short"),
        }
    }
}

/// Puts a small network on record: stores by code, district and first date, all of one format, zone,
/// region and owner, open on every weekday.
pub async fn reference(pg: &Client, stores: &[(&str, &str, &str)]) {
    let titled = |title: &str| json!({ "title": title });
    let district = |title: &str| json!({ "title": title, "region": "valley" });
    let settings = json!({
        "title": "A chain", "currency": "EUR", "count_error": "0.02", "sample_nights": 28,
        "minimum_tickets": 30, "lump": { "tickets": 5, "within": 10 }, "doubtful_tickets": "0.05",
    });
    let mut all: Vec<(&str, &str, &str, Value)> = vec![
        ("settings", "network", "2026-01-01", settings),
        ("regions", "valley", "2026-01-01", titled("Valley")),
        ("owners", "brook", "2026-01-01", titled("Brook")),
        ("items", "potato", "2026-01-01", network::potato()),
    ];
    for code in stores.iter().map(|(_, district, _)| *district).collect::<BTreeSet<_>>() {
        all.push(("districts", code, "2026-01-01", district(code)));
    }
    for (store, district, from) in stores.iter().copied() {
        let week = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
        let document = json!({ "title": store, "district": district, "owner": "brook",
            "format": "counter", "zone": "Europe/Berlin", "open": week });
        all.push(("stores", store, from, document));
    }
    for (kind, code, from, body) in all {
        let placed = |name: &str| body.get(name).and_then(Value::as_str).map(str::to_owned);
        let stored = (kind == "stores").then_some(code);
        let sql = "INSERT INTO reference_versions
               (kind, code, valid_from, recorded_at, body, store_id, district_id, owner_id)
             VALUES ($1, $2, $3::text::date, '2025-12-01Z', $4::text::jsonb, $5, $6, $7)";
        let (district, owner) = (placed("district"), placed("owner"));
        pg.execute(sql, &[&kind, &code, &from, &body.to_string(), &stored, &district, &owner])
            .await
            .expect("a document on record");
    }
}
