//! Which stores stand together on a night.

use std::collections::HashMap;
use std::hash::Hash;

use crate::review::Sheet;

/// The number of a store that belongs to no group on a night.
pub(super) const NONE: u32 = u32::MAX;

/// A group of each store's night; those of all stores of a night lie together.
pub(super) struct Groups {
    ids: Vec<u32>,
    many: usize,
    stores: usize,
}

impl Groups {
    /// Groups cells by a key; a cell without one is in no group.
    pub(super) fn by<K: Hash + Eq>(sheet: &Sheet, key: impl Fn(usize) -> Option<K>) -> Self {
        let (stores, nights) = (sheet.stores().len(), sheet.nights());
        let mut known: HashMap<K, u32> = HashMap::new();
        let mut ids = vec![NONE; stores * nights];
        for store in 0..stores {
            for night in 0..nights {
                let Some(key) = key(store * nights + night) else { continue };
                let next = known.len() as u32;
                ids[night * stores + store] = *known.entry(key).or_insert(next);
            }
        }
        Self { ids, many: known.len(), stores }
    }

    /// How many groups there are.
    pub(super) fn many(&self) -> usize {
        self.many
    }

    /// The group of each store on a night.
    pub(super) fn of(&self, night: usize) -> &[u32] {
        &self.ids[night * self.stores..(night + 1) * self.stores]
    }
}
