//! Products of matrices.

/// A matrix in a slice: it begins at the slice's start.
pub struct Matrix<'a> {
    /// Numbers of the matrix, from its first row's first column on.
    pub values: &'a [f32],
    /// Steps from row to row and from column to column, in numbers.
    pub row: usize,
    /// Step from column to column, in numbers.
    pub column: usize,
}

/// Adds `scale` times the product of `a`, `rows` times `inner`, and `b`, `inner` times `columns`, to the matrix
/// in `into`, whose rows lie one after the other, so many numbers apart.
///
/// # Panics
/// When a matrix reaches beyond its slice, or nothing is summed (`inner` is 0).
pub fn add_product(
    (rows, inner, columns): (usize, usize, usize),
    a: Matrix,
    b: Matrix,
    scale: f32,
    into: (&mut [f32], usize),
) {
    if rows == 0 || columns == 0 {
        return;
    }
    let last = |m: &Matrix, r: usize, c: usize| (r - 1) * m.row + (c - 1) * m.column;
    assert!(last(&a, rows, inner) < a.values.len() && last(&b, inner, columns) < b.values.len());
    assert!((rows - 1) * into.1 + columns <= into.0.len());
    // SAFETY: the asserts hold every element that is read or written within its slice.
    unsafe {
        gemm::gemm(
            rows,
            columns,
            inner,
            into.0.as_mut_ptr(),
            1,
            into.1 as isize,
            true,
            a.values.as_ptr(),
            a.column as isize,
            a.row as isize,
            b.values.as_ptr(),
            b.column as isize,
            b.row as isize,
            1.0,
            scale,
            false,
            false,
            false,
            gemm::Parallelism::None,
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn products_are_the_plain_sums_whatever_their_shape_and_steps() {
        let number = |i: usize| (i * i % 23) as f32 / 23.0 - 0.5;
        for shape in [(1, 1, 1), (7, 24, 203), (203, 203, 24), (30, 128, 32)] {
            let (rows, inner, columns) = shape;
            // `a` within wider rows, `b` column by column, the product within wider rows.
            let a: Vec<f32> = (0..rows * 3 * inner).map(number).collect();
            let b: Vec<f32> = (0..columns * inner).map(|i| number(i + 5)).collect();
            let step = columns + 2;
            let mut sums = vec![1.0; rows * step];
            let of_a = Matrix {
                values: &a,
                row: 3 * inner,
                column: 1,
            };
            let of_b = Matrix {
                values: &b,
                row: 1,
                column: inner,
            };
            add_product(shape, of_a, of_b, 0.5, (&mut sums, step));
            for (at, sum) in sums.iter().enumerate() {
                let (row, column) = (at / step, at % step);
                let products = (0..inner)
                    .filter(|_| column < columns)
                    .map(|k| f64::from(a[row * 3 * inner + k]) * f64::from(b[column * inner + k]));
                let expected = 1.0 + 0.5 * products.sum::<f64>();
                let off = f64::from(*sum) - expected;
                assert!(off.abs() < 1e-5, "{off} at {at} of {shape:?}");
            }
        }
    }
}
