//! What an operator can set, one small struct a file.

mod database;
mod http;
mod signin;

pub use database::DatabaseConfig;
pub use http::HttpConfig;
pub use signin::SigninConfig;

/// Everything [`crate::boot::build`] needs.
#[derive(Clone, Debug)]
pub struct Config {
    /// Where the records are.
    pub database: DatabaseConfig,
    /// How requests are taken.
    pub http: HttpConfig,
    /// How people sign in.
    pub signin: SigninConfig,
}
