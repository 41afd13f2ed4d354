//! Linear prediction: what rings goes on as it did, what is struck anew does not.

/// Coefficients that predict a sample from those before it, and the buffers to learn them in.
#[derive(Debug, Clone, Default)]
pub struct Predictor {
    coefficients: Vec<f64>,
    forward: Vec<f64>,
    backward: Vec<f64>,
    old: Vec<f64>,
}

impl Predictor {
    /// Learns the `order` coefficients that predict `sound` best, forward and backward (Burg 1975).
    /// A partial takes two.
    pub fn learn(&mut self, sound: &[f64], order: usize) {
        self.forward.clear();
        self.forward.extend_from_slice(sound);
        let length = self.forward.len();
        self.backward.clear();
        self.backward.extend_from_slice(&self.forward);
        self.coefficients.clear();
        for done in 0..order {
            let (mut cross, mut power) = (0.0, LEAST_POWER);
            for i in done + 1..length {
                let (f, b) = (self.forward[i], self.backward[i - 1]);
                cross += f * b;
                power += f * f + b * b;
            }
            let k = 2.0 * cross / power;
            self.add(k);
            for i in (done + 1..length).rev() {
                let (f, b) = (self.forward[i], self.backward[i - 1]);
                self.forward[i] = f - k * b;
                self.backward[i] = b - k * f;
            }
        }
    }

    /// The coefficients that [`learn`](Self::learn) would find in a sound of which only the products are known.
    pub fn of(sound: &Products) -> Predictor {
        let order = sound.at_lag.len() - 1;
        let mut predictor = Predictor::default();
        for _ in 0..order {
            predictor.add(sound.reflection(&predictor.coefficients));
        }
        predictor
    }

    /// Takes one coefficient more, a reflection.
    fn add(&mut self, k: f64) {
        self.old.clear();
        self.old.extend_from_slice(&self.coefficients);
        for (c, o) in self.coefficients.iter_mut().zip(self.old.iter().rev()) {
            *c -= k * o;
        }
        self.coefficients.push(k);
    }

    /// Square of what prediction leaves of `sound[at]`; `at` is at least the order.
    pub fn error(&self, sound: &[f64], at: usize) -> f64 {
        (sound[at] - self.next(sound, at)).powi(2)
    }

    /// What is to be expected at `at`, by what is before it.
    fn next(&self, sound: &[f64], at: usize) -> f64 {
        let past = sound[at - self.coefficients.len()..at].iter().rev();
        past.zip(&self.coefficients).map(|(s, c)| s * c).sum()
    }
}

/// Tells how many samples at `rate_hz` go into one at about `wanted_hz`.
pub fn thinned_by(rate_hz: f64, wanted_hz: f64) -> usize {
    (rate_hz / wanted_hz).round().max(1.0) as usize
}

/// The sums of every `every` samples: a rate at which few coefficients reach far.
pub fn thinned(samples: &[f32], every: usize) -> Vec<f64> {
    (samples.chunks_exact(every))
        .map(|part| part.iter().map(|s| f64::from(*s)).sum())
        .collect()
}

/// [`thinned`] for a long sound that comes piece by piece.
pub struct Thinner {
    every: usize,
    waiting: Vec<f32>,
}

impl Thinner {
    /// Plans sums of every `every` samples.
    pub fn new(every: usize) -> Self {
        let waiting = Vec::new();
        Thinner { every, waiting }
    }

    /// Takes the next samples and adds the sums that are whole to `out`.
    pub fn push(&mut self, samples: &[f32], out: &mut Vec<f64>) {
        self.waiting.extend_from_slice(samples);
        let whole = self.waiting.len() / self.every * self.every;
        out.extend(thinned(&self.waiting[..whole], self.every));
        self.waiting.drain(..whole);
    }
}

/// What is added to a power by which is divided.
const LEAST_POWER: f64 = 1e-18;
/// A sum of many products is known no better than to this share of what was added.
const ROUNDING: f64 = 1e-14;

/// All that a predictor needs of a sound, gathered piece by piece: the sums of the products of samples that are so
/// many apart, and what lies at both ends (after Vos, "A fast implementation of Burg's method", 2013).
pub struct Products {
    at_lag: Vec<f64>,
    /// The first samples and the last, as many as the order.
    first: Vec<f64>,
    last: Vec<f64>,
    count: usize,
}

impl Products {
    /// Plans a predictor of `order` coefficients.
    pub fn new(order: usize) -> Self {
        Products {
            at_lag: vec![0.0; order + 1],
            first: Vec::new(),
            last: Vec::new(),
            count: 0,
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, sound: &[f64]) {
        let order = self.at_lag.len() - 1;
        let wanted = order - self.first.len();
        self.first.extend(sound.iter().take(wanted));
        let before = self.last.len();
        self.last.extend_from_slice(sound);
        for (lag, sum) in self.at_lag.iter_mut().enumerate() {
            let from = before.max(lag).min(self.last.len());
            let pairs = self.last[from..]
                .iter()
                .zip(&self.last[from - lag.min(from)..]);
            // Summed piece by piece, long sounds lose least to rounding.
            *sum += pairs.map(|(a, b)| a * b).sum::<f64>();
        }
        self.count += sound.len();
        let gone = self.last.len().saturating_sub(order);
        self.last.drain(..gone);
    }

    /// The sum over all places, each with `reach` samples before it, of the products of the samples `one` and `other`
    /// before.
    fn sum(&self, reach: usize, one: usize, other: usize) -> f64 {
        let (apart, back) = (one.abs_diff(other), one.max(other));
        let products = |sound: &[f64]| -> f64 {
            let later = sound.get(apart..).unwrap_or_default();
            sound.iter().zip(later).map(|(a, b)| a * b).sum()
        };
        // Without the pairs that lie too near to an end.
        let begin = &self.first[..reach - back + apart];
        let end = &self.last[self.last.len() - back..];
        self.at_lag[apart] - products(begin) - products(end)
    }

    /// The reflection that predicts best on top of these coefficients.
    fn reflection(&self, coefficients: &[f64]) -> f64 {
        let reach = coefficients.len() + 1;
        if reach >= self.count {
            return 0.0;
        }
        // What is left forward and backward, by the samples up to `reach` before.
        let forward: Vec<f64> = std::iter::once(1.0)
            .chain(coefficients.iter().map(|c| -c))
            .chain([0.0])
            .collect();
        let backward: Vec<f64> = forward.iter().rev().copied().collect();
        let (mut cross, mut power, mut added) = (0.0, LEAST_POWER, 0.0);
        for one in 0..=reach {
            for other in 0..=reach {
                let sum = self.sum(reach, one, other);
                let (f, b) = (forward[one], backward[one]);
                cross += f * backward[other] * sum;
                let more = (f * forward[other] + b * backward[other]) * sum;
                power += more;
                added += more.abs();
            }
        }
        // What is left may be no more than rounding.
        if power < ROUNDING * added {
            return 0.0;
        }
        2.0 * cross / power
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ringing_is_predicted_and_a_new_string_is_not() {
        let ring = |t: f64, hz: f64| (-3.0 * t).exp() * (std::f64::consts::TAU * hz * t).sin();
        let sound: Vec<f64> = (0..2_000)
            .map(|i| {
                let t = f64::from(i) / 8_000.0;
                let new = (t - 0.2).max(0.0);
                ring(t, 110.0) + 0.5 * ring(t, 331.0) + 0.1 * ring(new, 247.0)
            })
            .collect();
        let mut predictor = Predictor::default();
        predictor.learn(&sound[..1_200], 16);
        let largest = |part: std::ops::Range<usize>| {
            part.map(|i| predictor.error(&sound, i)).fold(0.0, f64::max)
        };
        // The new string is 20 dB softer than the old ones; its first millisecond stands out.
        assert!(largest(1_610..1_618) > 1e3 * largest(1_300..1_600));
    }

    #[test]
    fn what_the_products_tell_is_what_the_samples_tell() {
        let sound: Vec<f64> = (0..500).map(|i| f64::from(i * i % 37) - 18.0).collect();
        for length in [0, 1, 5, 8, 9, 10, 60, 500] {
            let mut learned = Predictor::default();
            learned.learn(&sound[..length], 8);
            for piece in [1, 7, 300] {
                let mut products = Products::new(8);
                for piece in sound[..length].chunks(piece) {
                    products.push(piece);
                }
                let of = Predictor::of(&products);
                assert_eq!(of.coefficients.len(), 8);
                for (a, b) in of.coefficients.iter().zip(&learned.coefficients) {
                    assert!((a - b).abs() < 1e-9, "{length} {piece}: {a} {b}");
                }
            }
        }
    }

    #[test]
    fn thinning_takes_sums() {
        let samples = [1.0, 2.0, 3.0, 5.0, 9.0];
        assert_eq!(thinned(&samples, 2), [3.0, 8.0]);
        let (mut thinner, mut out) = (Thinner::new(2), Vec::new());
        samples
            .chunks(3)
            .for_each(|piece| thinner.push(piece, &mut out));
        assert_eq!(out, [3.0, 8.0]);
    }
}
