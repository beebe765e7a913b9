//! What nights add up to while they are added: items by numbers, and times of tickets by their bins.

use std::collections::BTreeMap;

use super::{DaypartSum, ItemSum, NightSum, Sum, WasteKey, WasteLines};
use crate::ids::ItemId;
use crate::tally::{DaypartKey, DaypartTally, ItemDay};
use crate::tickets::{BINS, Histogram};

/// A sum that nights are added to. Whoever adds has numbered the items.
#[derive(Default)]
pub(super) struct Part {
    items: Vec<Option<Box<ItemSum>>>,
    dayparts: Vec<(DaypartKey, DaypartSum, Box<[u64]>)>,
    pub(super) night: NightSum,
    pub(super) waste: BTreeMap<WasteKey, WasteLines>,
}

impl Part {
    pub(super) fn item(&mut self, number: usize) -> &mut ItemSum {
        if self.items.len() <= number {
            self.items.resize_with(number + 1, || None);
        }
        self.items[number].get_or_insert_default()
    }

    /// Adds what happened to an item on one date, but for portions weighed.
    pub(super) fn add_day(&mut self, number: usize, day: &ItemDay) {
        self.item(number).add_day(day);
        for line in &day.waste {
            let key = WasteKey {
                reason: line.reason.clone(),
                safety: line.safety,
                stage: line.stage.clone(),
                daypart: line.daypart.clone(),
            };
            let lines = WasteLines { amount: line.amount, cost: line.cost, lines: 1 };
            self.add_waste(key, &lines);
        }
    }

    pub(super) fn add_waste(&mut self, key: WasteKey, lines: &WasteLines) {
        self.waste.entry(key).or_default().add(lines);
    }

    pub(super) fn add_night(&mut self, night: &NightSum) {
        self.night.add(night);
    }

    /// Adds a daypart and channel. The times of its tickets, as a histogram has them, are in the bins
    /// until the end.
    pub(super) fn add_daypart(
        &mut self,
        key: DaypartKey,
        tally: &DaypartTally,
        ticket_nights: u64,
        times: &[(u16, u64)],
    ) {
        let dayparts = &mut self.dayparts;
        let at = dayparts.iter().position(|(known, ..)| *known == key);
        let at = at.unwrap_or_else(|| {
            dayparts.push((key, DaypartSum::default(), vec![0; BINS].into()));
            dayparts.len() - 1
        });
        let (_, sum, bins) = &mut dayparts[at];
        sum.tally = std::mem::take(&mut sum.tally).merge(tally);
        sum.ticket_nights += ticket_nights;
        for (bin, count) in times {
            let bin = &mut bins[usize::from(*bin)];
            *bin = bin.saturating_add(*count);
        }
    }

    /// All of it, of items by those numbers; but what is known of a store only when all of its nights
    /// were seen.
    pub(super) fn sum(self, items: &[ItemId]) -> Sum {
        let found = items.iter().zip(self.items);
        let found = found.filter_map(|(id, sum)| Some((id.clone(), *sum?)));
        let dayparts = self.dayparts.into_iter().map(|(key, mut sum, bins)| {
            let times = bins.iter().enumerate().filter(|(_, tickets)| **tickets > 0);
            let times: Vec<(u16, u64)> =
                times.map(|(bin, tickets)| (bin as u16, *tickets)).collect();
            // Bins in order, none empty.
            sum.tally.tickets.times = Histogram::from_pairs(&times).unwrap_or_default();
            (key, sum)
        });
        Sum {
            items: found.collect(),
            dayparts: dayparts.collect(),
            night: self.night,
            waste: self.waste,
            ..Sum::default()
        }
    }
}
