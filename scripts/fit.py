"""Fits the forests of the model with LightGBM and writes them in the program's own format.

fit.py note TABLE NAMES OUT [leave GUITAR] [fold F]   one class: does the note ring on its string
fit.py string TABLE NAMES OUT [leave GUITAR]          four classes: what became of the expected note

A row of TABLE is f32: guitar, take, string, fret, expected, label, features.
"""
import struct
import sys

import lightgbm
import numpy

HEAD = 6
SYMPATHETIC = 4  # guitar whose notes hold its other open strings' resonance: "open and gone" is no truth there
FOLDS = 3
COMMON = dict(
    learning_rate=0.08, num_leaves=20, min_data_in_leaf=40, feature_fraction=0.3, bagging_fraction=0.7, bagging_freq=1,
    lambda_l2=5.0, max_bin=127, verbose=-1, seed=1, deterministic=True, force_row_wise=True, num_threads=2,
)
ROUNDS = {"note": 400, "string": 250}


def splits_and_leaves(tree):
    splits, leaves = [], []

    def visit(node):
        if "leaf_value" in node:
            leaves.append(node["leaf_value"])
            return -len(leaves)
        assert node["decision_type"] == "<="
        at = len(splits)
        splits.append(None)
        left, right = visit(node["left_child"]), visit(node["right_child"])
        flags = (1 if node["default_left"] else 0) | (2 if node["missing_type"] == "None" else 0)
        # "Everything known goes left" is written as a threshold beyond any number.
        threshold = min(max(node["threshold"], -3e38), 3e38)
        splits[at] = (node["split_feature"], threshold, flags, left, right)
        return at

    visit(tree["tree_structure"])
    return splits, leaves


def write(booster, classes, path):
    dump = booster.dump_model()
    out = bytearray(struct.pack("<HHI", classes, booster.num_feature(), len(dump["tree_info"])))
    for tree in dump["tree_info"]:
        splits, leaves = splits_and_leaves(tree)
        out += struct.pack("<H", len(splits))
        for split in splits:
            out += struct.pack("<HfBhh", *split)
        out += struct.pack(f"<{len(leaves)}f", *leaves)
    with open(path, "wb") as file:
        file.write(out)


def main():
    what, table, names, out = sys.argv[1:5]
    options = dict(zip(sys.argv[5::2], map(int, sys.argv[6::2])))
    width = int(names) if names.isdigit() else len(open(names).read().split("\n"))
    rows = numpy.fromfile(table, dtype=numpy.float32).reshape(-1, HEAD + width)
    head, features = rows[:, :HEAD], rows[:, HEAD:]
    keep = ~((head[:, 0] == SYMPATHETIC) & (head[:, 3] == 0) & (head[:, 5] == 2))
    if "leave" in options:
        keep &= head[:, 0] != options["leave"]
    if "fold" in options:
        keep &= head[:, 0] % FOLDS != options["fold"]
    if what == "note":
        label = (head[:, 5] == 0).astype(int)
        parameters = dict(COMMON, objective="binary")
        classes = 1
    else:
        keep &= head[:, 4] == 1
        label = head[:, 5].astype(int)
        parameters = dict(COMMON, objective="multiclass", num_class=4)
        classes = 4
    data = lightgbm.Dataset(features[keep], label[keep])
    write(lightgbm.train(parameters, data, ROUNDS[what]), classes, out)


if __name__ == "__main__":
    main()
