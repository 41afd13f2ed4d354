"""Fits the network that points at the first string of a strum, and writes it in the program's own format.

fit_first_string.py TABLE OUT [leave GUITAR[,GUITAR]] [device cuda]

TABLE is what scripts/timing.rs writes; the guitars named are left out. Same table, same file on one kind of processor.
"""

import numpy
import torch
from torch import nn
from torch.nn import functional

from layers import asked, fit, write

# As in src/progression/first_string: samples a second, heard before the finder's onset, heard in all; sounds; samples
# of a frame and of a filter, and how many of them lie before a frame; frames that one takes in.
RATE_HZ, BEFORE, HEARD, SOUNDS, HOP, FILTER, FILTER_BEFORE, TAKEN_IN, DISTANCES = 11_025, 3_000, 4_200, 3, 11, 33, 11, 5, 7
FRAMES = HEARD // HOP
LEAST_FILTERED, LEAST, RAISED = 1e-7, 1e-9, 3.0

# The network and how it is fitted: see fixtures/measured/trials.md.
FILTERS, SIZE, ROUNDS = 48, 32, 8
EPOCHS, BATCH, RATE, DECAY, DROPPED = 6, 64, 2e-3, 0.01, 0.05
# What is done to every strum as it is learnt from: all of it earlier or later by so many samples at most, louder or
# softer (a standard deviation, natural logarithm).
SHIFTED, LOUDER = 300, 0.3
# The moment is known to so many frames.
KNOWN_TO = 0.8


class Network(nn.Module):
    """The same as src/progression/first_string/network."""

    def __init__(self):
        super().__init__()
        self.front = nn.Conv1d(SOUNDS, 2 * FILTERS, FILTER, stride=HOP, padding=FILTER_BEFORE)
        self.begin = nn.Conv1d(FILTERS + 2 * SOUNDS, SIZE, 1)
        apart = [2 ** (i % DISTANCES) for i in range(ROUNDS)]
        self.take_in = nn.ModuleList(nn.Conv1d(SIZE, 2 * SIZE, TAKEN_IN, padding=TAKEN_IN // 2 * a, dilation=a) for a in apart)
        self.mix = nn.ModuleList(nn.Conv1d(SIZE, SIZE, 1) for _ in apart)
        self.before = nn.ModuleList(nn.GroupNorm(1, SIZE) for _ in apart)
        self.end = nn.Conv1d(SIZE, 1, 1)
        self.drop = nn.Dropout(DROPPED)

    def forward(self, sounds):
        """The score of each frame, of sounds whose first one is 1 at its loudest."""
        sounds = sounds[..., : FRAMES * HOP]
        powers = self.front(sounds)[..., :FRAMES].square().unflatten(1, (2, FILTERS)).sum(1)
        squares = sounds.square().unflatten(-1, (FRAMES, HOP))
        levels = torch.cat([squares.mean(-1), squares.amax(-1)], 1)
        seen = torch.cat([torch.log10(powers + LEAST_FILTERED), torch.log10(levels + LEAST) / 2], 1)
        rows = self.begin(seen + RAISED)
        for before, take_in, mix in zip(self.before, self.take_in, self.mix):
            values, gates = take_in(before(rows)).chunk(2, 1)
            rows = rows + self.drop(mix(values * torch.sigmoid(gates)))
        return self.end(rows)[:, 0]

    def write(self, path):
        parts = [self.front, self.begin]
        for before, take_in, mix in zip(self.before, self.take_in, self.mix):
            # The program has what a frame takes in frame by frame.
            parts += [before, nn.Parameter(take_in.weight.permute(0, 2, 1)), take_in.bias, mix]
        write(path, b"RTF1" + bytes([FILTERS, SIZE, ROUNDS]), parts + [self.end])


def read(path, where):
    """The sounds of each strum whose moment is known, that moment in frames, and which guitar it is of."""
    table = numpy.memmap(path, dtype="<f4", mode="r").reshape(-1, 2 + SOUNDS * HEARD)
    table = table[numpy.isfinite(table[:, 1])]
    sounds = torch.from_numpy(table[:, 2:].copy()).reshape(-1, SOUNDS, HEARD)
    sounds = sounds / (sounds[:, :1].abs().amax(-1, keepdim=True) + LEAST)
    head = torch.from_numpy(table[:, :2].copy())
    return sounds.to(where), ((head[:, 1] * RATE_HZ + BEFORE) / HOP).to(where), head[:, 0].long()


def loss_of(network, sounds, moment):
    by = int(torch.randint(-SHIFTED, SHIFTED + 1, ()))
    sounds, moment = torch.roll(sounds, by, -1), (moment + by / HOP).clamp(0, FRAMES - 1)
    if by > 0:
        sounds[..., :by] = 0
    sounds = sounds * torch.exp(LOUDER * torch.randn(len(sounds), 1, 1, device=sounds.device))
    away = torch.arange(FRAMES, device=sounds.device) + 0.5 - moment[:, None]
    wanted = torch.exp(-((away / KNOWN_TO) ** 2) / 2)
    said = network(sounds).float().log_softmax(-1)
    return -(wanted / wanted.sum(-1, keepdim=True) * said).sum(-1).mean()


def main():
    wanted = asked()
    table, out, left_out, where = wanted.table, wanted.out, wanted.left_out, wanted.device
    sounds, moment, guitar = read(table, where)
    learnt = torch.nonzero(~torch.isin(guitar, torch.tensor(left_out)))[:, 0].to(where)
    loss = lambda network, part: loss_of(network, sounds[part], moment[part])
    fit(Network().to(where), learnt, loss, EPOCHS, BATCH, RATE, DECAY).write(out)


if __name__ == "__main__":
    main()
