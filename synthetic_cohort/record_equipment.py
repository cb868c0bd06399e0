"""Rows about what was used on a side: wires, sheaths, scopes, fibres, settings, tracts, shock waves."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import date
from typing import Any

from synthetic_cohort.catalogue import ITEMS, identifier_of, sheath_code
from synthetic_cohort.outcome import FLEXIBLE, MINI, PERCUTANEOUS, SEMIRIGID, SHOCK_WAVE
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.record_scopes import lot_of, opened
from synthetic_cohort.story import Row, SideStory

SIZES = (100, 110, 120)
FIRST_THULIUM_YEAR = 2021


def uses(
    parameters: Parameters,
    side: SideStory,
    chance: random.Random,
    more: random.Random,
    of: dict[str, Any],
    on: date,
    stented: bool,
) -> None:
    """Each attempt in the order it was made.

    Args:
        parameters: shares of lots, failures and second pairs.
        side: where.
        chance: the source of detail.
        more: a source of its own, for lots, scopes and second pairs.
        of: the side in the cohort.
        on: the day.
        stented: with a stent at the end.
    """
    p = parameters

    def lot() -> Row:
        return {"lot": lot_of(more, on)} if more.random() < p.share_lot else {}

    technique = of["technique"]
    if technique == SHOCK_WAVE:
        side.use("SW-1", serial="W4001", most_of_lithotripsy="yes")
        return
    _ways_in(side, chance, lot)
    if technique == FLEXIBLE:
        _sheaths(p, side, chance, more, of, on)
        if of["scope"] > 0 and opened(p, side, more, f"SC-{of['scope']}", on):
            side.numbered("side_event", "event_number", event="equipment_failure")
    elif technique == SEMIRIGID:
        side.use("SR-65", serial=chance.choice(ITEMS["SR-65"]), most_of_lithotripsy="yes")
    else:
        side.use("PS-16" if technique == MINI else "PS-28", most_of_lithotripsy="yes")
        model = "NS-12" if technique == MINI else "NS-24"
        side.use(model, serial=chance.choice(ITEMS[model]), most_of_lithotripsy="yes")
    if lithotripsy(of):
        _energy(side, chance, of, on, lot)
    if of["suction"]:
        side.use("VS-1")
    if stented:
        side.use("ST-6", **lot())


def _ways_in(side: SideStory, chance: random.Random, lot: Callable[[], Row]) -> None:
    side.use("GW-35" if chance.random() < 0.7 else "GW-38", **lot())
    if side.row.get("ureter_dilated") == "yes":
        side.use("DL-10", **lot())
    if side.row.get("irrigation_drive") == "automatic_pump":
        side.use("IR-P")


def _energy(side: SideStory, chance: random.Random, of: dict[str, Any], on: date, lot: Callable[[], Row]) -> None:
    technique = of["technique"]
    if technique == PERCUTANEOUS:
        side.use("PS-U", serial=ITEMS["PS-U"][0])
    else:
        laser = "LG-T" if thulium(of, on) else "LG-H"
        side.use("LF-200" if technique == FLEXIBLE else "LF-272", **lot())
        side.use(laser, serial=ITEMS[laser][0])
    if chance.random() < 0.55:
        side.use("RD-19", **lot())


def lithotripsy(of: dict[str, Any]) -> bool:
    """A stone was there and was worked on."""
    return bool(of["intended"] and of["residual_mm"] < of["largest_mm"])


def thulium(of: dict[str, Any], on: date) -> bool:
    """The thulium fibre laser came in 2021; four of the six operators took it up."""
    return on.year >= FIRST_THULIUM_YEAR and of["operator"] % 3 != 2


def _sheaths(
    parameters: Parameters, side: SideStory, chance: random.Random, more: random.Random, of: dict[str, Any], on: date
) -> None:
    """Sheaths: one that did not pass and its narrower successor, or one of another size first; then the one used."""
    if not of["sheath"]:
        return
    length = 50 if chance.random() < 0.35 else 40
    replaced = None
    if of["sheath_first"] != of["sheath"]:
        replaced = side.use(
            sheath_code(of["sheath_first"], length, of["suction"]),
            "failed",
            reason="tight_ureter",
            most_of_lithotripsy="no",
            lot=lot_of(more, on),
        )
    elif more.random() < parameters.share_two_sheaths:
        other = more.choice([size for size in SIZES if size != of["sheath"]])
        narrower = other < of["sheath"]
        replaced = side.use(
            sheath_code(other, length, of["suction"]),
            "exchanged" if narrower else "failed",
            reason="too_small" if narrower else "too_large",
            most_of_lithotripsy="no",
            lot=lot_of(more, on),
        )
    code = sheath_code(of["sheath"], length, of["suction"])
    lot = lot_of(more, on) if more.random() < parameters.share_lot else None
    side.use(
        code,
        first_intended="no" if replaced else "yes",
        replaces_use=replaced,
        most_of_lithotripsy="yes",
        lot=lot,
        udi=f"(01){identifier_of(code)}(10){lot}" if lot and more.random() < parameters.share_udi else None,
        minutes=chance.randint(10, 25) if chance.random() < 0.2 else None,
    )


def settings(side: SideStory, chance: random.Random, of: dict[str, Any], on: date, minutes: int) -> float:
    """Settings of the energy used; the minutes of emission are given back. Energy is J x Hz x s."""
    technique = of["technique"]
    if technique == SHOCK_WAVE:
        side.numbered(
            "shock_wave_session",
            "session_number",
            shocks=50 * chance.randint(40, 70),
            level=chance.randint(4, 8),
            rate_per_min=chance.choice((60, 90)),
            ramped="yes",
            localisation=chance.choice(("fluoroscopy", "ultrasound")),
        )
        return 0.0
    if not lithotripsy(of):
        return 0.0
    emission: float = round(min(1.0 + of["burden_mm"] * (0.35 + 0.3 * chance.random()), 0.5 * minutes), 1)
    if technique == PERCUTANEOUS:
        side.numbered(
            "lithotripsy_setting",
            "setting_number",
            energy_source="combined_pneumatic_ultrasonic",
            pulse_energy_j="not_applicable",
            frequency_hz="not_applicable",
            total_energy_kj="not_applicable",
            counted="total",
            emission_min=emission,
        )
        return emission
    fibre = thulium(of, on)
    dusting, fragmenting = ((0.1, 100), (0.8, 12)) if fibre else ((0.4, 15), (0.8, 8))
    parts: list[tuple[str, float, float, float]] = [("dusting", *dusting, emission)]
    if emission > 6 and chance.random() < 0.35:
        last = round(emission * 0.3, 1)
        parts = [("dusting", *dusting, round(emission - last, 1)), ("fragmenting", *fragmenting, last)]
    elif chance.random() < 0.25:
        parts = [("fragmenting", *fragmenting, emission)]
    for mode, energy, rate, minutes_on in parts:
        side.numbered(
            "lithotripsy_setting",
            "setting_number",
            energy_source="thulium_fibre_laser" if fibre else "holmium_laser",
            pulse_energy_j=energy,
            frequency_hz=rate,
            power_w=round(energy * rate, 2),
            pulse_mode="short" if mode == "fragmenting" else "long",
            mode=mode,
            counted="this_setting",
            total_energy_kj=round(energy * rate * minutes_on * 60 / 1000, 3),
            emission_min=minutes_on,
        )
    return emission


def tract(side: SideStory, chance: random.Random, of: dict[str, Any]) -> None:
    """The tract of a percutaneous operation: 16 Fr when miniaturised, 28 Fr when not."""
    if of["technique"] not in (PERCUTANEOUS, MINI):
        return
    mini = of["technique"] == MINI
    side.numbered(
        "tract",
        "tract_number",
        calyx=chance.choice(("lower_calyx", "lower_calyx", "middle_calyx", "upper_calyx")),
        size_tenths_fr=16 if mini else 28,
        guidance=chance.choice(("fluoroscopy", "ultrasound", "both")),
        dilation="single_step" if mini else chance.choice(("serial", "balloon")),
        tubeless="yes" if mini else "no",
    )
