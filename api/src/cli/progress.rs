//! Shows where the time of a start goes: a bar at a terminal, plain lines elsewhere.

use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// The steps of a start, in order. A step may be left out, and unlisted ones may come between.
pub struct Progress {
    steps: Vec<&'static str>,
    bar: ProgressBar,
    begun: Instant,
    current: Option<(&'static str, Instant)>,
}

impl Progress {
    /// Nothing is shown until the first step begins.
    pub fn new(steps: Vec<&'static str>) -> Self {
        let length = u64::try_from(steps.len()).unwrap_or(u64::MAX);
        let bar = ProgressBar::with_draw_target(Some(length), ProgressDrawTarget::stderr());
        if let Ok(style) = ProgressStyle::with_template("{spinner} [{bar:28}] {msg} {elapsed}") {
            bar.set_style(style.progress_chars("=> "));
        }
        Self { steps, bar, begun: Instant::now(), current: None }
    }

    /// Ends the current step and begins `step`.
    pub fn begin(&mut self, step: &'static str) {
        self.end_step();
        if let Some(place) = self.steps.iter().position(|listed| *listed == step) {
            self.bar.set_position(u64::try_from(place).unwrap_or(u64::MAX));
        }
        self.bar.set_message(step);
        self.bar.enable_steady_tick(Duration::from_millis(100));
        self.current = Some((step, Instant::now()));
    }

    /// Shows how far the current step is.
    pub fn part(&self, done: usize, of: usize) {
        if let Some((step, _)) = self.current {
            self.bar.set_message(format!("{step}: {done} of {of}"));
        }
    }

    /// Says something that is worth keeping.
    pub fn say(&self, line: &str) {
        if self.bar.is_hidden() {
            eprintln!("{line}");
        } else {
            self.bar.println(line);
        }
    }

    /// Ends the last step and takes the bar away.
    pub fn finish(&mut self) {
        self.end_step();
        self.say(&line("altogether", self.begun));
        self.bar.finish_and_clear();
    }

    fn end_step(&mut self) {
        if let Some((step, begun)) = self.current.take() {
            self.say(&line(step, begun));
        }
    }
}

fn line(step: &str, begun: Instant) -> String {
    format!("  {step:<16} {:>7.2} s", begun.elapsed().as_secs_f64())
}
