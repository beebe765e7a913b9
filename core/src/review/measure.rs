use super::{Column, Sheet, Status};

/// What stores are reviewed by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Measure {
    /// Recorded waste and unexplained use together: use beyond what sales should have taken, over
    /// that. Low recorded waste by itself is no merit, so this one leads.
    Use,
    /// Recorded waste over what sales should have taken; told beside [`Measure::Use`], never alone.
    Waste,
    /// What came out of batches over what went in.
    Yield,
    /// Tickets later than their target over tickets; ticket times beside it.
    Lateness,
    /// How counts and waste are written down.
    Habit,
}

impl Measure {
    /// Every measure, whether it is a ratio or a habit.
    pub const ALL: &[Self] = &[Self::Use, Self::Waste, Self::Yield, Self::Lateness, Self::Habit];

    /// Those that are ratios of two columns.
    pub const RATIOS: &[Self] = &[Self::Use, Self::Waste, Self::Yield, Self::Lateness];

    /// Its word in the API and in files.
    ///
    /// ```
    /// use parings_core::review::Measure;
    /// assert_eq!(Measure::Yield.word(), "batch_yield");
    /// ```
    pub fn word(self) -> &'static str {
        match self {
            Self::Use => "use",
            Self::Waste => "recorded_waste",
            Self::Yield => "batch_yield",
            Self::Lateness => "lateness",
            Self::Habit => "count_habit",
        }
    }

    /// The columns it is made from.
    ///
    /// ```
    /// use parings_core::review::{Column, Measure};
    /// assert_eq!(Measure::Lateness.columns(), [Column::Late, Column::Tickets]);
    /// ```
    pub fn columns(self) -> [Column; 2] {
        match self {
            Self::Use => [Column::Used, Column::Expected],
            Self::Waste | Self::Habit => [Column::Wasted, Column::Expected],
            Self::Yield => [Column::BatchOut, Column::BatchIn],
            Self::Lateness => [Column::Late, Column::Tickets],
        }
    }

    /// 1 when a rise is for the worse, −1 when a fall is.
    pub(super) fn worse(self) -> f64 {
        if self == Self::Yield { -1.0 } else { 1.0 }
    }

    /// Numerator and denominator of a night; nothing when either is blank, the denominator is not
    /// above nothing, or the night is in no rate.
    pub(super) fn parts(self, sheet: &Sheet, cell: usize) -> Option<(f64, f64)> {
        if sheet.status()[cell] != Status::Open {
            return None;
        }
        let [over, under] = self.columns().map(|column| sheet.column(column)[cell]);
        let over = if self == Self::Use { over - under } else { over };
        if self == Self::Waste {
            let due = sheet.column(Column::Due)[cell];
            if due > 0.0 {
                return (!over.is_nan()).then_some((over, due));
            }
            // What sales should have taken over several nights is no measure of one night's waste.
            if sheet.covers(cell) > 1 {
                return None;
            }
        }
        (under > 0.0 && !over.is_nan()).then_some((over, under))
    }
}
