use std::collections::BTreeMap;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{Histogram, LumpRule, Seconds, Ticket};
use crate::stats::{Confidence, Interval, Percentile, Proportion, Share};

/// How many timed tickets a percentile needs to be shown.
///
/// Starts at 30: common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct MinimumTickets(pub u64);

impl Default for MinimumTickets {
    fn default() -> Self {
        Self(30)
    }
}

/// What a set of tickets adds up to. `Default` is the tally of none, the identity of
/// [`TicketTally::merge`].
///
/// `orders` = timed (`times.count()`) + `never_closed` + `lump_closed`. Late tickets are counted
/// against the target in force when they were tallied, so tallies under different targets merge.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct TicketTally {
    /// Every ticket that was placed, whether it was timed or not.
    pub orders: u64,
    /// The times of those that count.
    pub times: Histogram,
    /// Timed tickets that had a target.
    pub with_target: u64,
    /// Those of them that took longer than it.
    pub timed_late: u64,
    /// Tickets that were never closed.
    pub never_closed: u64,
    /// Tickets closed in a lump.
    pub lump_closed: u64,
}

impl TicketTally {
    /// All tickets of both: associative and commutative, to the digit.
    ///
    /// ```
    /// use parings_core::tickets::TicketTally;
    /// let lunch = TicketTally { orders: 3, never_closed: 3, ..TicketTally::default() };
    /// let dinner = TicketTally { orders: 5, lump_closed: 5, ..TicketTally::default() };
    /// let day = lunch.merge(&dinner);
    /// assert_eq!((day.orders, day.never_closed, day.lump_closed), (8, 3, 5));
    /// ```
    #[must_use]
    pub fn merge(&self, other: &Self) -> Self {
        Self {
            orders: self.orders.saturating_add(other.orders),
            times: self.times.merge(&other.times),
            with_target: self.with_target.saturating_add(other.with_target),
            timed_late: self.timed_late.saturating_add(other.timed_late),
            never_closed: self.never_closed.saturating_add(other.never_closed),
            lump_closed: self.lump_closed.saturating_add(other.lump_closed),
        }
    }

    /// The timed tickets within target of those that had one, and the interval of the true share.
    /// `None` when none had a target.
    ///
    /// ```
    /// use parings_core::{stats::Confidence, tickets::TicketTally};
    /// let dinner = TicketTally { with_target: 248, timed_late: 36, ..TicketTally::default() };
    /// let (within, range) = dinner.within_target(Confidence::NINETY_FIVE).unwrap();
    /// assert_eq!((within.hits(), within.of()), (212, 248));
    /// assert_eq!(format!("{:.3} to {:.3}", range.low, range.high), "0.806 to 0.893");
    /// ```
    pub fn within_target(&self, confidence: Confidence) -> Option<(Proportion, Interval)> {
        let within = self.with_target.checked_sub(self.timed_late)?;
        let within = Proportion::new(within, self.with_target).ok()?;
        Some((within, within.wilson(confidence)))
    }

    /// A percentile of the ticket time; `None` under the least number of timed tickets, or of none.
    ///
    /// ```
    /// use parings_core::{stats::Percentile, tickets::{MinimumTickets, Seconds, TicketTally}};
    /// let times = (271..=300).map(Seconds).collect();
    /// let lunch = TicketTally { orders: 30, times, ..TicketTally::default() };
    /// let shown = |least| lunch.shown_percentile(Percentile::P90, MinimumTickets(least));
    /// assert_eq!(shown(30), Some(Seconds(297)));
    /// assert_eq!(shown(31), None);
    /// ```
    pub fn shown_percentile(&self, p: Percentile, least: MinimumTickets) -> Option<Seconds> {
        if self.times.count() < least.0 { None } else { self.times.percentile(p) }
    }

    /// Whether the ticket data is doubtful: more than this share never closed or closed in a lump.
    /// Common practice, no source: 5 %.
    ///
    /// ```
    /// use parings_core::{stats::Share, tickets::TicketTally};
    /// let night = TicketTally { orders: 100, never_closed: 1, lump_closed: 5, ..Default::default() };
    /// assert!(night.doubtful(Share::per_mille(50)));
    /// assert!(!night.doubtful(Share::per_mille(60)));
    /// ```
    pub fn doubtful(&self, limit: Share) -> bool {
        let untimed = Decimal::from(self.never_closed) + Decimal::from(self.lump_closed);
        untimed > Decimal::from(self.orders) * limit.decimal()
    }

    fn add(&mut self, ticket: &Ticket, lumped: bool, target: Option<Seconds>) {
        self.orders += 1;
        match ticket.time() {
            None => self.never_closed += 1,
            Some(_) if lumped => self.lump_closed += 1,
            Some(time) => {
                self.times.add(time);
                if let Some(target) = target {
                    self.with_target += 1;
                    self.timed_late += u64::from(time > target);
                }
            }
        }
    }
}

/// Tallies tickets that share one target. Lumps are looked for among these tickets only; where a
/// store's tickets go to several tallies, use [`tally_tickets_by`].
///
/// ```
/// use parings_core::tickets::{LumpRule, Seconds, Ticket, tally_tickets};
/// let at = |text: &str| text.parse().unwrap();
/// let ticket = |handed_off| Ticket::new(at("2026-03-06T18:00:00Z"), handed_off, None).unwrap();
/// let tickets = [
///     ticket(Some(at("2026-03-06T18:06:00Z"))),
///     ticket(Some(at("2026-03-06T18:11:00Z"))),
///     ticket(None),
/// ];
/// let tally = tally_tickets(&tickets, Some(Seconds::minutes(10)), LumpRule::default());
/// assert_eq!((tally.orders, tally.with_target, tally.timed_late), (3, 2, 1));
/// assert_eq!(tally.never_closed, 1);
/// ```
pub fn tally_tickets(tickets: &[Ticket], target: Option<Seconds>, rule: LumpRule) -> TicketTally {
    tally_tickets_by(tickets, |_, _| ((), target), rule).remove(&()).unwrap_or_default()
}

/// Tallies a store's tickets under keys such as daypart and channel. `place` gives each ticket, with its place in
/// the slice, its key and target. Lumps are looked for across all keys, as one press clears one screen.
///
/// ```
/// use parings_core::tickets::{LumpRule, Seconds, Ticket, tally_tickets_by};
/// let placed = "2026-03-06T21:30:00Z".parse().unwrap();
/// let cleared = "2026-03-06T22:59:50Z".parse().unwrap();
/// let wait = "2026-03-06T22:00:00Z".parse().unwrap();
/// let open = |promised| Ticket::new(placed, Some(cleared), promised).unwrap();
/// let night = [open(None), open(None), open(None), open(Some(wait)), open(Some(wait))];
/// let by_channel = tally_tickets_by(
///     &night,
///     |_, ticket| match ticket.promised() {
///         Some(_) => ("collection", Some(Seconds::minutes(3))),
///         None => ("counter", Some(Seconds::minutes(10))),
///     },
///     LumpRule::default(),
/// );
/// assert_eq!(by_channel["counter"].lump_closed, 3);
/// assert_eq!(by_channel["collection"].lump_closed, 2);
/// ```
pub fn tally_tickets_by<K: Ord>(
    tickets: &[Ticket],
    place: impl Fn(usize, &Ticket) -> (K, Option<Seconds>),
    rule: LumpRule,
) -> BTreeMap<K, TicketTally> {
    let mut tallies = BTreeMap::<K, TicketTally>::new();
    let lumped = rule.closed_in_a_lump(tickets);
    for (n, (ticket, lumped)) in tickets.iter().zip(lumped).enumerate() {
        let (key, target) = place(n, ticket);
        tallies.entry(key).or_default().add(ticket, lumped, target);
    }
    tallies
}

#[cfg(test)]
mod tests {
    use chrono::{DateTime, TimeDelta, Utc};
    use proptest::prelude::*;

    use super::*;

    fn opening() -> DateTime<Utc> {
        "2026-03-06T17:00:00Z".parse().unwrap()
    }

    /// A ticket placed so many minutes after opening, that took so many seconds, if closed.
    fn ticket(minute: i64, took: Option<i64>) -> Ticket {
        let placed = opening() + TimeDelta::minutes(minute);
        Ticket::new(placed, took.map(|s| placed + TimeDelta::seconds(s)), None).unwrap()
    }

    /// Source: invented worked example, 212 of 248 tickets within target; the other rules are common
    /// practice, no source.
    #[test]
    fn a_night_of_tickets() {
        let mut night: Vec<_> = (0..248)
            .map(|n| ticket(n, Some(if n % 7 == 0 { 601 } else { 600 - n })))
            .chain((300..307).map(|minute| ticket(minute, None)))
            .collect();
        // Six left open all evening, cleared with one press.
        night.extend((10..16).map(|minute| ticket(minute, Some((400 - minute) * 60))));
        let tally = tally_tickets(&night, Some(Seconds(600)), LumpRule::default());
        assert_eq!(tally.orders, 248 + 7 + 6);
        assert_eq!((tally.never_closed, tally.lump_closed), (7, 6));
        assert_eq!((tally.with_target, tally.timed_late), (248, 36));
        assert_eq!(tally.times.count(), 248);
        assert_eq!(tally.times.percentile(Percentile::P90), Some(Seconds(601)));
        let five_per_cent = Share::per_mille(50);
        assert!(!tally.doubtful(five_per_cent), "13 of 261 is 4.98 %");
        assert!(
            tally
                .merge(&tally_tickets(&[ticket(0, None)], None, LumpRule::default()))
                .doubtful(five_per_cent),
            "14 of 262 is 5.3 %"
        );
    }

    #[test]
    fn without_target_or_tickets_there_is_no_share_and_no_percentile() {
        let untargeted = tally_tickets(&[ticket(0, Some(300))], None, LumpRule::default());
        assert_eq!(untargeted.within_target(Confidence::NINETY_FIVE), None);
        let none = tally_tickets(&[], Some(Seconds(600)), LumpRule::default());
        assert_eq!(none, TicketTally::default());
        assert_eq!(none.shown_percentile(Percentile::P50, MinimumTickets(0)), None);
        assert!(!none.doubtful(Share::per_mille(50)));
    }

    fn tickets() -> impl Strategy<Value = Vec<Ticket>> {
        // Whole minutes over a short while, so that five closings often fall together.
        let one = (0i64..12, proptest::option::weighted(0.9, (0i64..20).prop_map(|m| m * 60)));
        proptest::collection::vec(one.prop_map(|(minute, took)| ticket(minute, took)), 0..60)
    }

    fn tally(tickets: &[Ticket], target: u32) -> TicketTally {
        tally_tickets(tickets, Some(Seconds(target)), LumpRule::default())
    }

    proptest! {
        #[test]
        fn merging_in_any_order_and_grouping_is_the_same(a in tickets(), b in tickets(), c in tickets()) {
            let (a, b, c) = (tally(&a, 300), tally(&b, 600), tally(&c, 900));
            prop_assert_eq!(a.merge(&b), b.merge(&a));
            prop_assert_eq!(a.merge(&b).merge(&c), a.merge(&b.merge(&c)));
            prop_assert_eq!(a.merge(&TicketTally::default()), a);
        }

        #[test]
        fn every_ticket_is_counted_once(all in tickets()) {
            let whole = tally(&all, 600);
            prop_assert_eq!(whole.orders, all.len() as u64);
            prop_assert_eq!(
                whole.orders,
                whole.times.count() + whole.never_closed + whole.lump_closed
            );
            prop_assert!(whole.timed_late <= whole.with_target);
            let parts = tally_tickets_by(
                &all,
                |_, ticket| (ticket.placed().timestamp() / 60 % 3, Some(Seconds(600))),
                LumpRule::default(),
            );
            let merged = parts.values().fold(TicketTally::default(), |sum, part| sum.merge(part));
            prop_assert_eq!(merged, whole);
        }

        #[test]
        fn the_order_of_tickets_does_not_matter(all in tickets()) {
            let reversed: Vec<_> = all.iter().rev().copied().collect();
            prop_assert_eq!(tally(&all, 600), tally(&reversed, 600));
        }
    }
}
