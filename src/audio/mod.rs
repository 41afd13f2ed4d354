//! Files in and out, resampling. Knows no guitar.
pub fn read_all(path: &std::path::Path) -> anyhow::Result<Vec<f32>> {
    let mut r = claxon::FlacReader::open(path)?;
    let bits = r.streaminfo().bits_per_sample;
    let k = 1.0 / (1u32 << (bits - 1)) as f32;
    Ok(r.samples()
        .map(|s| s.map(|s| s as f32 * k))
        .collect::<Result<_, _>>()?)
}
