use chrono::{DateTime, TimeDelta, Utc};
use serde::{Deserialize, Serialize};

use super::TicketError;

/// A time in whole seconds.
///
/// ```
/// use parings_core::tickets::Seconds;
/// assert_eq!(Seconds::minutes(7), Seconds(420));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Seconds(pub u32);

impl Seconds {
    /// A time of so many minutes, in seconds.
    pub const fn minutes(minutes: u16) -> Self {
        Self(minutes as u32 * 60)
    }

    /// A duration in whole seconds, as a stopwatch shows it: below 0 it is 0.
    fn elapsed(duration: TimeDelta) -> Self {
        let seconds = duration.num_seconds().max(0);
        Self(u32::try_from(seconds).unwrap_or(u32::MAX))
    }
}

/// One order on its way through the kitchen. Instants are in UTC, so a night when clocks change is
/// no different.
///
/// ```
/// use parings_core::tickets::{Seconds, Ticket};
/// let at = |text: &str| text.parse().unwrap();
/// let walk_in = Ticket::new(at("2026-03-06T18:00:00Z"), Some(at("2026-03-06T18:06:30Z")), None);
/// assert_eq!(walk_in.unwrap().time(), Some(Seconds(390)));
/// // Ordered at noon for six; two minutes late.
/// let ordered = Ticket::new(
///     at("2026-03-06T12:00:00Z"),
///     Some(at("2026-03-06T18:02:00Z")),
///     Some(at("2026-03-06T18:00:00Z")),
/// );
/// assert_eq!(ordered.unwrap().time(), Some(Seconds(120)));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Ticket {
    placed: DateTime<Utc>,
    handed_off: Option<DateTime<Utc>>,
    promised: Option<DateTime<Utc>>,
}

impl Ticket {
    /// A ticket of the instants of an order: placed, handed off (`None`: never closed), and
    /// promised (`None`: cooked as it comes). [`TicketError::HandedOffBeforePlaced`] when time runs
    /// backwards.
    pub fn new(
        placed: DateTime<Utc>,
        handed_off: Option<DateTime<Utc>>,
        promised: Option<DateTime<Utc>>,
    ) -> Result<Self, TicketError> {
        if handed_off.is_some_and(|handed_off| handed_off < placed) {
            Err(TicketError::HandedOffBeforePlaced)
        } else {
            Ok(Self { placed, handed_off, promised })
        }
    }

    /// When it was placed.
    pub fn placed(&self) -> DateTime<Utc> {
        self.placed
    }

    /// When it was handed off; `None` if it never was closed.
    pub fn handed_off(&self) -> Option<DateTime<Utc>> {
        self.handed_off
    }

    /// When it was promised, if it was ordered for a time.
    pub fn promised(&self) -> Option<DateTime<Utc>> {
        self.promised
    }

    /// The ticket time: from placed, or from promised if there is a promise, to handed off. An order
    /// handed off before its promise took 0 seconds. `None` if never closed.
    pub fn time(&self) -> Option<Seconds> {
        let from = self.promised.unwrap_or(self.placed);
        self.handed_off.map(|handed_off| Seconds::elapsed(handed_off - from))
    }
}

/// How many tickets handed off how close together were closed in a lump, to clear the screen.
///
/// Starts at 5 within 10 seconds: common practice, no source. Fewer than 2 tickets switches the
/// rule off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct LumpRule {
    /// So many tickets or more …
    pub tickets: u16,
    /// … from the first to the last within this time, both ends included.
    pub within: Seconds,
}

impl Default for LumpRule {
    fn default() -> Self {
        Self { tickets: 5, within: Seconds(10) }
    }
}

impl LumpRule {
    /// Which tickets of a store were closed in a lump, in the order given.
    ///
    /// ```
    /// use parings_core::tickets::{LumpRule, Ticket};
    /// let placed = "2026-03-06T21:00:00Z".parse().unwrap();
    /// let closed = |at: &str| Ticket::new(placed, Some(at.parse().unwrap()), None).unwrap();
    /// let mut night: Vec<_> = (50..55)
    ///     .map(|second| closed(&format!("2026-03-06T22:59:{second}Z")))
    ///     .collect();
    /// night.push(closed("2026-03-06T21:07:00Z"));
    /// let lumped = LumpRule::default().closed_in_a_lump(&night);
    /// assert_eq!(lumped, [true, true, true, true, true, false]);
    /// ```
    pub fn closed_in_a_lump(self, tickets: &[Ticket]) -> Vec<bool> {
        let mut closed: Vec<_> = tickets
            .iter()
            .enumerate()
            .filter_map(|(place, ticket)| Some((ticket.handed_off?, place)))
            .collect();
        closed.sort_unstable();
        let mut lumped = vec![false; tickets.len()];
        if self.tickets < 2 {
            return lumped;
        }
        let within = TimeDelta::seconds(i64::from(self.within.0));
        let size = usize::from(self.tickets);
        for run in closed.windows(size) {
            if run[size - 1].0 - run[0].0 <= within {
                run.iter().for_each(|&(_, place)| lumped[place] = true);
            }
        }
        lumped
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    fn closed_after(milliseconds: i64) -> Ticket {
        let placed = at("2026-03-06T21:00:00Z");
        Ticket::new(placed, Some(placed + TimeDelta::milliseconds(milliseconds)), None).unwrap()
    }

    #[test]
    fn time_does_not_run_backwards() {
        let placed = at("2026-03-06T21:00:00Z");
        let before = placed - TimeDelta::milliseconds(1);
        for promised in [None, Some(before - TimeDelta::hours(1))] {
            let found = Ticket::new(placed, Some(before), promised);
            assert_eq!(found, Err(TicketError::HandedOffBeforePlaced));
        }
        assert_eq!(closed_after(0).time(), Some(Seconds(0)));
        assert_eq!(closed_after(59_999).time(), Some(Seconds(59)));
    }

    #[test]
    fn an_early_order_took_no_time_and_an_open_one_has_none() {
        let placed = at("2026-03-06T12:00:00Z");
        let promised = Some(at("2026-03-06T18:00:00Z"));
        let early = Ticket::new(placed, Some(at("2026-03-06T17:55:00Z")), promised).unwrap();
        assert_eq!(early.time(), Some(Seconds(0)));
        assert_eq!(Ticket::new(placed, None, promised).unwrap().time(), None);
    }

    /// Source: IANA time zone database: in Chicago, clocks went from 02:00 to 03:00 on 8 March 2026
    /// and go from 02:00 to 01:00 on 1 November 2026 (from memory).
    #[test]
    fn a_night_when_clocks_change_counts_real_minutes() {
        for (placed, handed_off) in [
            ("2026-03-08T01:55:00-06:00", "2026-03-08T03:05:00-05:00"),
            ("2026-11-01T01:55:00-05:00", "2026-11-01T01:05:00-06:00"),
        ] {
            let ticket = Ticket::new(at(placed), Some(at(handed_off)), None).unwrap();
            assert_eq!(ticket.time(), Some(Seconds::minutes(10)), "{placed}");
        }
    }

    #[test]
    fn a_lump_is_five_within_ten_seconds_and_not_less() {
        let rule = LumpRule::default();
        let lumps = |offsets: &[i64]| {
            let tickets: Vec<_> = offsets.iter().map(|&ms| closed_after(ms)).collect();
            rule.closed_in_a_lump(&tickets).iter().filter(|lumped| **lumped).count()
        };
        assert_eq!(lumps(&[0, 1_000, 2_000, 3_000, 10_000]), 5);
        assert_eq!(lumps(&[0, 1_000, 2_000, 3_000, 10_001]), 0);
        assert_eq!(lumps(&[0, 1_000, 2_000, 3_000]), 0);
        // A lump may be longer than the rule's span: every run of five of it is close enough.
        assert_eq!(lumps(&[20_000, 0, 4_000, 8_000, 2_000, 6_000, 10_000, 90_000]), 6);
        assert_eq!(lumps(&[0; 7]), 7);
        let off = LumpRule { tickets: 0, ..rule };
        assert_eq!(off.closed_in_a_lump(&[closed_after(0); 7]), [false; 7]);
    }
}
