//! No circles: of the modules in a folder of `src` none uses another that uses it, over however many steps.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use crate::house::{files_below, sources};

/// The name of a module from the crate's root on, "audio", "capture".
type Name = Vec<String>;
/// Who uses whom among the modules of a folder.
type Graph = BTreeMap<String, BTreeSet<String>>;

/// The code of a source: without comments and without its tests.
fn code(source: &str) -> String {
    let code = source.split("#[cfg(test)]\nmod tests").next();
    let lines = code.unwrap_or_default().lines();
    let kept: Vec<&str> = (lines.filter(|line| !line.trim_start().starts_with("//"))).collect();
    kept.join("\n")
}

/// What a path in braces or a plain one begins with: "a::b, c::{d}" gives a::b, c and c::d.
fn spread(text: &str, before: &Name, found: &mut Vec<Name>) {
    let mut depth = 0;
    let parts = text.split(|c| {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            _ => {}
        }
        depth == 0 && c == ','
    });
    for part in parts {
        let mut name = before.clone();
        let mut rest = part.trim();
        // A list of names, or one name that ends in a list.
        loop {
            let end = rest.find(|c: char| !c.is_alphanumeric() && c != '_');
            let (word, after) = rest.split_at(end.unwrap_or(rest.len()));
            if !word.is_empty() {
                name.push(word.to_owned());
            }
            match after.strip_prefix("::") {
                Some(after) => rest = after,
                None => break,
            }
        }
        found.push(name.clone());
        if let Some(inner) = rest.strip_prefix('{') {
            spread(inner.trim_end_matches('}'), &name, found);
        }
    }
}

/// All that a source of this module names with `super::` or `crate::`, from the crate's root on.
fn named(module: &Name, source: &str) -> Vec<Name> {
    let code = code(source);
    let mut found = Vec::new();
    for prefix in ["crate::", "super::"] {
        for (at, _) in code.match_indices(prefix) {
            if code[..at].ends_with("super::") {
                continue;
            }
            let mut rest = &code[at..];
            let mut base = match prefix {
                "crate::" => Vec::new(),
                _ => module.clone(),
            };
            rest = rest.strip_prefix("crate::").unwrap_or(rest);
            while let Some(after) = rest.strip_prefix("super::") {
                base.pop();
                rest = after;
            }
            let end = rest.find(|c: char| !c.is_alphanumeric() && c != '_' && c != ':');
            let mut end = end.unwrap_or(rest.len());
            if rest[end..].starts_with('{') {
                end = rest.find(';').unwrap_or(rest.len());
            }
            spread(&rest[..end], &base, &mut found);
        }
    }
    found
}

/// Takes in what a module uses, in each folder that it shares with what it uses.
fn draw(graphs: &mut BTreeMap<Name, Graph>, module: &Name, source: &str, known: &BTreeSet<Name>) {
    for used in named(module, source) {
        let shared = std::iter::zip(module, &used).take_while(|(a, b)| a == b);
        let shared = shared.count();
        let (Some(own), Some(other)) = (module.get(shared), used.get(shared)) else {
            continue;
        };
        if known.contains(&used[..=shared]) {
            let graph = graphs.entry(module[..shared].to_vec()).or_default();
            let uses = graph.entry(own.clone()).or_default();
            uses.insert(other.clone());
        }
    }
}

/// A way from a module of the folder back to itself.
fn circle(graph: &Graph) -> Option<Vec<String>> {
    fn go(graph: &Graph, way: &mut Vec<String>, done: &mut BTreeSet<String>) -> bool {
        let last = way[way.len() - 1].clone();
        for next in graph.get(&last).into_iter().flatten() {
            if let Some(at) = way.iter().position(|name| name == next) {
                way.drain(..at);
                return true;
            }
            if done.contains(next) {
                continue;
            }
            way.push(next.clone());
            if go(graph, way, done) {
                return true;
            }
            way.pop();
        }
        done.insert(last);
        false
    }
    let mut done = BTreeSet::new();
    graph.keys().find_map(|name| {
        let mut way = vec![name.clone()];
        (!done.contains(name) && go(graph, &mut way, &mut done)).then_some(way)
    })
}

#[test]
fn no_modules_of_a_folder_use_each_other_in_a_circle() {
    let mut modules: Vec<(Name, String)> = Vec::new();
    for file in files_below(&sources()) {
        let path = file
            .strip_prefix(sources())
            .expect("below src")
            .with_extension("");
        let parts = path
            .components()
            .map(|part| part.as_os_str().to_string_lossy().into_owned());
        let mut module: Name = parts.collect();
        match module.last().map(String::as_str) {
            Some("mod" | "lib" | "main") => drop(module.pop()),
            Some("tests" | "examples") => continue,
            _ => {}
        }
        modules.push((module, fs::read_to_string(&file).expect("a source")));
    }
    let known: BTreeSet<Name> = modules.iter().map(|(module, _)| module.clone()).collect();
    let mut graphs = BTreeMap::new();
    for (module, source) in &modules {
        draw(&mut graphs, module, source, &known);
    }
    assert!(
        graphs.len() > 20,
        "{} folders have modules that use others",
        graphs.len()
    );
    let circles: Vec<String> = graphs
        .iter()
        .filter_map(|(folder, graph)| {
            Some(format!(
                "src/{}: {}",
                folder.join("/"),
                circle(graph)?.join(" uses ")
            ))
        })
        .collect();
    assert!(
        circles.is_empty(),
        "these go in a circle:\n{}",
        circles.join("\n")
    );
}

#[test]
fn a_circle_is_seen_however_it_is_written() {
    let name = |text: &str| -> Name { text.split("::").map(str::to_owned).collect() };
    let circle_of = |sources: &[(&str, &str)]| {
        let known: BTreeSet<Name> = sources.iter().map(|(module, _)| name(module)).collect();
        let mut graphs = BTreeMap::new();
        for (module, source) in sources {
            draw(&mut graphs, &name(module), source, &known);
        }
        graphs.values().find_map(circle)
    };
    let two = [
        ("audio::a", "use super::b::B;\n"),
        ("audio::b", "use crate::audio::{Error, a::A};\n"),
    ];
    assert_eq!(circle_of(&two), Some(vec!["a".to_owned(), "b".to_owned()]));
    let over_three = [
        ("audio::a", "use super::{c, b::{B, C}};\n"),
        ("audio::b", "fn f() { super::c::g() }\n"),
        ("audio::c::d", "use super::super::a;\n"),
        ("audio::c", ""),
    ];
    assert_eq!(circle_of(&over_three).map(|way| way.len()), Some(3));
    let fine = [
        ("audio::a", "use super::b;\n// use super::c;\n"),
        (
            "audio::b",
            "use super::Error;\n#[cfg(test)]\nmod tests {\nuse crate::audio::a;\n}\n",
        ),
        ("audio::c", "use super::{a, b};\n"),
    ];
    assert_eq!(circle_of(&fine), None);
}
