//! The bundled guitars, each read once, where it is first asked for.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{LazyLock, Mutex, PoisonError};

use ringtrue::synth::notes::{self, Guitar};

use super::playing::trimmed;

/// Where their notes are.
const NOTES: &str = "fixtures/notes";

/// All of them, in the order of their table. One alone is had sooner from [`guitar`].
pub static ALL: LazyLock<Vec<Guitar>> =
    LazyLock::new(|| notes::load(Path::new(NOTES)).expect("the bundled notes"));

/// The one that most is played on.
pub static ARCHTOP: LazyLock<&Guitar> = LazyLock::new(|| guitar("archtop"));

/// ... with the silence before each of its notes cut off.
pub static ARCHTOP_TRIMMED: LazyLock<Guitar> =
    LazyLock::new(|| trimmed(vec![ARCHTOP.clone()]).remove(0));

/// The one of this name.
pub fn guitar(name: &str) -> &'static Guitar {
    static READ: Mutex<BTreeMap<String, &Guitar>> = Mutex::new(BTreeMap::new());
    let mut read = READ.lock().unwrap_or_else(PoisonError::into_inner);
    read.entry(name.to_owned()).or_insert_with(|| {
        let guitar = notes::load_one(Path::new(NOTES), name).expect("the bundled notes");
        // For as long as the tests run.
        Box::leak(Box::new(guitar.expect("a guitar of that name")))
    })
}
