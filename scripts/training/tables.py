"""Reads the tables that scripts/training/table.rs writes: a line of JSON, then rows of 32-bit numbers."""

import json
import math

import numpy


class Table:
    """Rows of named columns, the constants by which the program makes them, and how they were made."""

    def __init__(self, path):
        with open(path, "rb") as file:
            line = file.readline()
        head = json.loads(line)
        self.layout, self.made = head["layout"], head["made"]
        self.constants = Constants(head["constants"])
        self.columns, width = {}, 0
        for name, shape in head["columns"]:
            self.columns[name] = (width, shape)
            width += math.prod(shape)
        self.rows = numpy.memmap(path, dtype="<f4", mode="r", offset=len(line)).reshape(-1, width)

    def __len__(self):
        return len(self.rows)

    def column(self, name, rows=slice(None)):
        """The numbers of a column in some rows: rows by its shape."""
        start, shape = self.columns[name]
        values = numpy.array(self.rows[rows, start : start + math.prod(shape)])
        return values.reshape(len(values), *shape)


class Constants:
    """The program's constants by name: whole numbers where they have no fraction. `texts` are as the program wrote them."""

    def __init__(self, texts):
        self.texts = dict(texts)

    def __getattr__(self, name):
        text = self.__dict__.get("texts", {}).get(name)
        if text is None:
            raise AttributeError(f"the program has no constant {name}")
        return float(text) if "." in text else int(text)
