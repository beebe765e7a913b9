//! How often an account or an address may try to sign in.

use std::net::IpAddr;
use std::num::NonZeroU32;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

use governor::middleware::NoOpMiddleware;
use governor::state::keyed::DefaultKeyedStateStore;
use governor::{Quota, RateLimiter};

use crate::edge::Clock;
use crate::error::AppError;

/// One more attempt each.
const REPLENISH: Duration = Duration::from_secs(12);

/// After so many attempts, those that have been quiet are forgotten.
const SWEEP: u32 = 1024;

type Limiter<K> = RateLimiter<K, DefaultKeyedStateStore<K>, LimitClock, NoOpMiddleware<Duration>>;

/// The server's clock, as the limiter reads it: time since 1970.
#[derive(Clone)]
struct LimitClock(Clock);

impl governor::clock::Clock for LimitClock {
    type Instant = Duration;

    fn now(&self) -> Duration {
        let since = self.0.now().timestamp_micros();
        Duration::from_micros(u64::try_from(since).unwrap_or_default())
    }
}

/// Attempts of late, by address and by account.
pub struct Limits {
    addresses: Limiter<IpAddr>,
    accounts: Limiter<String>,
    clock: LimitClock,
    since_sweep: AtomicU32,
}

impl Limits {
    /// `burst` attempts at once, then one each 12 s.
    pub fn new(burst: u32, clock: &Clock) -> Self {
        let clock = LimitClock(clock.clone());
        let quota = Quota::with_period(REPLENISH)
            .unwrap_or_else(|| Quota::per_minute(NonZeroU32::MIN))
            .allow_burst(NonZeroU32::new(burst).unwrap_or(NonZeroU32::MIN));
        Self {
            addresses: RateLimiter::new(quota, DefaultKeyedStateStore::default(), clock.clone()),
            accounts: RateLimiter::new(quota, DefaultKeyedStateStore::default(), clock.clone()),
            clock,
            since_sweep: AtomicU32::new(0),
        }
    }

    /// Counts an attempt. The address comes first, so that one address cannot fill the list of
    /// accounts.
    ///
    /// # Errors
    /// [`AppError::TooMany`] with the seconds to wait.
    pub fn attempt(&self, address: IpAddr, account: &str) -> Result<(), AppError> {
        if self.since_sweep.fetch_add(1, Ordering::Relaxed) >= SWEEP {
            self.since_sweep.store(0, Ordering::Relaxed);
            self.addresses.retain_recent();
            self.accounts.retain_recent();
        }
        let wait = self
            .addresses
            .check_key(&address)
            .and_then(|()| self.accounts.check_key(&account.to_owned()));
        wait.map_err(|until| {
            let wait = until.wait_time_from(governor::clock::Clock::now(&self.clock));
            AppError::TooMany { retry_after_s: wait.as_secs() + u64::from(wait.subsec_nanos() > 0) }
        })
    }
}

#[cfg(test)]
mod tests {
    use std::net::{IpAddr, Ipv4Addr};

    use chrono::TimeDelta;

    use super::{Limits, SWEEP};
    use crate::app::signin::keys::tests::moment;
    use crate::edge::Clock;
    use crate::error::AppError;

    fn address(last: u32) -> IpAddr {
        Ipv4Addr::from(0x0a00_0000 + last).into()
    }

    #[test]
    fn a_burst_then_one_each_twelve_seconds() {
        let clock = Clock::standing(moment());
        let limits = Limits::new(3, &clock);
        for n in 0..3 {
            limits.attempt(address(n), "ada@example.com").unwrap();
        }
        let refused = limits.attempt(address(9), "ada@example.com").unwrap_err();
        assert!(matches!(refused, AppError::TooMany { retry_after_s: 12 }), "{refused:?}");
        limits.attempt(address(9), "ben@example.com").unwrap();
        clock.set(moment() + TimeDelta::seconds(12));
        limits.attempt(address(9), "ada@example.com").unwrap();
        assert!(limits.attempt(address(8), "ada@example.com").is_err());
    }

    #[test]
    fn an_address_is_limited_whatever_the_account() {
        let clock = Clock::standing(moment());
        let limits = Limits::new(3, &clock);
        let tried = (0..5).map(|n| limits.attempt(address(1), &format!("{n}@example.com")));
        assert_eq!(tried.filter(Result::is_ok).count(), 3);
        assert_eq!(limits.accounts.len(), 3);
    }

    #[test]
    fn the_quiet_are_forgotten() {
        let clock = Clock::standing(moment());
        let limits = Limits::new(3, &clock);
        for n in 0..SWEEP {
            limits.attempt(address(n), &format!("{n}@example.com")).unwrap();
        }
        assert_eq!(limits.addresses.len(), 1024);
        clock.set(moment() + TimeDelta::hours(1));
        limits.attempt(address(1), "ada@example.com").unwrap();
        assert_eq!((limits.addresses.len(), limits.accounts.len()), (1, 1));
    }
}
