use super::{Label, Measure};
use crate::stats::Robust;

/// How alike the peers are that a store is compared with: as alike as there are enough of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Basis {
    /// Same format, volume within 30 %.
    FormatAndVolume,
    /// Widened to every store of the format.
    Format,
    /// Widened to every store.
    Everyone,
}

impl Basis {
    /// From the most alike to the least.
    pub(super) const ALL: &[Self] = &[Self::FormatAndVolume, Self::Format, Self::Everyone];

    /// Fewest peers: with fewer, one wild store would speak for all, and could be guessed.
    pub const FEWEST: usize = 5;

    /// Its word in the API.
    ///
    /// ```
    /// assert_eq!(parings_core::review::Basis::Format.word(), "same_format");
    /// ```
    pub fn word(self) -> &'static str {
        match self {
            Self::FormatAndVolume => "same_format_and_volume",
            Self::Format => "same_format",
            Self::Everyone => "all_stores",
        }
    }
}

/// Fair peers of a store, without their names.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peers {
    /// How they were chosen.
    pub basis: Basis,
    /// How many, the store itself left out; at least [`Basis::FEWEST`].
    pub stores: usize,
    /// Their median and scaled median absolute deviation.
    pub values: Robust,
    /// How far the store lies off them, in the direction that is for the worse; none where most of
    /// them are the same.
    pub z: Option<f64>,
}

/// A store as a peer of others.
#[derive(Debug, Clone, Copy)]
pub(super) struct Peer {
    pub(super) format: Label,
    /// What a night usually takes.
    pub(super) volume: f64,
    pub(super) value: f64,
}

/// The volume band: within 30 % either way. Common practice, no source.
const BAND: f64 = 0.30;

/// Whether another store is as much like a store, both by format and by what a night usually takes.
pub(super) fn alike(basis: Basis, own: (Label, f64), other: (Label, f64)) -> bool {
    match basis {
        Basis::FormatAndVolume => own.0 == other.0 && (other.1 - own.1).abs() <= BAND * own.1,
        Basis::Format => own.0 == other.0,
        Basis::Everyone => true,
    }
}

/// A store against the others; none while there are too few of any kind.
pub(super) fn compare(measure: Measure, own: Peer, others: &[Peer]) -> Option<Peers> {
    Basis::ALL.iter().find_map(|basis| {
        let is =
            |other: &&Peer| alike(*basis, (own.format, own.volume), (other.format, other.volume));
        let values: Vec<f64> = others.iter().filter(is).map(|other| other.value).collect();
        if values.len() < Basis::FEWEST {
            return None;
        }
        let stores = values.len();
        let values = Robust::of(&values).ok()?;
        let z = values.modified_z(own.value).map(|z| z * measure.worse());
        Some(Peers { basis: *basis, stores, values, z })
    })
}
