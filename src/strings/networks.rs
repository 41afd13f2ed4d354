//! Both trained networks: what became of the strings, and which one buzzes.

use std::path::Path;

use super::{Network, buzz};
use crate::layers::NetworkError;

/// What a strum is judged by.
#[derive(Debug, Clone)]
pub struct Networks {
    pub strings: Network,
    pub buzz: buzz::Network,
}

impl Networks {
    /// Those built into the program.
    pub fn built_in() -> Self {
        Networks {
            strings: Network::built_in(),
            buzz: buzz::Network::built_in(),
        }
    }

    /// Those that never heard guitar number `guitar`, from where `scripts/accuracy` has them trained.
    ///
    /// # Errors
    /// When a file cannot be read or is no network of this version.
    pub fn without(guitar: usize, folder: &Path) -> std::io::Result<Self> {
        let read = |name: &str| std::fs::read(folder.join(format!("{name}.{guitar}")));
        let other = |e: NetworkError| std::io::Error::new(std::io::ErrorKind::InvalidData, e);
        Ok(Networks {
            strings: Network::read(&read("without")?).map_err(other)?,
            buzz: buzz::Network::read(&read("buzz")?).map_err(other)?,
        })
    }
}
