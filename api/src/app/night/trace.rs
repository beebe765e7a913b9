//! A figure of a receipt, opened to the rows, the rules and the reference data behind it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::catalog::{Catalog, Kind};
use parings_core::ids::{ItemId, StoreId};
use parings_core::money::{Currency, Money};
use parings_core::quantity::{Dimension, Tallied};
use parings_core::tally::pack::Dictionary;
use parings_core::tally::{
    DayFacts, Figure, Reach, Row, Sign, contributions, orders, samples, takings,
};
use parings_core::usage::Samples;

use crate::app::Deps;
use crate::app::ground::{audit, catalog};
use crate::app::night::receipts::{self, ItemReport, Known, Receipt};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::catalog::InForceRow;
use crate::error::AppError;

/// What a figure or a row comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Worth {
    /// An amount of the item.
    Amount(Tallied, Dimension),
    /// A sum in the network's currency.
    Money(Money, Currency),
    /// A number of orders.
    Orders(u64),
}

/// A figure and everything it rests on.
pub struct Trace {
    /// The store whose night it is.
    pub store: StoreId,
    /// The business date of the night.
    pub date: BusinessDate,
    /// Which of the figures of a receipt.
    pub figure: Figure,
    /// The item, for a figure of one.
    pub item: Option<ItemId>,
    /// What it comes to; none while unknown.
    pub value: Option<Worth>,
    /// Why it is unknown.
    pub unknown: Option<&'static str>,
    /// The date of the count before, where the figure reaches back to it.
    pub since: Option<BusinessDate>,
    /// The version of the rules that worked it out.
    pub rules: i16,
    /// The reference data of the date are those known at this moment.
    pub known_at: DateTime<Utc>,
    /// What it is worked out from.
    pub terms: Vec<(Sign, Figure, Option<Worth>)>,
    /// The rows, which add up to it.
    pub rows: Vec<TracedRow>,
    /// The versions of documents that the rows rest on, in order of their ids.
    pub reference: Vec<Version>,
    /// Nights it reaches over that the one who asks may not see; their rows are missing.
    pub unseen: Vec<BusinessDate>,
}

/// A version of a document.
pub struct Version {
    /// The number of the version among all that are on record.
    pub id: i64,
    /// The kind's word.
    pub kind: String,
    /// The document's code.
    pub code: String,
    /// The first business date it holds for.
    pub valid_from: BusinessDate,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
}

impl From<InForceRow> for Version {
    fn from(row: InForceRow) -> Self {
        let InForceRow { id, kind, code, valid_from, recorded_at } = row;
        Self { id, kind, code, valid_from: valid_from.into(), recorded_at }
    }
}

/// A row behind a figure.
pub struct TracedRow {
    /// Its kind's word.
    pub kind: &'static str,
    /// Its id: an entry's own, a till batch's with the line, a revision's with the line.
    pub id: String,
    /// The business date of the night that it was recorded for.
    pub date: BusinessDate,
    /// The term of the figure that it belongs to; the figure itself where that has none.
    pub term: Figure,
    /// As typed, in words.
    pub says: String,
    /// What it adds to the figure; below zero where it takes away.
    pub adds: Worth,
}

/// Opens a figure of a night.
///
/// # Errors
/// 404 and 403 as the policy says, 422 for a figure or an item that the night does not have, with
/// those it has.
pub async fn read(
    deps: &Deps,
    caller: &Caller,
    (store, date): (&StoreId, BusinessDate),
    item: Option<&str>,
    figure: &str,
    as_known_at: Option<DateTime<Utc>>,
) -> Result<Trace, AppError> {
    deps.acting(caller, async |conn, ctx| {
        let standing = catalog::standing(conn, date, ctx.now, store).await?;
        ctx.require(Action::ReadNight, &Target::Store(&standing))?;
        audit::note_reading(conn, ctx, Action::ReadNight, &standing, date).await?;
        let at = (&standing, date);
        let receipt = receipts::known(deps, conn, caller, ctx, at, as_known_at).await?;
        let as_known_at = receipt.as_known_at;
        let found = asked(figure, item, &receipt)?;
        let (nights, unseen) = (BTreeMap::new(), Vec::new());
        let mut opening = Opening { deps, store, as_known_at, nights, unseen };
        match found {
            (figure, None) => opening.of_night(conn, ctx, figure, &receipt).await,
            (figure, Some(report)) => opening.of_item(conn, ctx, figure, report, &receipt).await,
        }
    })
    .await
}

/// The figure and item that are asked for.
fn asked<'a>(
    figure: &str,
    item: Option<&str>,
    receipt: &'a Receipt,
) -> Result<(Figure, Option<&'a ItemReport>), AppError> {
    let words = |of_item: bool| {
        let all = Figure::ALL.iter().filter(|f| f.is_of_item() == of_item);
        all.map(|f| f.word()).collect::<Vec<_>>().join(", ")
    };
    let found = Figure::from_word(figure).filter(|found| found.is_of_item() == item.is_some());
    let Some(found) = found else {
        let (of_items, of_nights) = (words(true), words(false));
        let says = format!("with an item there are {of_items}; without one {of_nights}");
        return Err(AppError::invalid("/figure", says));
    };
    let Some(code) = item else { return Ok((found, None)) };
    let report = receipt.items.iter().find(|report| report.id.as_str() == code);
    let report = report.ok_or_else(|| {
        let codes: Vec<_> = receipt.items.iter().map(|report| report.id.as_str()).collect();
        AppError::invalid("/item", format!("the night has these items: {}", codes.join(", ")))
    })?;
    Ok((found, Some(report)))
}

/// Why a figure has no value.
fn unknown(figure: Figure, report: &ItemReport) -> &'static str {
    match report.known {
        Known::NotCounted => "The item was not counted on this date; that is not zero.",
        Known::Baseline => {
            "The item was counted for the first time: the next count has something to compare with."
        }
        Known::Pending => "Sales of a night are not known yet.",
        Known::Compared if figure == Figure::OverPortioning => "No portions were weighed.",
        Known::Compared => "The amount is not known.",
    }
}

/// A night's facts and what they are read with.
struct Night {
    catalog: Arc<Catalog>,
    known_at: DateTime<Utc>,
    facts: DayFacts,
    revision: i32,
    batches: Vec<String>,
}

impl Night {
    fn row(&self, row: Row, date: BusinessDate, term: Figure, adds: Worth) -> Option<TracedRow> {
        let batch = |n: usize| self.batches.get(n);
        let id = match row {
            Row::CountLine(n) => format!("r{}/lines/{n}", self.revision),
            Row::UnitsSold(n) => format!("r{}/units_sold/{n}", self.revision),
            Row::NetSales => format!("r{}/net_sales", self.revision),
            Row::Entry(n) => self.facts.entries.get(n)?.id.to_string(),
            Row::Sale { batch: n, line } => format!("{}/sales/{line}", batch(n)?),
            Row::Ticket { batch: n, line } => format!("{}/tickets/{line}", batch(n)?),
        };
        let (kind, says) = (self.facts.kind(row)?, self.facts.says(row)?);
        Some(TracedRow { kind, id, date, term, says, adds })
    }
}

/// Rows of a date, before they are put in words.
type Found = (BusinessDate, Row, Figure, Worth);

struct Opening<'a> {
    deps: &'a Deps,
    store: &'a StoreId,
    as_known_at: Option<DateTime<Utc>>,
    nights: BTreeMap<BusinessDate, Night>,
    unseen: Vec<BusinessDate>,
}

impl Opening<'_> {
    async fn of_night(
        &mut self,
        conn: &mut AsyncPgConnection,
        ctx: &Ctx,
        figure: Figure,
        receipt: &Receipt,
    ) -> Result<Trace, AppError> {
        let (date, currency) = (receipt.date, receipt.settings.currency);
        self.load(conn, ctx, date).await?;
        let money = |sum| Worth::Money(sum, currency);
        let facts = self.nights.get(&date).map(|night| &night.facts);
        let (value, rows): (_, Vec<(Row, Worth)>) = if figure == Figure::Sales {
            let rows = facts.map(takings).unwrap_or_default();
            let rows = rows.into_iter().map(|(row, taken)| (row, money(taken)));
            (receipt.day.night.sales.map(money), rows.collect())
        } else {
            let rows = facts.map(orders).unwrap_or_default();
            let counted = receipt.day.dayparts.values().map(|part| part.tickets.orders).sum();
            let rows = rows.into_iter().map(|row| (row, Worth::Orders(1)));
            (Some(Worth::Orders(counted)), rows.collect())
        };
        let rows = rows.into_iter().map(|(row, worth)| (date, row, figure, worth)).collect();
        let trace = Trace {
            store: self.store.clone(),
            date,
            figure,
            item: None,
            value,
            unknown: value.is_none().then_some("Sales are not known yet."),
            since: None,
            rules: receipt.rules,
            known_at: receipt.known_at,
            terms: Vec::new(),
            rows: self.in_words(rows)?,
            // What was taken, and that an order came, are as the till or a person said.
            reference: Vec::new(),
            unseen: std::mem::take(&mut self.unseen),
        };
        Ok(trace)
    }

    async fn of_item(
        &mut self,
        conn: &mut AsyncPgConnection,
        ctx: &Ctx,
        figure: Figure,
        report: &ItemReport,
        receipt: &Receipt,
    ) -> Result<Trace, AppError> {
        let value = |figure: Figure| {
            let amount = figure.value(&report.day, report.span.as_ref(), report.causes.as_ref());
            amount.map(|amount| Worth::Amount(amount, report.item.base))
        };
        let mut found = Vec::new();
        for (sign, leaf) in figure.leaves() {
            let term = if figure.terms().is_empty() { figure } else { leaf };
            let rows = match leaf.reach() {
                Reach::Samples => self.portions(conn, ctx, report, receipt).await?,
                reach => self.rows(conn, ctx, leaf, reach, report, receipt.date).await?,
            };
            let worth = |amount| Worth::Amount(sign.of(amount), report.item.base);
            let rows = rows.into_iter();
            found.extend(rows.map(|(date, row, amount)| (date, row, term, worth(amount))));
        }
        let terms = figure.terms().iter().map(|(sign, term)| (*sign, *term, value(*term)));
        let since = report.span.as_ref().map(|span| span.opened_on);
        Ok(Trace {
            store: self.store.clone(),
            date: receipt.date,
            figure,
            item: Some(report.id.clone()),
            value: value(figure),
            unknown: value(figure).is_none().then(|| unknown(figure, report)),
            since: since.filter(|_| figure.reach() != Reach::Date),
            rules: receipt.rules,
            known_at: receipt.known_at,
            terms: terms.collect(),
            reference: self.reference(conn, &found, &report.id).await?,
            rows: self.in_words(found)?,
            unseen: std::mem::take(&mut self.unseen),
        })
    }

    /// Reads a night once. Of one that is not to be seen nothing is kept but its date.
    async fn load(
        &mut self,
        conn: &mut AsyncPgConnection,
        ctx: &Ctx,
        date: BusinessDate,
    ) -> Result<(), AppError> {
        if self.nights.contains_key(&date) || self.unseen.contains(&date) {
            return Ok(());
        }
        let (known_at, recorded_by) = match self.as_known_at {
            None => (db::tallies::pin(conn, self.store, date).await?, db::nights::ever()),
            Some(at) => (db::known::pin(conn, self.store, date, at).await?, at),
        };
        let known_at = known_at.unwrap_or(self.as_known_at.unwrap_or(ctx.now));
        let catalog = catalog::in_force(self.deps, conn, date, known_at, Some(self.store)).await?;
        if !catalog.stores.contains_key(self.store) {
            self.unseen.push(date);
            return Ok(());
        }
        let (facts, revision) = db::nights::facts(conn, self.store, date, recorded_by).await?;
        let batches = match facts.till.is_empty() {
            true => Vec::new(),
            false => db::till::ids_of_night(conn, self.store, date, recorded_by).await?,
        };
        let revision = revision.unwrap_or_default();
        self.nights.insert(date, Night { catalog, known_at, facts, revision, batches });
        Ok(())
    }

    /// The rows of a figure that they add up to by themselves.
    async fn rows(
        &mut self,
        conn: &mut AsyncPgConnection,
        ctx: &Ctx,
        leaf: Figure,
        reach: Reach,
        report: &ItemReport,
        date: BusinessDate,
    ) -> Result<Vec<(BusinessDate, Row, Tallied)>, AppError> {
        let before = report.span.as_ref().map(|span| span.opened_on);
        let dates: Vec<BusinessDate> = match (reach, before) {
            (Reach::Before, before) => before.into_iter().collect(),
            (Reach::Span, Some(before)) => {
                let span = DateSpan::new(before.succ(), date).map_err(anyhow::Error::new)?;
                span.iter().collect()
            }
            _ => vec![date],
        };
        let mut rows = Vec::new();
        for on in dates {
            self.load(conn, ctx, on).await?;
            let Some(Night { catalog, facts, .. }) = self.nights.get(&on) else { continue };
            let found = contributions(facts, catalog).map_err(anyhow::Error::msg)?;
            let of_date = leaf.rows(&report.id, &found, catalog).map_err(anyhow::Error::new)?;
            rows.extend(of_date.into_iter().map(|(row, amount)| (on, row, amount)));
        }
        Ok(rows)
    }

    /// The portions weighed over the last nights, and what each entry says of serving beyond the
    /// recipe. Without an amount expected they say how much they were, and contribute nothing.
    async fn portions(
        &mut self,
        conn: &mut AsyncPgConnection,
        ctx: &Ctx,
        report: &ItemReport,
        receipt: &Receipt,
    ) -> Result<Vec<(BusinessDate, Row, Tallied)>, AppError> {
        let after = receipt.date.plus_days(-i64::from(receipt.settings.sample_nights));
        let span = DateSpan::new(after.succ(), receipt.date).map_err(anyhow::Error::new)?;
        let mut rows: Vec<(BusinessDate, Row)> = Vec::new();
        let mut weighed: Vec<Samples> = Vec::new();
        for on in self.sampled(conn, span, report).await? {
            self.load(conn, ctx, on).await?;
            let Some(Night { catalog, facts, .. }) = self.nights.get(&on) else { continue };
            for (row, item, portions) in samples(facts, catalog).map_err(anyhow::Error::msg)? {
                if *item == report.id {
                    rows.push((on, row));
                    weighed.push(portions);
                }
            }
        }
        let expected = report.span.as_ref().and_then(|span| span.expected).unwrap_or_default();
        let over = report.causes.as_ref().and_then(|causes| causes.over_portioning);
        let over = over.map(|over| over.amount).unwrap_or_default();
        let shares = Samples::shares(&weighed, expected, over).map_err(anyhow::Error::new)?;
        Ok(rows.into_iter().zip(shares).map(|((on, row), share)| (on, row, share)).collect())
    }

    /// The dates of a span on which portions of an item may have been weighed: what is stored says
    /// it of now, and nothing of then.
    async fn sampled(
        &self,
        conn: &mut AsyncPgConnection,
        span: DateSpan,
        report: &ItemReport,
    ) -> Result<Vec<BusinessDate>, AppError> {
        if let Some(at) = self.as_known_at {
            let mut tallied = Vec::new();
            for on in span.iter() {
                tallied.extend(db::known::pin(conn, self.store, on, at).await?.map(|_| on));
            }
            return Ok(tallied);
        }
        let mut dictionary = Dictionary::default();
        let mut weighed = Vec::new();
        for row in db::tallies::of_store(conn, self.store, span).await? {
            let night = row.unpack(&mut dictionary)?;
            let said = night.day.items.get(&report.id);
            if said.is_some_and(|day| day.samples.count() > 0) {
                weighed.push(row.date());
            }
        }
        Ok(weighed)
    }

    fn in_words(&self, rows: Vec<Found>) -> Result<Vec<TracedRow>, AppError> {
        let row = |(date, row, term, adds): Found| {
            let night = self.nights.get(&date);
            let traced = night.and_then(|night| night.row(row, date, term, adds));
            traced.ok_or_else(|| anyhow::anyhow!("{row:?} of {date} has gone").into())
        };
        rows.into_iter().map(row).collect()
    }

    /// The versions of documents that rows rest on, each as its night knew it.
    async fn reference(
        &self,
        conn: &mut AsyncPgConnection,
        rows: &[Found],
        item: &ItemId,
    ) -> Result<Vec<Version>, AppError> {
        let mut by_night: BTreeMap<BusinessDate, BTreeSet<(Kind, String)>> = BTreeMap::new();
        for (date, row, term, _) in rows {
            let Some(night) = self.nights.get(date) else { continue };
            let behind = by_night.entry(*date).or_default();
            behind.extend(night.facts.rests_on(*row, &night.catalog));
            behind.insert((Kind::Item, item.to_string()));
            if term.reach() == Reach::Samples {
                behind.insert((Kind::Settings, "network".to_owned()));
            }
        }
        let mut found = BTreeMap::new();
        for (date, behind) in by_night {
            let Some(night) = self.nights.get(&date) else { continue };
            let kinds: BTreeSet<&str> = behind.iter().map(|(kind, _)| kind.word()).collect();
            let kinds: Vec<&str> = kinds.into_iter().collect();
            let codes: Vec<&str> = behind.iter().map(|(_, code)| code.as_str()).collect();
            let known_at = night.known_at;
            let rows = db::catalog::versions_of(conn, &kinds, &codes, date, known_at).await?;
            let is_behind = |row: &InForceRow| {
                behind.iter().any(|(kind, code)| kind.word() == row.kind && *code == row.code)
            };
            found.extend(rows.into_iter().filter(is_behind).map(|row| (row.id, row.into())));
        }
        Ok(found.into_values().collect())
    }
}
