//! Keeps a private cluster running: starts it again when it ends without being asked to.

use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use super::{Cluster, ClusterError};

/// How often the server is looked at.
const EVERY: Duration = Duration::from_millis(500);
/// The longest pause between two starts, and how long a server has to run to count as well again.
const LONGEST: Duration = Duration::from_secs(60);

/// A cluster that a thread looks after until it is asked to stop. The thread blocks while the server
/// starts, which after a crash can take minutes: requests are answered meanwhile, that the database is
/// away.
#[derive(Debug)]
pub struct Keeper {
    stop: Sender<()>,
    thread: JoinHandle<Result<(), ClusterError>>,
}

impl Keeper {
    /// Begins to look after a running cluster.
    pub fn of(cluster: Cluster) -> Self {
        let (stop, asked) = channel();
        Self { stop, thread: thread::spawn(move || keep(cluster, &asked)) }
    }

    /// Stops the cluster in good order, after a start that may be under way.
    ///
    /// # Errors
    /// [`ClusterError::WillNotStop`] when the server survives.
    pub fn stop(self) -> Result<(), ClusterError> {
        drop(self.stop);
        self.thread.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
    }
}

fn keep(mut cluster: Cluster, asked: &Receiver<()>) -> Result<(), ClusterError> {
    let is_asked = |within| asked.recv_timeout(within) != Err(RecvTimeoutError::Timeout);
    let mut failures = 0;
    let mut begun = Instant::now();
    loop {
        if is_asked(EVERY) {
            return cluster.stop();
        }
        if cluster.is_running() {
            continue;
        }
        // One that ends again soon is no better than one that does not start.
        failures = if begun.elapsed() < LONGEST { failures + 1 } else { 0 };
        let pause = pause(failures);
        let log = cluster.log();
        tracing::error!(
            "PostgreSQL ended by itself; it is started again in {} s; what it said last is in {}",
            pause.as_secs(),
            log.display()
        );
        if is_asked(pause) {
            return cluster.stop();
        }
        begun = Instant::now();
        match cluster.restart() {
            Ok(()) => tracing::info!("PostgreSQL runs again"),
            Err(error) => tracing::error!(
                error.cause = ?error,
                "PostgreSQL does not start; is there room on the disk? {error}"
            ),
        }
    }
}

/// None at first, then 1, 2, 4 seconds and so on, a minute at most.
fn pause(failures: u32) -> Duration {
    let grown = |doublings: u32| Duration::from_secs(1 << doublings.min(6)).min(LONGEST);
    failures.checked_sub(1).map_or(Duration::ZERO, grown)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pauses_grow_up_to_a_minute() {
        let seconds: Vec<u64> = (0..9).map(|failures| pause(failures).as_secs()).collect();
        assert_eq!(seconds, [0, 1, 2, 4, 8, 16, 32, 60, 60]);
        assert_eq!(pause(u32::MAX), LONGEST);
    }
}
