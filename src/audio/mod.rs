//! Files in and out, resampling. Knows no guitar.
