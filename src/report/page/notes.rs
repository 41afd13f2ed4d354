//! Notes typed into a page: a browser saves them within it, and the next report carries them on.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::{Last, REFERENCES, attribute, days, of_attribute};
use crate::words;

/// Where notes of earlier pages stand in a page, before and behind them.
const BEFORE: &str = "<meta name=\"practice-notes\" content=\"";
const BEHIND: &str = "\">";
/// Who types, and the `id` of the element that is typed into.
const WRITERS: [(&str, &str); 2] = [
    (words::page::LEARNER, "learner"),
    (words::page::TEACHER, "teacher"),
];
/// Elements that begin a line of their own.
const BLOCKS: [&str; 6] = ["br", "div", "p", "li", "tr", "blockquote"];
/// Elements whose content nobody reads.
const UNREAD: [&str; 2] = ["style", "script"];

/// Note that somebody typed into an earlier page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TypedNote {
    /// Who typed it: "Learner" or "Teacher".
    by: String,
    /// First and last day of that page's takes, where they were known.
    days: Option<(Date, Date)>,
    /// Text of it, line by line.
    text: String,
}

impl TypedNote {
    /// Notes that a page carries: those of the pages before it, then what was typed into it.
    pub fn all_in(page: &str) -> Vec<TypedNote> {
        let mut notes: Vec<TypedNote> = (page.split_once(BEFORE))
            .and_then(|(_, rest)| rest.split_once(BEHIND))
            .and_then(|(text, _)| serde_json::from_str(&of_attribute(text)).ok())
            .unwrap_or_default();
        let days = Last::in_page(page).and_then(|last| last.days());
        notes.extend(WRITERS.into_iter().filter_map(|(by, id)| {
            let text = typed(page, id).filter(|text| !text.is_empty())?;
            Some(TypedNote {
                by: by.to_owned(),
                days,
                text,
            })
        }));
        notes
    }

    /// Element in which a page carries notes.
    pub(super) fn element(notes: &[TypedNote]) -> String {
        let text = serde_json::to_string(notes).expect("texts and days are JSON");
        format!("{BEFORE}{}{BEHIND}", attribute(&text))
    }

    /// "Teacher, on the page of 2 March 2026 to 8 March 2026".
    pub(super) fn heading(&self) -> String {
        match self.days {
            Some((first, last)) => words::page::note_of(&self.by, days(first, last)),
            None => words::page::note_of_a_page(&self.by),
        }
    }

    pub(super) fn text(&self) -> &str {
        &self.text
    }
}

/// Text within the element of this `id`, line by line, as a browser shows it; `None` where the page has no such element.
fn typed(page: &str, id: &str) -> Option<String> {
    let (_, rest) = page.split_once(&format!(" id=\"{id}\" contenteditable="))?;
    let (_, mut rest) = rest.split_once('>')?;
    let mut text = String::new();
    let mut depth = 1;
    loop {
        let (before, tag) = rest.split_once('<')?;
        push_text(&mut text, before);
        if let Some(comment) = tag.strip_prefix("!--") {
            rest = comment.split_once("-->")?.1;
            continue;
        }
        let (tag, after) = tag.split_once('>')?;
        rest = after;
        let name = tag.trim_start_matches('/');
        let name = name.split(|c: char| !c.is_ascii_alphanumeric()).next()?;
        let name = name.to_ascii_lowercase();
        if UNREAD.contains(&name.as_str()) && !tag.starts_with('/') {
            rest = rest.split_once(&format!("</{name}"))?.1.split_once('>')?.1;
            continue;
        }
        if name == "div" {
            depth += if tag.starts_with('/') { -1 } else { 1 };
        }
        if depth == 0 {
            break;
        }
        let begun = text.is_empty() || text.ends_with('\n');
        if name == "br" || BLOCKS.contains(&name.as_str()) && !begun {
            text.push('\n');
        }
    }
    let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
    Some(lines.join("\n").trim().to_owned())
}

/// Adds text of a page, its references read.
fn push_text(text: &mut String, written: &str) {
    let mut rest = written;
    while let Some((before, after)) = rest.split_once('&') {
        text.push_str(before);
        let read = after.split_once(';').and_then(|(name, after)| {
            let known = REFERENCES
                .iter()
                .find(|(_, r)| r[1..] == format!("{name};"));
            let number = || match name.strip_prefix("#x") {
                Some(hex) => u32::from_str_radix(hex, 16).ok(),
                None => name.strip_prefix('#')?.parse().ok(),
            };
            let letter = match name {
                "nbsp" => Some(' '),
                _ => known
                    .map(|(letter, _)| *letter)
                    .or_else(|| char::from_u32(number()?)),
            };
            Some((letter?, after))
        });
        match read {
            Some((letter, after)) => {
                text.push(letter);
                rest = after;
            }
            None => {
                text.push('&');
                rest = after;
            }
        }
    }
    text.push_str(rest);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A page as a browser saves it, with this within the teacher's element.
    fn page(html: &str) -> String {
        format!(
            "<!DOCTYPE html><html><body><div class=\"typed\" id=\"learner\" contenteditable=\"true\" \
             role=\"textbox\"></div><div class=\"typed\" id=\"teacher\" contenteditable=\"true\" \
             role=\"textbox\">{html}</div><p>after</p></body></html>"
        )
    }

    fn texts(html: &str) -> Vec<String> {
        let notes = TypedNote::all_in(&page(html)).into_iter();
        notes.map(|note| note.text).collect()
    }

    #[test]
    fn what_was_typed_is_read_as_a_browser_shows_it() {
        assert_eq!(texts(""), Vec::<String>::new());
        assert_eq!(texts("<br>"), Vec::<String>::new());
        assert_eq!(texts("one"), ["one"]);
        assert_eq!(
            texts("one<div>two</div><div><br></div><div>three</div>"),
            ["one\ntwo\n\nthree"]
        );
        assert_eq!(texts("<p>one</p><P>two</P>"), ["one\ntwo"]);
        assert_eq!(texts("one<br>two\nthree"), ["one\ntwo\nthree"]);
        assert_eq!(
            texts("F &amp; Bb: 3 &lt; 4,&nbsp;&#228;&#xe4; &co; &"),
            ["F & Bb: 3 < 4, ää &co; &"]
        );
        assert_eq!(
            texts("<style>p { a: b }</style><!-- > --><b style=\"x\">bold</b> &amp;lt;"),
            ["bold &lt;"]
        );
    }

    #[test]
    fn notes_go_from_page_to_page() {
        let first = TypedNote::all_in(&page("<i>Slower</i> \"F\"")).remove(0);
        assert_eq!(first.heading(), "Teacher, on a page before");
        let next =
            page("next").replace("<body>", &TypedNote::element(std::slice::from_ref(&first)));
        let notes = TypedNote::all_in(&next);
        assert_eq!(notes[0], first);
        assert_eq!((notes.len(), notes[1].text()), (2, "next"));
    }

    #[test]
    fn a_page_that_breaks_off_gives_no_notes() {
        let whole = page("one<div>two</div>");
        let complete = whole.find("<p>after").unwrap();
        for end in 0..whole.len() {
            let notes = TypedNote::all_in(&whole[..end]);
            assert_eq!(notes.is_empty(), end < complete, "{end}");
        }
    }
}
