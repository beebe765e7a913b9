use std::collections::BTreeMap;

use super::{District, Store};
use crate::access::Standing;
use crate::calendar::BusinessDate;
use crate::ids::{DistrictId, RegionId, StoreId};

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
