"""The network that points at the moment the first stroke of a strum falls: src/progression/first_stroke."""

import torch
from torch import nn
from torch.nn import functional

# The network and how it is fitted: see fixtures/measured/trials.md.
SIZES = dict(filters=48, size=32, rounds=8)
# What 16 bits would do to it was not measured.
BITS, EPOCHS, BATCH, RATE, DECAY, DROPPED = 32, 6, 64, 2e-3, 0.01, 0.05
# What is done to every strum as it is learnt from: all of it earlier or later by so many samples at most, louder or
# softer (a standard deviation, natural logarithm).
SHIFTED, LOUDER = 300, 0.3
# The moment is known to so many frames.
KNOWN_TO = 0.8


class Network(nn.Module):
    LAYOUT = "first_string"

    def __init__(self, constants, sizes=SIZES):
        super().__init__()
        self.constants, self.sizes = constants, dict(sizes)
        c, filters, size = constants, sizes["filters"], sizes["size"]
        self.front = nn.Conv1d(c.sounds, 2 * filters, c.filter, stride=c.hop, padding=c.filter_before)
        self.begin = nn.Conv1d(filters + 2 * c.sounds, size, 1)
        apart = [2 ** (i % c.rounds_of_distances) for i in range(sizes["rounds"])]
        padding = c.taken_in // 2
        self.take_in = nn.ModuleList(nn.Conv1d(size, 2 * size, c.taken_in, padding=padding * a, dilation=a) for a in apart)
        self.mix = nn.ModuleList(nn.Conv1d(size, size, 1) for _ in apart)
        self.before = nn.ModuleList(nn.GroupNorm(1, size) for _ in apart)
        self.end = nn.Conv1d(size, 1, 1)
        self.drop = nn.Dropout(DROPPED)

    def forward(self, sounds):
        """The score of each frame, of sounds whose first one is 1 at its loudest."""
        c = self.constants
        frames = c.heard // c.hop
        sounds = sounds[..., : frames * c.hop]
        powers = self.front(sounds)[..., :frames].square().unflatten(1, (2, self.sizes["filters"])).sum(1)
        squares = sounds.square().unflatten(-1, (frames, c.hop))
        levels = torch.cat([squares.mean(-1), squares.amax(-1)], 1)
        seen = torch.cat([torch.log10(powers + c.least_filtered), torch.log10(levels + c.least) / 2], 1)
        rows = self.begin(seen + c.raised)
        for before, take_in, mix in zip(self.before, self.take_in, self.mix):
            values, gates = take_in(before(rows)).chunk(2, 1)
            rows = rows + self.drop(mix(values * torch.sigmoid(gates)))
        return self.end(rows)[:, 0]


def scaled(sounds, constants):
    """The sounds, the first one 1 at its loudest."""
    return sounds / (sounds[:, :1].abs().amax(-1, keepdim=True) + constants.least)


class Material:
    """The strums of a table whose moment is known."""

    def __init__(self, table, where):
        c = self.constants = table.constants
        moment_s = torch.from_numpy(table.column("moment_s"))
        known = torch.isfinite(moment_s).nonzero()[:, 0].numpy()
        self.sounds = scaled(torch.from_numpy(table.column("sounds", known)), c).to(where)
        self.moment = ((moment_s[known] * c.rate_hz + c.before) / c.hop).to(where)
        self.guitar = torch.from_numpy(table.column("guitar", known)).long()

    def learnt(self, guitars, _makers):
        """Rows to learn from, without those of some guitars."""
        learnt = torch.nonzero(~torch.isin(self.guitar, torch.tensor(guitars, dtype=torch.long)))[:, 0]
        return learnt.to(self.sounds.device)

    def loss(self, network, part):
        c = self.constants
        frames = c.heard // c.hop
        by = int(torch.randint(-SHIFTED, SHIFTED + 1, ()))
        sounds = torch.roll(self.sounds[part], by, -1)
        moment = (self.moment[part] + by / c.hop).clamp(0, frames - 1)
        if by > 0:
            sounds[..., :by] = 0
        sounds = sounds * torch.exp(LOUDER * torch.randn(len(sounds), 1, 1, device=sounds.device))
        away = torch.arange(frames, device=sounds.device) + 0.5 - moment[:, None]
        wanted = torch.exp(-((away / KNOWN_TO) ** 2) / 2)
        scores = network(sounds).float().log_softmax(-1)
        return -(wanted / wanted.sum(-1, keepdim=True) * scores).sum(-1).mean()


def said(network, columns):
    """What the program says of rows of a table, by name: the score of each frame."""
    return dict(scores=network(scaled(torch.from_numpy(columns["sounds"]), network.constants)))
