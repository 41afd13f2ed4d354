"""The network that tells which string buzzes: src/strings/buzz."""

import math

import torch
from torch import nn
from torch.nn import functional

from layers import NEVER, Embed, Layer, Pool, apart, distances, has
from tables import in_parts

RATTLE, MAY_RATTLE = 1, 4  # what the table calls them
HERTZ_PER_BAND = 2000  # a band's last number is the octaves of its middle above this
TREBLE_HZ = 900  # from here on the equaliser below has a step

# The network and how it is fitted: see fixtures/measured/trials.md.
SIZES = dict(size=64, heads=4, layers=3)
BITS, EPOCHS, BATCH, RATE, DECAY, DROPPED = 16, 36, 128, 1.5e-3, 0.05, 0.1
# What is done to every take as it is learnt from: a smooth equaliser in dB, a step and a slope of the treble, noise on
# every number, rows left out, and all rows of one kind, so that none of them carries it alone.
EQUALISER_DB, TREBLE_DB, NOISE, LEFT_OUT, KIND_LEFT_OUT = 3.0, 3.0, 0.05, 0.1, 0.15
# Share of takes learnt from as a recording at 22.05 kHz shows them, and what that has not: its highest bands and pulses.
HALF_RATE, BANDS_22_KHZ, PULSES_22_KHZ = 0.2, 23, 6
# Weight of what else is known (what the string does to each octave, and for how long it strikes), and what that is
# multiplied by; weight of a string's sounding more like buzz than the same string without the fret.
BESIDE, SCALES, TWINS = 0.4, (0.1, 0.1, 0.1, 2.0), 0.3
# Weight of each string's own answer against the take's.
PER_STRING = 4.0


def equaliser(count, where):
    """A smooth gain drawn for each of `count` takes: from frequencies in Hz, a take along the first axis, to levels."""
    depth = torch.randn(count, 4, device=where) * EQUALISER_DB / math.sqrt(2)
    phase, treble = torch.rand(count, 4, device=where) * math.tau, torch.randn(count, 2, device=where) * TREBLE_DB

    def gain(hz):
        of = lambda values: values.view(count, *[1] * (hz.dim() - 1))
        part = torch.log2(hz.clamp(min=60) / 700) / 4
        db = of(treble[:, 0]) * (hz > TREBLE_HZ) + of(treble[:, 1]) * part.clamp(0, 1)
        for k in range(4):
            db = db + of(depth[:, k]) * torch.cos(math.pi * part * (k + 1) + of(phase[:, k])) / math.sqrt(k + 1)
        return db / 20

    return gain


def vary(x, hz, pulses, bands, c):
    """The same takes through other equalisers and with noise; which rows of lines, pulses and bands are heard."""
    count, where = len(x), x.device
    gain = equaliser(count, where)
    moved = lambda levels, by: torch.where(levels != 0, levels + by, levels)
    levels = c.row_numbers - c.line_places
    x = torch.cat([moved(x[..., :levels], gain(hz)[..., None]), x[..., levels:]], -1)
    band_hz = c.pulse_from_hz * 2 ** (torch.arange(c.pulses, device=where) / 2 + 0.25)
    pulses = pulses.unflatten(-1, (c.pulse_windows, c.pulse_window_numbers))
    level, by = c.pulse_window_numbers - 3, gain(band_hz.expand(count, c.strings, c.pulses))[..., None, None]
    pulses = torch.cat([pulses[..., :level], moved(pulses[..., level:-2], by), pulses[..., -2:]], -1).flatten(-2)
    bands = torch.cat([moved(bands[..., :-1], gain(HERTZ_PER_BAND * 2 ** bands[..., -1])[..., None]), bands[..., -1:]], -1)
    noisy = lambda values: values + NOISE * torch.randn_like(values)
    heard = [torch.rand(values.shape[:-1], device=where) > LEFT_OUT for values in (x, pulses, bands)]
    kinds = len(heard)
    kind = torch.where(torch.rand(count, device=where) < KIND_LEFT_OUT, torch.randint(0, kinds, (count,), device=where), kinds)
    heard = [rows & (kind != number).view(count, *[1] * (rows.dim() - 1)) for number, rows in enumerate(heard)]
    half = torch.rand(count, device=where) < HALF_RATE
    heard[1][..., PULSES_22_KHZ:] &= ~half[:, None, None]
    heard[2][..., BANDS_22_KHZ:] &= ~half[:, None]
    return noisy(x), noisy(pulses), noisy(bands), heard


class Network(nn.Module):
    """Its rows are all lines, string by string, all pulses, the bands."""

    LAYOUT = "buzz"
    ONLY_TO_LEARN = ("beside",)

    def __init__(self, constants, sizes=SIZES):
        super().__init__()
        self.constants, self.sizes = constants, dict(sizes)
        c, size, heads = constants, sizes["size"], sizes["heads"]
        all_heads = heads * sizes["layers"]
        pulse_numbers, band_numbers = c.pulse_windows * c.pulse_window_numbers, c.band_frames + 1
        self.lines, self.pulses, self.bands = Embed(c.row_numbers, size), Embed(pulse_numbers, size), Embed(band_numbers, size)
        self.kinds, self.pulse_bands = nn.Embedding(c.kinds, size), nn.Embedding(c.pulses, size)
        self.frets, self.strings = nn.Embedding(c.frets, size), nn.Embedding(c.strings, size)
        for table in (self.kinds, self.pulse_bands, self.frets, self.strings):
            nn.init.normal_(table.weight, std=0.1)
        self.whole = nn.Linear(3, size)
        self.layers = nn.ModuleList(Layer(size, heads, DROPPED) for _ in range(sizes["layers"]))
        self.near = nn.Parameter(torch.zeros(c.places, all_heads))
        self.kin = nn.Parameter(torch.zeros(2 * c.kinds * c.kinds, all_heads))
        self.of_string, self.of_take = Pool(size, heads), Pool(size, heads)
        self.notes = nn.ModuleList(Layer(size, heads, DROPPED) for _ in range(c.note_layers))
        self.end = nn.LayerNorm(size)
        self.buzzes, self.take = nn.Linear(size, 1), nn.Linear(size, 2)
        self.beside = nn.Linear(size, len(SCALES))
        counts = torch.tensor([c.strings * c.rows, c.strings * c.pulses, c.bands])
        kind = torch.arange(c.kinds).repeat_interleave(counts)
        strings = torch.arange(c.strings)
        string = [strings.repeat_interleave(c.rows), strings.repeat_interleave(c.pulses), torch.full((c.bands,), c.strings)]
        string = torch.cat(string)
        kin = kind[:, None] * c.kinds + kind + c.kinds * c.kinds * (string[:, None] != string)
        self.register_buffer("kinship", functional.one_hot(kin, 2 * c.kinds * c.kinds).float(), persistent=False)

    def forward(self, take):
        """Scores of each string's buzzing, of any buzz and of a rattle; what else is known."""
        c, heads = self.constants, self.sizes["heads"]
        x, hz, pulses, bands, note = take["x"].float(), take["hz"], take["pulses"].float(), take["bands"].float(), take["note"]
        count, lines = len(x), c.strings * c.rows
        there = [hz > 0, note[..., None].expand(-1, -1, c.pulses), torch.ones_like(bands[..., 0], dtype=torch.bool)]
        if self.training:
            x, pulses, bands, heard = vary(x, hz, pulses, bands, c)
            there = [t & h for t, h in zip(there, heard)]
        whole, kinds = self.whole(take["whole"])[:, None], self.kinds.weight
        places = self.strings.weight + self.frets(take["fret"]) + whole
        of_lines = self.lines(x) + (places + kinds[0])[:, :, None]
        of_pulses = self.pulses(pulses) + (places + kinds[1])[:, :, None] + self.pulse_bands.weight
        rows = torch.cat([of_lines.flatten(1, 2), of_pulses.flatten(1, 2), self.bands(bands) + kinds[2] + whole], 1)
        heard = torch.cat([t.flatten(1) for t in there], 1)
        near = distances(hz.flatten(1), c)
        for i, layer in enumerate(self.layers):
            of_layer = slice(i * heads, (i + 1) * heads)
            others = rows.shape[1] - lines
            of_lines = functional.pad(apart(near, self.near[:, of_layer]), (0, others, 0, others))
            bias = of_lines + (self.kinship @ self.kin[:, of_layer]).permute(2, 0, 1)
            rows = layer(rows, bias.masked_fill(~heard[:, None, None], NEVER))

        of_lines, of_pulses, of_bands = rows.split([lines, c.strings * c.pulses, c.bands], 1)
        own = [of_lines.unflatten(1, (c.strings, c.rows)), of_pulses.unflatten(1, (c.strings, c.pulses))]
        strings = self.of_string(torch.cat(own, 2), torch.cat(there[:2], 2)) + places
        notes = torch.cat([strings, self.of_take(of_bands, there[2])[:, None] + whole], 1)
        asked = functional.pad(note, (0, 1), value=True)
        bias = torch.zeros(count, 1, 1, 1 + c.strings, device=x.device).masked_fill(~asked[:, None, None], NEVER)
        for layer in self.notes:
            notes = layer(notes, bias.expand(-1, -1, 1 + c.strings, -1))
        notes = self.end(notes)
        strings = notes[:, : c.strings]
        return self.buzzes(strings)[..., 0], self.take(notes[:, c.strings]), self.beside(strings)


def takes_of(columns, constants, where):
    """What the network is given of each row of a table, by name."""
    c = constants
    tensor = lambda name: torch.from_numpy(columns[name]).to(where)
    lines, fret = tensor("lines"), tensor("strings")[..., 0].long()
    note = fret >= 0
    longest, spread = tensor("available_s").clamp(max=c.longest_s), c.spread_factor * tensor("spread_s")
    return dict(
        x=lines[..., 1:],
        hz=lines[..., 0],
        pulses=tensor("pulses"),
        bands=tensor("bands"),
        note=note,
        fret=fret.clamp(0, c.frets - 1),
        whole=torch.stack([longest, spread, note.sum(1) / c.strings], 1),
    )


def truth_of(columns, note, where):
    """What is known of each row of a table; not a number where it is not."""
    tensor = lambda name: torch.from_numpy(columns[name]).to(where)
    truth, distractor = tensor("strings")[..., 1].long(), tensor("distractor")
    unknown = torch.tensor(torch.nan, device=where)
    buzzes, between = (truth == 1) & note, (truth == -1) & note
    # A take with an unclear string buzzes if another does, or it is not known.
    any_of_them = torch.where(between.any(1) & ~buzzes.any(1), unknown, buzzes.any(1).float())
    rattles = torch.where(distractor == MAY_RATTLE, unknown, (distractor == RATTLE).float())
    # What a string does to the octaves is known where it is the only one that strikes.
    struck = (truth != 0) & note
    lifts = (tensor("lifts") * torch.tensor(SCALES, device=where)).clamp(-1, 4)
    known = note & (struck.sum(1) == 1)[:, None]
    return dict(
        of_strings=torch.where(note & ~between, buzzes.float(), unknown),
        of_take=torch.stack([any_of_them, rattles], 1),
        beside=torch.where(known[..., None], struck[..., None] * lifts[:, None], unknown),
    )


def told(scores, truth):
    """The mean loss of the scores whose truth is known; nothing where none is."""
    known = torch.isfinite(truth)
    if not known.any():
        return 0.0
    return functional.binary_cross_entropy_with_logits(scores.float()[known], truth[known])


class Material:
    """A table's takes. A twin, which is the same take without the fret, follows its take."""

    def __init__(self, table, where):
        names = ("guitar", "maker", "free", "available_s", "spread_s", "distractor", "lifts", "strings", "lines", "pulses", "bands")

        def part_of(columns):
            part = takes_of(columns, table.constants, where)
            part.update(truth_of(columns, part["note"], where))
            part.update((name, part[name].half()) for name in ("x", "pulses", "bands"))
            part.update((name, torch.from_numpy(columns[name]).to(where).long()) for name in ("guitar", "maker", "free"))
            return part

        takes = in_parts(table, names, part_of)
        self.guitar, self.maker, self.free = takes.pop("guitar"), takes.pop("maker"), takes.pop("free") > 0
        self.has_twin = torch.cat([self.free[1:], torch.zeros_like(self.free[:1])])
        self.constants, self.takes = table.constants, takes

    def learnt(self, guitars, makers):
        """Rows to learn from, without those of some guitars and makers."""
        learnt = torch.nonzero(~self.free)[:, 0]
        for number in guitars:
            learnt = learnt[~has(self.guitar[learnt], number)]
        for number in makers:
            learnt = learnt[self.maker[learnt] != number]
        return learnt

    def loss(self, network, part):
        twins = self.has_twin[part]
        rows = torch.cat([part, part[twins] + 1])
        take = {name: values[rows] for name, values in self.takes.items()}
        of_strings, of_take, beside = network(take)
        loss = PER_STRING * told(of_strings, take["of_strings"]) + told(of_take, take["of_take"])
        known = torch.isfinite(take["beside"])
        if known.any():
            loss = loss + BESIDE * functional.smooth_l1_loss(beside.float()[known], take["beside"][known], beta=0.3)
        # A string that strikes must sound more like buzz than its twin that does not.
        strikes = take["of_strings"][: len(twins)][twins] == 1
        more = of_strings[: len(twins)][twins] - of_strings[len(twins) :]
        if strikes.any():
            loss = loss + TWINS * functional.softplus(1 - more.float()[strikes]).mean()
        return loss


def said(network, columns):
    """What the program says of rows of a table, by name: probabilities."""
    of_strings, of_take, _ = network(takes_of(columns, network.constants, torch.device("cpu")))
    return dict(buzzes=of_strings.sigmoid(), take=of_take.sigmoid())
