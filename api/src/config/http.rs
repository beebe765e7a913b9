use std::net::SocketAddr;
use std::time::Duration;

/// How requests are taken.
#[derive(Clone, Debug)]
pub struct HttpConfig {
    /// Where to listen.
    pub listen: SocketAddr,
    /// Proxies that requests come through, one behind the other, each of which adds to
    /// `X-Forwarded-For` whom it was asked by; 0 when clients connect to the server itself.
    pub proxies: usize,
    /// Largest body, in bytes.
    pub body_limit: usize,
    /// Largest file of an import, in bytes.
    pub import_limit: usize,
    /// Most bytes of bodies that are being read, of all requests together.
    pub body_room: usize,
    /// Most connections of a thread that serves; further ones wait until one closes.
    pub connections: usize,
    /// Longest request.
    pub request_timeout: Duration,
    /// Longest wait for open requests at shutdown.
    pub shutdown_timeout: Duration,
    /// Threads that serve; 0 for one a core.
    pub workers: usize,
}

impl Default for HttpConfig {
    fn default() -> Self {
        Self {
            listen: SocketAddr::from(([127, 0, 0, 1], 8080)),
            proxies: 0,
            body_limit: 2 * 1024 * 1024,
            import_limit: 8 * 1024 * 1024,
            body_room: 64 * 1024 * 1024,
            connections: 1024,
            request_timeout: Duration::from_secs(30),
            shutdown_timeout: Duration::from_secs(20),
            workers: 0,
        }
    }
}
