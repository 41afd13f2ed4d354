//! Networks trained without one guitar each: what the program says of a guitar that it never heard is measured by them.

use std::path::{Path, PathBuf};

use super::{Learnt, Network, Networks, buzz, shared};
use crate::layers::NetworkError;
use crate::words;

impl Networks {
    /// Reads those that never heard guitar number `guitar`, from where `scripts/accuracy` has them trained: a file's name ends
    /// with the numbers of all that its network never heard, as in `strums.1,9.safetensors`.
    ///
    /// # Errors
    /// When a file is missing, cannot be read or is no network of this version.
    pub fn without(guitar: usize, folder: &Path) -> std::io::Result<Self> {
        let read = |name: &str| std::fs::read(left_out(guitar, name, folder)?);
        let other = |e: NetworkError| std::io::Error::new(std::io::ErrorKind::InvalidData, e);
        let strums = Network::read(&read("strums")?).map_err(other)?;
        let strokes = Network::read(&read("strokes")?).map_err(other)?;
        let buzz = buzz::Network::read(&read("buzz")?).map_err(other)?;
        Ok(Networks {
            strums: shared(|| strums),
            strokes: shared(|| strokes),
            buzz: shared(|| buzz),
            learnt: Learnt::default(),
        })
    }
}

/// The file of a network called `name` that never heard a guitar.
fn left_out(guitar: usize, name: &str, folder: &Path) -> std::io::Result<PathBuf> {
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        let file = path.file_name().and_then(|f| f.to_str()).unwrap_or("");
        let numbers = (file.strip_prefix(name).and_then(|f| f.strip_prefix('.')))
            .and_then(|f| f.strip_suffix(".safetensors"));
        if numbers.is_some_and(|n| n.split(',').any(|n| n.parse() == Ok(guitar))) {
            return Ok(path);
        }
    }
    Err(std::io::Error::new(
        std::io::ErrorKind::NotFound,
        words::networks::not_without_guitar(folder.display(), name, guitar),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_network_is_found_by_any_guitar_that_it_never_heard() {
        let folder = tempfile::tempdir().unwrap();
        for file in [
            "strums.1,9.safetensors",
            "strums.10.safetensors",
            "strums.0.safetensors.part",
            "strums.0",
            "buzz.0.safetensors",
        ] {
            std::fs::write(folder.path().join(file), "").unwrap();
        }
        let name = |guitar| {
            let path = left_out(guitar, "strums", folder.path());
            path.map(|p| p.file_name().unwrap().to_owned())
        };
        assert_eq!(name(9).unwrap(), "strums.1,9.safetensors");
        assert_eq!(name(10).unwrap(), "strums.10.safetensors");
        assert_eq!(name(0).unwrap_err().kind(), std::io::ErrorKind::NotFound);
    }
}
