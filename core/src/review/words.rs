//! What a finding says, in a sentence. No sentence accuses, and none gives a size without its range.

use super::{Baseline, Common, Finding, FindingKind, Habit, Measure, Together};

impl Measure {
    /// What it is called in a sentence.
    ///
    /// ```
    /// assert_eq!(parings_core::review::Measure::Yield.title(), "batch yield");
    /// ```
    pub fn title(self) -> &'static str {
        match self {
            Self::Use => "use beyond what sales explain",
            Self::Waste => "recorded waste",
            Self::Yield => "batch yield",
            Self::Lateness => "the share of late tickets",
            Self::Habit => "how waste is written down",
        }
    }

    /// What its ratio is a part of.
    fn part_of(self) -> &'static str {
        match self {
            Self::Use | Self::Waste | Self::Habit => "of what sales should have taken",
            Self::Yield => "of what went in",
            Self::Lateness => "of tickets",
        }
    }
}

impl Finding {
    /// The finding in words: what changed, since when, how far, and how surely that is known.
    ///
    /// ```
    /// # use parings_core::calendar::BusinessDate;
    /// # use parings_core::review::{Baseline, Evidence, Finding, FindingKind, Labels, Measure};
    /// # use parings_core::stats::Interval;
    /// let mut labels = Labels::default();
    /// let finding = Finding {
    ///     as_of: BusinessDate::new(2026, 6, 14).unwrap(),
    ///     store: Some(labels.label("ford")),
    ///     district: labels.label("upper"),
    ///     measure: Measure::Yield,
    ///     kind: FindingKind::Drift,
    ///     since: BusinessDate::new(2026, 6, 2).unwrap(),
    ///     size: -0.023,
    ///     range: Interval { low: -0.034, high: -0.012 },
    ///     money_per_week: Some(31.5),
    ///     rank: None,
    ///     evidence: Evidence {
    ///         before: 0.672, after: 0.648, against: Baseline::Past(84), nights_after: 12,
    ///         strength: 4.1, beside: None, habit: None,
    ///     },
    /// };
    /// assert_eq!(
    ///     finding.sentence(),
    ///     "Since about 2026-06-02 batch yield has been lower: 64.8 % of what went in over 12 nights, \
    ///      67.2 % over 84 before. The change is most likely -2.3 points, and from -3.4 to -1.2."
    /// );
    /// ```
    pub fn sentence(&self) -> String {
        let Self { measure, evidence, since, .. } = self;
        let (title, part_of) = (measure.title(), measure.part_of());
        let (before, after) = (percent(evidence.before), percent(evidence.after));
        let nights = evidence.nights_after;
        let than = match evidence.against {
            Baseline::Past(past) => format!("{before} over {past} before"),
            Baseline::Peers(peers) => format!("{before} if it were as its {peers} fair peers are"),
        };
        let way = if evidence.after > evidence.before { "higher" } else { "lower" };
        let is_out = format!(
            "The change is most likely {} points, and from {} to {}.",
            points(self.size),
            points(self.range.low),
            points(self.range.high)
        );
        match self.kind {
            FindingKind::Drift => format!(
                "Since about {since} {title} has been {way}: {after} {part_of} over {nights} nights, \
                 {than}. {is_out}{}",
                self.beside()
            ),
            FindingKind::Chronic => format!(
                "For more than four weeks, since {}, {title} has been {way}: {after} {part_of} over \
                 {nights} nights, {than}. {is_out}{}",
                if evidence.against.peers().is_some() {
                    format!("{since} or before")
                } else {
                    format!("about {since}")
                },
                self.beside()
            ),
            FindingKind::OneNight => format!(
                "On {since} {title} was far from what this store usually has: {after} {part_of} \
                 against {before}. One night says little: have its counts looked at first."
            ),
            FindingKind::Recovered => format!(
                "From about {since} {title} was {way} for a while, {after} {part_of} against \
                 {before}, and is back."
            ),
            FindingKind::Shared => format!(
                "Since about {since} {title} of the district's stores has been {way} together. \
                 {is_out} That is more likely something they share (a lot, a promotion, the weather) \
                 than any one of them: a matter for head office."
            ),
            FindingKind::Habit => {
                evidence.habit.map_or_else(String::new, |habit| self.habit(habit))
            }
        }
    }

    /// What is asked about how figures are written down.
    fn habit(&self, habit: Habit) -> String {
        let Self { evidence, since, .. } = self;
        let (nights, others) =
            (evidence.nights_after, evidence.against.peers().unwrap_or_default());
        let (usual, own) = (percent(evidence.before), percent(evidence.after));
        let reason = "There may be a good reason: please show us how";
        let weighed = "it is weighed and written down";
        match habit {
            Habit::Copied => format!(
                "Since about {since} the numbers written down for waste repeat themselves for longer \
                 than chance makes likely ({nights} nights). {reason} {weighed}."
            ),
            Habit::RepeatedLines => format!(
                "Since about {since} {own} of the lines of its counts repeat the count before to the \
                 digit, though some of it was sold ({nights} nights); usually {usual} do. {reason} \
                 shelves are counted."
            ),
            Habit::Nothing => format!(
                "Since about {since} no waste has been written down for longer than chance makes \
                 likely ({nights} nights).{} {reason} {weighed}.",
                self.beside()
            ),
            Habit::Rounded => format!(
                "Since about {since} {own} of the amounts written down for waste end on a whole or a \
                 half unit ({nights} nights); at {others} stores like this one it is usually {usual}. \
                 {reason} the scale is read."
            ),
            Habit::NoSpread(measure) => format!(
                "Since about {since} {} hardly differs from night to night: by {own} {} ({nights} \
                 nights), where that of {others} stores like this one usually differs by {usual}. \
                 {reason} {weighed}.",
                measure.title(),
                measure.part_of()
            ),
            Habit::WasteFallsUseRises => format!(
                "Since about {since} less waste has been written down, and use has not fallen with \
                 it.{} {reason} what is thrown away gets written down.",
                self.beside()
            ),
            Habit::Amended => format!(
                "Since about {since} {own} of {nights} counts that were amended came nearer to what \
                 sales should have taken; elsewhere {usual} do. {reason} counts are looked over again."
            ),
            Habit::Safety => format!(
                "A private note, in no ranking: since about {since} {own} of what is thrown away is \
                 thrown away for safety ({nights} nights), where at {others} stores like this one it \
                 is usually {usual}. What is not safe must go. {reason} it comes about."
            ),
        }
    }

    /// Recorded waste is told beside use, and use beside it.
    fn beside(&self) -> String {
        let Some(beside) = self.evidence.beside else { return String::new() };
        let other = if self.measure == Measure::Use { Measure::Waste } else { Measure::Use };
        let moved = match self.evidence.against {
            Baseline::Past(_) => "moved by",
            Baseline::Peers(_) => "differs from theirs by",
        };
        format!(" Over the same nights {} {moved} {} points.", other.title(), points(beside))
    }
}

impl Together {
    /// What districts share in words.
    ///
    /// ```
    /// # use parings_core::calendar::BusinessDate;
    /// # use parings_core::review::{Measure, Moved, together};
    /// # use parings_core::stats::Interval;
    /// let moved = |district: &str, size: f64| Moved {
    ///     district: district.parse().unwrap(), area: "valley".parse().unwrap(),
    ///     measure: Measure::Yield, lot: Some(("L-2207".to_owned(), 0.9)),
    ///     since: BusinessDate::new(2026, 6, 2).unwrap(), size,
    ///     range: Interval { low: size - 0.01, high: size + 0.01 }, money_per_week: Some(40.0),
    /// };
    /// let found = together(vec![moved("upper", -0.03), moved("lower", -0.02)]);
    /// assert_eq!(
    ///     found[0].sentence(),
    ///     "Since about 2026-06-02 batch yield has been lower in 2 districts that cook mostly from lot \
    ///      L-2207: by -2.5 points on the whole, most likely from -3.5 to -1.5. A lot in common is a \
    ///      reason to ask, not yet the cause: see how other lots do on the same nights."
    /// );
    /// ```
    pub fn sentence(&self) -> String {
        let way = if self.size > 0.0 { "higher" } else { "lower" };
        let many = match self.districts.len() {
            1 => "1 district".to_owned(),
            many => format!("{many} districts"),
        };
        let (which, asks) = match &self.common {
            Common::Lot(lot) => (
                format!(
                    "that {} mostly from lot {lot}",
                    if self.districts.len() == 1 { "cooks" } else { "cook" }
                ),
                "A lot in common is a reason to ask, not yet the cause: see how other lots do on the \
                 same nights.",
            ),
            Common::Area(area) => (
                format!("of {area}"),
                "No lot is known that they have in common; a promotion, the weather or a delivery may \
                 be what they share.",
            ),
        };
        format!(
            "Since about {} {} has been {way} in {many} {which}: by {} points on the whole, most likely \
             from {} to {}. {asks}",
            self.since,
            self.measure.title(),
            points(self.size),
            points(self.range.low),
            points(self.range.high)
        )
    }
}

fn percent(ratio: f64) -> String {
    format!("{:.1} %", 100.0 * ratio)
}

/// A change of a ratio in points, without a minus before nothing.
pub(super) fn points(change: f64) -> String {
    let tenths = (1000.0 * change).round();
    if tenths == 0.0 { "0.0".to_owned() } else { format!("{:+.1}", tenths / 10.0) }
}

#[cfg(test)]
mod tests;
