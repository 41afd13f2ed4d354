"""Fits the forest that tells which string buzzes, with LightGBM, and writes it in the program's own format.

fit_buzz.py TABLE FEATURES OUT [leave GUITAR]
fit_buzz.py TABLE FEATURES thresholds: no forest; each guitar judged by one that never heard it, what thresholds give

A row of TABLE is f32: guitar, take, string, label (0 clean, 1 buzzes, 2 rattle, -1 between), excess in dB,
computed, then FEATURES features.
"""
import sys

import lightgbm
import numpy

from fit import write

HEAD = 6
KINDS = 3
ROUNDS = 500
PARAMETERS = dict(
    objective="multiclass", num_class=KINDS, learning_rate=0.06, num_leaves=12, min_data_in_leaf=30,
    feature_fraction=0.3, bagging_fraction=0.7, bagging_freq=1, lambda_l2=5.0, max_bin=127, verbose=-1, seed=1,
    deterministic=True, force_row_wise=True, num_threads=1,
)


KEPT = 0.02  # share of clean takes that may be called buzzing, of calm and of hard strums each


def fitted(head, features, keep):
    keep = keep & (head[:, 3] >= 0)
    return lightgbm.train(PARAMETERS, lightgbm.Dataset(features[keep], head[keep, 3].astype(int)), ROUNDS)


def thresholds(head, features):
    """Prints what `BUZZES` and `RATTLES` of src/strings/buzz.rs should be, and what they give."""
    kinds = numpy.empty((len(head), KINDS))
    for guitar in numpy.unique(head[:, 0]):
        out = head[:, 0] == guitar
        kinds[out] = fitted(head, features, ~out).predict(features[out])
    _, take = numpy.unique(head[:, :2], axis=0, return_inverse=True)
    take = take.reshape(-1)
    takes = take.max() + 1

    def most(values):
        out = numpy.zeros(takes)
        numpy.maximum.at(out, take, values)
        return out

    label = head[:, 3]
    buzzes, between, rattles = (most(label == l) > 0 for l in (1, -1, 2))
    hard = most(head[:, 5] >= 2) > 0
    clean = ~(buzzes | between | rattles)
    highest = most(kinds[:, 1])
    rattle = numpy.bincount(take, kinds[:, 2]) / numpy.bincount(take)

    def limit(of):
        return numpy.sort(highest[of])[::-1][int(KEPT * of.sum())]

    def share(of, over):
        return f"{numpy.mean(over[of]):.3f} of {of.sum()}"

    print(f"buzzing at {KEPT} of all clean takes ({limit(clean):.3f}): {share(buzzes, highest > limit(clean))} found")
    at = max(limit(clean & hard), limit(clean & ~hard))
    told = highest > at
    print(f"at {KEPT} of calm and of hard clean takes each ({at:.3f}): {share(buzzes, told)} found, calm clean "
          f"{share(clean & ~hard, told)}, hard clean {share(clean & hard, told)}, with a rattle {share(rattles, told)}")
    rows = label == 1
    string = numpy.full(takes, -1)
    lift = numpy.zeros(takes)
    string[take[rows]], lift[take[rows]] = head[rows, 2], head[rows, 4]
    for low, high in ((1, 6), (6, 10), (10, 15), (15, 99)):
        print(f"    lifts by {low} to {high} dB: {share(buzzes & (lift >= low) & (lift < high), told)}")
    for number in range(6):
        print(f"    string {6 - number}, lifts by 10 dB and more: {share((string == number) & (lift >= 10), told)}")
    for at in numpy.arange(0.2, 0.6, 0.05):
        print(f"rattle told at {at:.2f}: {share(rattles, ~told & (rattle >= at))}, clean {share(clean, ~told & (rattle >= at))}")


def main():
    table, features, out = sys.argv[1:4]
    rows = numpy.fromfile(table, dtype=numpy.float32).reshape(-1, HEAD + int(features))
    head, features = rows[:, :HEAD], rows[:, HEAD:]
    if out == "thresholds":
        return thresholds(head, features)
    keep = numpy.ones(len(head), bool)
    if sys.argv[4:5] == ["leave"]:
        keep = head[:, 0] != int(sys.argv[5])
    write(fitted(head, features, keep), KINDS, out)


main()
