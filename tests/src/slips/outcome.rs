//! What came of the seeded slips, and of the counts without any.

use std::collections::BTreeMap;
use std::fmt;

use parings_core::checks::CheckKind;

use super::Slip;

/// What became of the slips of one kind.
#[derive(Debug, Clone, Copy, Default)]
pub struct Caught {
    /// Seeded, and of some consequence.
    pub material: u32,
    /// Of them asked about, or refused.
    pub asked: u32,
    /// Of them asked about by the right name.
    pub named: u32,
    /// Of them asked with the right number among the readings.
    pub offered: u32,
    /// Seeded, and of no consequence: they move less than the item's own noise, or less money than
    /// is worth a question.
    pub immaterial: u32,
}

/// What came of all slips, and of the counts without any.
#[derive(Debug, Clone, Default)]
pub struct Outcome {
    /// By kind of slip.
    pub slips: BTreeMap<Slip, Caught>,
    /// Counts without a slip.
    pub clean: u32,
    /// Questions about them that led to nothing.
    pub needless: u32,
    /// Questions about them that were right: a delivery was indeed missing.
    pub right: u32,
    /// The needless ones, by kind.
    pub needless_by: BTreeMap<CheckKind, u32>,
}

impl Outcome {
    /// Needless questions a clean count.
    pub fn needless_a_count(&self) -> f64 {
        f64::from(self.needless) / f64::from(self.clean.max(1))
    }

    /// The share of material slips of a kind that were caught.
    pub fn share(&self, slip: Slip) -> f64 {
        let caught = self.slips.get(&slip).copied().unwrap_or_default();
        f64::from(caught.asked) / f64::from(caught.material.max(1))
    }

    /// The share of all material slips that were caught.
    pub fn share_of_all(&self) -> f64 {
        let sum = |of: fn(&Caught) -> u32| f64::from(self.slips.values().map(of).sum::<u32>());
        sum(|c| c.asked) / sum(|c| c.material).max(1.0)
    }
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "| slip | material | caught | | rightly named | right number offered | immaterial |"
        )?;
        writeln!(f, "|---|---:|---:|---:|---:|---:|---:|")?;
        for (slip, c) in &self.slips {
            let percent = 100.0 * self.share(*slip);
            let (word, Caught { material, asked, named, offered, immaterial }) = (slip.word(), *c);
            writeln!(
                f,
                "| {word} | {material} | {asked} | {percent:.1} % | {named} | {offered} | {immaterial} |"
            )?;
        }
        let Self { clean, needless, right, .. } = self;
        write!(
            f,
            "\n{clean} clean counts: {needless} needless questions, {:.3} a count; {right} more \
             about deliveries that were indeed missing.",
            self.needless_a_count()
        )
    }
}
