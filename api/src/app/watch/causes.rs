//! Why a finding may be: what is known of the store around the time it began, weighed.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::catalog::{Catalog, Typed};
use parings_core::ids::StoreId;
use parings_core::money::Money;
use parings_core::night::{EntryBody, Step};
use parings_core::review::{Change, Clues, Explained, Measure, PartChange, explain};
use parings_core::stats::RatioSums;
use parings_core::tally::pack::Dictionary;
use rust_decimal::prelude::ToPrimitive;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::watch::{course, review};
use crate::context::Caller;
use crate::db;
use crate::db::causes::{BatchRow, ChangedRow};
use crate::error::AppError;

/// So many nights before are compared with, as the weighing does.
const PAST: i64 = 56;
/// What changed within so many days of the beginning is told.
const NEAR: i64 = 7;

/// What is asked about.
#[derive(Debug, Clone, Copy)]
pub struct Question {
    /// By what it stands out.
    pub measure: Measure,
    /// The night it is estimated to have begun.
    pub since: BusinessDate,
    /// Up to which night; the last that is over when left out.
    pub as_of: Option<BusinessDate>,
}

/// Why it may be.
#[derive(Debug, Clone)]
pub struct Answered {
    /// The last night looked at.
    pub as_of: BusinessDate,
    /// The first night of what it is compared with.
    pub before: BusinessDate,
    /// Causes and what to look at.
    pub explained: Explained,
}

/// Weighs causes of what stands out in a store.
///
/// # Errors
/// 404 and 403 as the policy says, 422 for nights to come.
pub async fn of_store(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    question: Question,
) -> Result<Answered, AppError> {
    let Question { measure, since, .. } = question;
    deps.reading_all(caller, async |conn, ctx| {
        let as_of = match question.as_of {
            Some(date) => review::to_come(ctx, date).map(|()| date)?,
            None => course::over(conn, ctx, store).await?,
        };
        lies_within(since, as_of.plus_days(-review::NIGHTS), as_of)?;
        let standing = catalog::standing(conn, as_of, ctx.now, store).await?;
        ctx.require(Action::ReadReview, &Target::Store(&standing))?;
        let known = catalog::in_force(deps, conn, as_of, ctx.now, None).await?;
        let near = (since.plus_days(-NEAR), since.plus_days(NEAR));
        let mut changes: Vec<(BusinessDate, String)> =
            published(db::causes::published(conn, near, ctx.now).await?);
        let near_span = DateSpan::new(near.0, near.1).map_err(anyhow::Error::new)?;
        let diary = db::diary::list(conn, store.as_str(), near_span, None, i64::MAX).await?;
        let written = diary.into_iter().filter(|entry| entry.withdrawn.is_none());
        changes.extend(written.map(|entry| {
            let said = entry.said.trim_end_matches('.').to_owned();
            (entry.from_date.into(), format!("the diary says: {said}"))
        }));
        let past = since.plus_days(-PAST);
        let span = DateSpan::new(past, as_of).map_err(anyhow::Error::new)?;
        let mut batches = db::causes::batches(conn, store.as_str(), span).await?;
        db::review::act_for_review(conn, &standing.district).await?;
        // Nothing of before is weighed: it was somebody else's to look after.
        let settled = review::settled(conn, ctx.now, store, as_of).await?;
        lies_within(since, settled, as_of)?;
        let before = past.max(settled);
        let span = DateSpan::new(before, as_of).map_err(anyhow::Error::new)?;
        batches.retain(|batch| before <= batch.business_date.into());
        changes.extend(documents(db::causes::changed(conn, store.as_str(), near, ctx.now).await?));
        changes.retain(|(date, _)| before <= *date);
        changes.sort();
        let first = before.min(as_of.plus_days(1 - review::NIGHTS));
        let known_nights = DateSpan::new(first, as_of).map_err(anyhow::Error::new)?;
        let sheet = review::gather(conn, ctx.now, known_nights).await?;
        let label = sheet.as_ref().and_then(|sheet| sheet.labels().find(store.as_str()));
        let clues = match sheet.as_ref().zip(label) {
            Some((sheet, label)) => Clues::of(sheet, label, measure, since, as_of),
            None => Clues::of_nothing(measure),
        };
        let (items, dayparts) = parts_of_nights(conn, store, span).await?;
        let mut stages = parts(stages(&known, batches)?, since, |name| Some(name.to_owned()));
        stages.reverse();
        let clues = Clues {
            items: parts(items, since, |code| item(&known, code)),
            stages,
            dayparts: parts(dayparts, since, |code| daypart(&known, code)),
            changes,
            ..clues
        };
        Ok(Answered { as_of, before, explained: explain(&clues) })
    })
    .await
}

fn lies_within(
    since: BusinessDate,
    first: BusinessDate,
    last: BusinessDate,
) -> Result<(), AppError> {
    if (first..=last).contains(&since) {
        return Ok(());
    }
    Err(AppError::invalid("/since", format!("a date from {first} to {last}")))
}

fn item(known: &Catalog, code: &str) -> Option<String> {
    Some(known.items.get(&code.parse().ok()?)?.title.clone())
}

fn daypart(known: &Catalog, code: &str) -> Option<String> {
    let mut all = known.dayparts.values().flat_map(|set| &set.dayparts);
    Some(all.find(|daypart| daypart.code.as_str() == code)?.title.clone())
}

/// What a part had on a night: numerator and denominator.
struct Night {
    part: String,
    date: NaiveDate,
    over: f64,
    under: f64,
}

/// Of a store's nights: the use of each item beyond what was expected over what all items were expected
/// to take, in money, and late tickets of each part of the day over its tickets.
async fn parts_of_nights(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    span: DateSpan,
) -> Result<(Vec<Night>, Vec<Night>), AppError> {
    let (mut items, mut dayparts) = (Vec::new(), Vec::new());
    let mut dictionary = Dictionary::default();
    for row in db::tallies::of_store(conn, store, span).await? {
        let date = NaiveDate::from(row.date());
        let night = row.unpack(&mut dictionary)?;
        let spans = night.spans.iter().map(|(item, ended)| (item, &ended.span));
        let compared: Vec<_> = spans
            .filter(|(_, span)| span.doubts.is_empty())
            .filter_map(|(item, span)| Some((item, span.variance_cost?, span.expected_cost?)))
            .collect();
        let due: Money = compared.iter().map(|(_, _, expected)| *expected).sum();
        if due > Money::ZERO {
            let money = |money: Money| money.ten_thousandths() as f64;
            items.extend(compared.into_iter().map(|(item, over, _)| Night {
                part: item.to_string(),
                date,
                over: money(over),
                under: money(due),
            }));
        }
        let mut tickets: BTreeMap<String, (u64, u64)> = BTreeMap::new();
        for (key, tally) in &night.day.dayparts {
            let (late, of) = tickets.entry(key.daypart.to_string()).or_default();
            *late += tally.tickets.timed_late;
            *of += tally.tickets.with_target;
        }
        let told = tickets.into_iter().filter(|(_, (_, of))| *of > 0);
        dayparts.extend(told.map(|(part, (late, of))| Night {
            part,
            date,
            over: late as f64,
            under: of as f64,
        }));
    }
    Ok((items, dayparts))
}

/// What came out of each weighed stage of each batch, over what should have by the standards. A batch of
/// an item or a stage that is no more says nothing.
fn stages(known: &Catalog, batches: Vec<BatchRow>) -> Result<Vec<Night>, AppError> {
    let mut all = Vec::new();
    for row in batches {
        let body = serde_json::from_value(row.body).map_err(|e| AppError::Internal(e.into()))?;
        let EntryBody::Batch { item: id, from, put_in, steps, .. } = body else { continue };
        let Some(item) = known.items.get(&id) else { continue };
        let measure = |typed: &Typed| item.measure(&id, typed).ok()?.value().to_f64();
        let (mut stage, mut went_in) = (from, measure(&put_in));
        for Step { stage: to, out } in steps {
            let came_out = measure(&out);
            let standard = item.stages.standard_between(stage.as_ref(), &to).ok();
            let standard = standard.and_then(|standard| standard.decimal().to_f64());
            if let Some(((over, before), standard)) = came_out.zip(went_in).zip(standard)
                && let Ok(said) = item.stages.stage(&to)
            {
                let part = format!("{}, {}", item.title, said.title.to_lowercase());
                all.push(Night { part, date: row.business_date, over, under: before * standard });
            }
            (stage, went_in) = (Some(to), came_out);
        }
    }
    Ok(all)
}

/// How each part changed at a date, the largest rise first.
fn parts(
    rows: impl IntoIterator<Item = Night>,
    since: BusinessDate,
    title: impl Fn(&str) -> Option<String>,
) -> Vec<PartChange> {
    let mut nights: BTreeMap<String, [Vec<(f64, f64)>; 2]> = BTreeMap::new();
    for Night { part, date, over, under } in rows {
        let window = usize::from(date >= NaiveDate::from(since));
        nights.entry(part).or_default()[window].push((over, under));
    }
    let mut parts: Vec<PartChange> = nights
        .into_iter()
        .filter_map(|(code, [before, since])| {
            let sums = |nights: Vec<(f64, f64)>| nights.into_iter().collect::<RatioSums>();
            let change = Change::of(&sums(before), &sums(since))?;
            Some(PartChange { name: title(&code).unwrap_or(code), change })
        })
        .collect();
    parts.sort_by(|a, b| b.change.size.total_cmp(&a.change.size));
    parts
}

fn published(rows: Vec<ChangedRow>) -> Vec<(BusinessDate, String)> {
    let told = |row: ChangedRow| (row.valid_from.into(), format!("standard pars {}", row.code));
    rows.into_iter().map(told).collect()
}

/// So many documents of a kind on a date are told by their names, more by how many they are.
const NAMED: usize = 3;

fn documents(rows: Vec<ChangedRow>) -> Vec<(BusinessDate, String)> {
    let mut by_kind: BTreeMap<(NaiveDate, String), Vec<String>> = BTreeMap::new();
    for row in rows {
        by_kind.entry((row.valid_from, row.kind)).or_default().push(row.code);
    }
    by_kind
        .into_iter()
        .map(|((date, kind), codes)| {
            let kind = kind.replace('_', " ");
            let which = if codes.len() > NAMED {
                format!("{} of them", codes.len())
            } else {
                codes.join(", ")
            };
            (date.into(), format!("changes in {kind} ({which})"))
        })
        .collect()
}
