//! Linear prediction: what rings goes on as it did, what is struck anew does not.

/// Coefficients that predict a sample from those before it, and the buffers to learn them in.
#[derive(Debug, Default)]
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
        self.learn_forward(order);
    }

    /// Learns from a long sound once: it is used up, and no buffers are kept.
    pub fn of(sound: Vec<f64>, order: usize) -> Predictor {
        let mut predictor = Predictor {
            forward: sound,
            ..Predictor::default()
        };
        predictor.learn_forward(order);
        Predictor {
            coefficients: predictor.coefficients,
            ..Predictor::default()
        }
    }

    fn learn_forward(&mut self, order: usize) {
        let length = self.forward.len();
        self.backward.clear();
        self.backward.extend_from_slice(&self.forward);
        self.coefficients.clear();
        for done in 0..order {
            let (mut cross, mut power) = (0.0, 1e-18);
            for i in done + 1..length {
                let (f, b) = (self.forward[i], self.backward[i - 1]);
                cross += f * b;
                power += f * f + b * b;
            }
            let k = 2.0 * cross / power;
            self.old.clear();
            self.old.extend_from_slice(&self.coefficients);
            for (c, o) in self.coefficients.iter_mut().zip(self.old.iter().rev()) {
                *c -= k * o;
            }
            self.coefficients.push(k);
            for i in (done + 1..length).rev() {
                let (f, b) = (self.forward[i], self.backward[i - 1]);
                self.forward[i] = f - k * b;
                self.backward[i] = b - k * f;
            }
        }
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

/// How many samples at `rate_hz` go into one at about `wanted_hz`.
pub fn thinned_by(rate_hz: f64, wanted_hz: f64) -> usize {
    (rate_hz / wanted_hz).round().max(1.0) as usize
}

/// The sums of every `every` samples: a rate at which few coefficients reach far.
pub fn thinned(samples: &[f32], every: usize) -> Vec<f64> {
    (samples.chunks_exact(every))
        .map(|part| part.iter().map(|s| f64::from(*s)).sum())
        .collect()
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
    fn what_is_learned_once_is_what_is_learned_again_and_again() {
        let sound: Vec<f64> = (0..500).map(|i| f64::from(i * i % 37) - 18.0).collect();
        let mut predictor = Predictor::default();
        predictor.learn(&sound[..300], 8);
        predictor.learn(&sound, 8);
        let once = Predictor::of(sound.clone(), 8);
        assert_eq!(once.coefficients, predictor.coefficients);
        assert_eq!(once.forward.capacity() + once.backward.capacity(), 0);
    }

    #[test]
    fn thinning_takes_sums() {
        assert_eq!(thinned(&[1.0, 2.0, 3.0, 5.0, 9.0], 2), [3.0, 8.0]);
    }
}
