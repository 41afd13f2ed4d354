"""Writes the mean of the weights of two fits of one network, one of them gone on from the other.

mean.py ONE OTHER OUT
"""
import sys

import numpy

HEAD = 8  # bytes that say which network it is: see layers.write


def main():
    one, other = (open(path, "rb").read() for path in sys.argv[1:3])
    assert one[:HEAD] == other[:HEAD] and len(one) == len(other), f"{sys.argv[1]} and {sys.argv[2]} are of two networks"
    weights = [numpy.frombuffer(data[HEAD:], dtype="<f4").astype("<f8") for data in (one, other)]
    with open(sys.argv[3], "wb") as file:
        file.write(one[:HEAD] + (sum(weights) / 2).astype("<f4").tobytes())


if __name__ == "__main__":
    main()
