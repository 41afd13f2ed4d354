//! Normal equations whose unknowns touch only their neighbours in frequency.

use realfft::num_complex::Complex64;

/// Smallest pivot, in parts of the diagonal: leaving far entries out can make a matrix indefinite.
const LEAST_PIVOT: f64 = 1e-6;

/// A Hermitian matrix: of each row what lies from its first entry to the diagonal (George and Liu,
/// "Computer Solution of Large Sparse Positive Definite Systems", 1981: the envelope method).
pub struct System {
    first: Vec<usize>,
    rows: Vec<Vec<Complex64>>,
}

impl System {
    /// For unknowns at `hz`, ascending; `entry` gives the one in a row and a column at or before it, and
    /// is told how far apart they are. Those at `reach_hz` and beyond are 0.
    pub fn new(
        hz: &[f64],
        reach_hz: f64,
        entry: impl Fn(usize, usize, f64) -> Complex64,
    ) -> System {
        let mut system = System {
            first: Vec::with_capacity(hz.len()),
            rows: Vec::with_capacity(hz.len()),
        };
        let mut first = 0;
        for i in 0..hz.len() {
            while hz[i] - hz[first] >= reach_hz {
                first += 1;
            }
            system.first.push(first);
            let row = (first..=i).map(|j| entry(i, j, hz[i] - hz[j]));
            system.rows.push(row.collect());
        }
        system
    }

    /// Cholesky's factor L, in place: the matrix is L L^H.
    pub fn factor(&mut self) {
        for i in 0..self.rows.len() {
            let (before, rest) = self.rows.split_at_mut(i);
            let row = &mut rest[0];
            let first = self.first[i];
            for j in first..i {
                let (other, from) = (&before[j], self.first[j].max(first));
                let (a, b) = (
                    &row[from - first..j - first],
                    &other[from - self.first[j]..],
                );
                let sum: Complex64 = a.iter().zip(b).map(|(x, y)| x * y.conj()).sum();
                row[j - first] = (row[j - first] - sum) / b[j - from].re;
            }
            let (last, others) = row.split_last_mut().expect("a row has its diagonal");
            let sum: f64 = others.iter().map(Complex64::norm_sqr).sum();
            let pivot = (last.re - sum)
                .max(LEAST_PIVOT * last.re)
                .max(f64::MIN_POSITIVE);
            *last = Complex64::new(pivot.sqrt(), 0.0);
        }
    }

    fn diagonal(&self, i: usize) -> f64 {
        self.rows[i].last().expect("a row has its diagonal").re
    }

    /// Puts the solution in the place of the right side. After [`Self::factor`].
    pub fn solve(&self, b: &mut [Complex64]) {
        for i in 0..b.len() {
            let row = &self.rows[i];
            let known = &b[self.first[i]..i];
            let sum: Complex64 = row.iter().zip(known).map(|(l, x)| l * x).sum();
            b[i] = (b[i] - sum) / self.diagonal(i);
        }
        for i in (0..b.len()).rev() {
            let x = b[i] / self.diagonal(i);
            b[i] = x;
            let known = &mut b[self.first[i]..i];
            known
                .iter_mut()
                .zip(&self.rows[i])
                .for_each(|(b, l)| *b -= l.conj() * x);
        }
    }

    /// Column `i` of the inverse of L from row `i` on: two columns' product is an entry of the whole
    /// inverse. After [`Self::factor`].
    pub fn half_column(&self, i: usize) -> Vec<Complex64> {
        let mut column = vec![Complex64::default(); self.rows.len() - i];
        column[0] = Complex64::new(1.0 / self.diagonal(i), 0.0);
        for k in i + 1..self.rows.len() {
            let from = self.first[k].max(i);
            if from >= k {
                continue;
            }
            let row = &self.rows[k][from - self.first[k]..];
            let known = &column[from - i..k - i];
            let sum: Complex64 = row.iter().zip(known).map(|(l, x)| l * x).sum();
            column[k - i] = -sum / self.diagonal(k);
        }
        column
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A banded positive definite matrix of seven.
    fn entry(i: usize, j: usize, apart: f64) -> Complex64 {
        if i == j {
            Complex64::new(4.0 + i as f64, 0.0)
        } else {
            Complex64::new(1.0 / (1.0 + apart), 0.3 * (i * j) as f64 / 10.0)
        }
    }

    #[test]
    fn a_system_is_solved_and_its_inverse_read() {
        let hz = [0.0, 1.0, 1.5, 3.0, 3.5, 5.0, 9.0];
        let reach = 2.5;
        let full = |i: usize, j: usize| {
            let (a, b) = (i.max(j), i.min(j));
            let apart = hz[a] - hz[b];
            let e = if apart < reach {
                entry(a, b, apart)
            } else {
                Complex64::default()
            };
            if i >= j { e } else { e.conj() }
        };
        let mut system = System::new(&hz, reach, entry);
        system.factor();
        let mut inverse = vec![vec![Complex64::default(); hz.len()]; hz.len()];
        for k in 0..hz.len() {
            let mut b = vec![Complex64::default(); hz.len()];
            b[k] = Complex64::new(1.0, 0.0);
            system.solve(&mut b);
            for i in 0..hz.len() {
                let back: Complex64 = (0..hz.len()).map(|j| full(i, j) * b[j]).sum();
                let wanted = if i == k { 1.0 } else { 0.0 };
                assert!((back - wanted).norm() < 1e-12, "{i} {k}: {back}");
                inverse[i][k] = b[i];
            }
        }
        for a in 0..hz.len() {
            for b in a..hz.len() {
                let (x, y) = (system.half_column(a), system.half_column(b));
                let product: Complex64 = x[b - a..].iter().zip(&y).map(|(x, y)| x.conj() * y).sum();
                assert!((product - inverse[a][b]).norm() < 1e-12);
            }
        }
    }
}
