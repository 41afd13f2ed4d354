"""What the networks are made of, the same as src/layers; how they are fitted, written and read."""

import copy
import json
import math
import struct

import torch
from safetensors import safe_open
from safetensors.torch import load_file, save
from torch import nn
from torch.nn import functional

SEED = 1  # of weights, and of the order and the variations of what is learnt
NEVER = -1e4  # added to the score of what is not there
COURSE = 2  # times the steps that are gone: the learning rate's course stops about half way down
COUNTED = 0.75  # of the steps, the last ones: the mean of their weights is what is written


def is_repeatable(device):
    """Asks PyTorch for the same result twice. On a card attention's gradient has no such form: there it only warns."""
    torch.manual_seed(SEED)
    torch.use_deterministic_algorithms(True, warn_only=device.type == "cuda")


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


class Embed(nn.Module):
    """Numbers to a row."""

    def __init__(self, inputs, size):
        super().__init__()
        self.steps = nn.ModuleList([nn.Linear(inputs, 2 * size), nn.Linear(2 * size, size)])

    def forward(self, x):
        return self.steps[1](functional.gelu(self.steps[0](x)))


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


@torch.no_grad()
def distances(hz, constants):
    """How much of each place of the table of distances applies between any two rows: takes, places, rows, rows."""
    last = constants.places - 1
    away = torch.asinh((hz[:, :, None] - hz[:, None]) / constants.unit_hz) * constants.places_per_e
    at = (away + constants.places // 2).clamp(0, last)
    places = torch.arange(constants.places, device=hz.device)[:, None, None]
    # In place: these are the largest numbers of all, and room for them is what takes the time on a processor.
    return (at[:, None] - places).abs_().neg_().add_(1).clamp_(min=0)


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
        if not torch.isfinite(total):
            raise SystemExit("The loss is no number: some part of the table has nothing that is known, or numbers that are none")
        print(f"epoch {epoch + 1} of {epochs}: loss {float(total) / len(learnt):.4f}", flush=True)
    return mean


def weights_of(network):
    """What is written of a network: all its tensors but those that only help to learn."""
    helps = tuple(f"{name}." for name in getattr(network, "ONLY_TO_LEARN", ()))
    return {name: value for name, value in network.state_dict().items() if not name.startswith(helps or ("\0",))}


def write(path, network, constants, bits, made):
    """Writes a network as src/layers/file.rs reads it: layout, sizes, constants and how it was made in the head."""
    dtype = {16: torch.float16, 32: torch.float32}[bits]
    tensors = {name: value.detach().cpu().to(dtype).contiguous() for name, value in weights_of(network).items()}
    head = dict(constants.texts, layout=network.LAYOUT, made=json.dumps(made, sort_keys=True))
    head.update((name, str(size)) for name, size in network.sizes.items())
    data = save(tensors, head)
    # The library writes the head in an order of its own each time: the same weights are to be the same file.
    length = struct.unpack("<Q", data[:8])[0]
    text = json.loads(data[8 : 8 + length])
    text["__metadata__"] = dict(sorted(text["__metadata__"].items()))
    text = json.dumps(text, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 8)
    with open(path, "wb") as file:
        file.write(struct.pack("<Q", len(text)) + text + data[8 + length :])


def head_of(path):
    """The head of a network's file."""
    with safe_open(path, "pt") as file:
        return file.metadata()


def load(network, path):
    """Puts a file's weights into a network. What only helps to learn stays as it is."""
    found = {name: value.float() for name, value in load_file(path).items()}
    lacking, left_over = network.load_state_dict(found, strict=False)
    wanted = [name for name in lacking if name in weights_of(network)]
    if wanted or left_over:
        raise SystemExit(f"{path} is no such network: it lacks {wanted or 'nothing'}, {left_over or 'nothing'} is left over")
    return network


@torch.no_grad()
def mean_of(one, other):
    """A network with the mean of the weights of two fits, one of them gone on from the other."""
    mean = copy.deepcopy(one)
    for value, first, second in zip(mean.parameters(), one.parameters(), other.parameters()):
        value.copy_((first.double() + second.double()) / 2)
    return mean
