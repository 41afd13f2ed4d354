//! Named numbers in order, and the means that they are made of.

use std::fmt::Display;

/// Named numbers, in order.
pub(super) struct Sheet {
    pub(super) names: Option<Vec<String>>,
    pub(super) values: Vec<f32>,
}

impl Sheet {
    /// A name is only written out where names are asked for: give `format_args!`, not `format!`.
    pub(super) fn put(&mut self, name: impl Display, value: f32) {
        if let Some(names) = &mut self.names {
            names.push(name.to_string());
        }
        self.values.push(value);
    }

    pub(super) fn put_numbered(&mut self, name: impl Display, n: usize, value: f32) {
        self.put(format_args!("{name}_{n}"), value);
    }
}

pub(super) fn mean(values: &[f32]) -> f32 {
    if values.is_empty() {
        f32::NAN
    } else {
        values.iter().sum::<f32>() / values.len() as f32
    }
}

pub(super) fn median(values: &mut [f32]) -> f32 {
    if values.is_empty() {
        return f32::NAN;
    }
    let at = values.len() / 2;
    *values.select_nth_unstable_by(at, f32::total_cmp).1
}

pub(super) fn mean_of_best(values: &mut [f32], count: usize) -> f32 {
    if values.is_empty() {
        return f32::NAN;
    }
    values.sort_unstable_by(|a, b| b.total_cmp(a));
    mean(&values[..count.min(values.len())])
}
