#!/usr/bin/env python3
"""Writes the licences of all crates that the program is made of, by what `cargo tree` and `cargo metadata` say.

Where there is a choice Apache-2.0 is taken, whose text the program has anyway. Texts are the crates' own
files. Fails where a licence is not known here, or the text of one that asks for it is missing.

The usual tool for this builds 216 packages, TLS and two C libraries among them: too much for a check that
runs with every test.
"""

import json
import re
import subprocess
import sys
from pathlib import Path

# The licences that a crate may have, those that are taken first first, and words that each text has.
LICENCES = {
    "Apache-2.0": "Apache License Version 2.0",
    "MIT": "Permission is hereby granted, free of charge",
    "Zlib": "This software is provided 'as-is'",
    "0BSD": "Permission to use, copy, modify, and/or distribute",
    "Unlicense": "This is free and unencumbered software",
    "WTFPL": "DO WHAT THE FUCK YOU WANT TO",
    "Unicode-3.0": "UNICODE LICENSE V3",
    "Unicode-DFS-2016": "UNICODE, INC. LICENSE AGREEMENT - DATA FILES AND SOFTWARE",
    "MPL-2.0": "Mozilla Public License Version 2.0",
}
ORDER = list(LICENCES)
# Those that do not ask for their text to go along with a program.
FREE = {"Zlib", "0BSD", "Unlicense", "WTFPL"}
# For crates that name this licence and hold no text.
MIT = """Permission is hereby granted, free of charge, to any person obtaining a copy
of this software and associated documentation files (the "Software"), to deal
in the Software without restriction, including without limitation the rights
to use, copy, modify, merge, publish, distribute, sublicense, and/or sell
copies of the Software, and to permit persons to whom the Software is
furnished to do so, subject to the following conditions:

The above copyright notice and this permission notice shall be included in all
copies or substantial portions of the Software.

THE SOFTWARE IS PROVIDED "AS IS", WITHOUT WARRANTY OF ANY KIND, EXPRESS OR
IMPLIED, INCLUDING BUT NOT LIMITED TO THE WARRANTIES OF MERCHANTABILITY,
FITNESS FOR A PARTICULAR PURPOSE AND NONINFRINGEMENT. IN NO EVENT SHALL THE
AUTHORS OR COPYRIGHT HOLDERS BE LIABLE FOR ANY CLAIM, DAMAGES OR OTHER
LIABILITY, WHETHER IN AN ACTION OF CONTRACT, TORT OR OTHERWISE, ARISING FROM,
OUT OF OR IN CONNECTION WITH THE SOFTWARE OR THE USE OR OTHER DEALINGS IN THE
SOFTWARE."""
FILES = re.compile(r"(licen[cs]e|copying|unlicense|copyright)", re.IGNORECASE)


def choices(expression):
    """The sets of licences that each satisfy the expression."""
    tokens = re.findall(r"\(|\)|/|[\w.+-]+(?: WITH [\w.-]+)?", expression)

    def alternatives():
        found = both()
        while tokens and tokens[0] in ("OR", "/"):
            tokens.pop(0)
            found = found + both()
        return found

    def both():
        found = one()
        while tokens and tokens[0] == "AND":
            tokens.pop(0)
            more = one()
            found = [a | b for a in found for b in more]
        return found

    def one():
        token = tokens.pop(0)
        if token != "(":
            return [{token}]
        found = alternatives()
        tokens.pop(0)
        return found

    return alternatives()


def taken(crate):
    """The licences that the crate is taken under."""
    known = [c for c in choices(crate["license"] or "none") if c <= set(ORDER)]
    if not known:
        sys.exit(f"{crate['name']}: may its licence be built in? {crate['license']}; if so, add it to {__file__}")
    return min(known, key=lambda c: sorted((ORDER.index(l) for l in c), reverse=True))


def built_in():
    """The crates whose code is in the program on any system: not what only builds or tests it."""
    tree = ["tree", "--target", "all", "--edges", "normal,no-proc-macro", "--prefix", "none", "--format", "{p}"]
    names = {tuple(line.split()[:2]) for line in cargo(*tree).splitlines() if line.strip()}
    metadata = json.loads(cargo("metadata", "--format-version", "1"))
    crates = [p for p in metadata["packages"] if (p["name"], "v" + p["version"]) in names]
    if len(crates) != len(names):
        sys.exit("cargo tree and cargo metadata tell of different crates")
    # What comes from nowhere else is Ringtrue's own.
    return sorted((p for p in crates if p["source"]), key=lambda p: (p["name"], [int(n) for n in re.findall(r"\d+", p["version"])]))


def cargo(*arguments):
    return subprocess.run(["cargo", *arguments, "--locked", "--quiet"], check=True, capture_output=True, text=True).stdout


def squeezed(text):
    """The text for comparing: signs for comments and the layout left out."""
    return " ".join(re.sub(r"(?m)^\s*(//+|#)", " ", text).split())


def texts(crate, licence):
    """The licence's text from the crate's own files, and its notice if it asks for one to be kept."""
    folder = Path(crate["manifest_path"]).parent
    if licence == "Apache-2.0":
        # The text stands above already.
        return [read(file) for file in sorted(folder.glob("NOTICE*"))]
    files = [f for f in sorted(folder.rglob("*")) if f.is_file() and FILES.search(f.name) and f.suffix not in (".rs", ".toml")]
    words = squeezed(LICENCES[licence]).lower()
    found = [text for text in map(read, files) if words in squeezed(text).lower()][:1]
    if found or licence in FREE:
        return found
    if licence == "MIT":
        authors = ", ".join(re.sub(r" *<.*?>", "", author) for author in crate["authors"])
        return [f"Copyright (c) {authors or 'those named at ' + crate['repository']}\n\n{MIT}"]
    sys.exit(f"{crate['name']}: the text of its licence, {licence}, is missing")


def read(file):
    return file.read_text(encoding="utf-8", errors="replace").strip()


def name(crate):
    return f"{crate['name']} {crate['version']}"


def main():
    out = ["The crates that Ringtrue is made of, on one system or another", ""]
    groups = {}
    for crate in built_in():
        licences = sorted(taken(crate), key=ORDER.index)
        address = crate["repository"] or crate["homepage"]
        out.append(", ".join([f"{name(crate)}: {' and '.join(licences)}"] + ([address] if address else [])))
        for licence in licences:
            for text in texts(crate, licence):
                groups.setdefault((licence, squeezed(text)), (text, []))[1].append(crate)
            if licence == "MPL-2.0" and not address:
                sys.exit(f"{crate['name']}: where its source is must be told")
    out += [
        "",
        "The text of the Apache License, Version 2.0, is that of Ringtrue's own licence. The source of each crate",
        "under the Mozilla Public License 2.0, unchanged, is at the address beside it, in the version named.",
    ]
    for (licence, _), (text, under) in sorted(groups.items(), key=lambda g: (ORDER.index(g[0][0]), name(g[1][1][0]))):
        kind = "Notice" if licence == "Apache-2.0" else licence
        out += ["", "-" * 80, f"{kind}: {', '.join(map(name, under))}", "", text]
    lines = "\n".join(out).replace("\r\n", "\n").split("\n")
    print("\n".join(line.rstrip() for line in lines))


main()
