"""The network that hears when a hand sweeps over the strings: src/take/sweep."""

import torch
from torch import nn
from torch.nn import functional

# The network and how it is fitted: see fixtures/measured/trials.md.
SIZES = dict(size=24)
BITS, EPOCHS, BATCH, RATE, DECAY = 32, 16, 16, 5e-3, 0.01
# A sweep is known to so many frames; one counts so many times more than what is none.
KNOWN_TO, COUNTS = 1.2, 1.0
# Two strings may be a sweep or not: they do not count, from so many frames before to so many after.
AROUND = (3, 4)
# The first frames of a scene do not count either.
UNKNOWN = 5
# What is done to every scene as it is learnt from: louder or softer, more treble or less (standard deviations in dB), and
# the upper bands silent in some, as in recordings at low rates.
LOUDER_DB, TILTED_DB, CUT = 3.0, 4.0, 8


def seen(levels, c):
    """What the network sees of each frame: levels against the loudest of the last second, and against those a moment before.
    What was before a recording is not known: the same as in its first frame."""
    loudest = functional.pad(levels.amax(1, keepdim=True), (c.loudest_frames - 1, 0), mode="replicate")
    top = functional.max_pool1d(loudest, c.loudest_frames, 1)
    before = functional.pad(levels, (c.lag, 0), mode="replicate")[..., : -c.lag]
    floor = top - c.depth_db
    changes = (torch.maximum(levels, floor) - torch.maximum(before, floor)) / 10
    return torch.cat([((levels - top) / 20 + 2).clamp(-1, 3), changes], 1)


class Network(nn.Module):
    """Gated convolutions: the frames are twice as far apart in each round as in the one before."""

    LAYOUT = "sweep"

    def __init__(self, constants, sizes=SIZES):
        super().__init__()
        self.constants, self.sizes = constants, dict(sizes)
        c, size = constants, sizes["size"]
        self.begin = nn.Conv1d(2 * c.bands, size, c.taken_in, padding=1)
        self.rounds = nn.ModuleList(nn.Conv1d(size, 2 * size, c.taken_in, dilation=2**k) for k in range(c.rounds))
        self.end = nn.Conv1d(size, 1, 1)

    def forward(self, levels):
        rows = self.begin(seen(levels, self.constants))
        for k, weights in enumerate(self.rounds):
            apart = 2**k
            # The first rounds have what comes of three frames in the middle one's place, the others in the last one's.
            reach = (apart, apart) if k < self.constants.rounds_ahead else (2 * apart, 0)
            values, gates = weights(functional.pad(rows, reach)).chunk(2, 1)
            rows = rows + values * torch.sigmoid(gates)
        return self.end(rows)[:, 0]


def varied(levels, silence_db):
    """Scenes as through other microphones."""
    count, bands, _ = levels.shape
    draw = lambda: torch.randn(count, 1, 1, device=levels.device)
    band = torch.linspace(-1, 1, bands, device=levels.device)[None, :, None]
    levels = levels + LOUDER_DB * draw() + TILTED_DB * draw() * band
    cut = torch.randint(0, bands, (count, 1, 1), device=levels.device)
    silent = (cut < CUT) & (torch.arange(bands, device=levels.device)[None, :, None] >= bands - cut)
    return torch.where(silent, torch.full_like(levels, silence_db), levels)


def wanted(strokes, frames):
    """For each frame how nearly it is a sweep's, and how much it counts. A row a stroke: place of its first and last
    string in frames, how many strings, place of their middle; no strings: no stroke."""
    place, is_sweep, counts = torch.arange(frames), torch.zeros(frames), torch.ones(frames)
    counts[:UNKNOWN] = 0
    for first, last, strings, middle in strokes.tolist():
        around = slice(max(0, round(first) - AROUND[0]), round(last) + AROUND[1])
        if strings == 2:
            counts[around] = 0
        elif strings > 2:
            near = torch.exp(-(((place - middle) / KNOWN_TO) ** 2) / 2)
            is_sweep = torch.maximum(is_sweep, near)
            counts[around] = torch.where(near[around] > 0.5, 1.0, 0.3)
    return torch.stack([is_sweep, counts])


class Material:
    """A table's scenes."""

    def __init__(self, table, where):
        self.constants = table.constants
        # A row has frame by frame what the network has band by band; 16 bits are what was learnt from.
        levels = torch.from_numpy(table.column("levels")).transpose(1, 2)
        self.levels = levels.half().float().to(where)
        strokes = torch.from_numpy(table.column("strokes"))
        self.truth = torch.stack([wanted(each, levels.shape[-1]) for each in strokes]).to(where)

    def learnt(self, _guitars, _makers):
        """Rows to learn from: all of them."""
        return torch.arange(len(self.levels), device=self.levels.device)

    def loss(self, network, part):
        is_sweep, counts = self.truth[part, 0], self.truth[part, 1]
        scores = network(varied(self.levels[part], self.constants.silence_db)).float()
        weight = counts * (1 + COUNTS * is_sweep)
        return functional.binary_cross_entropy_with_logits(scores, is_sweep, weight=weight)


def said(network, columns):
    """What the program says of rows of a table, by name: the log odds of each frame."""
    return dict(odds=network(torch.from_numpy(columns["levels"]).transpose(1, 2)))
