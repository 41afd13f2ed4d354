//! Products of matrices.

/// A matrix in a slice: it begins at the slice's start.
pub struct Matrix<'a> {
    pub values: &'a [f32],
    /// Steps from row to row and from column to column, in numbers.
    pub row: usize,
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
