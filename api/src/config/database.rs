use std::time::Duration;

/// Where the records are, and how long a statement may take.
#[derive(Clone, Debug)]
pub struct DatabaseConfig {
    /// Connection URL of the application's role (`parings_app` or a member of it).
    pub url: String,
    /// Connections kept at most.
    pub pool_size: usize,
    /// Longest wait for a connection.
    pub wait: Duration,
    /// Longest statement.
    pub statement_timeout: Duration,
}

impl DatabaseConfig {
    /// The usual settings for a database at `url`.
    pub fn at(url: impl Into<String>) -> Self {
        Self {
            url: url.into(),
            pool_size: 16,
            wait: Duration::from_secs(5),
            statement_timeout: Duration::from_secs(10),
        }
    }
}
