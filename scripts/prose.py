#!/usr/bin/env python3
"""Counts the words of every sentence that Ringtrue shows, and fails where one is longer than the limit. Fails too where
a sentence stands outside `src/words`, which holds what users read, and where the summary of a public item begins with
neither verb nor noun.

Looked at: the manuals, the published figures, the help texts of the program named as the first argument, the string
literals of the sources in Rust and JavaScript (tests left out) and the text of HTML pages. Text that is put together
from several literals is counted literal by literal; what fills a gap counts as one word.

Before anything else the script shows that it can fail: each kind of text is tried with a sentence that is one word too
long, and with one that just fits.
"""

import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

LIMIT = 30  # words a sentence: the style that this project keeps to
MANUALS = ["README.md", "DEVELOPERS.md", "fixtures/lessons/README.md", "fixtures/LABELLED.md", *sorted(map(str, Path("fixtures/measured").glob("*.md")))]
# Literals that begin so are asked of the database and shown to nobody.
SQL = re.compile(r"\s*(CREATE|SELECT|INSERT|UPDATE|DELETE|PRAGMA|ALTER|WITH|DROP)\b")
# A full stop after these ends no sentence.
ABBREVIATIONS = re.compile(r"(\b[A-Z]|\be\.g|\bi\.e|\bvol|\bno|\bpp|\bVib|\bProc|\bconf|\bet al)\.$")


def words(sentence):
    return sum(1 for word in sentence.split() if re.search(r"\w", word))


def sentences(text):
    """The sentences of a paragraph: they end with a full stop, a question or an exclamation mark."""
    start = 0
    for end in re.finditer(r"[.!?…][\"')\]*”]*(?=\s)", text):
        if ABBREVIATIONS.search(text[start : end.start() + 1]):
            continue
        if re.match(r"\s+[a-z]", text[end.end() :]):
            continue
        yield text[start : end.end()]
        start = end.end()
    yield text[start:]


def markdown(text):
    """Paragraphs, list items, headings and cells of tables, each with its line. Code is left out; code inside a
    sentence and the address of a link count as one word or none."""
    found, fenced, paragraph, began = [], False, [], 0

    def flush():
        if paragraph:
            joined = " ".join(paragraph)
            joined = re.sub(r"!?\[([^\]]*)\]\([^)]*\)", r"\1", joined)
            found.append((began, re.sub(r"(`+).+?\1", "CODE", joined)))
            paragraph.clear()

    blank = True
    for number, line in enumerate(text.splitlines(), 1):
        if line.lstrip().startswith("```"):
            fenced = not fenced
            flush()
        elif fenced or (blank and line.startswith("    ")):
            continue
        elif not line.strip() or line.startswith("#"):
            flush()
            blank = not line.strip()
            if not blank:
                found.append((number, line))
            continue
        elif line.lstrip().startswith("|"):
            flush()
            found += [(number, re.sub(r"(`+).+?\1", "CODE", cell)) for cell in line.split("|")]
        else:
            if re.match(r"\s*([-*]|\d+\.)\s", line):
                flush()
                line = re.sub(r"^\s*([-*]|\d+\.)\s", "", line)
            if not paragraph:
                began = number
            paragraph.append(line.strip())
        blank = False
    flush()
    return found


def help_text(text):
    """The paragraphs of a help text; an option's own line is none. Lines count from the text's top."""
    found, paragraph, began = [], [], 0
    for number, line in enumerate([*text.splitlines(), ""], 1):
        # On one line with its name: "  check  Judges recordings".
        named = re.match(r"\s+\S.*? {2,}(\S.*)$", line)
        if named or not line.strip() or re.match(r"\s*-{1,2}\w|\s*[<\[]\w+[>\]]|Usage:|\S.*:$", line):
            if paragraph:
                found.append((began, " ".join(paragraph)))
            paragraph = []
            if not named:
                continue
        if not paragraph:
            began = number
        paragraph.append(named.group(1) if named else line.strip())
    return found


TOKEN = re.compile(
    r"""//[^\n]*|/\*.*?\*/|b?r(?P<hashes>\#*)"(?P<raw>.*?)"(?P=hashes)|b?"(?P<plain>(?:\\.|[^"\\])*)"|'(?:\\.[^']*|[^\\'])'"""
    r"""|(?P<test>\#\[cfg\(test\)\]\s*(?:pub\s*)?mod\s+\w+\s*\{)|[{}]""",
    re.DOTALL | re.VERBOSE,
)


def outside_tests(text):
    """The tokens of a source but for those of its tests."""
    depth, test_depth = 0, None
    for token in TOKEN.finditer(text):
        if token["test"]:
            test_depth = depth if test_depth is None else test_depth
            depth += 1
        elif token.group() == "{":
            depth += 1
        elif token.group() == "}":
            depth -= 1
            if depth == test_depth:
                test_depth = None
        if test_depth is None:
            yield token


def rust(text):
    """The string literals of a source, those of its tests left out, with their lines."""
    found = []
    for token in outside_tests(text):
        literal = token["raw"] if token["raw"] is not None else token["plain"]
        if literal is None or SQL.match(literal):
            continue
        line = text.count("\n", 0, token.start()) + 1
        if token["plain"] is not None:
            literal = re.sub(r"\\\n\s*", "", literal)
            literal = literal.replace(r"\"", '"')
        # Of `[one|many]` one is said; a gap is a word.
        literal = re.sub(r"\[([^|\]]*)\|[^\]]*\]", r"\1", literal)
        literal = re.sub(r"\{[^}]*\}", "gap", literal)
        found += [(line, part) for part in re.split(r"\\n|\n", literal)]
    return found


WORDS = Path("src/words")
# Literals of several words that are no sentence, and why.
NO_SENTENCES = {
    "barre then shape": "names of stages and orders, as a lesson and the diary have them",
    "shape then barre": "the same",
    "up and down": "the same",
    r"[\"barre\", \"together\"]": "the same",
    "tempo and chords": "the name of a track",
    "DejaVu Sans": "a font",
    "beside leans": "a gap in the sentences of rules",
    "placement {}": "the name of a stage, as the diary has it",
}
# A sound card for tests.
FOR_TESTS = Path("src/audio/fake.rs")
SENTENCE = 2  # words from which a literal is one; beside a gap one word is enough
# What may stand beside a gap: units, names of files and options, keys of the database.
BESIDE_A_GAP = re.compile(r"\b(ms|s|Hz|dB|cents|BPM)\b|--[a-z]|[\w-]+\.\w+|^[\w-]+: |\w+ [<>]?= |[:?=/\\]\S")
# Whoever works on the program reads what these say, not whoever uses it.
FOR_CONTRIBUTORS = re.compile(r"(assert\w*|debug_assert\w*|panic|unreachable|expect|debug|info|warn|trace|log)!?$")


def call_around(text, place):
    """The name of the function or macro between whose parentheses a place lies, or nothing."""
    depth = 0
    for at in range(place - 1, -1, -1):
        letter = text[at]
        if letter in ")]}":
            depth += 1
        elif letter in "([{":
            if depth == 0:
                name = re.search(r"\w+!?$", text[:at]) if letter == "(" else None
                return name.group() if name else ""
            depth -= 1
        elif letter == ";" and depth == 0:
            return ""
    return ""


def is_sentence(literal):
    """Whether a literal of a source says something to users. A gap is written as `{...}`."""
    spoken = re.sub(r"\{[^}]*\}", "0", literal).replace(r"\n", " ")
    count = sum(1 for word in spoken.split() if re.search(r"[^\W\d_]{2}", word))
    beside_a_gap = re.search(r"0\W? \W?[^\W\d_]{2}|[^\W\d_]{2}\W* 0", spoken) and not BESIDE_A_GAP.search(spoken)
    if count < SENTENCE and not (count == 1 and beside_a_gap):
        return False
    is_markup = literal.lstrip().startswith("<") or '=\\"' in literal
    is_sql = SQL.match(literal) or "NOT NULL" in literal
    return not (is_markup or is_sql or literal in NO_SENTENCES)


def sentences_in(text):
    """The literals of a source that are sentences to users, with their lines; those of tests are left out. What clap
    would show of doc comments is one too."""
    found = []
    for arguments in re.finditer(r"#\[derive\([^\]]*\b(?:Args|Parser|Subcommand|ValueEnum)\b.*?\n\}", text, re.DOTALL):
        for said in re.finditer(r"^ +///(.*)$", arguments.group(), re.MULTILINE):
            if not re.match(r"\s*#\[command\((flatten|subcommand)", arguments.group()[said.end() :]):
                found.append((text.count("\n", 0, arguments.start() + said.start()) + 1, said.group(1)))
    for token in outside_tests(text):
        start = token.start()
        if token["plain"] is None or token.group().startswith("b"):
            continue
        literal = re.sub(r"\\\n\s*", "", token["plain"])
        if not is_sentence(literal):
            continue
        # Reasons are for contributors; the usage of a command is made of its options.
        if re.search(r"\b(reason:|reason =|override_usage =)\s*$", text[max(0, start - 40) : start]):
            continue
        if FOR_CONTRIBUTORS.match(call_around(text, start)):
            continue
        found.append((text.count("\n", 0, start) + 1, literal))
    return found


# Of scripts: comments, regular expressions where they can stand, texts and templates.
SCRIPT = re.compile(
    r"""//[^\n]*|/\*.*?\*/|(?<=[(,=:] )/(?![*/])(?:\\.|[^/\\\n])+/|"(?P<plain>(?:\\.|[^"\\])*)"|`(?P<gaps>(?:\\.|[^`\\])*)`""",
    re.DOTALL,
)
# Texts of several words in scripts that nobody reads, and why.
FOR_THE_BROWSER = {
    "strings guess": "classes of the style",
    "plot scroll": "the same",
    "nav button": "places in the page",
    "tbody": "the same",
}


def script_literals(text):
    """The texts of a script that are sentences to users, with their lines."""
    found = []
    for token in SCRIPT.finditer(text):
        literal = token["plain"] if token["plain"] is not None else token["gaps"]
        if literal is None:
            continue
        literal = literal.replace("${", "{")
        if is_sentence(literal) and literal not in FOR_THE_BROWSER:
            found.append((text.count("\n", 0, token.start()) + 1, literal))
    return found


class Words(HTMLParser):
    """The words of a page's template that are no gap: between tags, and where a browser reads them aloud."""

    NAMES = {"Ringtrue"}
    READ = {"aria-label", "alt", "title"}

    def __init__(self):
        super().__init__()
        self.found, self.silent = [], 0

    def note(self, text):
        text = re.sub(r"\{%.*?%\}|\{\{.*?\}\}|@\w+@", " ", text, flags=re.DOTALL)
        for word in re.findall(r"[^\W\d_]{2,}", text):
            if word not in self.NAMES:
                self.found.append((self.getpos()[0], " ".join(text.split())))
                return

    def handle_starttag(self, tag, attrs):
        # Code is what is typed, in every language.
        self.silent += tag in ("style", "script", "code")
        for name, value in attrs:
            if name in self.READ:
                self.note(value or "")

    def handle_endtag(self, tag):
        self.silent -= tag in ("style", "script", "code")

    def handle_data(self, data):
        if not self.silent:
            self.note(data)


def template_words(text):
    words = Words()
    words.feed(text)
    return words.found


KINDS = {".rs": sentences_in, ".js": script_literals, ".mjs": script_literals, ".html": template_words}


def stray(place, text):
    """A line for each sentence that stands in a source and should stand in `src/words`."""
    for line, literal in KINDS[place.suffix](text):
        yield f"{place}:{line}: a sentence outside {WORDS}: {literal}"


class Page(HTMLParser):
    """The text of the report's page: between two tags, gaps filled with a word."""

    def __init__(self):
        super().__init__()
        self.found, self.silent = [], 0

    def handle_starttag(self, tag, attrs):
        self.silent += tag in ("style", "script")

    def handle_endtag(self, tag):
        self.silent -= tag in ("style", "script")

    def handle_data(self, data):
        if not self.silent:
            text = re.sub(r"\{%.*?%\}", " ", re.sub(r"\{\{.*?\}\}", "gap", data, flags=re.DOTALL), flags=re.DOTALL)
            self.found.append((self.getpos()[0], " ".join(text.split())))


def html(text):
    page = Page()
    page.feed(text)
    return page.found


def script(text):
    """The texts of a script, with their lines; a gap counts as one word."""
    found = []
    for token in SCRIPT.finditer(text):
        literal = token["plain"] if token["plain"] is not None else token["gaps"]
        if literal is not None:
            found.append((text.count("\n", 0, token.start()) + 1, re.sub(r"\$\{[^}]*\}", "gap", literal)))
    return found


def too_long(kind, place, text):
    """A line for each sentence over the limit."""
    for line, paragraph in kind(text):
        for sentence in sentences(paragraph):
            count = words(sentence)
            if count > LIMIT:
                yield f"{place}:{line}: {count} words, {LIMIT} at most: {' '.join(sentence.split())}"


def prove_that_it_can_fail():
    def sentence(count):
        return "Word" + " word" * (count - 1) + "."

    forms = [
        (markdown, "# A heading\n\n{}\n"),
        (markdown, "- An item.\n- {}\n  It goes on.\n"),
        (markdown, "| what | measured |\n| --- | --- |\n| this | {} |\n"),
        (help_text, "{}\n\nUsage: ringtrue\n\nOptions:\n"),
        (help_text, "Options:\n      --once\n          {}\n"),
        (help_text, "Commands:\n  check  {}\n"),
        (rust, 'fn says() -> &\'static str {{\n    "{}"\n}}\n'),
        (html, "<style>p {{ }}</style><p>\n{}</p>\n"),
        (script, 'export const said =\n  "{}";\n'),
    ]
    for kind, form in forms:
        for count, complaints in ((LIMIT, 0), (LIMIT + 1, 1)):
            found = list(too_long(kind, "tried", form.format(sentence(count))))
            assert len(found) == complaints, (kind.__name__, form, count, found)
    long = sentence(2 * LIMIT)
    unseen = [
        (markdown, f"Text:\n\n    {long}\n"),
        (markdown, f"```\n{long}\n```\n"),
        (markdown, f"One `{long}` word.\n"),
        (rust, f'// "{long}"\n#[cfg(test)]\nmod tests {{\n    const A: &str = "{long}";\n}}\n'),
        (html, f"<style>{long}</style>"),
    ]
    for kind, text in unseen:
        assert not list(too_long(kind, "tried", text)), (kind.__name__, text)
    assert list(too_long(rust, "tried", f'mod tests_of {{}}\nconst A: &str = "{long}";\n'))


def prove_that_a_sentence_elsewhere_is_seen():
    said = 'fn says() -> String {{\n    {}\n}}\n'
    for code in [
        '"no strum found".to_owned()',
        'format!("{name} is not there")',
        'bail!("{name}: there is\\n none")',
        'format!("string {number}")',
        'format!("{count} takes")',
        '#[error("{0}: it is not there")]',
    ]:
        assert len(sentences_in(said.format(code))) == 1, code
    for code in [
        '"word".to_owned()',
        "words::take::MUTED.to_owned()",
        'list.expect("a chord has six strings")',
        'assert!(a.holds(b), "it lies within its slice")',
        'log::debug!("so many samples came")',
        'format!("{a} {b} {c}")',
        'format!("{file}.wav")',
        'format!("{gap_s:.1} s")',
        'format!("--frets {frets}")',
    ]:
        assert not sentences_in(said.format(code)), code
    assert not sentences_in('#[cfg(test)]\nmod tests {\n    const A: &str = "all of it is";\n}\n')
    derived = "#[derive(Debug, clap::Args)]\nstruct Args {{\n    {}\n    #[arg(long{})]\n    out: bool,\n}}\n"
    assert len(sentences_in(derived.format("/// Writes it", ""))) == 1
    assert not sentences_in(derived.format("// Unasked.", ", help = help::OUT"))
    for said_by in ['say("No sound came.");', "say(`${count} takes`);", 'make("p", {}, one ? "one take" : "takes");']:
        assert len(script_literals(said_by)) == 1, said_by
    for said_by in ['at("files").click();', "x(`take-${n}.wav`);", "// It is said here.\n", 'split(/[:,] and a/);']:
        assert not script_literals(said_by), said_by
    for page in ["<p>Listen</p>", '<p aria-label="All takes"></p>', "<p>@listen@ here</p>", "{% if a %}So{% endif %}"]:
        assert len(template_words(page)) == 1, page
    for page in ["<p>@listen@</p>", "<p>{{ words.it }}</p>", "<code>ringtrue check</code>", "<style>p a { }</style>"]:
        assert not template_words(page), page


# No verb and no noun: a summary that begins so is a clause, a question, half a sentence, or says nothing by itself.
NO_SUMMARY = set(
    """what where whether that how when which who whose why if as because since until while so
    it they this these those there is are was were may can could would must not
    by from for of in on at to with without into than through too also or and but then""".split()
)
DOC = re.compile(r"(?P<indent> *)(?P<kind>///|//!)(?: (?P<text>.*))?$")


def summaries(text):
    """First lines of what `cargo doc` shows, with their numbers: of modules, of public items and of what is in those. A
    file's tests, which stand at its end, are left out."""
    lines = re.split(r"^#\[cfg\(test\)\]\nmod \w+ \{", text, maxsplit=1, flags=re.MULTILINE)[0].splitlines()
    members = None  # the indent of the public enum or trait whose members have no `pub` of their own
    for number, line in enumerate(lines):
        opened = re.match(r"( *)(pub )?(?:pub\(\S+\) )?(?:enum|trait) \w", line)
        if opened:
            members = len(opened[1]) if opened[2] else None
        elif members is not None and line == " " * members + "}":
            members = None
        doc = DOC.match(line)
        if not doc or not doc["text"] or (number and (before := DOC.match(lines[number - 1])) and before["kind"] == doc["kind"]):
            continue
        item = next((after for after in lines[number:] if not re.match(r"\s*(//|#\[|\w+ = |\)\])", after)), "")
        is_member = members is not None and len(doc["indent"]) > members
        if doc["kind"] == "//!" or is_member or item.lstrip().startswith("pub "):
            yield number + 1, doc["text"]


def poor_summaries(place, text):
    """A line for each summary that begins with neither verb nor noun, or asks."""
    for line, summary in summaries(text):
        first = re.match(r"[A-Za-z]+\b", summary)
        if first and first.group().lower() in NO_SUMMARY or summary.endswith("?"):
            yield f"{place}:{line}: a doc line begins with a verb or a noun: {summary}"


def prove_that_a_poor_summary_is_seen():
    forms = [
        "//! {}\n\nuse std::io;\n",
        "/// {}\n#[derive(Debug)]\npub struct A;\n",
        "pub struct A {{\n    /// {}\n    /// It goes on.\n    pub b: u8,\n}}\n",
        "pub enum A {{\n    /// {}\n    #[error(\n        transparent,\n    )]\n    B,\n}}\n",
        "pub trait A {{\n    /// {}\n    fn b(&self);\n}}\n",
    ]
    for form in forms:
        for summary, complaints in (
            ("What it holds.", 1),
            ("For samples.", 1),
            ("Is it so?", 1),
            ("Does it ring?", 1),
            ("Holds it.", 0),
            ("The samples.", 0),
            ("`None` where nothing is.", 0),
        ):
            found = list(poor_summaries("tried", form.format(summary)))
            assert len(found) == complaints, (form, summary, found)
    for private in [
        "/// What it holds.\nstruct A;\n",
        "enum A {\n    /// What it holds.\n    B,\n}\n",
        "pub enum A {\n    B,\n}\n\nstruct C {\n    /// What it holds.\n    d: u8,\n}\n",
        "/// What it holds.\npub(super) struct A;\n",
        "// What it holds.\npub struct A;\n",
        "/// A.\n///\n/// What it holds.\npub struct A;\n",
        "#[cfg(test)]\nmod tests {\n    /// What it holds.\n    pub struct A;\n}\n",
    ]:
        assert not list(poor_summaries("tried", private)), private


def help_texts(program):
    def asked(*arguments):
        return subprocess.run([program, *arguments], check=True, capture_output=True, text=True).stdout

    def below(*names):
        text = asked(*names, "--help")
        yield " ".join(["ringtrue", *names, "--help"]), text
        listed = text.partition("Commands:")[2].split("Options:")[0]
        commands = re.findall(r"^  ([a-z-]+)  +\S", listed, re.MULTILINE)
        for command in commands:
            if command != "help":
                yield from below(*names, command)

    texts = list(below())
    assert len(texts) > 6, "the help names the commands"
    yield from texts


def main():
    prove_that_it_can_fail()
    prove_that_a_sentence_elsewhere_is_seen()
    prove_that_a_poor_summary_is_seen()
    looked_at, complaints = 0, []

    def look(kind, place, text):
        nonlocal looked_at
        looked_at += sum(len(list(sentences(paragraph))) for _, paragraph in kind(text) if paragraph.strip())
        complaints.extend(too_long(kind, place, text))

    for name in MANUALS:
        look(markdown, name, Path(name).read_text())
    for source in sorted(Path("src").rglob("*.rs")):
        if source.name != "tests.rs" and "examples" not in source.stem:
            look(rust, source, source.read_text())
    for page in sorted(Path("src").rglob("*.html")):
        look(html, page, page.read_text())
    for source in sorted(Path("src").rglob("*.mjs")):
        look(script, source, source.read_text())
    for source in sorted(Path("src").rglob("*")):
        may_speak = source.is_relative_to(WORDS) or source == FOR_TESTS or source.name == "tests.rs" or "examples" in source.stem
        if source.suffix in KINDS and not may_speak:
            complaints.extend(stray(source, source.read_text()))
        if source.suffix == ".rs":
            complaints.extend(poor_summaries(source, source.read_text()))
    for program in sys.argv[1:]:
        for place, text in help_texts(program):
            look(help_text, place, text)
    print("\n".join(complaints + [f"{looked_at} sentences, {len(complaints)} too long, out of place or poorly begun"]))
    sys.exit(bool(complaints))


main()
