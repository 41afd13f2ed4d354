//! One name for one thing: what a module of `src` shows to others has a name that no other type of `src` has.

use std::collections::BTreeMap;
use std::fs;

use crate::house::{files_below, sources};

/// Names that several modules show all the same, and why.
const READ_WITH_THEIR_MODULE: [(&str, &str); 3] = [
    ("Args", "the arguments of one command: `check::Args`"),
    ("Network", "the weights of one network: `buzz::Network`"),
    ("Scratch", "the buffers of one network: `buzz::Scratch`"),
];

/// A type: its name, and whether its module shows it to another one.
#[derive(Debug, PartialEq)]
struct Defined {
    name: String,
    shown: bool,
}

/// The types that a source defines.
fn types(source: &str) -> Vec<Defined> {
    let named = |line: &str| {
        let shown = line.trim_start().starts_with("pub");
        let mut words = line.split_whitespace().skip_while(|w| w.starts_with("pub"));
        let kind = words.next()?;
        // A `type` further in is one of a trait.
        let defines = match kind {
            "struct" | "enum" | "trait" | "union" => true,
            "type" => !line.starts_with(' '),
            _ => false,
        };
        let name = words.next().filter(|_| defines)?;
        let end = name.find(|c: char| !c.is_alphanumeric() && c != '_');
        let name = name[..end.unwrap_or(name.len())].to_owned();
        Some(Defined { name, shown })
    };
    source.lines().filter_map(named).collect()
}

/// Names that one file shows and another one has too, each with its files.
fn shared(files: &[(String, String)]) -> BTreeMap<String, Vec<String>> {
    let mut places: BTreeMap<String, (bool, Vec<String>)> = BTreeMap::new();
    for (file, source) in files {
        for Defined { name, shown } in types(source) {
            let (any_shown, files) = places.entry(name).or_default();
            *any_shown |= shown;
            files.push(file.clone());
        }
    }
    let several = |(shown, files): &(bool, Vec<String>)| *shown && files.len() > 1;
    (places.into_iter())
        .filter(|(_, place)| several(place))
        .map(|(name, (_, files))| (name, files))
        .collect()
}

#[test]
fn a_name_that_a_module_shows_stands_for_one_thing() {
    let read = |file: &std::path::PathBuf| {
        let name = file.strip_prefix(sources()).expect("below src");
        let source = fs::read_to_string(file).expect("a source");
        (name.display().to_string(), source)
    };
    let files: Vec<(String, String)> = files_below(&sources()).iter().map(read).collect();
    let count = files.iter().map(|(_, source)| types(source).len());
    let count: usize = count.sum();
    assert!(count > 500, "only {count} types were seen");
    let mut shared = shared(&files);
    for (name, why) in READ_WITH_THEIR_MODULE {
        let was = shared.remove(name);
        assert!(was.is_some(), "{name} has one meaning now, not: {why}");
    }
    let lines = (shared.iter()).map(|(name, files)| format!("{name}: {}", files.join(", ")));
    let lines: Vec<String> = lines.collect();
    assert!(
        lines.is_empty(),
        "these names stand for several things; give each thing its own:\n{}",
        lines.join("\n")
    );
}

#[test]
fn a_second_meaning_is_seen_where_one_of_them_is_shown() {
    let files = |sources: [&str; 2]| {
        let files = ["a.rs", "b.rs"].map(str::to_owned);
        std::iter::zip(files, sources.map(str::to_owned)).collect::<Vec<_>>()
    };
    let names = |sources| Vec::from_iter(shared(&files(sources)).into_keys());
    assert_eq!(names(["pub struct Take {", "enum Take<T> {"]), ["Take"]);
    assert_eq!(
        names(["pub(super) trait Take: Sized {", "    struct Take;"]),
        ["Take"]
    );
    assert_eq!(names(["pub type Take = u8;", "pub union Take {"]), ["Take"]);
    assert!(names(["struct Take(u8);", "struct Take;"]).is_empty());
    assert!(names(["pub struct Take;", "    type Take = u8;"]).is_empty());
    assert!(names(["pub struct Take;", "pub struct Takes;\n// struct Take;"]).is_empty());
}
