//! Children of a scope against each other, and spans against each other.

use std::collections::BTreeMap;

use parings_core::calendar::DateSpan;
use parings_core::catalog::{Network, Settings, StoreTimeline};
use parings_core::ids::ItemId;
use parings_core::rollup::{Against, Compared, Headline, Known, Level, Rank, ranks};

use super::{Asked, Row};

/// The same of another span.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// What it is.
    pub against: Against,
    /// The nights of the span that it is compared with.
    pub span: DateSpan,
    /// The scope's row, then those of its children by code.
    pub rows: Vec<Row>,
}

/// Why a child has no rank.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unranked {
    /// There is no such value.
    Unknown,
    /// Nobody can tell how well the value is known.
    NoRange,
    /// It comes from too few nights.
    TooFewNights,
    /// The store is new.
    NewStore,
    /// Other items than those of most children were counted there.
    OtherItems,
    /// Too many of its tickets were never closed or closed in a lump.
    DoubtfulTickets,
}

/// A child in a ranking.
#[derive(Debug, Clone)]
pub struct Ranked {
    /// The code of the child.
    pub child: String,
    /// What it measures to; none while unknown.
    pub known: Option<Known>,
    /// Its plausible ranks, from 1 for the best, or why it has none.
    pub rank: Result<Rank, Unranked>,
}

/// Children by a measure, worst first; those without a value last.
pub(super) fn ranking(
    by: Headline,
    asked: &Asked,
    rows: &[Row],
    network: &Network,
    settings: &Settings,
) -> Vec<Ranked> {
    let least = Headline::LEAST_NIGHTS;
    let children: Vec<_> = rows
        .iter()
        .filter_map(|row| Some((row.child.clone()?, by.of(&row.sum, &row.measures), row)))
        .collect();
    let usual = usual_items(by, children.iter().map(|(_, _, row)| *row));
    let why = |(child, known, row): &(String, Option<Known>, &Row)| {
        let Some(known) = known else { return Some(Unranked::Unknown) };
        if asked.level() == Some(Level::Store) && is_new(child, asked, network, settings) {
            return Some(Unranked::NewStore);
        }
        let tickets = || row.sum.all_dayparts().tickets.doubtful(settings.doubtful_tickets);
        if by == Headline::WithinTarget && tickets() {
            return Some(Unranked::DoubtfulTickets);
        }
        if known.rate.nights < least {
            return Some(Unranked::TooFewNights);
        }
        if by.items(&row.measures) != usual {
            return Some(Unranked::OtherItems);
        }
        known.range.is_none().then_some(Unranked::NoRange)
    };
    let whys: Vec<_> = children.iter().map(why).collect();
    let compared: Vec<_> = children
        .iter()
        .zip(&whys)
        .map(|((_, known, _), why)| Compared {
            range: known.and_then(|known| known.range).map(|range| by.ranked(range)),
            nights: known.map_or(0, |known| known.rate.nights),
            doubtful: why.is_some(),
        })
        .collect();
    let found = ranks(&compared, by.better(), least);
    let mut ranked: Vec<_> = children
        .into_iter()
        .zip(whys)
        .zip(found)
        .map(|(((child, known, _), why), rank)| Ranked {
            child,
            known,
            rank: rank.ok_or(why.unwrap_or(Unranked::Unknown)),
        })
        .collect();
    let badness = |one: &Ranked| Some(by.badness(one.known?.rate.ratio.value()?));
    ranked.sort_by(|a, b| badness(b).cmp(&badness(a)).then_with(|| a.child.cmp(&b.child)));
    ranked
}

/// The items that the value of most children rests on; of as many, the longer list.
fn usual_items<'a>(by: Headline, rows: impl Iterator<Item = &'a Row>) -> Vec<ItemId> {
    let mut lists: BTreeMap<&[ItemId], usize> = BTreeMap::new();
    for row in rows.filter(|row| by.of(&row.sum, &row.measures).is_some()) {
        *lists.entry(by.items(&row.measures)).or_default() += 1;
    }
    let most = lists.into_iter().max_by_key(|(items, rows)| (*rows, items.len()));
    most.map(|(items, _)| items.to_vec()).unwrap_or_default()
}

/// Whether a store has not been open for long at the end of the span.
fn is_new(code: &str, asked: &Asked, network: &Network, settings: &Settings) -> bool {
    let timeline = network.stores.iter().find(|timeline| timeline.store.as_str() == code);
    let least = settings.limits.new_store_days;
    let open = |timeline: &StoreTimeline| timeline.open_days(asked.span.to(), least);
    timeline.is_some_and(|timeline| open(timeline).is_none_or(|days| days < least))
}
