//! Evidence per string, the trained model.

pub mod evidence;
mod fit;
mod spectra;
mod stiffness;

pub use fit::Fit;
pub use spectra::{Moments, Spectra};
