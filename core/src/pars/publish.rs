use std::fmt;

use chrono::{DateTime, Utc};

use super::Revision;
use crate::calendar::{BusinessDate, business_date};
use crate::catalog::Store;
use crate::ids::PersonId;

/// The number of a publication: a later one has a greater.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PublicationId(pub i64);

impl fmt::Display for PublicationId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// That a set takes effect.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Publication {
    /// Its id; a later one has a greater.
    pub id: PublicationId,
    /// The revision of a set that takes effect.
    pub revision: Revision,
    /// The first business date.
    pub from: BusinessDate,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// The person who published it.
    pub by: PersonId,
    /// What was written down as the reason for it.
    pub reason: String,
    /// The publication that it takes back, when it is a roll-back.
    pub rolls_back: Option<PublicationId>,
}

/// The publications known at a moment.
///
/// In force on a date is the one with the latest first date of those that have begun by then; of
/// several with that first date, the one recorded last.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Publications(Vec<Publication>);

/// What a roll-back does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RollBack<'a> {
    /// What is taken back.
    pub takes_back: &'a Publication,
    /// What is put back.
    pub puts_back: &'a Publication,
    /// The first business date.
    pub from: BusinessDate,
}

/// There is nothing to go back to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("no other set was in force before")]
pub struct NothingBefore;

impl Publications {
    /// The publications known at a moment, given in any order.
    pub fn new(mut all: Vec<Publication>) -> Self {
        all.sort_by_key(|publication| (publication.from, publication.id));
        Self(all)
    }

    /// What is in force on a date.
    pub fn in_force(&self, on: BusinessDate) -> Option<&Publication> {
        self.0.iter().rfind(|publication| publication.from <= on)
    }

    /// Those that begin after a date, in order of their first dates.
    pub fn after(&self, date: BusinessDate) -> impl Iterator<Item = &Publication> {
        self.0.iter().filter(move |publication| publication.from > date)
    }

    /// What was in force last before a publication began and is not the same revision.
    pub fn before(&self, of: &Publication) -> Option<&Publication> {
        let mut from = of.from;
        loop {
            let earlier = self.in_force(from.pred())?;
            if earlier.revision != of.revision {
                return Some(earlier);
            }
            from = earlier.from;
        }
    }

    /// Takes the last publication back: what was in force before it is put back from `earliest` on,
    /// the first date that has begun nowhere, or in its very place while it is still to come.
    ///
    /// # Errors
    /// [`NothingBefore`].
    pub fn roll_back(&self, earliest: BusinessDate) -> Result<RollBack<'_>, NothingBefore> {
        let takes_back = self.0.last().ok_or(NothingBefore)?;
        let puts_back = self.before(takes_back).ok_or(NothingBefore)?;
        Ok(RollBack { takes_back, puts_back, from: earliest.max(takes_back.from) })
    }
}

/// The first business date that has not begun in any of these stores, each by its own clock, and the
/// store in which the date before it has begun; nothing where there is no store.
///
/// ```
/// use parings_core::calendar::instant;
/// use parings_core::catalog::Store;
/// use parings_core::pars::earliest;
/// let store = |zone: &str| -> Store { serde_json::from_value(serde_json::json!({
///     "title": "Ford", "district": "upper", "owner": "brook", "format": "counter",
///     "zone": zone, "open": ["mon"] })).unwrap() };
/// let (berlin, auckland) = (store("Europe/Berlin"), store("Pacific/Auckland"));
/// // 20:00 UTC on the 15th is 08:00 on the 16th in Auckland.
/// let now = instant::parse("2026-06-15T20:00:00Z").unwrap();
/// assert_eq!(earliest([&berlin], now).unwrap().1.to_string(), "2026-06-16");
/// let (begun, date) = earliest([&berlin, &auckland], now).unwrap();
/// assert_eq!((begun, date.to_string()), (&auckland, "2026-06-17".to_owned()));
/// ```
pub fn earliest<'a>(
    stores: impl IntoIterator<Item = &'a Store>,
    now: DateTime<Utc>,
) -> Option<(&'a Store, BusinessDate)> {
    let today = |store: &'a Store| (store, business_date(now, &store.zone, store.cut_off));
    let (store, latest) = stores.into_iter().map(today).max_by_key(|(_, today)| *today)?;
    Some((store, latest.succ()))
}

#[cfg(test)]
mod tests {
    use chrono::TimeZone;

    use super::*;

    fn june(day: u32) -> BusinessDate {
        BusinessDate::new(2026, 6, day).unwrap()
    }

    /// Publications in the order they were recorded: the set, and the first day of June.
    fn published(all: &[(&str, u32)]) -> Publications {
        let publication = |(n, (set, day)): (usize, &(&str, u32))| Publication {
            id: PublicationId(n as i64),
            revision: Revision { set: set.parse().unwrap(), number: 1 },
            from: june(*day),
            recorded_at: Utc.timestamp_opt(n as i64, 0).unwrap(),
            by: PersonId(uuid::Uuid::nil()),
            reason: String::new(),
            rolls_back: None,
        };
        Publications::new(all.iter().enumerate().map(publication).collect())
    }

    fn on(known: &Publications, day: u32) -> Option<&str> {
        known.in_force(june(day)).map(|p| p.revision.set.as_str())
    }

    #[test]
    fn the_one_that_began_last_is_in_force() {
        let known = published(&[("a", 3), ("c", 12), ("b", 9), ("d", 12)]);
        let said = [2, 3, 8, 9, 11, 12, 30].map(|day| on(&known, day));
        assert_eq!(said, [None, Some("a"), Some("a"), Some("b"), Some("b"), Some("d"), Some("d")]);
    }

    fn back(all: &[(&str, u32)], earliest: u32) -> Result<(String, u32), NothingBefore> {
        let known = published(all);
        let back = known.roll_back(june(earliest))?;
        let day = june(1).days_until(back.from) + 1;
        Ok((back.puts_back.revision.set.to_string(), u32::try_from(day).unwrap()))
    }

    #[test]
    fn a_roll_back_puts_back_what_was_in_force_before() {
        assert_eq!(back(&[("a", 3), ("b", 9)], 11), Ok(("a".to_owned(), 11)));
        // Before it has begun, in its place.
        assert_eq!(back(&[("a", 3), ("b", 9)], 5), Ok(("a".to_owned(), 9)));
        // Taken back itself, it is put back.
        assert_eq!(back(&[("a", 3), ("b", 9), ("a", 11)], 12), Ok(("b".to_owned(), 12)));
        // A set published again without a change is not what was before.
        assert_eq!(back(&[("a", 3), ("b", 9), ("b", 10)], 12), Ok(("a".to_owned(), 12)));
        assert_eq!(back(&[("a", 3), ("a", 9)], 12), Err(NothingBefore));
        assert_eq!(back(&[("a", 3)], 12), Err(NothingBefore));
        assert_eq!(back(&[], 12), Err(NothingBefore));
    }
}
