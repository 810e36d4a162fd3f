//! How far a long computation is: a bar or a spinner on a terminal, a line now and then elsewhere.

use std::io::IsTerminal;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::sync::{Arc, OnceLock};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressStyle};

use super::{Global, message};

/// Time between two lines where there is no terminal.
const LINE: Duration = Duration::from_secs(10);

/// Shows that work goes on, until it ends.
pub(super) struct Progress(Shown);

/// Steps done when the work began and now.
struct Counts {
    first: OnceLock<u64>,
    now: AtomicU64,
}

enum Shown {
    Nothing,
    Bar(ProgressBar),
    Lines { counts: Arc<Counts>, _end: Sender<()> },
}

impl Progress {
    /// Work of unknown length.
    pub fn spinner(global: &Global, what: &str) -> Self {
        Self::with(global, what, None)
    }

    /// Work of known length.
    pub fn bar(global: &Global, what: &str, length: u64) -> Self {
        Self::with(global, what, Some(length))
    }

    fn with(global: &Global, what: &str, length: Option<u64>) -> Self {
        if global.quiet {
            return Self(Shown::Nothing);
        }
        if !std::io::stderr().is_terminal() {
            return Self(lines(what.to_owned(), length));
        }
        let (bar, template) = match length {
            Some(length) => (ProgressBar::new(length), "billet: {msg} {bar:30} {pos}/{len} {eta}"),
            None => (ProgressBar::new_spinner(), "billet: {spinner} {msg} {elapsed}"),
        };
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style);
        }
        bar.set_message(what.to_owned());
        bar.enable_steady_tick(Duration::from_millis(100));
        Self(Shown::Bar(bar))
    }

    /// Moves a bar; the first call says where it begins.
    pub fn set(&self, now: u64) {
        match &self.0 {
            Shown::Nothing => {}
            Shown::Bar(bar) => bar.set_position(now),
            Shown::Lines { counts, .. } => {
                counts.first.get_or_init(|| now);
                counts.now.store(now, Ordering::Relaxed);
            }
        }
    }

    /// Takes it off the screen.
    pub fn end(self) {
        if let Shown::Bar(bar) = self.0 {
            bar.finish_and_clear();
        }
    }
}

/// Writes a line every ten seconds until its other end is dropped.
fn lines(what: String, length: Option<u64>) -> Shown {
    let counts = Arc::new(Counts {
        first: OnceLock::new(),
        now: AtomicU64::new(0),
    });
    let (end, ended) = channel();
    let (begin, seen) = (Instant::now(), counts.clone());
    // Without a thread there are no lines, and the work goes on all the same.
    let _ = std::thread::Builder::new().name("progress".to_owned()).spawn(move || {
        while ended.recv_timeout(LINE) == Err(RecvTimeoutError::Timeout) {
            let (first, now) = (seen.first.get().copied(), seen.now.load(Ordering::Relaxed));
            message::remark(&line(&what, (first.unwrap_or(0), now), length, begin.elapsed()));
        }
    });
    Shown::Lines { counts, _end: end }
}

/// A line: what is being done, how far it is, and an estimate of what is left where there is one.
fn line(what: &str, (first, now): (u64, u64), length: Option<u64>, elapsed: Duration) -> String {
    let seconds = elapsed.as_secs();
    match length {
        None => format!("{what}, {seconds} s so far"),
        Some(length) if now <= first => format!("{what}, {now} of {length}, {seconds} s so far"),
        Some(length) => {
            let left = elapsed.as_secs_f64() * length.saturating_sub(now) as f64 / (now - first) as f64;
            format!("{what}, {now} of {length}, {seconds} s so far, about {left:.0} s left")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_estimates_what_is_left_from_what_was_done_since() {
        let after = Duration::from_secs(20);
        assert_eq!(line("searching", (0, 0), None, after), "searching, 20 s so far");
        assert_eq!(
            line("samples", (7, 7), Some(100), after),
            "samples, 7 of 100, 20 s so far"
        );
        // 20 more in 20 s, 60 to go.
        let text = line("samples", (20, 40), Some(100), after);
        assert_eq!(text, "samples, 40 of 100, 20 s so far, about 60 s left");
    }
}
