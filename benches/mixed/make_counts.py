"""Writes a block folder of a million vines to time the mixed model on: python3 benches/mixed/make_counts.py FOLDER [SEED]

10,000 rows of 100 vines; 400 batches, four of them in each row (40,000 cells of 20 to 30 vines); 8 clones and 5 rootstocks crossed with
the batches in part: a batch holds two clones, and every fifth batch two rootstocks, the others one. A cell has one batch, clone and rootstock.

    failed ~ Binomial(planted, p),  logit p = logit(0.08) + row + batch + clone + rootstock,  sds 0.5, 0.6, 0.3, 0.3

Standard library only, and only `random.random`, whose stream Python holds stable, so that the same seed writes the same bytes. The truth is
written beside the counts as truth.json.
"""

import json
import math
import random
import sys
from pathlib import Path

ROWS, BATCHES, CLONES, STOCKS = 10_000, 400, 8, 5
CELLS_PER_ROW, VINES_PER_ROW = 4, 100
INTERCEPT = math.log(0.08 / 0.92)
SD = {"row": 0.5, "batch": 0.6, "clone": 0.3, "rootstock": 0.3}
BLOCK = 'name = "A million vines"\nplanted_on = 2025-04-15\n'


class Draw:
    def __init__(self, seed):
        self.uniform = random.Random(seed).random

    def below(self, n):
        return int(self.uniform() * n)

    def normal(self, sd):
        """Box and Muller (1958)."""
        return sd * math.sqrt(-2 * math.log(1 - self.uniform())) * math.cos(2 * math.pi * self.uniform())

    def effects(self, factor, n):
        return [self.normal(SD[factor]) for _ in range(n)]

    def distinct(self, n, among):
        found = []
        while len(found) < n:
            candidate = self.below(among)
            if candidate not in found:
                found.append(candidate)
        return found

    def failures(self, planted, p):
        return sum(self.uniform() < p for _ in range(planted))


def materials(draw):
    """The clones and rootstocks that each batch holds."""
    return [(draw.distinct(2, CLONES), draw.distinct(2 if b % 5 == 0 else 1, STOCKS)) for b in range(BATCHES)]


def sizes(draw):
    """Vines of a row's cells: 20 to 30 each, 100 together."""
    first, second = draw.below(6), draw.below(6)
    return [25 + first, 25 - first, 25 + second, 25 - second]


def cells(draw):
    effect = {"row": draw.effects("row", ROWS), "batch": draw.effects("batch", BATCHES)}
    effect |= {"clone": draw.effects("clone", CLONES), "rootstock": draw.effects("rootstock", STOCKS)}
    held = materials(draw)
    for row in range(ROWS):
        for batch, planted in zip(draw.distinct(CELLS_PER_ROW, BATCHES), sizes(draw)):
            clones, stocks = held[batch]
            clone, stock = clones[draw.below(len(clones))], stocks[draw.below(len(stocks))]
            eta = INTERCEPT + effect["row"][row] + effect["batch"][batch] + effect["clone"][clone] + effect["rootstock"][stock]
            failed = draw.failures(planted, 1 / (1 + math.exp(-eta)))
            yield f"{row + 1},{planted},{failed},B{batch + 1},Syrah,C{clone + 1},R{stock + 1}"


def main(folder, seed=1):
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    lines = ["row,planted,failed,batch,variety,clone,rootstock", *cells(Draw(int(seed)))]
    (folder / "counts.csv").write_text("\n".join(lines) + "\n")
    (folder / "block.toml").write_text(BLOCK)
    (folder / "truth.json").write_text(json.dumps({"intercept": INTERCEPT, "sd": SD, "seed": int(seed)}) + "\n")


if __name__ == "__main__":
    if len(sys.argv) not in (2, 3):
        sys.exit(__doc__)
    main(*sys.argv[1:])
