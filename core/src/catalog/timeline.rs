use std::collections::BTreeMap;

use chrono::{DateTime, Utc};

use super::{District, Store};
use crate::access::Standing;
use crate::calendar::{BusinessDate, business_date};
use crate::ids::{DistrictId, OwnerId, RegionId, StoreId};

/// What a document said from which date on; `None` from when it was retired or is no longer to be seen
/// by who asked.
///
/// ```
/// use parings_core::calendar::BusinessDate;
/// use parings_core::catalog::Timeline;
/// let day = |day| BusinessDate::new(2026, 6, day).unwrap();
/// let price = Timeline(vec![(day(3), Some("0.90")), (day(9), None), (day(12), Some("1.10"))]);
/// let said = [2, 3, 8, 9, 12, 30].map(|on| price.at(day(on)).copied());
/// assert_eq!(said, [None, Some("0.90"), Some("0.90"), None, Some("1.10"), Some("1.10")]);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Timeline<T>(pub Vec<(BusinessDate, Option<T>)>);

impl<T> Timeline<T> {
    /// What it said on a date.
    pub fn at(&self, date: BusinessDate) -> Option<&T> {
        let begun = self.0.partition_point(|(from, _)| *from <= date);
        self.0[..begun].last().and_then(|(_, said)| said.as_ref())
    }
}

/// A store over time.
#[derive(Debug, Clone, PartialEq)]
pub struct StoreTimeline {
    /// The store's code.
    pub store: StoreId,
    /// What its document said from when on.
    pub versions: Timeline<Store>,
}

impl StoreTimeline {
    /// Its open days up to a date since it was first on record, `most` at most; none when it never
    /// was.
    pub fn open_days(&self, until: BusinessDate, most: u32) -> Option<u32> {
        let (first, _) = self.versions.0.first()?;
        let (mut days, mut on) = (0, until);
        while on >= *first && days < most {
            days += u32::from(self.is_open(on));
            on = on.pred();
        }
        Some(days)
    }

    /// Its document on a date.
    pub fn at(&self, date: BusinessDate) -> Option<&Store> {
        self.versions.at(date)
    }

    /// Whether it opened on a date, by its calendar.
    pub fn is_open(&self, date: BusinessDate) -> bool {
        self.at(date).is_some_and(|said| said.is_open(date))
    }

    /// Whether one owner held it on every date after `from` up to and including `to`, as far as it was
    /// on record.
    pub fn had_one_owner(&self, from: BusinessDate, to: BusinessDate) -> bool {
        let first = self.at(from.succ());
        let owner = first.map(|said| &said.owner);
        self.versions
            .0
            .iter()
            .filter(|(on, _)| *on > from.succ() && *on <= to)
            .filter_map(|(_, said)| said.as_ref())
            .all(|said| owner.is_none_or(|owner| said.owner == *owner))
    }

    /// Since which date it has been where it is on a date: in one district, held by one owner. Being
    /// retired for a while is no move. None when it was not on record by then.
    ///
    /// Nobody looks at a store over the nights before: those were somebody else's to look after.
    pub fn settled(&self, on: BusinessDate) -> Option<BusinessDate> {
        let begun = self.versions.0.partition_point(|(from, _)| *from <= on);
        let said = self.versions.0[..begun].iter().rev();
        let mut places = said.filter_map(|(from, said)| Some((*from, said.as_ref()?.place())));
        let (first, place) = places.next()?;
        let same = places.take_while(|(_, other)| *other == place).last();
        Some(same.map_or(first, |(from, _)| from))
    }

    /// The business date from which on it is no more where it was on a date: it stands in another
    /// district, another owner holds it, it is retired or no longer to be seen by who asked. None until
    /// that date has begun, by the clock that the store had till then.
    ///
    /// ```
    /// use parings_core::calendar::{BusinessDate, CutOff, instant};
    /// use parings_core::catalog::{Store, StoreTimeline, Timeline};
    /// let store = |district: &str| Store {
    ///     title: "Ford".to_owned(), district: district.parse().unwrap(),
    ///     owner: "brook".parse().unwrap(), format: "counter".parse().unwrap(),
    ///     zone: "Europe/Lisbon".parse().unwrap(), cut_off: CutOff::default(),
    ///     open: Vec::new(), closed: Vec::new(), hours: None, other_hours: Vec::new(),
    ///     walk: Vec::new(), fryers: Vec::new(), feed: false,
    /// };
    /// let day = |day| BusinessDate::new(2026, 6, day).unwrap();
    /// let versions = vec![(day(1), Some(store("upper"))), (day(21), Some(store("lower")))];
    /// let ford = StoreTimeline { store: "ford".parse().unwrap(), versions: Timeline(versions) };
    /// let (upper, brook) = ("upper".parse().unwrap(), "brook".parse().unwrap());
    /// let left = |at| ford.left((&upper, &brook), day(20), instant::parse(at).unwrap());
    /// // The day of the move begins at five, when the store's own day turns.
    /// assert_eq!(left("2026-06-21T04:59:00+01:00"), None);
    /// assert_eq!(left("2026-06-21T05:00:00+01:00"), Some(day(21)));
    /// ```
    pub fn left(
        &self,
        place: (&DistrictId, &OwnerId),
        since: BusinessDate,
        now: DateTime<Utc>,
    ) -> Option<BusinessDate> {
        let versions = &self.versions.0;
        let stood = versions.partition_point(|(from, _)| *from <= since).saturating_sub(1);
        let mut later = versions.iter().enumerate().skip(stood);
        let elsewhere = |said: &Option<Store>| said.as_ref().is_none_or(|s| s.place() != place);
        let (at, (from, _)) = later.find(|(_, (_, said))| elsewhere(said))?;
        let clock = versions[..at].iter().rev().find_map(|(_, said)| said.as_ref());
        let today = |clock: &Store| business_date(now, &clock.zone, clock.cut_off);
        clock.is_none_or(|clock| *from <= today(clock)).then_some((*from).max(since))
    }
}

/// Stores and districts over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Network {
    /// The stores, in order of their codes.
    pub stores: Vec<StoreTimeline>,
    /// The districts that those stood in.
    pub districts: BTreeMap<DistrictId, Timeline<District>>,
}

impl Network {
    /// The region of a district on a date.
    pub fn region_of(&self, district: &DistrictId, date: BusinessDate) -> Option<&RegionId> {
        Some(&self.districts.get(district)?.at(date)?.region)
    }

    /// Where a store stood on a date; `None` when it or its district was not in force.
    pub fn standing(&self, store: &StoreTimeline, date: BusinessDate) -> Option<Standing> {
        let said = store.at(date)?;
        Some(Standing {
            store: store.store.clone(),
            district: said.district.clone(),
            region: self.region_of(&said.district, date)?.clone(),
            owner: said.owner.clone(),
        })
    }
}
