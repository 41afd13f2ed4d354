//! The files that trained networks are read from: safetensors. Their head says which layout the tensors have and by
//! which constants they were fitted; tensors have PyTorch's names and shapes, and numbers of 16 or 32 bits.

use std::collections::{BTreeSet, HashMap};

use half::f16;
use safetensors::tensor::TensorView;
use safetensors::{Dtype, SafeTensors};

use crate::words;

/// Reason why bytes are no network.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", words::networks::file_is_damaged(.0))]
pub struct NetworkError(pub String);

/// Constants that a network was fitted by and is run by: names and values, the same in both.
pub type Constants<'a> = &'a [(&'static str, f32)];

/// Puts `more` constants behind a network's `own`.
pub const fn joined<const OWN: usize, const MORE: usize, const ALL: usize>(
    own: [(&'static str, f32); OWN],
    more: [(&'static str, f32); MORE],
) -> [(&'static str, f32); ALL] {
    assert!(OWN + MORE == ALL);
    let mut all = [("", 0.0); ALL];
    let mut k = 0;
    while k < ALL {
        all[k] = if k < OWN { own[k] } else { more[k - OWN] };
        k += 1;
    }
    all
}

/// Key of the head under which the layout's name stands.
const LAYOUT: &str = "layout";

/// Weights of one network, each read once by its name.
pub struct Weights<'a> {
    tensors: HashMap<String, TensorView<'a>>,
    head: HashMap<String, String>,
    read: BTreeSet<String>,
}

impl<'a> Weights<'a> {
    /// Looks at a file's head.
    ///
    /// # Errors
    /// When the bytes are no safetensors, have another layout, or were fitted by other `constants`.
    pub fn of(
        bytes: &'a [u8],
        layout: &str,
        constants: Constants,
    ) -> Result<Weights<'a>, NetworkError> {
        let no_tensors = |why| NetworkError(words::networks::no_tensors(why));
        let (_, metadata) = SafeTensors::read_metadata(bytes).map_err(no_tensors)?;
        let tensors = SafeTensors::deserialize(bytes).map_err(no_tensors)?;
        let weights = Weights {
            tensors: tensors.tensors().into_iter().collect(),
            head: metadata.metadata().clone().unwrap_or_default(),
            read: BTreeSet::new(),
        };
        let found = weights.said(LAYOUT)?;
        if found != layout {
            return Err(NetworkError(words::networks::other_layout(found, layout)));
        }
        for (name, wanted) in constants {
            let found = weights.said(name)?;
            if found.parse() != Ok(*wanted) {
                let other = words::networks::other_constant(name, found, wanted);
                return Err(NetworkError(other));
            }
        }
        Ok(weights)
    }

    fn said(&self, name: &str) -> Result<&str, NetworkError> {
        let said = self.head.get(name).map(String::as_str);
        said.ok_or_else(|| NetworkError(words::networks::head_lacks(name)))
    }

    /// A size that the file is free to choose, 1 to 65,535.
    ///
    /// # Errors
    /// When the head has no such number.
    pub fn size(&self, name: &str) -> Result<usize, NetworkError> {
        let said = self.said(name)?;
        match said.parse::<u16>() {
            Ok(size) if size > 0 => Ok(size.into()),
            _ => Err(NetworkError(words::networks::no_size(name, said))),
        }
    }

    /// Takes the numbers of a tensor of this shape, its last place running fastest.
    ///
    /// # Errors
    /// When there is no such tensor, or it has another shape or other numbers.
    pub fn take(&mut self, name: &str, shape: &[usize]) -> Result<Vec<f32>, NetworkError> {
        let tensor = self.tensors.get(name);
        let tensor = tensor.ok_or_else(|| NetworkError(words::networks::tensor_missing(name)))?;
        if tensor.shape() != shape {
            let other = words::networks::other_shape(name, tensor.shape(), shape);
            return Err(NetworkError(other));
        }
        let numbers = match tensor.dtype() {
            Dtype::F16 => f16s(tensor.data()),
            Dtype::F32 => f32s(tensor.data()),
            other => return Err(NetworkError(words::networks::other_numbers(name, other))),
        };
        self.read.insert(name.to_owned());
        Ok(numbers)
    }

    /// Tells whether all has been read.
    ///
    /// # Errors
    /// When there are tensors that nothing has asked for.
    pub fn end(&self) -> Result<(), NetworkError> {
        let left = self
            .tensors
            .keys()
            .filter(|name| !self.read.contains(*name));
        match left.min() {
            None => Ok(()),
            Some(name) => Err(NetworkError(words::networks::tensor_left_over(name))),
        }
    }
}

fn f16s(bytes: &[u8]) -> Vec<f32> {
    let numbers = bytes.as_chunks().0.iter();
    numbers.map(|&n| f16::from_le_bytes(n).to_f32()).collect()
}

fn f32s(bytes: &[u8]) -> Vec<f32> {
    let numbers = bytes.as_chunks().0.iter();
    numbers.map(|&n| f32::from_le_bytes(n)).collect()
}

/// Questions that tests of all networks ask of their files.
#[cfg(test)]
pub mod testing {
    use super::*;

    /// The numbers of a golden answer by name: what a network sees, as "seen." and the column's name, and what PyTorch made
    /// of it with the built-in weights (`scripts/train golden`).
    pub fn golden(name: &str) -> HashMap<String, Vec<f32>> {
        let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
        let path = root.join(format!("fixtures/golden/{name}.safetensors"));
        let bytes = std::fs::read(path).expect("a golden answer for each network");
        let file = SafeTensors::deserialize(&bytes).expect("a file of tensors");
        let all = file.tensors().into_iter();
        all.map(|(name, tensor)| (name, f32s(tensor.data())))
            .collect()
    }

    /// The first number that is further than `near` from the one wanted, and its place.
    pub fn far_off(found: &[f32], wanted: &[f32], near: f32) -> Option<(usize, f32, f32)> {
        assert_eq!(found.len(), wanted.len());
        let pairs = found.iter().zip(wanted).enumerate();
        // What is no number is far off.
        let is_near = |f: f32, w: f32| (f - w).abs() <= near;
        let mut far = pairs.filter(|(_, (f, w))| !is_near(**f, **w));
        far.next().map(|(place, (f, w))| (place, *f, *w))
    }

    /// The head of a file.
    pub fn head_of(bytes: &[u8]) -> HashMap<String, String> {
        let (_, metadata) = SafeTensors::read_metadata(bytes).expect("a file of tensors");
        metadata.metadata().clone().expect("a head")
    }

    /// A file with this head and these tensors of 32-bit numbers.
    pub fn file(head: &[(&str, &str)], tensors: &[(&str, &[usize], &[f32])]) -> Vec<u8> {
        let bytes: Vec<Vec<u8>> = (tensors.iter())
            .map(|(_, _, numbers)| numbers.iter().flat_map(|n| n.to_le_bytes()).collect())
            .collect();
        let views = tensors.iter().zip(&bytes).map(|((name, shape, _), bytes)| {
            let view = TensorView::new(Dtype::F32, shape.to_vec(), bytes);
            (*name, view.expect("as many numbers as the shape has"))
        });
        let head = head.iter().map(|(n, v)| ((*n).to_owned(), (*v).to_owned()));
        safetensors::serialize(views, Some(head.collect())).expect("tensors can be written")
    }

    /// The same network's file after its head was changed: each key that is `name` gets another value.
    pub fn with_head(bytes: &[u8], name: &str, value: &str) -> Vec<u8> {
        let mut head = head_of(bytes);
        let old = head.insert(name.to_owned(), value.to_owned());
        assert!(old.is_some_and(|old| old != value), "{name} is changed");
        let file = SafeTensors::deserialize(bytes).expect("a file of tensors");
        safetensors::serialize(file.tensors(), Some(head)).expect("tensors can be written")
    }

    /// Asserts that `read` takes a network's file, and none that is cut off, longer, or fitted by another constant.
    pub fn refuses_what_is_damaged<T>(
        bytes: &[u8],
        constants: Constants,
        read: impl Fn(&[u8]) -> Result<T, NetworkError>,
    ) {
        read(bytes)
            .map(drop)
            .expect("the built-in network is whole");
        for damaged in [
            &bytes[..bytes.len() - 1],
            &[bytes, &[0; 4]].concat(),
            &bytes[8..],
            &bytes[..8],
            b"RTN2\0\0\0\0",
            &[],
        ] {
            assert!(read(damaged).is_err());
        }
        for (name, _) in constants {
            let why = read(&with_head(bytes, name, "77.5")).map(drop).unwrap_err();
            assert!(why.0.contains(name), "{why}");
        }
        assert!(read(&with_head(bytes, "layout", "another")).is_err());
    }
}

#[cfg(test)]
mod tests {
    use super::testing::file;
    use super::*;

    const HEAD: &[(&str, &str)] = &[("layout", "a"), ("hop_s", "0.3"), ("width", "2")];
    const CONSTANTS: Constants = &[("hop_s", 0.3)];

    fn why(bytes: &[u8], read: impl Fn(&mut Weights) -> Result<(), NetworkError>) -> String {
        let weights = Weights::of(bytes, "a", CONSTANTS);
        weights.and_then(|mut w| read(&mut w)).unwrap_err().0
    }

    #[test]
    fn tensors_are_read_by_name_whatever_their_order() {
        let bytes = file(
            HEAD,
            &[("b", &[2], &[5.0, 6.0]), ("a", &[1, 2], &[1.0, -0.5])],
        );
        let mut weights = Weights::of(&bytes, "a", CONSTANTS).unwrap();
        assert_eq!(weights.size("width"), Ok(2));
        assert_eq!(weights.take("a", &[1, 2]).unwrap(), [1.0, -0.5]);
        assert_eq!(weights.take("b", &[2]).unwrap(), [5.0, 6.0]);
        assert_eq!(weights.end(), Ok(()));
    }

    #[test]
    fn numbers_of_16_bits_are_read_as_those_of_32() {
        let numbers = [1.0f32, -0.375, 65504.0, 5.960_464_5e-8, 0.0];
        let halves = numbers.map(|n| f16::from_f32(n).to_le_bytes()).concat();
        let tensor = TensorView::new(Dtype::F16, vec![5], &halves).unwrap();
        let head = HEAD.iter().map(|(n, v)| ((*n).to_owned(), (*v).to_owned()));
        let bytes = safetensors::serialize([("a", tensor)], Some(head.collect())).unwrap();
        let mut weights = Weights::of(&bytes, "a", CONSTANTS).unwrap();
        assert_eq!(weights.take("a", &[5]).unwrap(), numbers);
    }

    #[test]
    fn what_is_wrong_with_a_tensor_is_said_with_its_name() {
        let bytes = file(HEAD, &[("a.weight", &[1, 2], &[1.0, 2.0])]);
        let take = |name, shape: &'static [usize]| {
            why(&bytes, move |w: &mut Weights| w.take(name, shape).map(drop))
        };
        let wrong = take("a.weight", &[2, 1]);
        assert!(wrong.contains("a.weight") && wrong.contains("1 x 2") && wrong.contains("2 x 1"));
        assert!(take("a.bias", &[2]).contains("a.bias"));
        assert!(why(&bytes, |w| w.end()).contains("a.weight"));
        let other = TensorView::new(Dtype::I8, vec![1], &[1]).unwrap();
        let head = HEAD.iter().map(|(n, v)| ((*n).to_owned(), (*v).to_owned()));
        let bytes = safetensors::serialize([("a", other)], Some(head.collect())).unwrap();
        let wrong = why(&bytes, |w| w.take("a", &[1]).map(drop));
        assert!(
            wrong.contains("tensor a ") && wrong.contains("I8"),
            "{wrong}"
        );
    }

    #[test]
    fn a_head_that_is_not_as_the_program_has_it_is_refused_by_name() {
        let of = |head: &[(&str, &str)]| Weights::of(&file(head, &[]), "a", CONSTANTS).err();
        let why = |head: &[(&str, &str)]| of(head).expect("it is refused").0;
        assert_eq!(of(HEAD), None);
        assert!(why(&[("layout", "a"), ("hop_s", "0.25")]).contains("hop_s is 0.25"));
        assert!(why(&[("layout", "a")]).contains("hop_s"));
        assert!(why(&[("layout", "b"), ("hop_s", "0.3")]).contains("layout b"));
        assert!(why(&[("hop_s", "0.3")]).contains("layout"));
        for size in ["0", "-1", "2.5", "70000", "two"] {
            let bytes = file(&[("layout", "a"), ("hop_s", "0.3"), ("width", size)], &[]);
            let weights = Weights::of(&bytes, "a", CONSTANTS).unwrap();
            assert!(weights.size("width").unwrap_err().0.contains("width"));
        }
    }
}
