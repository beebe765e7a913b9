//! The figures of a night, what each is made of, and the rows behind it.

use std::collections::BTreeMap;

use super::{Contribution, ItemDay, ItemSpan, Part, Row};
use crate::catalog::Catalog;
use crate::ids::ItemId;
use crate::quantity::{Base, QuantityError, Tallied};
use crate::usage::Causes;

/// Whether a term is added or taken away.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sign {
    /// The term makes its figure larger.
    Plus,
    /// The term makes its figure smaller.
    Minus,
}

impl Sign {
    /// The amount, or its opposite.
    pub fn of(self, amount: Tallied) -> Tallied {
        match self {
            Self::Plus => amount,
            Self::Minus => -amount,
        }
    }

    fn times(self, other: Self) -> Self {
        if self == other { Self::Plus } else { Self::Minus }
    }
}

macro_rules! figures {
    ($($name:ident = $word:literal, $formula:literal;)*) => {
        /// A figure of a night's receipt.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Figure { $(#[doc = $formula] $name,)* }

        impl Figure {
            /// Every figure that a receipt has.
            pub const ALL: &[Self] = &[$(Self::$name,)*];

            /// Its word in the API.
            pub fn word(self) -> &'static str {
                match self { $(Self::$name => $word,)* }
            }

            /// The figure of a word.
            pub fn from_word(word: &str) -> Option<Self> {
                match word { $($word => Some(Self::$name),)* _ => None }
            }

            /// What it is, in words.
            pub fn formula(self) -> &'static str {
                match self { $(Self::$name => $formula,)* }
            }
        }
    };
}

figures! {
    Opening = "opening", "The lines of the count before, each as purchased, added up.";
    Received = "received", "Deliveries since the count before.";
    TransferredIn = "transferred_in", "What came from other stores since the count before, as purchased.";
    TransferredOut = "transferred_out", "What went to other stores since the count before, as purchased.";
    Made = "made", "What was prepared here from other items since the count before.";
    Closing = "closing", "The lines of this night's count, each as purchased, added up.";
    Used = "used", "opening + received + transferred in + made − transferred out − thrown away for safety − closing.";
    MadeInto = "made_into", "What preparing other items takes at their standard, since the count before.";
    Expected = "expected", "Units sold times what their recipes take, as purchased, since the count before.";
    Variance = "variance", "used − made into − expected.";
    Safety = "safety", "Thrown away for safety since the count before, as purchased. It is not used, and counts against nobody.";
    Waste = "waste", "Thrown away since the count before, safety discards apart, as purchased.";
    YieldLoss = "yield_loss", "What weighed batches should have given less what they gave, as purchased, since the count before.";
    OverPortioning = "over_portioning", "expected × (mean of the portions weighed over the last nights ÷ their recipes − 1); a portion's part is its own distance from its recipe.";
    Unexplained = "unexplained", "variance − waste − yield loss − over-portioning.";
    Wasted = "wasted", "Thrown away on this date, safety discards apart, as purchased.";
    WastedForSafety = "wasted_for_safety", "Thrown away on this date for safety, as purchased.";
    Sales = "sales", "Net sales of this date: lines of the till that no later line replaced, else as typed with the count.";
    Tickets = "tickets", "Orders of this date: one for each ticket's id.";
}

/// Which nights the rows of a figure are of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reach {
    /// That of the count before.
    Before,
    /// Those since then, up to and including the date.
    Span,
    /// The date alone.
    Date,
    /// Those over which portions weighed are pooled.
    Samples,
}

impl Figure {
    /// Whether it is one of an item, not of the night.
    pub fn is_of_item(self) -> bool {
        !matches!(self, Self::Sales | Self::Tickets)
    }

    /// What it is worked out from; nothing for a figure that rows add up to by themselves.
    pub fn terms(self) -> &'static [(Sign, Self)] {
        use Sign::{Minus, Plus};
        match self {
            Self::Used => &[
                (Plus, Self::Opening),
                (Plus, Self::Received),
                (Plus, Self::TransferredIn),
                (Plus, Self::Made),
                (Minus, Self::TransferredOut),
                (Minus, Self::Safety),
                (Minus, Self::Closing),
            ],
            Self::Variance => {
                &[(Plus, Self::Used), (Minus, Self::MadeInto), (Minus, Self::Expected)]
            }
            Self::Unexplained => &[
                (Plus, Self::Variance),
                (Minus, Self::Waste),
                (Minus, Self::YieldLoss),
                (Minus, Self::OverPortioning),
            ],
            _ => &[],
        }
    }

    /// The figures that rows add up to by themselves, of which it is made; itself, if it is one.
    ///
    /// ```
    /// use parings_core::tally::Figure;
    /// let parts = Figure::Variance.leaves();
    /// let words: Vec<_> = parts.iter().map(|(_, leaf)| leaf.word()).collect();
    /// assert_eq!(words[..3], ["opening", "received", "transferred_in"]);
    /// assert_eq!(words[4..], ["transferred_out", "safety", "closing", "made_into", "expected"]);
    /// ```
    pub fn leaves(self) -> Vec<(Sign, Self)> {
        if self.terms().is_empty() {
            return vec![(Sign::Plus, self)];
        }
        let below = |(sign, term): &(Sign, Self)| {
            let sign = *sign;
            term.leaves().into_iter().map(move |(inner, leaf)| (sign.times(inner), leaf))
        };
        self.terms().iter().flat_map(below).collect()
    }

    /// The nights whose rows add up to it.
    pub fn reach(self) -> Reach {
        match self {
            Self::Opening => Reach::Before,
            Self::Closing | Self::Wasted | Self::WastedForSafety | Self::Sales | Self::Tickets => {
                Reach::Date
            }
            Self::OverPortioning => Reach::Samples,
            _ => Reach::Span,
        }
    }

    /// Its value for an item, from what is known of it: its date, its use since the count before
    /// and the causes of its variance. `None` while unknown, and for figures of the night.
    ///
    /// What adds up over a span is of the date alone where no span ends.
    pub fn value(
        self,
        day: &ItemDay,
        span: Option<&ItemSpan>,
        causes: Option<&Causes>,
    ) -> Option<Tallied> {
        let summed =
            |of_span: fn(&ItemSpan) -> Tallied, of_day: Tallied| Some(span.map_or(of_day, of_span));
        match self {
            Self::Opening => span.map(|s| s.opening.closing),
            Self::Received => summed(|s| s.received, day.received),
            Self::TransferredIn => summed(|s| s.transferred_in, day.transferred_in),
            Self::TransferredOut => summed(|s| s.transferred_out, day.transferred_out),
            Self::Made => summed(|s| s.made, day.made),
            Self::Closing => day.count.map(|count| count.closing),
            Self::Used => span.map(|s| s.used),
            Self::MadeInto => summed(|s| s.made_into, day.made_into),
            Self::Expected => span.and_then(|s| s.expected),
            Self::Variance => span.and_then(ItemSpan::variance),
            Self::Safety => summed(|s| s.wasted_safety, day.wasted_safety),
            Self::Waste => summed(|s| s.wasted, day.wasted - day.wasted_safety),
            Self::YieldLoss => summed(|s| s.yield_loss, day.yield_loss),
            Self::OverPortioning => causes.and_then(|c| c.over_portioning).map(|e| e.amount),
            Self::Unexplained => causes.map(|c| c.unexplained.amount),
            Self::Wasted => Some(day.wasted - day.wasted_safety),
            Self::WastedForSafety => Some(day.wasted_safety),
            Self::Sales | Self::Tickets => None,
        }
    }

    fn is_made_of(self, part: Part<'_>, catalog: &Catalog) -> bool {
        match part {
            Part::Received => self == Self::Received,
            Part::TransferredIn => self == Self::TransferredIn,
            Part::TransferredOut => self == Self::TransferredOut,
            Part::Made => self == Self::Made,
            Part::MadeInto => self == Self::MadeInto,
            Part::Expected => self == Self::Expected,
            Part::YieldLoss => self == Self::YieldLoss,
            Part::Closing => matches!(self, Self::Opening | Self::Closing),
            Part::BatchIn | Part::BatchOut | Part::BatchExpectedOut => false,
            Part::Waste { reason, .. } => match self {
                Self::Waste | Self::Wasted => !catalog.is_for_safety(reason),
                Self::Safety | Self::WastedForSafety => catalog.is_for_safety(reason),
                _ => false,
            },
        }
    }

    /// The rows of one night behind a figure of an item, and how much each contributes. Only what
    /// is tallied was rounded, so a row is shown as the step that the tally takes with it: rows add
    /// up to the tally in every digit, and each is within a thousandth of its own amount.
    ///
    /// # Errors
    /// [`QuantityError`] when an amount is too large to tally.
    pub fn rows(
        self,
        item: &ItemId,
        contributions: &[Contribution<'_>],
        catalog: &Catalog,
    ) -> Result<Vec<(Row, Tallied)>, QuantityError> {
        let mut sums: BTreeMap<Part<'_>, Base> = BTreeMap::new();
        let mut rows = Vec::new();
        for found in contributions {
            if found.item == *item && self.is_made_of(found.part, catalog) {
                let sum = sums.entry(found.part).or_default();
                let before = sum.settle()?;
                *sum += found.amount;
                rows.push((found.row, sum.settle()? - before));
            }
        }
        Ok(rows)
    }
}

#[cfg(test)]
mod tests;
