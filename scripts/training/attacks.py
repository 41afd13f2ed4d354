"""The weights by which src/take/several.rs tells a chord struck again while it rings from a string picked beside it, and those
by which src/take/dead.rs tells a strum over dead strings from other thuds.

Of the first: constant, features, moved, rise: a logistic regression on all attacks where something rang before. Strokes of
running accompaniment count three times. Of dead strings: constant, sweep, count, span, loudness, lasts. Both are read from
what scripts/found.rs logs.
"""
import json
import math

EARLY_S, LATE_S, NEAR_S = 0.1, 0.03, 0.05  # strokes are labelled late
MOST_RISE_DB, REAL, ROUNDS, RIDGE = 12.0, 3.0, 25, 1e-3


def attacks(lines):
    """Features, whether several strings were struck, weight: of each attack whose truth is known."""
    for line in lines:
        words = line.rstrip("]\n").split("] ", 1)[-1].split(" ")
        if words[0] == "case":
            rate, is_pass, known = int(words[1]), words[2] == "true", words[3] == "true"
            strokes = json.loads(" ".join(words[4:]).rstrip("]") + "]")
        elif "several" in line and len(words) == 4 and not known:
            at = int(words[0]) / rate
            alone, moved, rise = map(float, words[1:])
            early, late = (NEAR_S, NEAR_S) if is_pass else (EARLY_S, LATE_S)
            if any(-early < at - stroke < late for stroke in strokes):
                weight = REAL if len(strokes) > 6 else 1.0
                yield (1.0, alone, moved, min(rise, MOST_RISE_DB)), not is_pass, weight


def thuds(lines):
    """The same of each thud that may be a strum over dead strings, where a chord is meant."""
    for line in lines:
        words = line.rstrip("]\n").split("] ", 1)[-1].split(" ")
        if words[0] == "case":
            rate, is_pass, known = int(words[1]), words[2] == "true", words[3] == "true"
            strokes = json.loads(" ".join(words[4:]).rstrip("]") + "]")
        elif "::dead" in line and len(words) == 6 and known:
            at = int(words[0]) / rate
            is_strum = not is_pass and any(abs(at - stroke) < NEAR_S for stroke in strokes)
            yield (1.0, *map(float, words[1:])), is_strum, 1.0


def solved(rows):
    """Solves a system of linear equations, the right side behind each row."""
    size = len(rows)
    for i in range(size):
        most = max(range(i, size), key=lambda r: abs(rows[r][i]))
        rows[i], rows[most] = rows[most], rows[i]
        for r in range(size):
            if r != i:
                factor = rows[r][i] / rows[i][i]
                rows[r] = [a - factor * b for a, b in zip(rows[r], rows[i])]
    return [rows[i][size] / rows[i][i] for i in range(size)]


def fitted(data):
    size = len(data[0][0])
    weights = [0.0] * size
    for _ in range(ROUNDS):
        rows = [[RIDGE * (i == j) for j in range(size)] + [-RIDGE * weights[i]] for i in range(size)]
        for x, several, count in data:
            odds = sum(a * b for a, b in zip(x, weights))
            p = 1 / (1 + math.exp(-max(-30.0, min(30.0, odds))))
            for i in range(size):
                rows[i][size] += count * (several - p) * x[i]
                for j in range(size):
                    rows[i][j] += count * p * (1 - p) * x[i] * x[j]
        weights = [w + step for w, step in zip(weights, solved(rows))]
    return weights


def weights(which, lines):
    """The weights of `several` or `dead`, from the lines of a log."""
    return fitted(list({"several": attacks, "dead": thuds}[which](lines)))
