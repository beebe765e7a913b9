//! Signing in: sessions and what they need, which is made once at the start.

pub mod keys;
pub mod limits;
pub mod passwords;
pub mod sessions;
pub mod tokens;

use crate::config::SigninConfig;
use crate::edge::Clock;
use keys::Keys;
use limits::Limits;
use passwords::Passwords;

/// Everything [`sessions`] work with.
pub struct Signin {
    /// Signing keys, and the secret that refresh tokens are derived with.
    pub keys: Keys,
    /// Hashes passwords and verifies them.
    pub passwords: Passwords,
    /// How often somebody may be wrong.
    pub limits: Limits,
}

impl Signin {
    /// Reads the keys, which are made when missing.
    ///
    /// # Errors
    /// When the folder of the keys cannot be used or others may read it.
    pub fn new(config: &SigninConfig, clock: &Clock) -> anyhow::Result<Self> {
        Ok(Self {
            keys: Keys::load(&config.keys, clock.now())?,
            passwords: Passwords::new(config.hashing_at_once, config.hashing_waiting)?,
            limits: Limits::new(config.free_tries, clock),
        })
    }
}
