//! How much is worked on at once: two quick answers, a settled one, two panels, and a short queue.

use std::collections::{HashMap, VecDeque};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use tokio::sync::{OwnedSemaphorePermit, Semaphore};

/// Most questions that wait.
const MOST_WAITING: usize = 64;
/// Most pages that are told apart; of more the oldest is forgotten.
const MOST_PAGES: usize = 256;
/// Panels worked on at once, and most panels whose results are kept.
const PANELS: usize = 2;
const MOST_PANELS: usize = 16;
/// A panel that nobody has asked after for so long ends: its page is gone.
const UNWATCHED: Duration = Duration::from_secs(30);

/// Why a question is not worked on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Declined {
    /// Too much is waiting.
    Busy,
    /// The same page has asked something newer.
    Superseded,
}

/// Sorts of questions.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sort {
    /// A quick run, or no run at all.
    Quick,
    /// A run and times at the resolution of the file.
    Settled,
    /// The report of the same.
    Report,
}

/// What may be worked on.
pub(super) struct Desk {
    quick: Arc<Semaphore>,
    /// Settled answers wait for each other, so that quick ones do not wait for them.
    settled: Arc<Semaphore>,
    /// How many wait.
    waiting: AtomicU64,
    newest: Mutex<(HashMap<String, u64>, VecDeque<String>)>,
    panels: Mutex<VecDeque<Arc<Work>>>,
    next: AtomicU64,
}

/// A place at the desk; given back when it goes. It belongs to the work, which goes on where nobody waits for it any more.
pub(super) struct Seat(#[allow(dead_code)] OwnedSemaphorePermit);

/// A question that waits. A connection that breaks off drops it, so it is counted for no longer than it is there.
struct Waiting<'a>(&'a AtomicU64);

impl Drop for Waiting<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::SeqCst);
    }
}

impl Desk {
    pub fn new() -> Desk {
        Desk {
            quick: Arc::new(Semaphore::new(2)),
            settled: Arc::new(Semaphore::new(1)),
            waiting: AtomicU64::new(0),
            newest: Mutex::default(),
            panels: Mutex::default(),
            next: AtomicU64::new(1),
        }
    }

    /// Waits for a place; a newer question of the same page and kind takes the place of one that waits. Pages without a
    /// name have only newest questions.
    pub async fn seat(&self, page: &str, kind: Sort) -> Result<Seat, Declined> {
        let before = self.waiting.fetch_add(1, Ordering::SeqCst);
        let waiting = Waiting(&self.waiting);
        if before >= MOST_WAITING as u64 {
            return Err(Declined::Busy);
        }
        let turn = self.next.fetch_add(1, Ordering::SeqCst);
        let asker = (!page.is_empty()).then(|| format!("{page} {kind:?}"));
        if let Some(asker) = &asker {
            self.note(asker, turn);
        }
        let free = match kind {
            Sort::Quick => &self.quick,
            Sort::Settled | Sort::Report => &self.settled,
        };
        let permit = free.clone().acquire_owned().await;
        drop(waiting);
        match permit {
            Ok(_) if asker.is_some_and(|asker| self.newest_of(&asker) > turn) => Err(Declined::Superseded),
            Ok(permit) => Ok(Seat(permit)),
            Err(_) => Err(Declined::Busy),
        }
    }

    /// Free places.
    #[cfg(test)]
    pub fn free(&self) -> usize {
        self.quick.available_permits() + self.settled.available_permits()
    }

    fn note(&self, page: &str, turn: u64) {
        let mut newest = self.newest.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        if newest.0.insert(page.to_owned(), turn).is_none() {
            newest.1.push_back(page.to_owned());
        }
        if newest.1.len() > MOST_PAGES
            && let Some(oldest) = newest.1.pop_front()
        {
            newest.0.remove(&oldest);
        }
    }

    fn newest_of(&self, page: &str) -> u64 {
        let newest = self.newest.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        newest.0.get(page).copied().unwrap_or(0)
    }

    /// Takes up the work of a panel; `None` where as many are in work as may be.
    pub fn take_up(&self) -> Option<Arc<Work>> {
        let mut panels = self.panels.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        if panels.iter().filter(|work| !work.is_done()).count() >= PANELS {
            return None;
        }
        let work = Arc::new(Work {
            number: self.next.fetch_add(1, Ordering::SeqCst),
            done: AtomicU64::new(0),
            of: AtomicU64::new(0),
            asked: Mutex::new(Instant::now()),
            cancelled: AtomicBool::new(false),
            result: Mutex::new(None),
        });
        panels.push_front(work.clone());
        panels.truncate(MOST_PANELS);
        Some(work)
    }

    /// The work of a number.
    pub fn work(&self, number: u64) -> Option<Arc<Work>> {
        let panels = self.panels.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        panels.iter().find(|work| work.number == number).cloned()
    }
}

/// The work of a panel.
pub(super) struct Work {
    pub number: u64,
    done: AtomicU64,
    of: AtomicU64,
    /// When a page asked after it last.
    asked: Mutex<Instant>,
    cancelled: AtomicBool,
    result: Mutex<Option<Result<String, String>>>,
}

impl Work {
    /// How far it is: done, of.
    pub fn progress(&self) -> (u64, u64) {
        (self.done.load(Ordering::Relaxed), self.of.load(Ordering::Relaxed))
    }

    /// Says how far it is; `false` when it is to end.
    pub fn at(&self, done: u64, of: u64) -> bool {
        self.done.store(done, Ordering::Relaxed);
        self.of.store(of, Ordering::Relaxed);
        self.goes_on(Instant::now())
    }

    /// Notes that a page asks after it.
    pub fn watched(&self) {
        *self.asked.lock().unwrap_or_else(|poisoned| poisoned.into_inner()) = Instant::now();
    }

    /// Whether it is to go on: nobody has cancelled it, and a page still asks after it.
    pub fn goes_on(&self, now: Instant) -> bool {
        let asked = *self.asked.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        if now.saturating_duration_since(asked) > UNWATCHED {
            self.cancel();
        }
        !self.is_cancelled()
    }

    pub fn cancel(&self) {
        self.cancelled.store(true, Ordering::SeqCst);
    }

    pub fn is_cancelled(&self) -> bool {
        self.cancelled.load(Ordering::SeqCst)
    }

    pub fn end(&self, result: Result<String, String>) {
        *self.result.lock().unwrap_or_else(|poisoned| poisoned.into_inner()) = Some(result);
    }

    pub fn result(&self) -> Option<Result<String, String>> {
        self.result
            .lock()
            .unwrap_or_else(|poisoned| poisoned.into_inner())
            .clone()
    }

    pub fn is_done(&self) -> bool {
        self.result
            .lock()
            .unwrap_or_else(|poisoned| poisoned.into_inner())
            .is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_newer_question_takes_the_place_of_one_that_waits() {
        let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
        runtime.block_on(async {
            let desk = Desk::new();
            let (first, second) = (desk.seat("a", Sort::Quick).await, desk.seat("b", Sort::Quick).await);
            let (third, fourth) = (desk.seat("c", Sort::Quick), desk.seat("c", Sort::Quick));
            let free = async {
                tokio::task::yield_now().await;
                drop((first, second));
            };
            let (third, fourth, ()) = join(third, fourth, free).await;
            assert_eq!(third.err(), Some(Declined::Superseded));
            assert!(fourth.is_ok());
        });
    }

    #[test]
    fn no_more_waits_than_may() {
        let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
        runtime.block_on(async {
            let desk = Desk::new();
            desk.waiting.store(MOST_WAITING as u64, Ordering::SeqCst);
            assert_eq!(desk.seat("a", Sort::Quick).await.err(), Some(Declined::Busy));
            assert_eq!(desk.waiting.load(Ordering::SeqCst), MOST_WAITING as u64);
        });
        let desk = Desk::new();
        let works: Vec<_> = (0..PANELS).filter_map(|_| desk.take_up()).collect();
        assert!(desk.take_up().is_none());
        works[0].end(Ok(String::new()));
        assert!(desk.take_up().is_some());
    }

    /// A browser that closes its page breaks off what waits for it.
    #[test]
    fn what_is_broken_off_waits_no_longer() {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        runtime.block_on(async {
            let desk = Desk::new();
            let seat = desk.seat("a", Sort::Settled).await;
            for _ in 0..MOST_WAITING + 6 {
                let waits = desk.seat("b", Sort::Settled);
                assert!(tokio::time::timeout(Duration::from_millis(1), waits).await.is_err());
            }
            assert_eq!(desk.waiting.load(Ordering::SeqCst), 0);
            drop(seat);
            assert!(desk.seat("c", Sort::Quick).await.is_ok());
        });
    }

    #[test]
    fn a_panel_that_nobody_watches_ends() {
        let work = Desk::new().take_up().unwrap();
        let begin = Instant::now();
        assert!(work.at(1, 2) && work.goes_on(begin + UNWATCHED / 2));
        work.watched();
        assert!(work.goes_on(begin + UNWATCHED));
        assert!(!work.goes_on(Instant::now() + 2 * UNWATCHED));
        assert!(work.is_cancelled() && !work.at(2, 2));
    }

    /// Three futures at once, polled in turn.
    async fn join<A: Future, B: Future, C: Future>(a: A, b: B, c: C) -> (A::Output, B::Output, C::Output) {
        let (mut a, mut b, mut c) = (Box::pin(a), Box::pin(b), Box::pin(c));
        let (mut x, mut y, mut z) = (None, None, None);
        std::future::poll_fn(move |cx| {
            use std::task::Poll;
            macro_rules! poll {
                ($out:ident, $future:ident) => {
                    if $out.is_none()
                        && let Poll::Ready(value) = $future.as_mut().poll(cx)
                    {
                        $out = Some(value);
                    }
                };
            }
            poll!(x, a);
            poll!(y, b);
            poll!(z, c);
            match (x.take(), y.take(), z.take()) {
                (Some(x), Some(y), Some(z)) => Poll::Ready((x, y, z)),
                (p, q, r) => {
                    (x, y, z) = (p, q, r);
                    Poll::Pending
                }
            }
        })
        .await
    }
}
