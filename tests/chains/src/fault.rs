//! What is planted in a chain.

use parings_core::review::{FindingKind, Measure};

/// A kind of fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum FaultKind {
    /// More recorded waste from a night on.
    Waste,
    /// Batches give less from a night on.
    Yield,
    /// More is used than sold or written down.
    Use,
    /// More tickets are late.
    Late,
    /// One night of much waste.
    Spike,
    /// Waste is copied from the night before.
    Copied,
    /// More waste than peers from the first night on.
    Chronic,
}

/// A fault and its size: a factor, or points of yield.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plant {
    /// What.
    pub kind: FaultKind,
    /// How much.
    pub size: f64,
    /// How many of a chain.
    pub count: usize,
    /// Whether it counts for the requirement, whose sizes it has.
    pub headline: bool,
}

const fn plant(kind: FaultKind, size: f64, count: usize, headline: bool) -> Plant {
    Plant { kind, size, count, headline }
}

/// The faults of a chain: thirty of the sizes the requirement speaks of, and some smaller and larger.
pub const PLANTS: &[Plant] = &[
    plant(FaultKind::Waste, 1.55, 6, true),
    plant(FaultKind::Waste, 1.30, 1, false),
    plant(FaultKind::Waste, 2.00, 1, false),
    plant(FaultKind::Yield, 2.5, 5, true),
    plant(FaultKind::Yield, 1.5, 1, false),
    plant(FaultKind::Yield, 4.0, 1, false),
    plant(FaultKind::Use, 1.05, 5, true),
    plant(FaultKind::Use, 1.03, 1, false),
    plant(FaultKind::Use, 1.08, 1, false),
    plant(FaultKind::Late, 1.75, 5, true),
    plant(FaultKind::Late, 1.4, 1, false),
    plant(FaultKind::Spike, 7.0, 4, true),
    plant(FaultKind::Copied, 1.0, 3, true),
    plant(FaultKind::Chronic, 1.7, 2, true),
];

/// A fault at a store.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fault {
    /// Which.
    pub plant: Plant,
    /// Where.
    pub store: usize,
    /// From which night on.
    pub onset: usize,
}

impl Fault {
    /// Whether a finding at its store speaks of it.
    pub fn is_told_by(&self, measure: Measure, kind: FindingKind) -> bool {
        let measures: &[Measure] = match self.plant.kind {
            FaultKind::Waste | FaultKind::Spike | FaultKind::Chronic => {
                &[Measure::Waste, Measure::Use]
            }
            FaultKind::Yield => &[Measure::Yield],
            FaultKind::Use => &[Measure::Use],
            FaultKind::Late => &[Measure::Lateness],
            FaultKind::Copied => &[Measure::Habit],
        };
        measures.contains(&measure) && kind != FindingKind::Recovered
    }
}

impl FaultKind {
    /// Its name in the table.
    pub fn name(self) -> &'static str {
        match self {
            Self::Waste => "waste, times",
            Self::Yield => "yield, points less",
            Self::Use => "use, times",
            Self::Late => "odds of a late ticket, times",
            Self::Spike => "one night of waste, times",
            Self::Copied => "waste copied",
            Self::Chronic => "chronic waste, times",
        }
    }
}
