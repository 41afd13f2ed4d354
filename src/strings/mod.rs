//! Evidence per string, the trained model.
