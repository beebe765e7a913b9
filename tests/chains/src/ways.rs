//! The ways that are measured: the review, and two plain ones.

use std::collections::BTreeMap;

use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::review::detect;

use crate::chain::Chain;
use crate::score::Flag;
use crate::yardsticks::{flags, modified_z, two_sd};

/// What stands out on each night watched.
pub type Watched = Vec<(BusinessDate, Vec<Flag>)>;

/// A way to look at a chain on the nights watched.
pub type Way = fn(&Chain, DateSpan) -> Watched;

/// Every way by its name; the review first.
pub const WAYS: [(&str, Way); 3] = [
    ("review", review),
    ("district mean ± 2 SD of 7 nights", |chain, dates| {
        dates.iter().map(|date| (date, flags(chain, date, two_sd))).collect()
    }),
    ("modified z > 3.5 of 7 nights", |chain, dates| {
        dates.iter().map(|date| (date, flags(chain, date, modified_z))).collect()
    }),
];

/// What a way says of the nights watched.
pub fn watch(chain: &Chain, way: Way) -> Watched {
    let dates = DateSpan::new(chain.watched_from(), chain.sheet.span().to()).expect("a span");
    way(chain, dates)
}

fn review(chain: &Chain, dates: DateSpan) -> Watched {
    let mut nights: BTreeMap<BusinessDate, Vec<Flag>> =
        dates.iter().map(|date| (date, Vec::new())).collect();
    for finding in detect(&chain.sheet, dates) {
        let (store, district) = (finding.store, finding.district);
        let flag = Flag { store, district, measure: finding.measure, kind: finding.kind };
        nights.entry(finding.as_of).or_default().push(flag);
    }
    nights.into_iter().collect()
}
