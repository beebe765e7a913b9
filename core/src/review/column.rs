macro_rules! columns {
    ($($(#[$doc:meta])* $name:ident = $header:literal;)*) => {
        /// A figure that a store has every night.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Column { $($(#[$doc])* $name,)* }

        impl Column {
            /// Every column, in the order in which a sheet keeps them.
            pub const ALL: &[Self] = &[$(Self::$name,)*];

            /// How many there are.
            pub(super) const COUNT: usize = Self::ALL.len();

            /// Its header in a file, where amounts are in kilograms.
            pub fn header(self) -> &'static str {
                match self { $(Self::$name => $header,)* }
            }
        }
    };
}

columns! {
    /// How many portions were sold.
    Portions = "portions";
    /// Net sales, in the currency's major unit.
    Sales = "sales";
    /// What sales should have taken, as purchased.
    Expected = "usage_theoretical_kg";
    /// What sales of the night alone should have taken, where use is of several nights or not of every
    /// item: recorded waste is compared with it.
    Due = "usage_theoretical_night_kg";
    /// What was used, as purchased; recorded waste is in it, safety discards are not.
    Used = "usage_actual_kg";
    /// Recorded waste; safety discards are not in it.
    Wasted = "waste_kg";
    /// Thrown away for safety. It never counts against a store.
    Safety = "safety_kg";
    /// Put into batches, as what should come out of it or as it was weighed in.
    BatchIn = "raw_kg";
    /// What came out of them.
    BatchOut = "fried_kg";
    /// Tickets with a target time.
    Tickets = "tickets";
    /// Of those, later than it.
    Late = "tickets_over_target";
    /// The median ticket time, in seconds.
    P50 = "ticket_p50_s";
    /// The 90th percentile of ticket times, in seconds.
    P90 = "ticket_p90_s";
    /// How many nights the use is of: since the count before. One when blank.
    Nights = "count_nights";
    /// Lines of the count of what was sold since the count before and is still there.
    Lines = "count_lines";
    /// Of those, lines that repeat the count before to the digit.
    SameLines = "count_lines_same";
    /// What was used by the first accepted revision of the count, where it was amended since.
    FirstUsed = "usage_first_kg";
}

/// The figures of a store's night. What is not said is blank, which is not zero.
///
/// ```
/// use parings_core::review::{Column, Figures};
/// let night = Figures::default().with(Column::Wasted, 0.0);
/// assert_eq!(night.get(Column::Wasted), Some(0.0));
/// assert_eq!(night.get(Column::Sales), None);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figures([f64; Column::COUNT]);

impl Default for Figures {
    fn default() -> Self {
        Self([f64::NAN; Column::COUNT])
    }
}

impl Figures {
    /// These with one more. A number that is not finite leaves it blank.
    #[must_use]
    pub fn with(mut self, column: Column, figure: f64) -> Self {
        self.set(column, figure);
        self
    }

    /// Sets the figure of a column; one that is not finite leaves the column blank.
    pub fn set(&mut self, column: Column, figure: f64) {
        self.0[column as usize] = if figure.is_finite() { figure } else { f64::NAN };
    }

    /// One of them; nothing when blank.
    pub fn get(&self, column: Column) -> Option<f64> {
        let figure = self.0[column as usize];
        (!figure.is_nan()).then_some(figure)
    }

    pub(super) fn raw(&self, column: Column) -> f64 {
        self.0[column as usize]
    }
}
