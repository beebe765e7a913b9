//! Which stores of a district a coach should look at.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use chrono::{DateTime, NaiveDate, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::calendar::{BusinessDate, DateSpan, business_date};
use parings_core::catalog::{Catalog, Kind, Network, Settings, Store, StoreTimeline};
use parings_core::ids::{DistrictId, ItemId, StoreId};
use parings_core::night::diff;
use parings_core::review::{
    Column, LISTED_NIGHTS, Label, Labels, NightFigures, NightReader, Reviewed, Sheet, Status,
    StoreNight, UnitCost, list,
};
use parings_core::rollup::Scope;
use parings_core::tally::Night;
use parings_core::tally::pack::Dictionary;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::diary::AsideRow;
use crate::db::review::LotRow;
use crate::db::tallies::{PackedRow, unreadable};
use crate::error::AppError;

/// How many nights a review looks back over: sixteen weeks.
pub const NIGHTS: i64 = 112;

/// A district's list, and what is needed to tell it.
#[derive(Debug, Clone)]
pub struct Review {
    /// The district whose stores are listed.
    pub district: DistrictId,
    /// The last night looked at.
    pub as_of: BusinessDate,
    /// The network's settings on that date.
    pub settings: Settings,
    /// The stores, most money at stake first, each beside its fair peers.
    pub reviewed: Reviewed,
    /// Names of its labels.
    pub labels: Labels,
}

/// Looks at the stores of a district up to a night; without one, up to the last that is over in all
/// of them.
///
/// # Errors
/// 404 and 403 as the policy says, 422 for a night to come, 409 while the network has no settings.
pub async fn of_district(
    deps: &Deps,
    caller: &Caller,
    district: DistrictId,
    as_of: Option<BusinessDate>,
) -> Result<Review, AppError> {
    deps.reading_all(caller, async |conn, ctx| {
        ctx.require(Action::ReadReview, &Target::District(&district))?;
        let as_of = match as_of {
            Some(date) => to_come(ctx, date).map(|()| date)?,
            None => over(conn, ctx, &district).await?,
        };
        let found =
            db::catalog::one(conn, Kind::District, district.as_str(), as_of, ctx.now).await?;
        if found.is_none_or(|row| row.retired) {
            return Err(AppError::not_found(format!("district {district}")));
        }
        let known = catalog::in_force(deps, conn, as_of, ctx.now, None).await?;
        let settings = known.settings.clone().ok_or_else(|| {
            AppError::Conflict("the network has no settings in force on that date".to_owned())
        })?;
        db::review::act_for_review(conn, &district).await?;
        let span = DateSpan::new(as_of.plus_days(1 - NIGHTS), as_of).map_err(anyhow::Error::new)?;
        let sheet = gather_for(conn, ctx.now, span, &district).await?;
        let label = sheet.as_ref().and_then(|sheet| sheet.labels().find(district.as_str()));
        let reviewed =
            sheet.as_ref().zip(label).and_then(|(sheet, label)| list(sheet, label, as_of));
        let reviewed = reviewed.unwrap_or(Reviewed { window: span, stores: Vec::new() });
        let labels = sheet.map(|sheet| sheet.labels().clone()).unwrap_or_default();
        Ok(Review { district, as_of, settings, reviewed, labels })
    })
    .await
}

/// Refuses a date that has begun nowhere.
pub(super) fn to_come(ctx: &Ctx, date: BusinessDate) -> Result<(), AppError> {
    let first_clock = ctx.now + chrono::TimeDelta::hours(14);
    if date > BusinessDate::from(first_clock.date_naive()) {
        return Err(AppError::invalid("/as_of", "this night is still to come"));
    }
    Ok(())
}

/// The last night that is over in every store of a district.
async fn over(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    district: &DistrictId,
) -> Result<BusinessDate, AppError> {
    let today = BusinessDate::from(ctx.now.date_naive());
    let span = DateSpan::new(today.pred(), today.succ()).map_err(anyhow::Error::new)?;
    let scope = Scope::District(district.clone());
    let network = catalog::stores(conn, &scope, span, ctx.now).await?;
    let clocks = network.stores.iter().filter_map(|timeline| {
        let store = timeline.at(today).filter(|store| store.district == *district)?;
        Some(business_date(ctx.now, &store.zone, store.cut_off).pred())
    });
    Ok(clocks.min().unwrap_or(today.pred()))
}

/// How much more a night's use was, in money, by its count as it was accepted first; of nights whose
/// count was amended since.
pub(super) type Amended = BTreeMap<(String, BusinessDate), f64>;

/// What amendments of a span did to use, by what a catalogue says of packs and stages.
///
/// # Errors
/// When the database cannot be reached.
pub(super) async fn amended(
    conn: &mut AsyncPgConnection,
    catalog: &Catalog,
    span: DateSpan,
) -> Result<Amended, AppError> {
    let rows = db::review::amended(conn, span).await?;
    let stores: Vec<&str> = rows.iter().map(|row| row.store_id.as_str()).collect();
    let dates: Vec<NaiveDate> = rows.iter().map(|row| row.business_date).collect();
    let (mut dictionary, mut prices) = (Dictionary::default(), BTreeMap::new());
    for night in db::tallies::of_places(conn, &stores, &dates).await? {
        let place = (night.store().to_owned(), NaiveDate::from(night.date()));
        prices.insert(place, prices_of(&night.unpack(&mut dictionary)?));
    }
    let amended = rows.into_iter().map(|row| {
        let prices = prices.get(&(row.store_id.clone(), row.business_date));
        // What is on the shelf by this count and was not by the first had been told as used.
        let more = diff(catalog, &row.first.0, &row.last.0).shelves.into_iter().map(|shelf| {
            let price = prices?.get(&shelf.item)?;
            Some(shelf.difference?.thousandths() as f64 * price / 10_000.0)
        });
        ((row.store_id, row.business_date.into()), more.flatten().sum())
    });
    Ok(amended.collect())
}

/// What a thousandth of a base unit of each item that is compared costs, in ten-thousandths of the
/// currency's unit.
fn prices_of(night: &Night) -> BTreeMap<ItemId, f64> {
    let spans = night.spans.iter().map(|(item, ended)| (item, &ended.span));
    let compared = spans.filter(|(_, span)| span.variance_cost.is_some() && span.doubts.is_empty());
    compared
        .filter_map(|(item, span)| {
            let (cost, used) = (span.used_cost?.ten_thousandths(), span.used.thousandths());
            (used != 0).then(|| (item.clone(), cost as f64 / used as f64))
        })
        .collect()
}

/// The nights of every store, by its calendar; none while there are no stores.
///
/// # Errors
/// When the database cannot be reached.
pub(super) async fn gather(
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    span: DateSpan,
) -> Result<Option<Sheet>, AppError> {
    gather_with(conn, now, span, &Amended::new()).await
}

/// The same as far as the list of a district needs it: of stores elsewhere, which are only compared over
/// the nights of the list, no others are read, and are told as missing.
///
/// # Errors
/// When the database cannot be reached.
async fn gather_for(
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    span: DateSpan,
    district: &DistrictId,
) -> Result<Option<Sheet>, AppError> {
    let network = catalog::stores(conn, &Scope::Network, span, now).await?;
    let here = network.stores.iter().filter(|timeline| {
        said_last(timeline, span.to()).is_some_and(|store| store.district == *district)
    });
    let told = figures(conn, span, Some(here.map(|timeline| &timeline.store).collect())).await?;
    sheet(conn, now, span, (&network, told), &Amended::new()).await
}

/// The same, with what amendments did to use.
///
/// # Errors
/// When the database cannot be reached.
pub(super) async fn gather_with(
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    span: DateSpan,
    amended: &Amended,
) -> Result<Option<Sheet>, AppError> {
    let network = catalog::stores(conn, &Scope::Network, span, now).await?;
    let told = figures(conn, span, None).await?;
    sheet(conn, now, span, (&network, told), amended).await
}

/// Puts together what was read.
async fn sheet(
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    span: DateSpan,
    (network, told): (&Network, Told),
    amended: &Amended,
) -> Result<Option<Sheet>, AppError> {
    let mut labels = Labels::default();
    let lots = Lots::new(&mut labels, &told);
    let aside = db::diary::set_aside(conn, span).await?;
    let waiting = db::settlements::waiting(conn, span, now).await?;
    let waiting: BTreeSet<(&str, NaiveDate)> =
        waiting.iter().map(|(store, date)| (store.as_str(), *date)).collect();
    let amended: BTreeMap<(&str, BusinessDate), f64> =
        amended.iter().map(|((store, date), more)| ((store.as_str(), *date), *more)).collect();
    let mut nights = Vec::new();
    for night in calendar(network, span) {
        let lot = lots.on(night.code, night.date);
        let row = told.nights.get(night.code).and_then(|nights| nights.get(&night.date));
        let date = NaiveDate::from(night.date);
        let (store, open) = (night.code, night.open);
        let waits = waiting.contains(&(store, date));
        let more = amended.get(&(store, night.date));
        let is_aside =
            |row: &AsideRow| row.store_id == store && (row.from_date..=row.to_date).contains(&date);
        let mut told = store_night(&mut labels, night, lot, row);
        if told.status == Status::Missing && waits {
            told.status = Status::Held;
        }
        if let Some((more, used)) = more.zip(told.figures.get(Column::Used)) {
            told.figures.set(Column::FirstUsed, used + more);
        }
        // Set aside in the store's diary: left out, but a closed day stays one.
        if open && aside.iter().any(is_aside) {
            told.status = Status::LeftOut;
        }
        nights.push(told);
    }
    if nights.is_empty() {
        return Ok(None);
    }
    Sheet::new(labels, UnitCost::MONEY, &nights)
        .map(Some)
        .map_err(|error| AppError::Internal(error.into()))
}

/// What tallies say of the nights of a span.
struct Told {
    nights: HashMap<String, BTreeMap<BusinessDate, NightFigures>>,
    /// Lots of the item that most money is used of.
    lots: Vec<LotRow>,
}

/// So many nights back the item whose lot matters is looked for: those that are read of every store.
const LOT_NIGHTS: i64 = LISTED_NIGHTS as i64;

/// Reads the nights of a span; where stores are named, those before the last [`LISTED_NIGHTS`] of these
/// stores alone.
async fn figures(
    conn: &mut AsyncPgConnection,
    span: DateSpan,
    whole: Option<Vec<&StoreId>>,
) -> Result<Told, AppError> {
    let mut lots = db::review::lots(conn, span).await?;
    let items: BTreeSet<&str> = lots.iter().map(|row| row.item_id.as_str()).collect();
    let items = items.into_iter().filter_map(|item| item.parse().ok()).collect();
    let (mut reader, mut of_late) = (NightReader::new(Vec::new()), NightReader::new(items));
    let late = span.to().plus_days(1 - LOT_NIGHTS);
    let mut nights: HashMap<String, BTreeMap<BusinessDate, NightFigures>> = HashMap::new();
    let mut dictionary = Dictionary::default();
    let mut take = |row: PackedRow| {
        let codes = row.codes(&mut dictionary)?;
        let reader = if row.date() >= late { &mut of_late } else { &mut reader };
        let night = reader.read(row.date(), &codes, row.bytes()).map_err(unreadable)?;
        match nights.get_mut(row.store()) {
            Some(all) => all.insert(row.date(), night),
            None => nights.entry(row.store().to_owned()).or_default().insert(row.date(), night),
        };
        Ok(())
    };
    let listed = span.from().max(late);
    let of_all = if whole.is_some() { listed } else { span.from() };
    // Where everything is read of all, nothing lies before.
    if let Ok(before) = DateSpan::new(span.from(), of_all.pred()) {
        for store in whole.into_iter().flatten() {
            for row in db::tallies::of_store(conn, store, before).await? {
                take(row)?;
            }
        }
    }
    let all = DateSpan::new(of_all, span.to()).map_err(anyhow::Error::new)?;
    db::tallies::in_network(conn, all, take).await?;
    let main = of_late.costliest();
    lots.retain(|row| main.is_some_and(|main| main.as_str() == row.item_id));
    Ok(Told { nights, lots })
}

/// Which lot each store cooks from. A lot is not written down every day: the last one told stands, for
/// as long as potatoes keep.
struct Lots {
    told: BTreeMap<(String, BusinessDate), Label>,
}

impl Lots {
    /// A lot that was told stands for so many days. Invented, to be measured by who has stores.
    const STANDS: i64 = 7;

    fn new(labels: &mut Labels, told: &Told) -> Self {
        let told = told
            .lots
            .iter()
            .map(|row| ((row.store_id.clone(), row.business_date.into()), labels.label(&row.lot)));
        Self { told: told.collect() }
    }

    fn on(&self, store: &str, date: BusinessDate) -> Option<Label> {
        let from = date.plus_days(-Self::STANDS);
        let lately = (store.to_owned(), from)..=(store.to_owned(), date);
        self.told.range(lately).next_back().map(|(_, lot)| *lot)
    }
}

/// A store on a date: what its document says, or said last before it was retired.
struct At<'a> {
    code: &'a str,
    date: BusinessDate,
    store: &'a Store,
    open: bool,
}

/// What a store's document says on a date, or said last before it was retired.
fn said_last(timeline: &StoreTimeline, date: BusinessDate) -> Option<&Store> {
    let said = timeline.versions.0.iter().take_while(|(from, _)| *from <= date);
    said.filter_map(|(_, store)| store.as_ref()).last()
}

/// Since which night a store has been where it is on a date: before it nobody looks.
///
/// # Errors
/// 404 when it is not on record by then.
pub(super) async fn settled(
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    store: &StoreId,
    on: BusinessDate,
) -> Result<BusinessDate, AppError> {
    let stores = catalog::timelines_of(conn, &BTreeSet::from([store]), now).await?;
    let settled = stores.first().and_then(|timeline| timeline.settled(on));
    settled.ok_or_else(|| AppError::not_found(format!("store {store}")))
}

/// Every night since a store has been where it is at the end of a span: those before are another
/// coach's, or another owner's.
fn calendar(network: &Network, span: DateSpan) -> impl Iterator<Item = At<'_>> {
    network.stores.iter().flat_map(move |timeline| {
        let settled = timeline.settled(span.to());
        let at = move |date| {
            let store = said_last(timeline, date)?;
            let open = timeline.at(date).is_some_and(|store| store.is_open(date));
            Some(At { code: timeline.store.as_str(), date, store, open })
        };
        span.iter().filter(move |date| settled.is_some_and(|from| from <= *date)).filter_map(at)
    })
}

fn store_night(
    labels: &mut Labels,
    At { code, date, store, open }: At<'_>,
    lot: Option<Label>,
    row: Option<&NightFigures>,
) -> StoreNight {
    let status = match row {
        _ if !open => Status::Closed,
        Some(row) if row.counted && row.short => Status::Short,
        Some(row) if row.counted && !row.sold => Status::LeftOut,
        Some(row) if row.counted => Status::Open,
        _ => Status::Missing,
    };
    StoreNight {
        store: labels.label(code),
        district: labels.label(store.district.as_str()),
        format: labels.label(store.format.as_str()),
        date,
        status,
        lot,
        promotion: None,
        counted_by: None,
        figures: row.map(|row| row.figures).unwrap_or_default(),
    }
}
