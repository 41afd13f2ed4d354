//! Pictures as files: PNG or SVG, by the ending of the name.

use std::path::Path;

use anyhow::bail;

use crate::disk::{self, DiskError};
use crate::report::plot::Drawing;

/// The two kinds of file.
#[derive(Debug, Clone, Copy)]
pub enum Form {
    Png,
    Svg,
}

impl Form {
    /// The form that a file's name asks for.
    ///
    /// # Errors
    /// Another ending, as a sentence that names the option.
    pub fn of(option: &str, file: &Path) -> anyhow::Result<Form> {
        let ending = file.extension().unwrap_or_default().to_string_lossy();
        match ending.to_lowercase().as_str() {
            "png" => Ok(Form::Png),
            "svg" => Ok(Form::Svg),
            _ => bail!(
                "{option}: a name that ends in .png or .svg was expected, as in take.png; {:?} does not",
                file.display().to_string()
            ),
        }
    }

    /// Writes a picture.
    ///
    /// # Errors
    /// A file that cannot be written, as a sentence.
    pub fn write(self, drawing: &Drawing, file: &Path) -> Result<(), DiskError> {
        let bytes = match self {
            Form::Png => drawing.png(),
            Form::Svg => drawing.svg().into_bytes(),
        };
        disk::write_bytes(file, &bytes)
    }
}
