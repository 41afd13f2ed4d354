//! Windows, FFT plans, chroma, partials of a stiff string. Knows no guitar.
