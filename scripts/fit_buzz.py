"""Fits the forest that tells which string buzzes, with LightGBM, and writes it in the program's own format.

fit_buzz.py TABLE FEATURES OUT [leave GUITAR]

A row of TABLE is f32: guitar, take, string, label (0 clean, 1 buzzes, 2 rattle, -1 between), excess in dB,
computed, then FEATURES features.
"""
import sys

import lightgbm
import numpy

from fit import write

HEAD = 6
KINDS = 3
ROUNDS = 250
PARAMETERS = dict(
    objective="multiclass", num_class=KINDS, learning_rate=0.06, num_leaves=12, min_data_in_leaf=30,
    feature_fraction=0.3, bagging_fraction=0.7, bagging_freq=1, lambda_l2=5.0, max_bin=127, verbose=-1, seed=1,
    deterministic=True, force_row_wise=True, num_threads=2,
)


def main():
    table, features, out = sys.argv[1:4]
    rows = numpy.fromfile(table, dtype=numpy.float32).reshape(-1, HEAD + int(features))
    head = rows[:, :HEAD]
    keep = head[:, 3] >= 0
    if sys.argv[4:5] == ["leave"]:
        keep &= head[:, 0] != int(sys.argv[5])
    data = lightgbm.Dataset(rows[keep, HEAD:], head[keep, 3].astype(int))
    write(lightgbm.train(PARAMETERS, data, ROUNDS), KINDS, out)


main()
