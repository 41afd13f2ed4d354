"""Keeps src/layers/trained/networks.toml, which says how each built-in network was made."""

import hashlib
import json
import re
import tomllib

FOLDER = "src/layers/trained"


def record(name, layout, bits, made, epochs):
    """Puts a network that was just fitted in the place of the one before. Its figures are unknown until it is measured."""
    path = f"{FOLDER}/networks.toml"
    with open(f"{FOLDER}/{name}.safetensors", "rb") as file:
        sha256 = hashlib.sha256(file.read()).hexdigest()
    commits = sorted({table["commit"] for table in made})
    entry = dict(
        file=f"{name}.safetensors",
        layout=layout,
        sha256=sha256,
        bits=bits,
        table_commit=", ".join(commits),
        seeds=[table["seed"] for table in made],
        takes="; ".join(table["command"] for table in made),
        epochs=epochs,
        figures="unknown",
    )
    lines = "".join(f"{key} = {json.dumps(value)}\n" for key, value in entry.items())
    with open(path, encoding="utf-8") as file:
        text = file.read()
    before = tomllib.loads(text).get(name, {}).get("figures", "unknown")
    print(f"Figures of the network before, and from where on this one is as good: {json.dumps(before)}")
    text, count = re.subn(rf"^\[{name}\]\n.*?(?=^\[[a-z]|\Z)", lambda _: f"[{name}]\n{lines}\n", text, flags=re.M | re.S)
    if count != 1:
        raise SystemExit(f"{path} has no entry [{name}]")
    with open(path, "w", encoding="utf-8") as file:
        file.write(text.rstrip("\n") + "\n")
