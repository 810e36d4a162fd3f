//! Signals that ask the program to end: it does so between two outputs, never within one, and says what is complete.
//!
//! A signal belongs to the whole process, so what knows of it is one for the process too. Nothing that is computed
//! depends on it.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock};
use std::time::Duration;

use super::exit::Exit;
use super::out;
use crate::text::clean as plain;

/// How often the watch looks for a signal.
const LOOK: Duration = Duration::from_millis(20);

static STATE: OnceLock<State> = OnceLock::new();

struct State {
    /// Number of the signal that came; 0 for none.
    came: Arc<AtomicUsize>,
    /// Whether somebody asks for it and ends by himself.
    asked_for: AtomicBool,
    /// What has been written; held while something is being written.
    written: Mutex<Vec<String>>,
}

impl State {
    fn written(&self) -> MutexGuard<'_, Vec<String>> {
        // A list of names is whole after a panic too.
        self.written.lock().unwrap_or_else(|poisoned| poisoned.into_inner())
    }
}

fn state() -> &'static State {
    STATE.get_or_init(|| State {
        came: Arc::default(),
        asked_for: AtomicBool::new(false),
        written: Mutex::default(),
    })
}

/// Watches from now on. The first signal ends the program in good order, the second at once. Where the system refuses
/// a handler, signals end the program as usual. A file that becomes too long for what the user may write gives an
/// error instead of ending the program.
pub(super) fn watch() {
    let second = Arc::new(AtomicBool::new(false));
    for signal in ending_signals() {
        let _ = signal_hook::flag::register_conditional_shutdown(signal, status(signal), second.clone());
        let _ = signal_hook::flag::register(signal, second.clone());
        let number = usize::try_from(signal).unwrap_or_default();
        let _ = signal_hook::flag::register_usize(signal, state().came.clone(), number);
    }
    #[cfg(unix)]
    let _ = signal_hook::flag::register(signal_hook::consts::SIGXFSZ, Arc::default());
    let _ = std::thread::Builder::new().name("signals".to_owned()).spawn(|| {
        loop {
            std::thread::sleep(LOOK);
            if came() && !state().asked_for.load(Ordering::SeqCst) {
                // What is being written is written to its end.
                let written = state().written();
                tell(&written);
                std::process::exit(exit_code());
            }
        }
    });
}

/// Signals that ask a program to end. One that is ignored when the program starts (`nohup`) stays ignored.
fn ending_signals() -> Vec<i32> {
    use signal_hook::consts::{SIGINT, SIGTERM};
    let mut signals = vec![SIGINT, SIGTERM];
    #[cfg(target_os = "linux")]
    {
        let hang_up = signal_hook::consts::SIGHUP;
        let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
        let ignored = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
        let mask = ignored.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok());
        if mask.is_some_and(|mask| mask & (1 << (hang_up - 1)) == 0) {
            signals.push(hang_up);
        }
    }
    signals
}

/// Exit status of a program that a signal ended, by the custom of shells.
fn status(signal: i32) -> i32 {
    128 + signal
}

/// Whether a signal came.
pub(super) fn came() -> bool {
    state().came.load(Ordering::SeqCst) != 0
}

/// Exit status after the signal that came.
fn exit_code() -> i32 {
    status(i32::try_from(state().came.load(Ordering::SeqCst)).unwrap_or_default())
}

/// How a command ends that has been asked to.
pub(super) fn exit() -> Exit {
    Exit::Interrupted(u8::try_from(exit_code()).unwrap_or(u8::MAX))
}

/// Says what is complete.
fn tell(written: &[String]) {
    let what = match written {
        [] => "nothing was written".to_owned(),
        list => format!("complete: {}", list.join(", ")),
    };
    out::tell(&format!("billet: interrupted; {what}\n"));
}

/// While it lives, a signal only makes [`came`] true, and its owner ends by himself.
pub(super) struct Asking(());

impl Asking {
    pub fn begin() -> Asking {
        state().asked_for.store(true, Ordering::SeqCst);
        Asking(())
    }
}

impl Drop for Asking {
    fn drop(&mut self) {
        state().asked_for.store(false, Ordering::SeqCst);
    }
}

/// Writes something; a signal waits until it is done. `name` says what is complete then.
pub(super) fn whole<T, E>(name: &str, write: impl FnOnce() -> Result<T, E>) -> Result<T, E> {
    let mut written = state().written();
    let done = write()?;
    let name = plain(name);
    if !written.contains(&name) {
        written.push(name);
    }
    Ok(done)
}
