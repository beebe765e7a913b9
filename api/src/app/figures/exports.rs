//! Facts and figures as head office takes them out: what an import reads, and a flat table of the
//! use of items.

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::catalog::Catalog;
use parings_core::ids::{DistrictId, EntryId, ItemId, StoreId};
use parings_core::money::Money;
use parings_core::night::{Count, Entry, Sale, TillBatch, TillTicket};
use parings_core::quantity::{Dimension, Tallied};
use parings_core::tally::pack::Dictionary;
use parings_core::tally::{self, DayFacts, EndedSpan, ItemSpan, Row};
use serde::de::DeserializeOwned;
use serde_json::{Value, json};

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::night::loading::Kind;
use crate::app::night::tallying;
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::exports::Rows;
use crate::db::tallies::PackedRow;
use crate::error::AppError;

/// What is taken out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// Facts of a kind, which an import reads.
    Facts(Kind),
    /// The use of items between counts: a row for each item and count.
    Figures,
}

impl What {
    /// Its word in the API and in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Facts(kind) => kind.word(),
            Self::Figures => "figures",
        }
    }
}

/// What is asked for.
#[derive(Debug, Clone)]
pub struct Asked {
    /// Facts of one kind, or figures.
    pub what: What,
    /// Of which stores; of all if none is named.
    pub stores: Vec<StoreId>,
    /// Only of dates on which the store stood in this district.
    pub district: Option<DistrictId>,
    /// Of which business dates.
    pub span: DateSpan,
}

/// Something taken out.
#[derive(Debug, Clone)]
pub struct Taken {
    /// The store that it belongs to.
    pub store: StoreId,
    /// The business date.
    pub date: BusinessDate,
    /// The fact or figure itself.
    pub fact: Fact,
}

/// What it is.
#[derive(Debug, Clone)]
pub enum Fact {
    /// The count of the night in force.
    Night(Count),
    /// An entry that was not withdrawn.
    Entry(Entry),
    /// A line of a till that was not superseded.
    Sale(Sale),
    /// A ticket that was not superseded.
    Ticket(TillTicket),
    /// The use of an item.
    Figure(Box<Figure>),
}

/// The use of an item up to a count.
#[derive(Debug, Clone)]
pub struct Figure {
    /// Where the store stood on the date of the count.
    pub district: String,
    /// The code of the district's region on that date.
    pub region: String,
    /// The code of the store's owner on that date.
    pub owner: String,
    /// The code of the item that was used.
    pub item: String,
    /// What the item is measured by.
    pub base: Dimension,
    /// The network's currency.
    pub currency: String,
    /// What was used and expected, from the count before to this one.
    pub span: ItemSpan,
    /// When a change elsewhere last restated it.
    pub restated_at: Option<DateTime<Utc>>,
    /// The version of the rules that worked it out.
    pub rules: i16,
}

impl Figure {
    /// An amount in the item's base unit: g, ml or each.
    pub fn amount(amount: Tallied) -> String {
        amount.base().value().normalize().to_string()
    }

    /// A sum in the currency unit, as a decimal number.
    pub fn money(money: Money) -> String {
        money.to_decimal().normalize().to_string()
    }
}

/// Takes out what is asked for, in order of store and date; `take` is given one after the other.
/// Answers with how many there were.
///
/// # Errors
/// 403 for all but head office; what `take` answers.
pub async fn run(
    deps: &Deps,
    caller: &Caller,
    asked: &Asked,
    mut take: impl FnMut(Taken) -> anyhow::Result<()>,
) -> Result<usize, AppError> {
    deps.reading_all(caller, async |conn, ctx| {
        ctx.require(Action::Export, &Target::Network)?;
        let stores = match asked.stores.as_slice() {
            [] => db::exports::stores(conn, asked.span, asked.district.as_ref()).await?,
            named => named.to_vec(),
        };
        let mut count = 0;
        for store in &stores {
            for taken in of_store(deps, conn, ctx, asked, store).await? {
                take(taken)?;
                count += 1;
            }
        }
        note(conn, ctx, asked, count).await?;
        Ok(count)
    })
    .await
}

/// Reading that much is noted.
async fn note(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    asked: &Asked,
    count: usize,
) -> Result<(), AppError> {
    let detail = json!({
        "stores": asked.stores, "district": asked.district,
        "from": asked.span.from(), "to": asked.span.to(), "count": count,
    });
    let target = asked.what.word();
    Ok(db::audit::add(conn, ctx, Action::Export.word(), target, None, Some(detail)).await?)
}

async fn of_store(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    asked: &Asked,
    store: &StoreId,
) -> Result<Vec<Taken>, AppError> {
    let rows = Rows { store, span: asked.span, district: asked.district.as_ref() };
    let taken = |date: BusinessDate, fact| Taken { store: store.clone(), date, fact };
    match asked.what {
        What::Facts(Kind::Nights) => {
            let rows = db::exports::counts(conn, rows).await?.into_iter();
            rows.map(|row| Ok(taken(row.business_date.into(), Fact::Night(document(row.body)?))))
                .collect()
        }
        What::Facts(Kind::Entries) => {
            let rows = db::exports::entries(conn, rows).await?.into_iter();
            rows.map(|row| {
                let entry = Entry { id: EntryId(row.id), body: document(row.body)? };
                Ok(taken(row.business_date.into(), Fact::Entry(entry)))
            })
            .collect()
        }
        What::Facts(kind @ (Kind::Sales | Kind::Tickets)) => {
            let mut nights: Vec<(BusinessDate, Vec<TillBatch>)> = Vec::new();
            for row in db::exports::batches(conn, rows).await? {
                let (date, batch) = (row.business_date.into(), document(row.body)?);
                match nights.last_mut().filter(|(last, _)| *last == date) {
                    Some((_, batches)) => batches.push(batch),
                    None => nights.push((date, vec![batch])),
                }
            }
            let nights = nights.into_iter().flat_map(|(date, batches)| {
                fed(kind, batches).into_iter().map(move |fact| (date, fact))
            });
            Ok(nights.map(|(date, fact)| taken(date, fact)).collect())
        }
        What::Figures => {
            let mut all = Vec::new();
            let mut dictionary = Dictionary::default();
            for row in db::tallies::of_store(conn, store, asked.span).await? {
                let [district, _, _] = row.place();
                if asked.district.as_ref().is_some_and(|asked| asked.as_str() != district) {
                    continue;
                }
                let date = row.date();
                let catalog = catalog::in_force(deps, conn, date, ctx.now, None).await?;
                for (item, ended) in row.unpack(&mut dictionary)?.spans {
                    let figure = figure(&catalog, &row, &item, ended)?;
                    all.push(taken(date, Fact::Figure(Box::new(figure))));
                }
            }
            Ok(all)
        }
    }
}

/// The lines of a night's till that were not superseded, in the order they came.
fn fed(kind: Kind, till: Vec<TillBatch>) -> Vec<Fact> {
    let facts = DayFacts { till, ..DayFacts::default() };
    let rows: Vec<Row> = match kind {
        Kind::Tickets => tally::orders(&facts),
        _ => tally::takings(&facts).into_iter().map(|(row, _)| row).collect(),
    };
    let fact = |row| match row {
        Row::Sale { batch, line } => Some(Fact::Sale(facts.till[batch].sales[line].clone())),
        Row::Ticket { batch, line } => Some(Fact::Ticket(facts.till[batch].tickets[line].clone())),
        _ => None,
    };
    rows.into_iter().filter_map(fact).collect()
}

fn figure(
    catalog: &Catalog,
    row: &PackedRow,
    item: &ItemId,
    ended: EndedSpan,
) -> Result<Figure, AppError> {
    let known = catalog.item(item).map_err(catalog::not_found)?;
    let [district, region, owner] = row.place().map(str::to_owned);
    Ok(Figure {
        district,
        region,
        owner,
        base: known.base,
        item: item.to_string(),
        currency: tallying::settings(catalog)?.currency.as_str().to_owned(),
        span: ended.span,
        restated_at: ended.restated_at,
        rules: row.rules(),
    })
}

fn document<T: DeserializeOwned>(body: Value) -> Result<T, AppError> {
    serde_json::from_value(body).map_err(|e| AppError::Internal(e.into()))
}
