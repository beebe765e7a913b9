//! Roll-ups: the tallies of a scope and span added up, and the measures made from them.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, NaiveDate, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Answer, Standing, Target, can};
use parings_core::calendar::{BusinessDate, DateSpan, Periods, business_date};
use parings_core::catalog::{Catalog, Document, Kind, Settings};
use parings_core::ids::{CodeError, ItemId, StoreId};
use parings_core::money::Money;
use parings_core::quantity::{Dimension, Tallied};
use parings_core::rollup::{
    AgainstSales, BatchSum, By, CountEnds, CountedDates, DaypartSum, ItemSum, Level, Measures,
    NightSum, Nights, ReasonSum, Scope, Sum, WasteSum,
};
use parings_core::tally::{DaypartKey, DaypartTally};
use parings_core::tickets::{Histogram, TicketTally};
use parings_core::usage::Samples;

use crate::app::catalog::Network;
use crate::app::{Deps, catalog};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::rollups::{DayRow, DaypartRow, Grouping, NightRow, ReasonRow, SpanRow};
use crate::error::AppError;

/// The longest span, in nights.
pub const MOST_NIGHTS: u32 = 400;
/// The most buckets of a span.
pub const MOST_BUCKETS: usize = 53;
/// The most rows: buckets of the scope and of each child.
pub const MOST_ROWS: usize = 400;

/// What is asked for.
#[derive(Debug, Clone)]
pub struct Asked {
    /// The scope.
    pub scope: Scope,
    /// The dates.
    pub span: DateSpan,
    /// The buckets.
    pub by: By,
    /// Whether the scope's children have rows of their own.
    pub children: bool,
}

/// A roll-up.
#[derive(Debug, Clone)]
pub struct Rollup {
    /// What was asked for.
    pub asked: Asked,
    /// The network's settings at the end of the span.
    pub settings: Settings,
    /// What each item is measured by.
    pub items: BTreeMap<ItemId, Dimension>,
    /// The scope's rows, then those of its children by code; each in order of its buckets.
    pub rows: Vec<Row>,
}

/// One bucket of a scope or child.
#[derive(Debug, Clone)]
pub struct Row {
    /// The child's code; none for the scope itself.
    pub child: Option<String>,
    /// The dates of the bucket.
    pub bucket: DateSpan,
    /// Nights by what became of them.
    pub nights: Nights,
    /// What its tallies add up to.
    pub sum: Sum,
    /// The measures made from that.
    pub measures: Measures,
}

/// Adds up the tallies of a scope.
///
/// # Errors
/// 404 and 403 as the policy says, 404 also for a scope that never was, 422 for more than can be
/// answered at once, 409 while the network has no settings.
pub async fn find(deps: &Deps, caller: &Caller, asked: Asked) -> Result<Rollup, AppError> {
    asked.check_nights()?;
    deps.acting(caller, async |conn, ctx| {
        let network = catalog::stores(conn, asked.span, ctx.now).await?;
        asked.require(conn, ctx, &network).await?;
        let known = catalog::in_force(deps, conn, asked.span.to(), ctx.now, None).await?;
        let settings = known.settings.clone().ok_or_else(|| {
            AppError::Conflict("the network has no settings in force on that date".to_owned())
        })?;
        let buckets = asked.buckets(settings.periods)?;
        let mut adding = Adding::new(&asked, settings.periods, buckets, &network, ctx.now);
        adding.nights(&db::rollups::counted(conn, &adding.grouping(Some(Level::Store))).await?)?;
        adding.check_rows()?;
        adding.spans(conn, None).await?;
        if let Some(level) = asked.level() {
            adding.spans(conn, Some(level)).await?;
        }
        adding.own_dates(conn, &settings).await?;
        let rows = adding.rows();
        let items = dimensions(conn, &known, &asked, ctx.now, &rows).await?;
        Ok(Rollup { asked, settings, items, rows })
    })
    .await
}

impl Asked {
    fn level(&self) -> Option<Level> {
        self.scope.children().filter(|_| self.children)
    }

    fn check_nights(&self) -> Result<(), AppError> {
        if self.span.nights() > MOST_NIGHTS {
            let said = format!("a roll-up covers {MOST_NIGHTS} nights at most: ask for fewer");
            return Err(AppError::invalid("/to", said));
        }
        Ok(())
    }

    fn buckets(&self, periods: Periods) -> Result<Vec<DateSpan>, AppError> {
        let buckets: Vec<_> =
            self.by.buckets(self.span, &periods).into_iter().map(|bucket| bucket.span).collect();
        if buckets.len() > MOST_BUCKETS {
            let said = format!(
                "this makes {} buckets and {MOST_BUCKETS} is the most: ask for weeks or for fewer \
                 nights",
                buckets.len()
            );
            return Err(AppError::invalid("/by", said));
        }
        Ok(buckets)
    }

    /// Asks the policy. A store may have stood in several places; it is the actor's to see when it
    /// stood in theirs on any date of the span, and the database shows those dates only.
    async fn require(
        &self,
        conn: &mut AsyncPgConnection,
        ctx: &Ctx,
        network: &Network,
    ) -> Result<(), AppError> {
        let action = Action::ReadRollup;
        let (kind, code) = match &self.scope {
            Scope::Store(store) => {
                let stood = network.stood(store, self.span);
                let allowed =
                    |at: &&Standing| can(&ctx.actor, action, &Target::Store(at)) == Answer::Yes;
                let at = stood.iter().find(allowed).or(stood.last());
                let at = at.ok_or_else(|| AppError::not_found(format!("store {store}")))?;
                return ctx.require(action, &Target::Store(at));
            }
            Scope::Network => return ctx.require(action, &Target::Network),
            Scope::District(code) => {
                ctx.require(action, &Target::District(code))?;
                (Kind::District, code.as_str())
            }
            Scope::Region(code) => {
                ctx.require(action, &Target::Region(code))?;
                (Kind::Region, code.as_str())
            }
            Scope::Owner(code) => {
                ctx.require(action, &Target::Owner(code))?;
                (Kind::Owner, code.as_str())
            }
        };
        // One that ended within the span has its rows too.
        let found = db::catalog::one(conn, kind, code, self.span.to(), ctx.now).await?;
        match found {
            Some(_) => Ok(()),
            None => Err(AppError::not_found(self.scope.to_string().replace(':', " "))),
        }
    }
}

/// Rows on their way, by child (empty for the scope itself) and first date of the bucket.
struct Adding<'a> {
    asked: &'a Asked,
    periods: Periods,
    network: &'a Network,
    now: DateTime<Utc>,
    buckets: Vec<DateSpan>,
    rows: BTreeMap<(String, BusinessDate), (Nights, Sum)>,
}

impl<'a> Adding<'a> {
    fn new(
        asked: &'a Asked,
        periods: Periods,
        buckets: Vec<DateSpan>,
        network: &'a Network,
        now: DateTime<Utc>,
    ) -> Self {
        let whole = buckets.iter().map(|b| ((String::new(), b.from()), <_>::default())).collect();
        Self { asked, periods, network, now, buckets, rows: whole }
    }

    fn grouping(&self, children: Option<Level>) -> Grouping<'a> {
        let Asked { scope, span, by, .. } = self.asked;
        Grouping { scope, span: *span, by: *by, periods: self.periods, children }
    }

    fn check_rows(&self) -> Result<(), AppError> {
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
    fn nights(&mut self, counted: &[db::rollups::CountedRow]) -> Result<(), AppError> {
        let dates = |dates: &[NaiveDate]| dates.iter().map(|date| (*date).into()).collect();
        let mut by_store = BTreeMap::new();
        for row in counted {
            let dates = CountedDates {
                counted: dates(&row.counted),
                partial: dates(&row.partial),
                left_out: dates(&row.left_out),
            };
            by_store.insert(read::<StoreId>(&row.child)?, dates);
        }
        let (network, level) = (self.network, self.asked.level());
        let none = CountedDates::default();
        for timeline in &network.stores {
            let counted = by_store.get(&timeline.store).unwrap_or(&none);
            for bucket in self.buckets.clone() {
                for date in bucket.iter() {
                    let Some(at) = network.standing(timeline, date) else { continue };
                    let Some(store) = timeline.at(date) else { continue };
                    if !holds(&self.asked.scope, &at) {
                        continue;
                    }
                    let child = level.map(|level| child_of(level, &at).to_owned());
                    // A night that is not over is expected only once it is counted: until then it
                    // is not missing.
                    let over = date < business_date(self.now, &store.zone, store.cut_off);
                    let due = over || counted.counted.contains(&date);
                    let open = store.is_open(date);
                    for child in [Some(String::new()), child].into_iter().flatten() {
                        let (nights, _) = self.rows.entry((child, bucket.from())).or_default();
                        if due {
                            *nights = nights.merge(counted.night(date, open));
                        }
                    }
                }
            }
        }
        Ok(())
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
    async fn own_dates(
        &mut self,
        conn: &mut AsyncPgConnection,
        settings: &Settings,
    ) -> Result<(), AppError> {
        let asked = self.asked;
        let of = self.grouping(asked.level());
        for row in db::rollups::days(conn, &of).await? {
            let items = BTreeMap::from([(read(&row.item_id)?, day_sum(&row))]);
            self.add(&row.child, row.bucket, &Sum { items, ..Sum::default() });
        }
        for row in db::rollups::nights(conn, &of).await? {
            self.add(&row.child, row.bucket, &Sum { night: night_sum(&row), ..Sum::default() });
        }
        for row in db::rollups::reasons(conn, &of).await? {
            let reasons = BTreeMap::from([(read(&row.reason)?, reason_sum(&row))]);
            self.add(&row.child, row.bucket, &Sum { reasons, ..Sum::default() });
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
    async fn spans(
        &mut self,
        conn: &mut AsyncPgConnection,
        children: Option<Level>,
    ) -> Result<(), AppError> {
        let of = self.grouping(children);
        for row in db::rollups::spans(conn, &of).await? {
            put_span(self.item(&row.child, row.bucket, &row.item_id)?, &row)?;
        }
        for row in db::rollups::against_sales(conn, &of).await? {
            self.sum(&row.child, row.bucket).against_sales = AgainstSales {
                variance_cost: Money::from_ten_thousandths(row.variance_cost),
                sales: Money::from_ten_thousandths(row.sales),
                nights: row.nights,
            };
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

    fn rows(self) -> Vec<Row> {
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

impl Network {
    /// Where a store stood in a span: once for every place, in order.
    fn stood(&self, store: &StoreId, span: DateSpan) -> Vec<Standing> {
        let timeline = self.stores.iter().filter(|timeline| timeline.store == *store);
        let mut stood: Vec<_> = timeline
            .flat_map(|timeline| span.iter().filter_map(|date| self.standing(timeline, date)))
            .collect();
        stood.dedup();
        stood
    }
}

fn holds(scope: &Scope, at: &Standing) -> bool {
    match scope {
        Scope::Store(code) => at.store == *code,
        Scope::District(code) => at.district == *code,
        Scope::Region(code) => at.region == *code,
        Scope::Owner(code) => at.owner == *code,
        Scope::Network => true,
    }
}

fn child_of(level: Level, at: &Standing) -> &str {
    match level {
        Level::Store => at.store.as_str(),
        Level::District => at.district.as_str(),
        Level::Region => at.region.as_str(),
    }
}

/// What each item of the rows is measured by. One that ended before the end of the span is looked
/// up for itself.
async fn dimensions(
    conn: &mut AsyncPgConnection,
    known: &Catalog,
    asked: &Asked,
    now: DateTime<Utc>,
    rows: &[Row],
) -> Result<BTreeMap<ItemId, Dimension>, AppError> {
    let met: BTreeSet<&ItemId> = rows.iter().flat_map(|row| row.sum.items.keys()).collect();
    let mut found = BTreeMap::new();
    for item in met {
        let base = match known.items.get(item) {
            Some(item) => item.base,
            None => {
                let to = asked.span.to();
                let row = db::catalog::one(conn, Kind::Item, item.as_str(), to, now).await?;
                let row = row.ok_or_else(|| anyhow::anyhow!("item {item} was never known"))?;
                match catalog::document(&row)? {
                    Document::Item(item) => item.base,
                    _ => return Err(anyhow::anyhow!("item {item} is none").into()),
                }
            }
        };
        found.insert(item.clone(), base);
    }
    Ok(found)
}

fn read<T: std::str::FromStr<Err = CodeError>>(code: &str) -> Result<T, AppError> {
    code.parse().map_err(|error: CodeError| AppError::Internal(error.into()))
}

fn put_span(item: &mut ItemSum, row: &SpanRow) -> Result<(), AppError> {
    let (amount, cost) = (Tallied::from_thousandths, Money::from_ten_thousandths);
    let squares = row.squares.parse().map_err(anyhow::Error::new)?;
    item.used.used = amount(row.used);
    item.used.made_into = amount(row.made_into);
    item.used.nights = row.nights;
    item.used.used_cost = cost(row.used_cost);
    item.used.made_into_cost = cost(row.made_into_cost);
    item.used.cost_nights = row.cost_nights;
    item.compared.used = amount(row.compared_used);
    item.compared.made_into = amount(row.compared_made_into);
    item.compared.expected = amount(row.compared_expected);
    item.compared.wasted = amount(row.compared_wasted);
    item.compared.yield_loss = amount(row.compared_yield_loss);
    item.compared.ends = CountEnds::settled(squares);
    item.compared.nights = row.compared_nights;
    item.valued.used = amount(row.valued_used);
    item.valued.used_cost = cost(row.valued_used_cost);
    item.valued.made_into_cost = cost(row.valued_made_into_cost);
    item.valued.expected_cost = cost(row.valued_expected_cost);
    item.valued.variance_cost = cost(row.valued_variance_cost);
    item.valued.wasted_cost = cost(row.valued_wasted_cost);
    item.valued.yield_loss_cost = cost(row.valued_yield_loss_cost);
    item.valued.nights = row.valued_nights;
    item.against_sales.variance_cost = cost(row.against_variance_cost);
    item.against_sales.sales = cost(row.against_sales);
    item.against_sales.nights = row.against_nights;
    Ok(())
}

fn day_sum(row: &DayRow) -> ItemSum {
    let (amount, cost) = (Tallied::from_thousandths, Money::from_ten_thousandths);
    ItemSum {
        waste: WasteSum {
            amount: amount(row.amount),
            cost: cost(row.cost),
            safety: amount(row.safety),
            safety_cost: cost(row.safety_cost),
        },
        batches: BatchSum {
            out: amount(row.batch_out),
            expected_out: amount(row.batch_expected_out),
            nights: row.batch_nights,
        },
        stock_out_minutes: row.stock_out_minutes,
        ..ItemSum::default()
    }
}

fn reason_sum(row: &ReasonRow) -> ReasonSum {
    ReasonSum {
        cost: Money::from_ten_thousandths(row.cost),
        lines: row.lines,
        safety_cost: Money::from_ten_thousandths(row.safety_cost),
        safety_lines: row.safety_lines,
    }
}

fn night_sum(row: &NightRow) -> NightSum {
    let cost = Money::from_ten_thousandths;
    NightSum {
        sales: cost(row.sales),
        sales_nights: row.sales_nights,
        wasted_cost_with_sales: cost(row.wasted_cost_with_sales),
        units: row.units,
        units_nights: row.units_nights,
        wasted_cost: cost(row.wasted_cost),
        wasted_safety_cost: cost(row.wasted_safety_cost),
        nights: row.nights,
        ticket_nights: row.ticket_nights,
    }
}

fn daypart_sum(row: &DaypartRow) -> Result<DaypartSum, AppError> {
    let tally = DaypartTally {
        units: row.units,
        sales: Money::from_ten_thousandths(row.sales),
        tickets: TicketTally {
            orders: row.orders,
            times: Histogram::from_pairs(&row.times).map_err(anyhow::Error::new)?,
            with_target: row.with_target,
            timed_late: row.late,
            never_closed: row.never_closed,
            lump_closed: row.lump_closed,
        },
        stock_out_minutes: row.stock_out_minutes,
    };
    Ok(DaypartSum { tally, ticket_nights: row.ticket_nights })
}
