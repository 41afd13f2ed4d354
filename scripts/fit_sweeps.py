"""Fits the network that hears sweeps over the strings, and writes it in the program's own format.

fit_sweeps.py FIXTURES OUT [device cuda] [epochs COUNT]

Composes what it is fitted on (scripts/compose_sweeps.py). Same fixtures, same file on one kind of processor.
"""

import os
from concurrent.futures import ProcessPoolExecutor

import numpy
import torch
from torch import nn
from torch.nn import functional

from compose_sweeps import RATE_HZ, SECONDS, scenes
from layers import asked, fit, write

# As in src/take/sweep: seconds of a frame, samples from frame to frame, bands, frames that one takes in and how far apart
# they are, and whether the middle one of them is what comes of it.
FRAME_S, HOP = 0.02, 220
LOWEST_HZ, HIGHEST_HZ, NARROWEST_HZ, SILENCE_DB = 70.0, 8000.0, 45.0, -100.0
LOUDEST_FRAMES, DEPTH_DB, LAG = 100, 60.0, 4
TAKEN_IN, ROUNDS = 3, [(1, True), (2, True), (4, True), (8, False), (16, False)]
FRAMES = int(SECONDS * RATE_HZ) // HOP

# The network and how it is fitted: see fixtures/measured/trials.md.
WIDTH, EPOCHS, BATCH, RATE, DECAY = 24, 16, 16, 5e-3, 0.01
SCENES, SEED, PARTS = 3040, 1, 16
# A sweep is known to so many frames; one counts so many times more than what is none.
KNOWN_TO, COUNTS = 1.2, 1.0
# Two strings may be a sweep or not: they do not count, from so many frames before to so many after.
AROUND = (3, 4)
# The first frames of a scene do not count either.
UNKNOWN = 5
# What is done to every scene as it is learnt from: louder or softer, more treble or less (standard deviations in dB), and
# the upper bands silent in some, as in recordings at low rates.
LOUDER_DB, TILTED_DB, CUT = 3.0, 4.0, 8


def edges_hz():
    edges = [LOWEST_HZ]
    while edges[-1] < HIGHEST_HZ:
        edges.append(min(max(edges[-1] * 2 ** (1 / 3), edges[-1] + NARROWEST_HZ), HIGHEST_HZ))
    return edges


def levels(samples):
    """Level of each band in dB, a frame every HOP samples, around whose middle it lies."""
    frame = round(FRAME_S * RATE_HZ)
    size = 1 << (2 * frame - 1).bit_length()
    edges = [round(hz * size / RATE_HZ) for hz in edges_hz()]
    padded = numpy.pad(samples, (frame // 2, frame))
    frames = numpy.lib.stride_tricks.sliding_window_view(padded, frame)[::HOP][:FRAMES]
    powers = numpy.abs(numpy.fft.rfft(frames * numpy.hanning(frame + 1)[:-1], size)) ** 2
    bands = numpy.add.reduceat(powers, edges, axis=1)[:, :-1]
    return 10 * numpy.log10(bands * 2 / (frame * frame * 0.375) + 10 ** (SILENCE_DB / 10))


def wanted(strokes):
    """For each frame how nearly it is a sweep's, and how much it counts."""
    frames, is_sweep, counts = numpy.arange(FRAMES), numpy.zeros(FRAMES), numpy.ones(FRAMES)
    counts[:UNKNOWN] = 0
    place = lambda s: s * RATE_HZ / HOP
    for first_s, last_s, strings, middle_s in strokes:
        around = slice(max(0, round(place(first_s)) - AROUND[0]), round(place(last_s)) + AROUND[1])
        if strings == 2:
            counts[around] = 0
        elif strings > 2:
            near = numpy.exp(-(((frames - place(middle_s)) / KNOWN_TO) ** 2) / 2)
            is_sweep = numpy.maximum(is_sweep, near)
            counts[around] = numpy.where(near[around] > 0.5, 1, 0.3)
    return numpy.stack([is_sweep, counts])


def part(fixtures, seed, count):
    both = [(levels(samples).T, wanted(strokes)) for samples, strokes in scenes(fixtures, seed, count)]
    return tuple(numpy.stack(each).astype("f2") for each in zip(*both))


def seen(levels):
    """What the network sees of each frame: levels against the loudest of the last second, and against those a moment before.
    What was before a recording is not known: the same as in its first frame."""
    loudest = functional.pad(levels.amax(1, keepdim=True), (LOUDEST_FRAMES - 1, 0), mode="replicate")
    top = functional.max_pool1d(loudest, LOUDEST_FRAMES, 1)
    before = functional.pad(levels, (LAG, 0), mode="replicate")[..., :-LAG]
    floor = top - DEPTH_DB
    changes = (torch.maximum(levels, floor) - torch.maximum(before, floor)) / 10
    return torch.cat([((levels - top) / 20 + 2).clamp(-1, 3), changes], 1)


class Network(nn.Module):
    """The same as src/take/sweep/network.rs."""

    def __init__(self, bands):
        super().__init__()
        self.begin = nn.Conv1d(2 * bands, WIDTH, TAKEN_IN, padding=1)
        self.rounds = nn.ModuleList(nn.Conv1d(WIDTH, 2 * WIDTH, TAKEN_IN, dilation=apart) for apart, _ in ROUNDS)
        self.end = nn.Conv1d(WIDTH, 1, 1)

    def forward(self, levels):
        rows = self.begin(seen(levels))
        for weights, (apart, middle) in zip(self.rounds, ROUNDS):
            values, gates = weights(functional.pad(rows, (apart, apart) if middle else (2 * apart, 0))).chunk(2, 1)
            rows = rows + values * torch.sigmoid(gates)
        return self.end(rows)[:, 0]

    def write(self, path):
        # The program has what a frame takes in frame by frame.
        by_frame = lambda layer: [nn.Parameter(layer.weight.permute(0, 2, 1)), layer.bias]
        parts = [value for layer in [self.begin, *self.rounds, self.end] for value in by_frame(layer)]
        write(path, b"RTW1" + bytes([WIDTH]), parts)


def varied(levels):
    """Scenes as through other microphones."""
    count, bands, _ = levels.shape
    draw = lambda: torch.randn(count, 1, 1, device=levels.device)
    band = torch.linspace(-1, 1, bands, device=levels.device)[None, :, None]
    levels = levels + LOUDER_DB * draw() + TILTED_DB * draw() * band
    cut = torch.randint(0, bands, (count, 1, 1), device=levels.device)
    silent = (cut < CUT) & (torch.arange(bands, device=levels.device)[None, :, None] >= bands - cut)
    return torch.where(silent, torch.full_like(levels, SILENCE_DB), levels)


def main():
    fixtures, out, _, where, _, epochs = asked()
    where = torch.device(where)
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        parts = list(pool.map(part, [fixtures] * PARTS, range(SEED, SEED + PARTS), [SCENES // PARTS] * PARTS))
    heard, truth = (torch.from_numpy(numpy.concatenate(each)).to(where).float() for each in zip(*parts))

    def loss_of(network, chosen):
        is_sweep, counts = truth[chosen, 0], truth[chosen, 1]
        weight = counts * (1 + COUNTS * is_sweep)
        said = network(varied(heard[chosen])).float()
        return functional.binary_cross_entropy_with_logits(said, is_sweep, weight=weight)

    network = Network(heard.shape[1]).to(where)
    learnt = torch.arange(len(heard), device=where)
    fit(network, learnt, loss_of, epochs or EPOCHS, BATCH, RATE, DECAY).write(out)


if __name__ == "__main__":
    main()
