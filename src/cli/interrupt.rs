//! Ctrl-C during long work: the first stops it in good order, the second at once.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Exit status of a program that Ctrl-C ended, by the custom of shells (128 + SIGINT).
const ENDED: i32 = 130;

/// Whether the user asked to stop.
pub(super) struct Interrupt(Arc<AtomicBool>);

impl Interrupt {
    /// Watches for Ctrl-C from now on. Where the system refuses a handler, Ctrl-C ends the program as
    /// usual.
    pub fn watch() -> Interrupt {
        let asked = Arc::new(AtomicBool::new(false));
        let seen = asked.clone();
        let _ = ctrlc::set_handler(move || {
            if seen.swap(true, Ordering::SeqCst) {
                std::process::exit(ENDED);
            }
        });
        Interrupt(asked)
    }

    /// Whether it came.
    pub fn came(&self) -> bool {
        self.0.load(Ordering::SeqCst)
    }
}
