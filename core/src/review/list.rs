//! The stores of a district, the one with most money at stake first.

use std::collections::BTreeMap;

use super::peers::{Peer, compare};
use super::{Label, Measure, Peers, Sheet, Status};
use crate::calendar::{BusinessDate, DateSpan};
use crate::rollup::{Better, Compared, Nights, Rank, ranks};
use crate::stats::{Confidence, Interval, RatioSums, Robust};

/// Nights that a list looks at: stores elsewhere are compared over these alone.
pub const LISTED_NIGHTS: usize = 28;
/// Of those, the fewest relied on. Common practice, no source.
const FEWEST_NIGHTS: u64 = 20;
/// Fewest tickets for a word about speed. Common practice, no source.
const FEWEST_TICKETS: f64 = 200.0;
/// A store with fewer open nights is new. Common practice, no source.
const NEW_NIGHTS: usize = 28;
/// Fewest weeks of its own that a store is compared with.
const FEWEST_WEEKS: usize = 5;
/// Fewest nights of such a week.
const FEWEST_OF_WEEK: u64 = 4;
/// So many weeks back at most.
const MOST_WEEKS: usize = 15;

/// Why nothing is said of a measure, or a store has no rank.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unranked {
    /// There is no such figure.
    Unknown,
    /// Fewer than 20 of 28 nights, or fewer than 200 tickets.
    TooFewNights,
    /// Fewer than 28 open nights so far.
    NewStore,
    /// Fewer than five stores to compare with.
    NoPeers,
}

/// The last week of a measure against the store's own weeks before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Past {
    /// The last seven nights.
    pub value: f64,
    /// How many weeks before that, the store's own.
    pub weeks: usize,
    /// Their median and scaled median absolute deviation.
    pub values: Robust,
    /// How far the last week lies off them, in the direction that is for the worse; none where most
    /// of them are the same.
    pub z: Option<f64>,
}

/// A measure of a store over 28 nights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ListedMeasure {
    /// Which measure it is.
    pub measure: Measure,
    /// A ratio of sums, never a mean of ratios; none when unknown.
    pub value: Option<f64>,
    /// Where the ratio lies at 95 %, as nights differ; none with too few of them.
    pub range: Option<Interval>,
    /// The nights it comes from.
    pub nights: u64,
    /// Against fair peers over the same nights, or why not.
    pub peers: Result<Peers, Unranked>,
    /// Against its own past; none while there is too little of it.
    pub past: Option<Past>,
    /// Money a week beyond what peers take, in the currency's major unit, with its range; none for
    /// what has no price, and where there is nothing to compare with. Below nothing, it is better.
    pub money_per_week: Option<(f64, Interval)>,
}

/// A store of the list.
#[derive(Debug, Clone, PartialEq)]
pub struct Listed {
    /// The store that is listed.
    pub store: Label,
    /// Its nights of the window.
    pub nights: Nights,
    /// Whether it is new: nothing ranks it.
    pub is_new: bool,
    /// What was measured of the store, a measure each.
    pub measures: Vec<ListedMeasure>,
    /// The most that one measure puts at stake a week: use holds what is wasted and lost in batches,
    /// so the measures do not add.
    pub money_per_week: Option<(f64, Interval)>,
    /// Its plausible ranks by use within the district, from 1 for the least beyond what was expected.
    pub rank: Result<Rank, Unranked>,
}

/// The stores of a district over the nights that were looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct Reviewed {
    /// The nights looked at.
    pub window: DateSpan,
    /// Its stores, most money at stake first; those of which it is not known last.
    pub stores: Vec<Listed>,
}

impl ListedMeasure {
    /// Whether it lies out for the worse against peers, or against its own past.
    pub fn stands_out(&self) -> bool {
        let out = |z: Option<f64>| z.is_some_and(|z| z > Robust::OUTLYING);
        self.peers.is_ok_and(|peers| out(peers.z)) || self.past.is_some_and(|past| out(past.z))
    }
}

/// One store and measure before it is compared.
struct Own {
    sums: RatioSums,
    peer: Result<Peer, Unranked>,
}

/// Every store that stood in the district at the end of the 28 nights up to `as_of`, against fair
/// peers anywhere and against its own past by a modified z. `None` when the sheet does not reach to
/// `as_of`.
///
/// Short days, nights left out and missing or closed ones are in no rate. A new store is compared
/// with nobody and is nobody's peer.
pub fn list(sheet: &Sheet, district: Label, as_of: BusinessDate) -> Option<Reviewed> {
    let last = sheet.night(as_of)?;
    let first = (last + 1).saturating_sub(LISTED_NIGHTS);
    let window = DateSpan::new(sheet.date(first), as_of).ok()?;
    let stores = sheet.stores().len();
    let new: Vec<bool> = (0..stores).map(|store| is_new(sheet, store, last)).collect();
    let own: BTreeMap<Measure, Vec<Own>> = Measure::RATIOS
        .iter()
        .map(|measure| {
            let one = |store: usize| own(sheet, *measure, store, (first, last), new[store]);
            (*measure, (0..stores).map(one).collect())
        })
        .collect();
    let here = |store: &usize| sheet.places()[store * sheet.nights() + last].0 == district;
    let stood = |store: &usize| {
        let cells = store * sheet.nights();
        let status = &sheet.status()[cells + first..=cells + last];
        status.iter().any(|s| !matches!(s, Status::NotYet | Status::Closed))
    };
    let mut listed: Vec<Listed> = (0..stores)
        .filter(|store| here(store) && stood(store))
        .map(|store| listed(sheet, &own, store, (first, last), new[store]))
        .collect();
    rank(&mut listed);
    let money = |one: &Listed| one.money_per_week.map_or(f64::NEG_INFINITY, |(money, _)| money);
    listed.sort_by(|a, b| money(b).total_cmp(&money(a)));
    Some(Reviewed { window, stores: listed })
}

/// Fewer than 28 open nights, of a store whose first night comes more than a week after the sheet
/// begins: of others it cannot be told.
pub(super) fn is_new(sheet: &Sheet, store: usize, last: usize) -> bool {
    let cells = store * sheet.nights();
    let status = &sheet.status()[cells..=cells + last];
    let begun = |s: &Status| *s != Status::NotYet;
    let open = status.iter().filter(|s| begun(s) && **s != Status::Closed).count();
    open < NEW_NIGHTS && status.iter().position(begun).is_none_or(|first| first > 7)
}

fn sums(sheet: &Sheet, measure: Measure, store: usize, nights: (usize, usize)) -> RatioSums {
    let cells = store * sheet.nights();
    (cells + nights.0..=cells + nights.1).filter_map(|cell| measure.parts(sheet, cell)).collect()
}

fn own(sheet: &Sheet, measure: Measure, store: usize, nights: (usize, usize), is_new: bool) -> Own {
    let sums = sums(sheet, measure, store, nights);
    let (_, format) = sheet.places()[store * sheet.nights() + nights.1];
    let few = sums.units() < FEWEST_NIGHTS
        || measure == Measure::Lateness && sums.under() < FEWEST_TICKETS;
    let peer = match sums.value() {
        None => Err(Unranked::Unknown),
        Some(_) if is_new => Err(Unranked::NewStore),
        Some(_) if few => Err(Unranked::TooFewNights),
        Some(value) => Ok(Peer { format, volume: sums.under() / sums.units() as f64, value }),
    };
    Own { sums, peer }
}

fn listed(
    sheet: &Sheet,
    own: &BTreeMap<Measure, Vec<Own>>,
    store: usize,
    nights: (usize, usize),
    is_new: bool,
) -> Listed {
    let look = |(measure, all): (&Measure, &Vec<Own>)| {
        let Own { sums, peer } = &all[store];
        let peers = peer.and_then(|own| {
            let others = all.iter().enumerate().filter(|(other, _)| *other != store);
            let others: Vec<Peer> = others.filter_map(|(_, other)| other.peer.ok()).collect();
            compare(*measure, own, &others).ok_or(Unranked::NoPeers)
        });
        let range = sums.interval(Confidence::NINETY_FIVE);
        let money_per_week =
            peers.ok().and_then(|peers| money(sheet, *measure, sums, range?, &peers));
        ListedMeasure {
            measure: *measure,
            value: sums.value(),
            range,
            nights: sums.units(),
            peers,
            past: past(sheet, *measure, store, nights.1),
            money_per_week,
        }
    };
    let measures: Vec<ListedMeasure> = own.iter().map(look).collect();
    let most = measures.iter().filter_map(|looked| looked.money_per_week);
    let most = most.max_by(|(a, _), (b, _)| a.total_cmp(b));
    Listed {
        store: sheet.stores()[store],
        nights: counted(sheet, store, nights),
        is_new,
        measures,
        money_per_week: most,
        rank: Err(Unranked::Unknown),
    }
}

/// Beyond the peers' median, over a week of the store's own volume.
fn money(
    sheet: &Sheet,
    measure: Measure,
    sums: &RatioSums,
    range: Interval,
    peers: &Peers,
) -> Option<(f64, Interval)> {
    if measure == Measure::Lateness {
        return None;
    }
    let week = 7.0 * sums.under() / sums.units() as f64;
    let centre = peers.values.centre();
    let of = |value: f64| sheet.cost().of((value - centre) * measure.worse() * week);
    let (a, b) = (of(range.low), of(range.high));
    Some((of(sums.value()?), Interval { low: a.min(b), high: a.max(b) }))
}

fn past(sheet: &Sheet, measure: Measure, store: usize, last: usize) -> Option<Past> {
    let week = |back: usize| {
        let to = last.checked_sub(7 * back)?;
        let sums = sums(sheet, measure, store, (to.checked_sub(6)?, to));
        sums.value().filter(|_| sums.units() >= FEWEST_OF_WEEK)
    };
    let value = week(0)?;
    let weeks: Vec<f64> = (1..=MOST_WEEKS).filter_map(week).collect();
    if weeks.len() < FEWEST_WEEKS {
        return None;
    }
    let values = Robust::of(&weeks).ok()?;
    let z = values.modified_z(value).map(|z| z * measure.worse());
    Some(Past { value, weeks: weeks.len(), values, z })
}

fn counted(sheet: &Sheet, store: usize, (first, last): (usize, usize)) -> Nights {
    let cells = store * sheet.nights();
    (cells + first..=cells + last).fold(Nights::default(), |nights, cell| {
        let night = match sheet.status()[cell] {
            Status::NotYet => Nights::default(),
            Status::Closed => Nights { closed: 1, ..Nights::default() },
            Status::Missing => Nights { expected: 1, missing: 1, ..Nights::default() },
            Status::Held => Nights { expected: 1, missing: 1, held: 1, ..Nights::default() },
            Status::Open => Nights { expected: 1, counted: 1, ..Nights::default() },
            Status::Short => Nights { expected: 1, counted: 1, short: 1, ..Nights::default() },
            Status::LeftOut => Nights { expected: 1, counted: 1, left_out: 1, ..Nights::default() },
        };
        nights.merge(night)
    })
}

/// Ranks by use, where it can be compared.
fn rank(listed: &mut [Listed]) {
    let by_use = |one: &Listed| one.measures.iter().find(|m| m.measure == Measure::Use).copied();
    let why = |looked: Option<ListedMeasure>, is_new: bool| match looked {
        _ if is_new => Some(Unranked::NewStore),
        Some(looked) if looked.value.is_none() => Some(Unranked::Unknown),
        Some(looked) if looked.nights < FEWEST_NIGHTS => Some(Unranked::TooFewNights),
        Some(_) => None,
        None => Some(Unranked::Unknown),
    };
    let whys: Vec<_> = listed.iter().map(|one| why(by_use(one), one.is_new)).collect();
    let compared: Vec<Compared> = listed
        .iter()
        .zip(&whys)
        .map(|(one, why)| Compared {
            range: by_use(one).and_then(|looked| looked.range),
            nights: by_use(one).map_or(0, |looked| looked.nights),
            doubtful: why.is_some(),
        })
        .collect();
    let found = ranks(&compared, Better::Low, FEWEST_NIGHTS);
    for ((one, why), rank) in listed.iter_mut().zip(whys).zip(found) {
        one.rank = rank.ok_or(why.unwrap_or(Unranked::Unknown));
    }
}

#[cfg(test)]
mod tests;
