//! Tries to reach a device of a sound system that may hang.
//!
//! While a server hangs, one try to reach each kind of device waits, and the library is asked only once the server
//! answers. The library gives a hanging server up after two seconds, but leaves a thread and a connection each
//! time.
//!
//! A server that stands still is noticed by waiting alone. Only time that the program has spent waiting counts, and
//! of a nap that took longer than asked for 20 ms at most: where the program is woken late, sound may be late for
//! the same reason.

use std::sync::{Condvar, Mutex, MutexGuard, PoisonError, mpsc};
use std::thread;
use std::time::{Duration, Instant};

use super::device::{DeviceError, Direction};
use super::host;
use crate::words;

/// The tries to reach one kind of device: one at a time. A sound system that hangs so holds one thread and
/// what that has opened, however often it is asked.
pub(super) struct Tries {
    kind: Direction,
    /// When the try began that runs now.
    running: Mutex<Option<Instant>>,
    over: Condvar,
}

impl Tries {
    pub(super) const fn of(kind: Direction) -> Self {
        Tries {
            kind,
            running: Mutex::new(None),
            over: Condvar::new(),
        }
    }

    /// Runs `work` on a thread of its own and waits for it, but no longer than `patience`. Where it takes longer
    /// it is abandoned: what comes of it is dropped. While another try runs, that one is awaited first.
    ///
    /// # Errors
    /// What `work` says; [`DeviceError::Failed`] where it, or a try before it, takes longer than `patience`.
    pub(super) fn run<T: Send + 'static>(
        &'static self,
        patience: Duration,
        work: impl FnOnce() -> Result<T, DeviceError> + Send + 'static,
    ) -> Result<T, DeviceError> {
        let hangs = || DeviceError::Failed {
            kind: self.kind,
            message: words::devices::DOES_NOT_ANSWER.to_owned(),
        };
        let mut running = self.running();
        while let Some(began) = *running {
            let left = patience.saturating_sub(began.elapsed());
            if left.is_zero() {
                return Err(hangs());
            }
            let woken = self.over.wait_timeout(running, left);
            running = woken.unwrap_or_else(PoisonError::into_inner).0;
        }
        *running = Some(Instant::now());
        drop(running);
        let (sender, receiver) = mpsc::channel();
        let over = Over(self);
        thread::spawn(move || {
            host::undisturbed();
            // Before another try begins what this one opened is with who waits for it, or gone.
            let _ = sender.send(work());
            drop(over);
        });
        receiver.recv_timeout(patience).map_err(|_| hangs())?
    }

    fn running(&self) -> MutexGuard<'_, Option<Instant>> {
        self.running.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Says when it is dropped that a try is over, however it ended.
struct Over(&'static Tries);

impl Drop for Over {
    fn drop(&mut self) {
        *self.0.running() = None;
        self.0.over.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicUsize, Ordering};

    /// A device of a sound system that hangs until it is let go; counts who is in it.
    #[derive(Default)]
    struct Hanging {
        inside: AtomicUsize,
        most: AtomicUsize,
        begun: AtomicUsize,
        open: AtomicUsize,
        goes_on: Mutex<bool>,
        told: Condvar,
    }

    struct Opened(Arc<Hanging>);

    impl Drop for Opened {
        fn drop(&mut self) {
            self.0.open.fetch_sub(1, Ordering::SeqCst);
        }
    }

    impl Hanging {
        fn opened(self: &Arc<Self>) -> Result<Opened, DeviceError> {
            self.begun.fetch_add(1, Ordering::SeqCst);
            let inside = self.inside.fetch_add(1, Ordering::SeqCst) + 1;
            self.most.fetch_max(inside, Ordering::SeqCst);
            let mut goes_on = self.goes_on.lock().unwrap();
            while !*goes_on {
                goes_on = self.told.wait(goes_on).unwrap();
            }
            // Whatever an abandoned try opened before is gone by now.
            assert_eq!(self.open.fetch_add(1, Ordering::SeqCst), 0);
            self.inside.fetch_sub(1, Ordering::SeqCst);
            Ok(Opened(self.clone()))
        }

        fn go_on(&self) {
            *self.goes_on.lock().unwrap() = true;
            self.told.notify_all();
        }
    }

    /// Long enough for whatever answers, however busy the computer is.
    const LONG: Duration = Duration::from_secs(600);

    #[test]
    fn while_the_sound_system_hangs_one_try_runs_and_its_result_goes_before_another_begins() {
        static TRIES: Tries = Tries::of(Direction::Microphone);
        let device = Arc::new(Hanging::default());
        let tried = |patience| {
            let device = device.clone();
            TRIES.run(patience, move || device.opened())
        };
        for _ in 0..50 {
            let error = tried(Duration::from_millis(1)).err().unwrap();
            assert!(error.to_string().contains("does not answer"), "{error}");
        }
        thread::scope(|scope| {
            for _ in 0..8 {
                scope.spawn(|| assert!(tried(Duration::from_millis(1)).is_err()));
            }
        });
        assert!(device.begun.load(Ordering::SeqCst) <= 1);
        device.go_on();
        let opened = tried(LONG).unwrap();
        assert_eq!(device.open.load(Ordering::SeqCst), 1);
        assert_eq!(device.most.load(Ordering::SeqCst), 1);
        assert_eq!(device.begun.load(Ordering::SeqCst), 2);
        drop(opened);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn no_signal_reaches_a_thread_that_a_try_starts() {
        use nix::sys::signal::{SigSet, Signal};
        static TRIES: Tries = Tries::of(Direction::Microphone);
        let blocked = TRIES.run(LONG, || {
            let masked = thread::spawn(SigSet::thread_get_mask).join();
            Ok(masked.unwrap().unwrap())
        });
        let blocked = blocked.unwrap();
        for signal in [Signal::SIGCHLD, Signal::SIGINT, Signal::SIGWINCH] {
            assert!(blocked.contains(signal), "{signal}");
        }
        // Only there: who waits for it can still be asked to stop.
        assert!(!SigSet::thread_get_mask().unwrap().contains(Signal::SIGINT));
    }

    #[test]
    fn a_try_that_is_under_way_is_awaited_and_one_that_panics_is_over() {
        static TRIES: Tries = Tries::of(Direction::Loudspeaker);
        let inside = AtomicUsize::new(0);
        let inside: &'static AtomicUsize = Box::leak(Box::new(inside));
        thread::scope(|scope| {
            for _ in 0..8 {
                scope.spawn(|| {
                    TRIES.run(LONG, move || {
                        assert_eq!(inside.fetch_add(1, Ordering::SeqCst), 0);
                        thread::yield_now();
                        inside.fetch_sub(1, Ordering::SeqCst);
                        Ok(())
                    })
                });
            }
        });
        assert!(TRIES.run(LONG, || -> Result<(), _> { panic!() }).is_err());
        assert_eq!(TRIES.run(LONG, || Ok(3)), Ok(3));
    }
}
