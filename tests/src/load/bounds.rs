//! What a load must not exceed.

use std::net::SocketAddr;
use std::time::Duration;

use anyhow::ensure;

/// The longest that load is put on anything in one go.
pub const LONGEST: Duration = Duration::from_secs(120);

/// Load is put on this machine alone.
///
/// # Errors
/// For any address but a loopback one.
pub fn loopback(at: SocketAddr) -> anyhow::Result<SocketAddr> {
    ensure!(at.ip().is_loopback(), "{at} is not this machine's loopback address");
    Ok(at)
}

/// Load ends.
///
/// # Errors
/// For nothing, and for more than [`LONGEST`].
pub fn bounded(lasts: Duration) -> anyhow::Result<Duration> {
    ensure!(!lasts.is_zero() && lasts <= LONGEST, "a load lasts 1 to {} s", LONGEST.as_secs());
    Ok(lasts)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_loopback_address_is_taken() {
        for at in ["127.0.0.1:80", "127.8.9.1:8080", "[::1]:8080"] {
            assert!(loopback(at.parse().expect(at)).is_ok(), "{at}");
        }
        for at in ["0.0.0.0:80", "10.0.0.1:80", "192.0.2.7:8080", "[::]:8080", "[2001:db8::1]:80"] {
            assert!(loopback(at.parse().expect(at)).is_err(), "{at}");
        }
    }

    #[test]
    fn a_load_is_bounded_in_time() {
        assert!(bounded(Duration::from_secs(1)).is_ok() && bounded(LONGEST).is_ok());
        assert!(bounded(Duration::ZERO).is_err());
        assert!(bounded(LONGEST + Duration::from_secs(1)).is_err());
    }
}
