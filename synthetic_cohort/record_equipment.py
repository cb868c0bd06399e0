"""Rows about what was used on a side: wires, sheaths, scopes, fibres, settings, tracts, shock waves."""

from __future__ import annotations

import random
from datetime import date
from typing import Any

from synthetic_cohort.catalogue import ITEMS, device_identifier, sheath_code
from synthetic_cohort.outcome import FLEXIBLE, MINI, PERCUTANEOUS, SEMIRIGID, SHOCK_WAVE
from synthetic_cohort.story import Row, SideStory

FIRST_THULIUM_YEAR = 2021


def uses(side: SideStory, chance: random.Random, of: dict[str, Any], on: date, stented: bool) -> None:
    """Each attempt in the order it was made. ``of``: the side in the cohort; ``stented``: with a stent at the end."""
    technique = of["technique"]
    if technique == SHOCK_WAVE:
        side.use("SW-1", serial="W4001", most_of_lithotripsy="yes")
        return
    side.use("GW-35" if chance.random() < 0.7 else "GW-38")
    broke = technique == FLEXIBLE and of["scope"] > 0 and chance.random() < 0.03
    if technique == FLEXIBLE:
        _sheaths(side, chance, of, on)
        _scope(side, chance, f"SC-{of['scope']}", on, broke)
    elif technique == SEMIRIGID:
        side.use("SR-65", serial=chance.choice(ITEMS["SR-65"]), most_of_lithotripsy="yes")
    else:
        side.use("PS-16" if technique == MINI else "PS-28", most_of_lithotripsy="yes")
        model = "NS-12" if technique == MINI else "NS-24"
        side.use(model, serial=chance.choice(ITEMS[model]), most_of_lithotripsy="yes")
    if lithotripsy(of):
        laser = "LG-T" if thulium(of, on) else "LG-H"
        if technique == PERCUTANEOUS:
            side.use("PS-U", serial=ITEMS["PS-U"][0])
        else:
            side.use("LF-200" if technique == FLEXIBLE else "LF-272")
            side.use(laser, serial=ITEMS[laser][0])
        if chance.random() < 0.55:
            side.use("RD-19")
    if of["suction"]:
        side.use("VS-1")
    if stented:
        side.use("ST-6", lot=f"B{chance.randint(1000, 9999)}")


def lithotripsy(of: dict[str, Any]) -> bool:
    """A stone was there and was worked on."""
    return bool(of["intended"] and of["residual_mm"] < of["largest_mm"])


def thulium(of: dict[str, Any], on: date) -> bool:
    """The thulium fibre laser came in 2021; four of the six operators took it up."""
    return on.year >= FIRST_THULIUM_YEAR and of["operator"] % 3 != 2


def _sheaths(side: SideStory, chance: random.Random, of: dict[str, Any], on: date) -> None:
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
        )
    side.use(
        sheath_code(of["sheath"], length, of["suction"]),
        first_intended="no" if replaced else "yes",
        replaces_use=replaced,
        most_of_lithotripsy="yes",
        lot=f"L{on.year % 100}{chance.randint(100, 999)}",
        minutes=chance.randint(10, 25) if chance.random() < 0.2 else None,
    )


def _scope(side: SideStory, chance: random.Random, model: str, on: date, broke: bool) -> None:
    def identified() -> Row:
        if model in ITEMS:
            return {"serial": chance.choice(ITEMS[model])}
        serial = f"D{chance.randint(100000, 999999)}{len(side.story.rows['equipment_use']):05d}"  # no two are the same
        expiry = f"{(on.year + 2) % 100:02d}{on.month:02d}00"
        return {"serial_as_scanned": serial, "udi": f"(01){device_identifier(1)}(17){expiry}(21){serial}"}

    replaced = None
    if broke:
        replaced = side.use(
            model,
            "exchanged",
            reason="broken",
            most_of_lithotripsy="no",
            failure_stage="in_operation",
            failure_mode=chance.choice(("deflection_lost", "image_lost", "channel_leak", "fibre_damage")),
            failure_consequence="replaced_same",
            delay_min=chance.randint(5, 20),
            reportable="no",
            retained="yes",
            **identified(),
        )
    side.use(
        model,
        first_intended="no" if replaced else "yes",
        replaces_use=replaced,
        most_of_lithotripsy="yes",
        **identified(),
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
