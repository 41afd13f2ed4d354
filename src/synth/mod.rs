//! Sounds whose truth is known.
