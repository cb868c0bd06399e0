"""Names that nobody bears, put together from plants and places of no map."""

from __future__ import annotations

import random

PLANTS = (
    "Alder", "Aster", "Bramble", "Campion", "Clover", "Fennel", "Foxglove", "Hazel", "Heather", "Juniper", "Larkspur",
    "Laurel", "Linden", "Marigold", "Myrtle", "Poppy", "Rowan", "Saffron", "Sorrel", "Tansy", "Thistle", "Willow",
)  # fmt: skip
FIRST_HALVES = (
    "Amber", "Barley", "Cinder", "Dapple", "Ember", "Feather", "Gravel", "Harbour", "Island", "Kettle", "Lantern",
    "Meadow", "Nettle", "Otter", "Pebble", "Quarry", "River", "Shingle", "Tide", "Umber", "Velvet", "Weather",
)  # fmt: skip
SECOND_HALVES = ("bank", "bay", "brook", "cliff", "combe", "field", "ford", "gate", "haven", "lea", "moor", "wick")


def given_names(chance: random.Random) -> str:
    """One plant, sometimes two."""
    first = chance.choice(PLANTS)
    return f"{first} {chance.choice(PLANTS)}" if chance.random() < 0.15 else first


def family_name(chance: random.Random) -> str:
    """A place such as Harbourfield."""
    return chance.choice(FIRST_HALVES) + chance.choice(SECOND_HALVES)
