//! How often somebody may be wrong when they sign in. Being right costs nothing.
//!
//! Whoever has not signed in before is a stranger, whose wrong tries are held against the address they
//! come from and against the account they name. A device that shows it was given to somebody who signed
//! in ([`Device`]) is held against itself alone, so that no stranger, at whatever address, keeps it out.
//! Some tries are free; each further one makes the next wait twice as long, and a try is forgiven after a
//! while. One address alone cannot use up what strangers may try at an account, because its own tries
//! run out first and come back more slowly.
//!
//! What this does not do: somebody with many addresses keeps strangers out of an account for as long as
//! they go on, and those at one address keep other strangers there waiting. Devices that signed in before
//! are let in all the while. It counts for each server by itself, from its start on.

use std::hash::{BuildHasher, RandomState};
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use parings_core::ids::PersonId;

use super::tokens::Device;
use crate::edge::Clock;
use crate::error::AppError;

/// The wait after the first try that is not free; it doubles with each further one.
const FIRST_WAIT: Duration = Duration::from_secs(1);

/// Places of a [`Table`] that one key may take.
const WAYS: usize = 8;

/// How many such groups a table has: 65,536 places, 1.5 MiB.
const GROUPS: usize = 8192;

/// Who tries to sign in.
#[derive(Debug, Clone, Copy)]
pub enum Who<'a> {
    /// Nobody that this server knows.
    Stranger {
        /// Where they connect from.
        address: IpAddr,
        /// The account they name, as it would be kept.
        account: &'a str,
    },
    /// A device that signed in to this account before.
    Known(&'a Device),
    /// Somebody who is signed in and says their password again.
    SignedIn(PersonId),
}

/// What wrong tries are held against, in the order of [`Limits::tables`].
#[derive(Debug, Clone, Copy)]
enum Against {
    Address,
    Account,
    Themselves,
}

/// Wrong tries of late.
pub struct Limits {
    /// Keyed by chance at each start, so that nobody can choose keys that meet in one group.
    hashes: RandomState,
    tables: Mutex<[Table; 3]>,
    clock: Clock,
}

impl Limits {
    /// An address and whoever is known have `free` wrong tries without a wait, an account five times as
    /// many.
    pub fn new(free: u32, clock: &Clock) -> Self {
        let quarter = Duration::from_secs(15 * 60);
        let tables = [
            Table::new(free, quarter),
            Table::new(free.saturating_mul(5), quarter / 3),
            Table::new(free, quarter),
        ];
        Self { hashes: RandomState::new(), tables: Mutex::new(tables), clock: clock.clone() }
    }

    /// Begins a try, which counts as wrong until it is said not to be: of many at once, no more are
    /// let through than of as many one after another.
    ///
    /// # Errors
    /// [`AppError::TooMany`] with the seconds to wait.
    pub fn begin(&self, who: Who<'_>) -> Result<Attempt<'_>, AppError> {
        let counted = self.counted(who);
        let now = self.clock.since_start();
        let mut tables = self.tables.lock().unwrap_or_else(PoisonError::into_inner);
        let waits = counted.iter().map(|(against, key)| tables[*against as usize].wait(*key, now));
        let wait = waits.max().unwrap_or_default();
        if !wait.is_zero() {
            let retry_after_s = wait.as_secs() + u64::from(wait.subsec_nanos() > 0);
            return Err(AppError::TooMany { retry_after_s });
        }
        for (against, key) in &counted {
            tables[*against as usize].add(*key, now);
        }
        Ok(Attempt { limits: self, counted })
    }

    fn counted(&self, who: Who<'_>) -> Vec<(Against, u64)> {
        match who {
            Who::Stranger { address, account } => vec![
                (Against::Address, self.hashes.hash_one(network(address))),
                (Against::Account, self.hashes.hash_one(account)),
            ],
            Who::Known(device) => vec![(Against::Themselves, self.hashes.hash_one(device))],
            Who::SignedIn(person) => vec![(Against::Themselves, self.hashes.hash_one(person))],
        }
    }
}

/// A try that has begun, and counts as a wrong one.
pub struct Attempt<'l> {
    limits: &'l Limits,
    counted: Vec<(Against, u64)>,
}

impl Attempt<'_> {
    /// It was not wrong, so it is as if it had not been made.
    pub fn forgive(self) {
        let now = self.limits.clock.since_start();
        let mut tables = self.limits.tables.lock().unwrap_or_else(PoisonError::into_inner);
        for (against, key) in self.counted {
            tables[against as usize].take_back(key, now);
        }
    }
}

/// What of an address one household, store or server has to itself: of IPv6 the first 64 bits, which is
/// what one of them is given (RFC 6177, section 2).
fn network(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V4(address) => address.into(),
        IpAddr::V6(address) => {
            let [a, b, c, d, ..] = address.segments();
            [a, b, c, d, 0, 0, 0, 0].into()
        }
    }
}

/// The wrong tries of one key. It is empty when everything is forgiven.
#[derive(Debug, Clone, Copy, Default)]
struct Place {
    key: u64,
    /// When everything is forgiven, in milliseconds since the start.
    forgiven: u64,
    /// When the next try may be made, in milliseconds since the start.
    free: u64,
}

/// Wrong tries by key, in as much memory as it has at the start.
///
/// A key belongs to a group of places, as it falls. When all of a group are taken, the one with the
/// fewest tries makes room: nobody has their own many tries forgotten by making a few elsewhere, and
/// somebody who is forgotten has only been forgiven early.
struct Table {
    free: u32,
    forgiven_each: Duration,
    places: Vec<[Place; WAYS]>,
}

impl Table {
    fn new(free: u32, forgiven_each: Duration) -> Self {
        Self { free, forgiven_each, places: vec![Default::default(); GROUPS] }
    }

    /// How long somebody waits for their next try.
    fn wait(&mut self, key: u64, now: Duration) -> Duration {
        let free = self.find(key, now).map_or(0, |place| place.free);
        Duration::from_millis(free.saturating_sub(millis(now)))
    }

    /// Adds a try.
    fn add(&mut self, key: u64, now: Duration) {
        let (each, free, at) = (millis(self.forgiven_each), self.free, millis(now));
        let place = match self.find(key, now) {
            Some(place) => place,
            None => self.room(key),
        };
        place.forgiven = place.forgiven.max(at) + each;
        let tries = (place.forgiven - at).div_ceil(each);
        let beyond = tries.saturating_sub(u64::from(free));
        place.free = match u32::try_from(beyond) {
            Ok(0) => at,
            Ok(beyond) => at + (millis(FIRST_WAIT) << (beyond - 1).min(20)).min(each),
            Err(_) => at + each,
        };
    }

    /// Takes a try back, with the wait that it brought.
    fn take_back(&mut self, key: u64, now: Duration) {
        let each = millis(self.forgiven_each);
        if let Some(place) = self.find(key, now) {
            place.forgiven = place.forgiven.saturating_sub(each);
            place.free = place.free.min(millis(now));
        }
    }

    fn find(&mut self, key: u64, now: Duration) -> Option<&mut Place> {
        let taken = |place: &&mut Place| place.key == key && place.forgiven > millis(now);
        self.group(key).iter_mut().find(taken)
    }

    /// A place for a new key: that of whoever is forgiven first.
    fn room(&mut self, key: u64) -> &mut Place {
        let group = self.group(key);
        let first = (0..WAYS).min_by_key(|at| group[*at].forgiven).unwrap_or_default();
        group[first] = Place { key, ..Place::default() };
        &mut group[first]
    }

    fn group(&mut self, key: u64) -> &mut [Place; WAYS] {
        // The number of groups is a power of two, so the lowest bits of a hash say which.
        let at = usize::try_from(key % GROUPS as u64).unwrap_or_default();
        &mut self.places[at]
    }
}

fn millis(duration: Duration) -> u64 {
    u64::try_from(duration.as_millis()).unwrap_or(u64::MAX)
}

#[cfg(test)]
mod tests {
    use std::net::{IpAddr, Ipv4Addr};
    use std::time::Duration;

    use chrono::{Days, TimeDelta};

    use super::{GROUPS, Limits, Place, Table, WAYS, Who, millis, network};
    use crate::app::signin::keys::tests::moment;
    use crate::app::signin::tokens::Device;
    use crate::edge::Clock;
    use crate::error::AppError;

    const ADA: &str = "ada@example.com";

    fn stranger(last: u32, account: &str) -> Who<'_> {
        Who::Stranger { address: Ipv4Addr::from(0x0a00_0000 + last).into(), account }
    }

    /// The seconds to wait; 0 when a try was let through, which then was a wrong one.
    fn wrong(limits: &Limits, who: Who<'_>) -> u64 {
        match limits.begin(who) {
            Ok(_) => 0,
            Err(AppError::TooMany { retry_after_s }) => retry_after_s,
            Err(other) => panic!("{other:?}"),
        }
    }

    #[test]
    fn some_are_free_then_each_waits_twice_as_long() {
        let clock = Clock::standing(moment());
        let limits = Limits::new(3, &clock);
        for _ in 0..4 {
            assert_eq!(wrong(&limits, stranger(1, ADA)), 0);
        }
        for wait in [1, 2, 4, 8, 16] {
            assert_eq!(wrong(&limits, stranger(1, ADA)), wait);
            clock.set(clock.now() + TimeDelta::milliseconds(wait as i64 * 1000 - 1));
            assert_eq!(wrong(&limits, stranger(1, ADA)), 1, "not yet");
            clock.set(clock.now() + TimeDelta::milliseconds(1));
            assert_eq!(wrong(&limits, stranger(1, ADA)), 0);
        }
        clock.set(clock.now() + TimeDelta::hours(3));
        for _ in 0..4 {
            assert_eq!(wrong(&limits, stranger(1, ADA)), 0, "forgiven");
        }
    }

    #[test]
    fn being_right_costs_nothing() {
        let limits = Limits::new(3, &Clock::standing(moment()));
        for _ in 0..1000 {
            limits.begin(stranger(1, ADA)).unwrap().forgive();
        }
        for _ in 0..4 {
            assert_eq!(wrong(&limits, stranger(1, ADA)), 0);
        }
        assert_eq!(wrong(&limits, stranger(1, ADA)), 1);
    }

    #[test]
    fn many_at_once_are_as_many_one_after_another() {
        let limits = Limits::new(3, &Clock::standing(moment()));
        let begun: Vec<_> = (0..9).filter_map(|_| limits.begin(stranger(1, ADA)).ok()).collect();
        assert_eq!(begun.len(), 4);
    }

    #[test]
    fn one_address_for_a_week_keeps_nobody_else_out() {
        let clock = Clock::standing(moment());
        let limits = Limits::new(20, &clock);
        let week = moment() + Days::new(7);
        let mut tries = 0;
        while clock.now() < week {
            match wrong(&limits, stranger(1, ADA)) {
                0 => tries += 1,
                wait => clock.set(clock.now() + TimeDelta::seconds(wait as i64)),
            }
            limits.begin(stranger(2, ADA)).expect("let through elsewhere").forgive();
        }
        assert!((600..800).contains(&tries), "{tries} tries in a week");
    }

    #[test]
    fn many_addresses_keep_strangers_out_and_no_device_that_signed_in_before() {
        let limits = Limits::new(3, &Clock::standing(moment()));
        for n in 0..16 {
            assert_eq!(wrong(&limits, stranger(n, ADA)), 0);
        }
        assert_eq!(wrong(&limits, stranger(99, ADA)), 1);
        let (hers, other) = (Device::random(), Device::random());
        limits.begin(Who::Known(&hers)).expect("let through").forgive();
        for _ in 0..4 {
            assert_eq!(wrong(&limits, Who::Known(&other)), 0);
        }
        assert_eq!(wrong(&limits, Who::Known(&other)), 1, "a device is limited too");
        limits.begin(Who::Known(&hers)).expect("let through");
    }

    #[test]
    fn a_clock_set_back_changes_nothing() {
        let clock = Clock::standing(moment());
        let limits = Limits::new(1, &clock);
        for _ in 0..2 {
            assert_eq!(wrong(&limits, stranger(1, ADA)), 0);
        }
        clock.set(moment() - Days::new(30));
        assert_eq!(wrong(&limits, stranger(1, ADA)), 1);
        clock.set(clock.now() + TimeDelta::seconds(1));
        assert_eq!(wrong(&limits, stranger(1, ADA)), 0);
    }

    #[test]
    fn an_address_is_what_one_network_has() {
        let of = |text: &str| network(text.parse::<IpAddr>().unwrap());
        assert_eq!(of("2001:db8:1:2:3:4:5:6"), of("2001:db8:1:2::1"));
        assert_ne!(of("2001:db8:1:2::1"), of("2001:db8:1:3::1"));
        assert_eq!(of("::ffff:192.0.2.1"), of("192.0.2.1"), "IPv4 written as IPv6");
        assert_ne!(of("192.0.2.1"), of("192.0.2.2"));
    }

    #[test]
    fn who_tried_often_is_remembered_however_many_others_try() {
        let now = Duration::from_secs(1);
        let mut table = Table::new(3, Duration::from_secs(60));
        let mut add = |key: u64, times: u32| (0..times).for_each(|_| table.add(key, now));
        add(7, 5);
        // Fifty times as many keys as the group has places, and all of them fall into it.
        (1..=50 * WAYS as u64).for_each(|n| add(7 + n * GROUPS as u64, 2));
        assert_eq!(table.wait(7, now), Duration::from_secs(2));
        assert_eq!((table.places.len(), size_of::<Place>()), (GROUPS, 24), "no larger than before");
    }

    #[test]
    fn a_new_key_is_remembered_among_those_that_tried_often() {
        let now = Duration::from_secs(1);
        let mut table = Table::new(3, Duration::from_secs(60));
        let key = |n: u64| 7 + n * GROUPS as u64;
        for n in 0..WAYS as u64 {
            (0..9).for_each(|_| table.add(key(n), now));
        }
        (0..5).for_each(|_| table.add(key(99), now));
        assert_eq!(table.wait(key(99), now), Duration::from_secs(2));
    }

    #[test]
    fn a_wait_is_never_longer_than_what_it_takes_to_be_forgiven() {
        let mut table = Table::new(0, Duration::from_secs(60));
        (0..100).for_each(|_| table.add(7, Duration::ZERO));
        assert_eq!(table.wait(7, Duration::ZERO), Duration::from_secs(60));
        assert_eq!(millis(Duration::MAX), u64::MAX);
    }
}
