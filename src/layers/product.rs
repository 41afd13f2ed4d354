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

impl Matrix<'_> {
    /// Whether so many rows and columns, at least one of each, lie within the slice.
    fn holds(&self, rows: usize, columns: usize) -> bool {
        reach((rows, self.row), (columns, self.column)).is_some_and(|end| end <= self.values.len())
    }
}

/// Numbers from a matrix's first to its last, both counted, given how many rows and columns it has and the
/// steps from one to the next. `None` where there is none, or more than a slice can hold.
fn reach(rows: (usize, usize), columns: (usize, usize)) -> Option<usize> {
    let last = |(count, step): (usize, usize)| count.checked_sub(1)?.checked_mul(step);
    let end = last(rows)?.checked_add(last(columns)?)?.checked_add(1)?;
    (rows.1 <= MOST_STEP && columns.1 <= MOST_STEP).then_some(end)
}

/// Longest step, in numbers: the kernel counts in steps ahead, where no row or column may be, and some
/// thousand of these are still a distance that it can hold.
const MOST_STEP: usize = usize::MAX >> 13;

/// Adds `scale` times the product of `a`, `rows` times `inner`, and `b`, `inner` times `columns`, to the matrix
/// in `into`, whose rows lie one after the other, so many numbers apart. Does nothing without rows or columns.
///
/// # Panics
/// When a matrix reaches beyond its slice, a step is longer than a memory is large, rows of `into` lie over each
/// other, or nothing is summed (`inner` is 0).
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
    assert!(inner > 0, "a product sums over at least one number");
    assert!(
        a.holds(rows, inner),
        "the first matrix lies within its slice"
    );
    assert!(
        b.holds(inner, columns),
        "the second matrix lies within its slice"
    );
    assert!(
        reach((rows, into.1), (columns, 1)).is_some_and(|end| end <= into.0.len()),
        "the product lies within its slice"
    );
    assert!(
        rows == 1 || columns <= into.1,
        "rows of the product lie beside each other"
    );
    // SAFETY: the asserts hold every element that is read or written within its slice, and no two elements of
    // the product at one place.
    unsafe {
        // The kernel writes columns that lie one after the other, so all three are handed over transposed.
        gemm_f32::gemm::f32::get_gemm_fn()(
            columns,
            rows,
            inner,
            into.0.as_mut_ptr(),
            into.1 as isize,
            1,
            true,
            b.values.as_ptr(),
            b.row as isize,
            b.column as isize,
            a.values.as_ptr(),
            a.row as isize,
            a.column as isize,
            1.0,
            scale,
            false,
            false,
            false,
            gemm_common::Parallelism::None,
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

    /// What becomes of steps that no matrix has.
    fn product(
        shape: (usize, usize, usize),
        (a, b): ((usize, usize), (usize, usize)),
        step: usize,
    ) -> std::thread::Result<()> {
        std::panic::catch_unwind(|| {
            let numbers = [1.0; 16];
            let mut sums = [0.0; 16];
            let of = |(row, column)| Matrix {
                values: &numbers,
                row,
                column,
            };
            add_product(shape, of(a), of(b), 1.0, (&mut sums, step));
        })
    }

    #[test]
    fn absurd_steps_and_sizes_panic_before_anything_is_read() {
        const HALF: usize = usize::MAX / 2 + 1;
        let (fine, most) = (((2, 1), (2, 1)), usize::MAX);
        assert!(product((2, 2, 2), fine, 2).is_ok());
        for (shape, steps, step) in [
            // Two times half of all numbers come to nothing where the sum wraps around.
            ((3, 2, 2), ((HALF, 1), (2, 1)), 2),
            ((2, 3, 2), ((3, HALF), (2, 1)), 2),
            ((2, 3, 2), ((3, 1), (HALF, 1)), 2),
            ((2, 2, 3), ((2, 1), (1, HALF)), 3),
            ((3, 2, 2), fine, HALF),
            ((2, 2, 2), ((most, 1), (2, 1)), 2),
            ((2, 2, 2), ((most, most), (2, 1)), 2),
            ((1, 2, 2), ((most, 1), (2, 1)), 2),
            ((1, 2, 2), fine, most),
            ((1, 2, 2), fine, HALF),
            ((most, 1, 1), ((0, 0), (1, 1)), 0),
            ((2, 2, 2), fine, 1),
            ((2, 0, 2), fine, 2),
            ((2, 2, 2), ((15, 1), (2, 1)), 2),
        ] {
            assert!(
                product(shape, steps, step).is_err(),
                "{shape:?} {steps:?} {step}"
            );
        }
    }
}
