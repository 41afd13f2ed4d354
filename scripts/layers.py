"""What both networks are made of, the same as src/layers, and how they are fitted and written."""
import copy
import math
import sys
from types import SimpleNamespace

import numpy
import torch
from torch import nn
from torch.nn import functional

from halve import in_full

PLACES = 17  # of the table of distances
NEVER = -1e4  # added to the score of what is not there
COURSE = 2  # times the steps that are gone: the learning rate's course stops about half way down
COUNTED = 0.75  # of the steps, the last ones: the mean of their weights is what is written


class Layer(nn.Module):
    """A round of listening and thinking."""

    def __init__(self, size, heads, dropped):
        super().__init__()
        self.heads = heads
        self.before = nn.ModuleList([nn.LayerNorm(size), nn.LayerNorm(size)])
        self.ask, self.take_in = nn.Linear(size, 3 * size), nn.Linear(size, size)
        self.think = nn.ModuleList([nn.Linear(size, 2 * size), nn.Linear(2 * size, size)])
        self.drop = nn.Dropout(dropped)

    def forward(self, x, bias):
        takes, rows, size = x.shape
        asked = self.ask(self.before[0](x)).reshape(takes, rows, 3, self.heads, size // self.heads)
        query, key, value = asked.permute(2, 0, 3, 1, 4)
        heard = functional.scaled_dot_product_attention(query, key, value, attn_mask=bias.to(query.dtype))
        x = x + self.drop(self.take_in(heard.transpose(1, 2).reshape(takes, rows, size)))
        return x + self.drop(self.think[1](functional.gelu(self.think[0](self.before[1](x)))))

    def parts(self):
        return [*self.before, self.ask, self.take_in, *self.think]


class Embed(nn.Module):
    """Numbers to a row."""

    def __init__(self, inputs, size):
        super().__init__()
        self.steps = nn.ModuleList([nn.Linear(inputs, 2 * size), nn.Linear(2 * size, size)])

    def forward(self, x):
        return self.steps[1](functional.gelu(self.steps[0](x)))

    def parts(self):
        return [*self.steps]


class Pool(nn.Module):
    """Rows put together, each head weighing them in its own way."""

    def __init__(self, size, heads):
        super().__init__()
        self.gather, self.mix = nn.Linear(size, heads), nn.Linear(heads * size, size)

    def gathered(self, x, valid):
        shares = self.gather(x).masked_fill(~valid[..., None], NEVER).softmax(-2)
        return (shares.transpose(-1, -2) @ x).flatten(-2)

    def forward(self, x, valid):
        return self.mix(self.gathered(x, valid))

    def parts(self):
        return [self.gather, self.mix]


@torch.no_grad()
def distances(hz, unit_hz, per_e):
    """How much of each place of the table of distances applies between any two rows: takes, places, rows, rows."""
    at = (torch.asinh((hz[:, :, None] - hz[:, None]) / unit_hz) * per_e + PLACES // 2).clamp(0, PLACES - 1)
    places = torch.arange(PLACES, device=hz.device)[:, None, None]
    return (1 - (at[:, None] - places).abs()).clamp(min=0)


def apart(shares, table):
    """What the table, places by heads, adds for the distance between any two rows: takes, heads, rows, rows.

    Take by take, though the table is the same for all: its gradient is then summed by all of a card at once."""
    return (table.t().expand(len(shares), -1, -1) @ shares.flatten(2)).unflatten(2, shares.shape[2:])


def has(guitar, number):
    """Whether takes have a string of a guitar; a mixed take's number is minus the sum of 2^guitar."""
    return (guitar == number) | ((guitar < 0) & ((-guitar >> number) & 1 > 0))


def fit(network, learnt, loss_of, epochs, batch, rate, decay):
    """Fits a network to `learnt`, of which `loss_of` is given a part at a time; gives the weights' mean."""
    where = learnt.device
    mean = copy.deepcopy(network).eval()
    steps = epochs * math.ceil(len(learnt) / batch)
    optimiser = torch.optim.AdamW(network.parameters(), lr=rate, weight_decay=decay)
    course = torch.optim.lr_scheduler.OneCycleLR(optimiser, rate, total_steps=COURSE * steps + 1, pct_start=0.05)
    counted = -round((1 - COUNTED) * steps)
    for epoch in range(epochs):
        total = torch.zeros((), device=where)
        for part in learnt[torch.randperm(len(learnt)).to(where)].split(batch):
            with torch.autocast("cuda", torch.bfloat16, enabled=where.type == "cuda"):
                loss = loss_of(network, part)
            optimiser.zero_grad()
            loss.backward()
            nn.utils.clip_grad_norm_(network.parameters(), 1.0)
            optimiser.step()
            course.step()
            counted += 1
            with torch.no_grad():
                torch._foreach_lerp_(list(mean.parameters()), list(network.parameters()), 1 / max(counted, 1))
            total += loss.detach() * len(part)
        print(f"epoch {epoch + 1} of {epochs}: loss {float(total) / len(learnt):.4f}", flush=True)
    return mean


def asked():
    """What a program that fits a network is asked for: the table, the file to write, which guitars and makers are left
    out, the device, the file of the weights to begin from, if any, and how many epochs, if not as many as usual."""
    torch.manual_seed(1)
    torch.use_deterministic_algorithms(True, warn_only=True)
    options = dict(zip(sys.argv[3::2], sys.argv[4::2]))
    numbers = lambda name: [int(number) for number in options.get(name, "").split(",") if number]
    return SimpleNamespace(
        table=sys.argv[1],
        out=sys.argv[2],
        left_out=numbers("leave"),
        makers_left_out=numbers("without"),
        device=options.get("device", "cpu"),
        begin=options.get("from"),
        epochs=int(options["epochs"]) if "epochs" in options else None,
    )


def values(parts):
    """Weights, then biases, of each part, as they stand in a file."""
    for part in parts:
        both = [part] if isinstance(part, nn.Parameter) else [part.weight, getattr(part, "bias", None)]
        yield from (value for value in both if value is not None)


def write(path, head, parts):
    """Writes the values of all parts in the program's own format, as they are; scripts/train halves the file."""
    out = bytearray(head)
    for value in values(parts):
        out += value.detach().cpu().float().contiguous().numpy().astype("<f4").tobytes()
    with open(path, "wb") as file:
        file.write(out)


@torch.no_grad()
def read(path, head, parts):
    """Reads the values of all parts from such a file."""
    with open(path, "rb") as file:
        data = in_full(file.read())
    assert data[: len(head)] == head, f"{path}: {head!r} expected at its beginning, {data[: len(head)]!r} found"
    numbers = torch.from_numpy(numpy.frombuffer(data[len(head) :], dtype="<f4").copy())
    into = list(values(parts))
    for value, part in zip(into, numbers.split([value.numel() for value in into])):
        value.copy_(part.reshape(value.shape))
