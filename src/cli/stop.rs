//! Being asked to stop: by Ctrl-C, or by the system.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::flag;

use super::NOT_JUDGED;

/// Word that this program was asked to stop since this was made; it then has to do so by itself.
pub struct Stop(Arc<AtomicBool>);

impl Stop {
    /// # Errors
    /// Where the system does not let signals be caught.
    pub fn new() -> io::Result<Stop> {
        let asked = Arc::new(AtomicBool::new(false));
        for signal in [SIGINT, SIGTERM] {
            // Who asks twice does not want to wait for what is still to be judged and kept.
            flag::register_conditional_shutdown(signal, NOT_JUDGED.into(), asked.clone())?;
            flag::register(signal, asked.clone())?;
        }
        Ok(Stop(asked))
    }

    pub fn is_asked(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}
