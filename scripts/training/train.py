"""Makes the trained networks anew: composes what they learn from, fits them, and writes down how. `scripts/train` runs it.

The program itself composes sounds, finds what is in them and writes what a network sees as a table below target/training.
PyTorch fits the network to it. A table that is there is used again where it was made by the same command; remove it when
anything that makes evidence has changed. On one machine, without a graphics card, the same table gives the same file.
"""

import argparse
import copy
import hashlib
import importlib
import os
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

TRAINED, WORK = Path("src/layers/trained"), Path("target/training")

# What each network is called in src/layers/trained, the module that has it, and what is drawn for its table.
NETWORKS = {
    "strums": ("strums", "strings", dict(seed=11, takes=3200, drawn=250, drawn_takes=96, mixed=112_000)),
    "strokes": ("strokes", "strings", dict(seed=211, takes=1000, drawn=250, drawn_takes=30, mixed=40_000)),
    "buzz": ("buzz", "buzz", dict(seed=301, takes=600, drawn=250, drawn_takes=45, mixed=9000, laid=6000)),
    "first-string": ("first_string", "first_string", dict(seed=910_001, sessions=80, drawn=18)),
    "sweeps": ("sweep", "sweeps", dict(seed=1, scenes=3040)),
}
HEARS = {
    "strums": "what the strings of a strum did",
    "strokes": "what the string of one stroke did; fitted twice, from the weights for strums on, to two tables; the mean is kept",
    "buzz": "which string buzzes",
    "first-string": "when the first stroke of a strum fell",
    "sweeps": "when a hand sweeps over the strings; learns from the guitars that scripts/found.rs develops on, and no others",
}
DRAWN = {
    "seed": "seed of all draws; of the second table for strokes it is one more",
    "takes": "takes of each recorded guitar",
    "drawn": "guitars that are drawn, computed by their modes",
    "drawn_takes": "takes of each drawn guitar",
    "mixed": "takes whose strings are of several guitars",
    "laid": "takes of contact laid onto real strums",
    "sessions": "sessions of each guitar",
    "scenes": "scenes of 20 s",
}
# Enough to see that all parts fit together, and far too few to learn from; so many at once.
SMALL = 16
FEW = {
    "strums": dict(takes=2, drawn=1, drawn_takes=2, mixed=2),
    "strokes": dict(takes=1, drawn=0, drawn_takes=0, mixed=1),
    "buzz": dict(takes=1, drawn=0, drawn_takes=0, mixed=2, laid=0),
    "first-string": dict(sessions=1, drawn=0),
    "sweeps": dict(scenes=3),
}


def program(name, dev):
    """The place of an example, which is built first; the dev profile is quicker to build and slower to run."""
    profile = [] if dev else ["--release"]
    subprocess.run(["cargo", "build", "--quiet", *profile, "--example", name], check=True)
    return f"target/{'debug' if dev else 'release'}/examples/{name}"


def table_of(name, path, counts, dev):
    """Makes a table, unless it is there."""
    from tables import Table

    given = [word for key, value in counts.items() for word in (f"--{key.replace('_', '-')}", str(value))]
    if name == "buzz":
        keys = ("takes", "seed", "drawn", "drawn_takes", "mixed", "laid")
        arguments = ["table", str(path), "train", *(str(counts[key]) for key in keys)]
    else:
        arguments = [name, str(path), *given]
    path.parent.mkdir(parents=True, exist_ok=True)
    if path.exists() and Table(path).made["command"] == " ".join(arguments):
        print(f"{path} is there already, of commit {Table(path).made['commit']}", flush=True)
        return path
    command = [program("buzz" if name == "buzz" else "table", dev), *arguments]
    part = path.with_name(f"{path.name}.part")
    command[command.index(str(path))] = str(part)
    if name == "sweeps":
        scenes = [sys.executable, "scripts/training/scenes.py", "fixtures", str(counts["seed"]), str(counts["scenes"])]
        with subprocess.Popen(scenes, stdout=subprocess.PIPE) as composed:
            subprocess.run(command, stdin=composed.stdout, check=True)
        if composed.returncode:
            sys.exit("scripts/training/scenes.py did not end well; no table was made")
    else:
        subprocess.run(command, check=True)
    # The head names the table as it is called in the end. It stays as long, so that the rows, tens of GB, stay where they lie.
    with open(part, "r+b") as file:
        line = file.readline()
        file.seek(0)
        file.write(line.replace(str(part).encode(), str(path).encode()).rstrip(b" \n").ljust(len(line) - 1) + b"\n")
    return part.rename(path)


def fit_one(name, tables, out, begin, wanted):
    """Fits a network to its tables and writes it; gives how its tables were made and the epochs."""
    import torch

    import layers
    from golden import network_of
    from tables import Table

    module = importlib.import_module(NETWORKS[name][1])
    device = wanted.device
    if device == "auto":
        device = "cuda" if torch.cuda.is_available() else "cpu"
    where = torch.device(device)
    epochs = [module.EPOCHS] if begin is None else module.EPOCHS_ON[: len(tables)]
    epochs = [wanted.epochs or count for count in epochs]
    fitted, made = [], []
    for path, count in zip(tables, epochs):
        layers.is_repeatable(where)
        table = Table(path)
        made.append(dict(table.made))
        material = module.Material(table, where)
        learnt = material.learnt(wanted.leave, getattr(wanted, "without", []))
        print(f"{name}: {len(learnt)} of {len(table)} rows of {path}", flush=True)
        if begin is None:
            network, rate = module.Network(table.constants).to(where), module.RATE
        else:
            network, rate = copy.deepcopy(fitted[-1]) if fitted else network_of(module, begin), module.RATE_ON
            network = network.to(where).train()
        batch, rate = wanted.batch or module.BATCH, wanted.rate or rate
        fitted.append(layers.fit(network, learnt, material.loss, count, batch, rate, module.DECAY))
        del material
    network = fitted[0] if len(fitted) == 1 else layers.mean_of(*fitted)
    how = dict(tables=made, epochs=epochs, left_out=wanted.leave, makers_left_out=getattr(wanted, "without", []))
    how.update((name, value) for name in ("batch", "rate") if (value := getattr(wanted, name)))
    if begin is not None:
        how["begun_from_sha256"] = hashlib.sha256(Path(begin).read_bytes()).hexdigest()
    Path(out).parent.mkdir(parents=True, exist_ok=True)
    layers.write(out, network, table.constants, module.BITS, how)
    print(f"{out}: {Path(out).stat().st_size} bytes", flush=True)
    return made, epochs


def train(name, wanted):
    """Makes one network anew: the built-in one, unless another file is wanted."""
    file, module, usual = NETWORKS[name]
    counts = {key: getattr(wanted, key, None) if getattr(wanted, key, None) is not None else value for key, value in usual.items()}
    if wanted.leave and name == "sweeps":
        sys.exit("The network for sweeps has no guitars that could be left out one by one")
    if name == "strokes":
        seeds = [counts["seed"], counts["seed"] + 1]
        tables = [(WORK / f"strokes.{seed}.table", counts | {"seed": seed}) for seed in seeds]
    else:
        seeds = [counts["seed"]]
        tables = [(WORK / f"{file}.table", counts)]
    tables = [table_of(name, wanted.tables / path.name, each, wanted.dev) for path, each in tables]
    out = wanted.out or TRAINED / f"{file}.safetensors"
    begin = getattr(wanted, "begin", None)
    if name == "strokes" and begin is None:
        begin = TRAINED / "strums.safetensors"
    made, epochs = fit_one(name, tables, out, begin, wanted)
    if wanted.out is None:
        import golden
        import records

        module = importlib.import_module(module)
        known = [dict(table, seed=seed) for table, seed in zip(made, seeds)]
        records.record(file, module.Network.LAYOUT, module.BITS, known, epochs)
        golden.write(file, module, out, None)
        print("Now measure it, and write its figures into src/layers/trained/networks.toml (DEVELOPERS.md, To measure).")
    return out


def golden_answers(wanted):
    """Writes fixtures/golden anew from the built-in weights."""
    import golden

    seen = None
    if wanted.inputs:
        seen = WORK / "inputs"
        subprocess.run([program("table", wanted.dev), "inputs", str(seen)], check=True)
    for file, module, _ in NETWORKS.values():
        module = importlib.import_module(module)
        table = seen and seen / f"{file}.table"
        golden.write(file, module, TRAINED / f"{file}.safetensors", table)


def smoke(wanted):
    """Goes the whole way with few takes for every network: table, fit, and what is fitted read by the program. Fits twice,
    and asks for the same file."""
    work = WORK / "smoke"
    shutil.rmtree(work, ignore_errors=True)
    for name in NETWORKS:
        begin = work / "1/strums.safetensors" if name == "strokes" else None
        files = []
        for number in "12":
            out = work / number / f"{NETWORKS[name][0]}.safetensors"
            few = dict(leave=[], epochs=1, batch=SMALL, rate=None, device="cpu", dev=not wanted.release, tables=work, out=out, begin=begin)
            files.append(train(name, SimpleNamespace(**few, **FEW[name])))
        one, other = (path.read_bytes() for path in files)
        if one != other:
            sys.exit(f"{name}: the same table gave two files")
        subprocess.run([program("table", not wanted.release), "read", str(files[0])], check=True)


def thresholds(wanted):
    """What thresholds of src/strings/buzz/mod.rs give, each guitar left out in turn; trains what is missing."""
    subprocess.run(["sh", "-euc", f". scripts/tools.sh; train_leaving_out {WORK}"], check=True)
    subprocess.run([program("buzz", False), "thresholds", str(WORK), str(wanted.takes)], check=True)


def weights_of_attacks(wanted):
    """Prints weights that stand in a source, fitted to what the finder logs of the sounds it is developed on."""
    import attacks

    logged = os.environ | {"RAYON_NUM_THREADS": "1", "RUST_LOG": "trace"}
    command = [program("found", wanted.dev), "develop", str(wanted.cases)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, env=logged, text=True) as found:
        print(*(f"{weight:.2f}" for weight in attacks.weights(wanted.command, found.stdout)))


def numbers(text):
    return [int(number) for number in text.split(",")]


def parser():
    commands = argparse.ArgumentParser(prog="scripts/train", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    chosen = commands.add_subparsers(dest="command", required=True, metavar="COMMAND")

    def command(name, text, run):
        added = chosen.add_parser(name, help=text, description=f"{text[0].upper()}{text[1:]}.")
        added.set_defaults(run=run)
        return added

    def common(added):
        added.add_argument("--epochs", type=int, help="epochs of each fit, in place of the usual number")
        added.add_argument("--batch", type=int, help="takes that are learnt from at once, in place of the usual number")
        added.add_argument("--rate", type=float, help="highest learning rate, in place of the usual one")
        added.add_argument("--device", default="auto", help="cpu or cuda (default: a graphics card where there is one)")
        added.add_argument("--dev", action="store_true", help="make tables by programs of the dev profile: sooner built, slower")
        added.add_argument("--tables", type=Path, default=WORK, help="folder of the tables (default: %(default)s)")

    for name, (file, _, counts) in NETWORKS.items():
        added = command(name, HEARS[name], lambda wanted, name=name: train(name, wanted))
        added.add_argument("--out", type=Path, help="where to write it (default: the built-in one, and its entry in networks.toml)")
        added.add_argument("--leave", type=numbers, default=[], metavar="GUITARS", help="guitars it never hears, as in 1,9")
        if name == "buzz":
            added.add_argument("--without", type=numbers, default=[], metavar="MAKERS", help="makers of buzz it never hears, as in 0,2")
        if name in ("strums", "strokes"):
            which = {"strums": "none", "strokes": "the built-in ones"}[name]
            added.add_argument("--begin", type=Path, help=f"weights for strums to go on from (default: {which})")
        common(added)
        for key, usual in counts.items():
                added.add_argument(f"--{key.replace('_', '-')}", type=int, metavar="N", help=f"{DRAWN[key]} (default: {usual})")

    def all_of_them(wanted):
        for name in NETWORKS:
            train(name, wanted)

    added = command("all", "all built-in networks, one after the other", all_of_them)
    common(added)
    added.set_defaults(out=None, leave=[])

    added = command("golden", "what PyTorch makes of the built-in weights, into fixtures/golden, for tests", golden_answers)
    added.add_argument("--inputs", action="store_true", help="also what the networks see, anew: when that has changed")
    added.add_argument("--dev", action="store_true", help="by a program of the dev profile")

    added = command("thresholds", "what thresholds of src/strings/buzz/mod.rs give, each guitar left out in turn", thresholds)
    added.add_argument("takes", type=int, nargs="?", default=600, help="takes of each guitar (default: %(default)s)")

    for name, source in (("several", "src/take/several.rs"), ("dead", "src/take/dead.rs")):
        added = command(name, f"weights to put into {source}: a logistic regression on attacks", weights_of_attacks)
        added.add_argument("cases", type=int, nargs="?", default=60, help="composed cases of each kind (default: %(default)s)")
        added.add_argument("--dev", action="store_true", help="by a program of the dev profile")

    added = command("smoke", "the whole way with few takes for every network, in minutes", smoke)
    added.add_argument("--release", action="store_true", help="make tables by programs of the release profile")
    return commands


def main():
    wanted = parser().parse_args()
    wanted.run(wanted)


if __name__ == "__main__":
    main()
