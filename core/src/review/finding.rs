use super::{Label, Measure};
use crate::calendar::BusinessDate;
use crate::rollup::Rank;
use crate::stats::Interval;

/// In what way a store, or a district as a whole, differs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FindingKind {
    /// One night far off: a note to the manager, and no more.
    OneNight,
    /// It moved away from its own past, fair peers allowed for, and stays there.
    Drift,
    /// It has differed from fair peers for long.
    Chronic,
    /// Figures that are written down in a way worth asking about.
    Habit,
    /// It had moved and is back; shown for two weeks.
    Recovered,
    /// A district's stores moved together: a matter for head office, not for the stores.
    Shared,
}

impl FindingKind {
    /// Every kind, in the order in which they are declared.
    pub const ALL: &[Self] =
        &[Self::OneNight, Self::Drift, Self::Chronic, Self::Habit, Self::Recovered, Self::Shared];

    /// Its word in the API and in files.
    ///
    /// ```
    /// assert_eq!(parings_core::review::FindingKind::OneNight.word(), "one_night");
    /// ```
    pub fn word(self) -> &'static str {
        match self {
            Self::OneNight => "one_night",
            Self::Drift => "drift",
            Self::Chronic => "chronic",
            Self::Habit => "habit",
            Self::Recovered => "recovered",
            Self::Shared => "shared",
        }
    }
}

/// What the nights since are compared with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Baseline {
    /// So many nights of its own before.
    Past(usize),
    /// So many fair peers.
    Peers(usize),
}

impl Baseline {
    /// How many nights before, where it is its own past.
    pub fn nights(self) -> Option<usize> {
        match self {
            Self::Past(nights) => Some(nights),
            Self::Peers(_) => None,
        }
    }

    /// How many fair peers, where it is they.
    pub fn peers(self) -> Option<usize> {
        match self {
            Self::Past(_) => None,
            Self::Peers(stores) => Some(stores),
        }
    }
}

/// What about the way figures are written down is worth asking about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Habit {
    /// Recorded waste repeats itself.
    Copied,
    /// Lines of counts repeat the count before.
    RepeatedLines,
    /// No waste is recorded for longer than chance makes it.
    Nothing,
    /// Recorded waste ends on whole or half units far more often than that of others.
    Rounded,
    /// A measure hardly differs from night to night.
    NoSpread(Measure),
    /// Recorded waste falls while use that it does not explain rises.
    WasteFallsUseRises,
    /// Amendments bring use nearer to what was expected far more often than those of others.
    Amended,
    /// Far more of what is thrown away is thrown away for safety than elsewhere. A private note.
    Safety,
}

impl Habit {
    /// Every habit that is looked for.
    pub const ALL: &[Self] = &[
        Self::Copied,
        Self::RepeatedLines,
        Self::Nothing,
        Self::Rounded,
        Self::NoSpread(Measure::Use),
        Self::NoSpread(Measure::Waste),
        Self::NoSpread(Measure::Yield),
        Self::WasteFallsUseRises,
        Self::Amended,
        Self::Safety,
    ];

    /// Its word in the API and in files.
    ///
    /// ```
    /// assert_eq!(parings_core::review::Habit::Rounded.word(), "rounded");
    /// ```
    pub fn word(self) -> &'static str {
        match self {
            Self::Copied => "copied",
            Self::RepeatedLines => "repeated_lines",
            Self::Nothing => "nothing",
            Self::Rounded => "rounded",
            Self::NoSpread(_) => "no_spread",
            Self::WasteFallsUseRises => "waste_falls_use_rises",
            Self::Amended => "amended",
            Self::Safety => "safety",
        }
    }

    /// Whether it is for the store alone: it is in no ranking, and makes no case.
    ///
    /// ```
    /// assert!(parings_core::review::Habit::Safety.is_private());
    /// ```
    pub fn is_private(self) -> bool {
        self == Self::Safety
    }
}

/// What a size is made from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// The measure over twelve weeks before, as sums over sums; of a store that differs from peers,
    /// what it would have if it were as they are.
    pub before: f64,
    /// The measure since, as sums over sums. What peers share is in both; it is out of the size.
    pub after: f64,
    /// What it is compared with.
    pub against: Baseline,
    /// How many nights the measure since comes from.
    pub nights_after: usize,
    /// How many of its own standard errors the change is, nights' likeness to their neighbours
    /// allowed for.
    pub strength: f64,
    /// By how much the other of use and recorded waste changed over the same nights, as a part of
    /// expected use: recorded waste is never told alone.
    pub beside: Option<f64>,
    /// Of figures that are written down in a way worth asking about: in what way. Before and after are
    /// then mean recorded waste, or shares or spreads of others and of the store.
    pub habit: Option<Habit>,
}

/// Something to look at on a date.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finding {
    /// The last night looked at.
    pub as_of: BusinessDate,
    /// The store; none for a district as a whole.
    pub store: Option<Label>,
    /// The district of the store, or the one that moved as a whole.
    pub district: Label,
    /// The measure in which it differs.
    pub measure: Measure,
    /// The way in which it differs.
    pub kind: FindingKind,
    /// The night it is estimated to have begun.
    pub since: BusinessDate,
    /// The change of the measure's ratio, drawn towards nothing by how it was picked out.
    pub size: f64,
    /// Where the change lies at 95 %.
    pub range: Interval,
    /// What that comes to a week, in the currency's major unit; none for what has no price.
    pub money_per_week: Option<f64>,
    /// The store's plausible ranks by this measure within its district, from 1 for the best.
    pub rank: Option<Rank>,
    /// What it rests on.
    pub evidence: Evidence,
}

impl Finding {
    /// Whether it is a note to the store's manager, and to nobody between them and head office: a
    /// single night, or how much is thrown away for safety.
    pub fn is_private(&self) -> bool {
        self.kind == FindingKind::OneNight || self.evidence.habit.is_some_and(Habit::is_private)
    }
}
