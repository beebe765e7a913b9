use std::path::PathBuf;

use chrono::TimeDelta;

/// How people sign in.
#[derive(Clone, Debug)]
pub struct SigninConfig {
    /// Folder of the signing keys, made with mode 0600 where missing.
    pub keys: PathBuf,
    /// Life of an access token.
    pub access_life: TimeDelta,
    /// Life of a refresh token.
    pub refresh_life: TimeDelta,
    /// How long a spent refresh token still gives the same successor: the tablet that lost the
    /// reply asks again.
    pub resend_window: TimeDelta,
    /// Password hashes computed at the same time.
    pub hashing_at_once: usize,
    /// Passwords that wait to be hashed, at most; further sign-ins are asked to come again.
    pub hashing_waiting: usize,
    /// Wrong tries to sign in without a wait, of an address or of a known device; strangers may make
    /// five times as many at one account.
    pub free_tries: u32,
}

impl SigninConfig {
    /// The usual settings with keys in `keys`.
    pub fn with_keys(keys: impl Into<PathBuf>) -> Self {
        Self {
            keys: keys.into(),
            access_life: TimeDelta::minutes(10),
            refresh_life: TimeDelta::days(14),
            resend_window: TimeDelta::seconds(30),
            hashing_at_once: 2,
            hashing_waiting: 64,
            free_tries: 20,
        }
    }
}
