//! Pictures as files: PNG or SVG, by the ending of the name.

use std::path::Path;

use anyhow::bail;

use crate::disk::{self, DiskError};
use crate::report::plot::Drawing;
use crate::words;

/// Endings that promise a form of file that people know.
const KNOWN: [&str; 15] = [
    "wav", "flac", "mp3", "m4a", "ogg", "opus", "mid", "html", "htm", "pdf", "png", "svg", "csv",
    "json", "txt",
];

/// Checks that a file's name does not promise another form than it gets; `endings`, the first one proposed, are those of
/// what is written.
///
/// # Errors
/// A name that does, as a sentence that names the option.
pub fn check_ending(option: &str, file: &Path, endings: &[&str]) -> anyhow::Result<()> {
    let ending = file.extension().unwrap_or_default().to_string_lossy();
    let ending = ending.to_lowercase();
    if KNOWN.contains(&ending.as_str()) && !endings.contains(&ending.as_str()) {
        bail!(words::commands::wrong_ending(
            option,
            &ending,
            endings[0],
            file.display().to_string()
        ));
    }
    Ok(())
}

/// The two kinds of file.
#[derive(Debug, Clone, Copy)]
pub enum PictureFormat {
    Png,
    Svg,
}

impl PictureFormat {
    /// The form that a file's name asks for.
    ///
    /// # Errors
    /// Another ending, as a sentence that names the option.
    pub fn of(option: &str, file: &Path) -> anyhow::Result<PictureFormat> {
        let ending = file.extension().unwrap_or_default().to_string_lossy();
        match ending.to_lowercase().as_str() {
            "png" => Ok(PictureFormat::Png),
            "svg" => Ok(PictureFormat::Svg),
            _ => bail!(words::commands::picture_ending(
                option,
                file.display().to_string()
            )),
        }
    }

    /// Writes a picture.
    ///
    /// # Errors
    /// A file that cannot be written, as a sentence.
    pub fn write(self, drawing: &Drawing, file: &Path) -> Result<(), DiskError> {
        let bytes = match self {
            PictureFormat::Png => drawing.png(),
            PictureFormat::Svg => drawing.svg().into_bytes(),
        };
        disk::write_bytes(file, &bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_promises_another_form_is_refused_and_any_other_name_taken() {
        for good in ["a.wav", "A.WAV", "a", "take.2", "a.tape"] {
            assert!(
                check_ending("--out", Path::new(good), &["wav"]).is_ok(),
                "{good}"
            );
        }
        let error = check_ending("--out", Path::new("a.mp3"), &["wav"]).unwrap_err();
        assert!(
            error.to_string().contains("a name that ends in .wav"),
            "{error}"
        );
        assert!(check_ending("--out", Path::new("week.pdf"), &["html", "htm"]).is_err());
    }
}
