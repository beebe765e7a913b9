//! What a process took from the machine, as Linux tells it in `/proc`.

use std::fs;
use std::time::Duration;

use anyhow::{Context, bail};

/// Processor time of a process, with that of its children that ended.
///
/// # Errors
/// When there is no such process, or no `/proc`.
pub fn busy(pid: u32) -> anyhow::Result<Duration> {
    let (own, ended, _) = stat(pid)?;
    Ok(own + ended)
}

/// Processor time of a process and of every process below it.
///
/// # Errors
/// As [`busy`].
pub fn busy_family(root: u32) -> anyhow::Result<Duration> {
    let mut sum = busy(root)?;
    for found in fs::read_dir("/proc")?.flatten() {
        let Some(pid) = found.file_name().to_str().and_then(|name| name.parse().ok()) else {
            continue;
        };
        // One that has ended meanwhile is in its parent's sum.
        if let Ok((own, ended, parent)) = stat(pid)
            && parent == root
        {
            sum += own + ended;
        }
    }
    Ok(sum)
}

/// Most memory that a process ever held, in bytes.
///
/// # Errors
/// As [`busy`].
pub fn most_memory(pid: u32) -> anyhow::Result<u64> {
    let status = fs::read_to_string(format!("/proc/{pid}/status"))?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kib = line.and_then(|line| line.trim().strip_suffix(" kB")).context("no VmHWM")?;
    Ok(kib.trim().parse::<u64>()? * 1024)
}

/// Own processor time, that of children that ended, and the parent.
fn stat(pid: u32) -> anyhow::Result<(Duration, Duration, u32)> {
    let text = fs::read_to_string(format!("/proc/{pid}/stat"))?;
    // The second field is a name in brackets, which may hold anything.
    let (_, fields) = text.rsplit_once(')').context("no name")?;
    // Fields 4 (parent) and 14 to 17 (times, in ticks) of proc(5); the list begins with the fourth.
    let fields = fields.split_whitespace().skip(1).take(14).map(str::parse::<i64>);
    let fields: Vec<i64> = fields.collect::<Result<_, _>>()?;
    let [parent, .., own_user, own_system, ended_user, ended_system] = fields[..] else {
        bail!("a short line")
    };
    // 100 ticks a second on every machine that Linux runs on with its usual settings.
    let time = |ticks: i64| Duration::from_millis(ticks.unsigned_abs() * 10);
    Ok((time(own_user + own_system), time(ended_user + ended_system), u32::try_from(parent)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_process_tells_of_itself() {
        let me = std::process::id();
        let begun = busy(me).unwrap();
        let mut sum = 0_u64;
        while busy(me).unwrap() < begun + Duration::from_millis(20) {
            sum = std::hint::black_box((0..100_000_u64).sum::<u64>() + sum % 7);
        }
        assert!(busy_family(me).unwrap() >= begun + Duration::from_millis(20));
        assert!(most_memory(me).unwrap() > 1 << 20);
    }
}
