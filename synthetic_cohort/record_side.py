"""Rows about a treated side: what was found, done and left, its stones, drainage, events and stone analysis."""

from __future__ import annotations

import random
from datetime import date, timedelta
from typing import Any

from synthetic_cohort.frames import ABANDONED, CONDUCT, NO_STONE, NOT_STARTED, PLANNED
from synthetic_cohort.outcome import FLEXIBLE, MINI, PERCUTANEOUS, SEMIRIGID, SHOCK_WAVE, TECHNIQUES
from synthetic_cohort.record_equipment import lithotripsy
from synthetic_cohort.story import OperationStory, Row, SideStory, UnitStory, add

LONGEST_DWELL_D = 90


def treated(
    made: OperationStory, unit: UnitStory, chance: random.Random, of: dict[str, Any], minutes: int, bilateral: bool
) -> SideStory:
    """The side's own row. ``of``: its values in the cohort; ``minutes``: of this side."""
    technique, conduct = of["technique"], of["conduct"]
    removal = bool(of["removal"])
    values: Row = {
        "intent": "stone_removal" if removal else "drainage",
        "course_number": of["course"] or None,
        "stage_number": of["stage"] if of["stage"] >= 0 else None,
        "conduct": CONDUCT[conduct],
        "conduct_reason": _reason(chance, of),
        "hydronephrosis": chance.choice(("moderate", "mild", "severe") if of["ureteric"] else ("none", "none", "mild")),
        "nephrostomy_before": "no",
        "technique": TECHNIQUES[technique] if removal else None,
    }
    values |= _ended(chance, of, removal)
    if removal and conduct != NOT_STARTED:
        values |= _shock_wave() if technique == SHOCK_WAVE else _scoped(chance, of)
    elif removal:
        values |= dict.fromkeys(
            ("access_gained", "irrigation_drive", "suction", "ureteric_lesion", "satava"), "not_applicable"
        )
        values["surgeon_judgement"] = "not_applicable"
    else:
        values |= {"access_gained": "yes", "suction": "none", "irrigation_drive": "gravity", "irrigation_height_cm": 60}
        values |= {"ureteric_lesion": "0", "satava": "0", "surgeon_judgement": "not_applicable"}
    if bilateral:
        values["side_operating_min"] = minutes
    side = made.side(unit, **values)
    if chance.random() < 0.25 and technique == FLEXIBLE and removal:
        local = {"belongs_to": "treated_side", "field_name": "calyces_inspected"}
        add(made.story.rows, "local_side_value", side.key, local, value=chance.choice(("all", "all", "most", "some")))
    return side


def _reason(chance: random.Random, of: dict[str, Any]) -> str | None:
    if of["conduct"] == ABANDONED:
        return chance.choice(("tight_ureter", "access_failed", "poor_view", "bleeding", "stone_not_reached"))
    return chance.choice(("pus", "anaesthetic")) if of["conduct"] == NOT_STARTED else None


def _ended(chance: random.Random, of: dict[str, Any], removal: bool) -> Row:
    """Drainage at the end."""
    technique, conduct = of["technique"], of["conduct"]
    if not removal or conduct in (ABANDONED, NOT_STARTED):
        drain = "stent"
    elif technique == SHOCK_WAVE or conduct == NO_STONE:
        drain = "none"
    elif technique == PERCUTANEOUS:
        drain = chance.choice(("nephrostomy", "stent_and_nephrostomy"))
    elif of["stent_stays"]:
        drain = "stent"
    elif technique in (FLEXIBLE, MINI):
        drain = chance.choice(("stent", "stent", "stent", "stent_on_string", "ureteric_catheter", "none"))
    else:
        drain = chance.choice(("stent", "stent_on_string", "none"))
    if of["stent_stays"] and "stent" not in drain:
        drain = "stent_and_nephrostomy" if drain == "nephrostomy" else "stent"
    dwell = {"none": None, "ureteric_catheter": 1, "nephrostomy": 2, "stent_on_string": 5}.get(drain, 14)
    return {"exit_strategy": drain, "planned_dwell_d": dwell}


def _shock_wave() -> Row:
    given = dict.fromkeys(("access_gained", "irrigation_drive", "ureteric_lesion", "satava"), "not_applicable")
    return given | {"suction": "none", "surgeon_judgement": "not_judged", "fragments_left_to_pass": "yes"}


def _scoped(chance: random.Random, of: dict[str, Any]) -> Row:
    technique, suction = of["technique"], bool(of["suction"])
    retrograde = technique in (FLEXIBLE, SEMIRIGID)
    values: Row = {
        "ureter_dilated": _yes(chance.random() < 0.2) if retrograde else None,
        "access_gained": _yes(of["conduct"] != ABANDONED),
        "safety_wire": _yes(chance.random() < 0.8),
        "working_wire": _yes(technique == FLEXIBLE),
        "suction": "through_sheath" if suction else "none",
        "visibility": "poor" if of["conduct"] == ABANDONED else chance.choice(("good", "good", "good", "fair")),
        "ureteric_lesion": "0" if retrograde else "not_applicable",
        "satava": "0",
        "surgeon_judgement": _judged(chance, of),
        "irrigation_temperature_c": 37 if chance.random() < 0.4 else 21,
    }
    values |= _irrigation(chance, technique)
    if of["sheath"]:
        values["sheath_furthest"] = chance.choice(
            ("proximal_ureter", "junction", "pelvis", "calyx" if suction else "junction")
        )
    if suction:
        values |= {
            "suction_control": chance.choice(("at_sheath", "at_sheath", "several", "at_source")),
            "suction_level_kpa": chance.choice((10, 13, 15, 20, 26)),
            "suction_pattern": chance.choice(("continuous", "intermittent")),
            "collapse_seen": _yes(chance.random() < 0.2),
            "sheath_in_lower_calyx": _yes(of["lower_pole"] and chance.random() < 0.5),
        }
    if of["lower_pole"] and technique == FLEXIBLE:
        values["stone_relocated"] = _yes(chance.random() < 0.35)
    if lithotripsy(of):
        values |= {
            "fragments_washed_out": _yes(suction or chance.random() < 0.3),
            "fragments_drawn_out": _yes(suction and chance.random() < 0.5),
            "fragments_retrieved": _yes(chance.random() < 0.5),
            "fragments_left_to_pass": _yes(of["residual_mm"] > 0 and chance.random() < 0.6),
        }
    return values


def _irrigation(chance: random.Random, technique: int) -> Row:
    drive = chance.choice(("gravity", "pressure_bag", "automatic_pump", "hand_pump"))
    into = chance.randint(20, 90) * (100 if technique in (PERCUTANEOUS, MINI) else 40)
    values: Row = {"irrigation_drive": drive, "hand_flushes": _yes(chance.random() < 0.2)}
    if drive == "gravity":
        values["irrigation_height_cm"] = 10 * chance.randint(4, 10)
    elif drive != "hand_pump":
        values["irrigation_set_pressure_mmhg"] = 10 * chance.randint(6, 20)
    if chance.random() < 0.5:
        values |= {"irrigation_in_ml": into, "irrigation_out_ml": round(into * 0.9)}
    return values


def _judged(chance: random.Random, of: dict[str, Any]) -> str:
    if of["conduct"] == NO_STONE:
        return "nothing"
    if of["conduct"] == ABANDONED:
        return "not_judged"
    if not of["judged_left"]:
        return "nothing"
    return "dust_and_fragments" if chance.random() < 0.7 else "fragments"


def stones(side: SideStory, chance: random.Random, of: dict[str, Any], on: date) -> list[Row]:
    """The stones of a course that begins here; their keys are given back, the largest first."""
    if of["stage"] != 0:
        return []
    rest = (of["burden_mm"] - of["largest_mm"]) / max(of["stones"] - 1, 1)
    by_ct = chance.random() < 0.93
    measured = on - timedelta(days=chance.randint(4, 60))
    found = []
    for number in range(of["stones"]):
        length = of["largest_mm"] if number == 0 else rest
        width = max(round(length * (0.55 + 0.35 * chance.random()), 1), 2.0)
        dense = round(of["density_hu"] + (0 if number == 0 else chance.gauss(0, 60)))
        found.append(
            side.unit.stone(
                of["course"],
                location=location(chance, of, number),
                length_mm=length,
                width_mm=width,
                depth_mm=max(round(width * 0.9, 1), 2.0) if by_ct and chance.random() < 0.8 else None,
                attenuation_hu=min(max(dense, 200), 1800) if by_ct else "not_done",
                radio_opacity="lucent" if dense < 450 else "faint" if dense < 650 else "opaque",
                impacted=_yes(chance.random() < 0.25) if of["ureteric"] else None,
                measured_by="ct" if by_ct else "ultrasound",
                measured_on=measured,
                measured_slice_mm=chance.choice((1, 2, 2, 3)) if by_ct else None,
            )
        )
    return found


def location(chance: random.Random, of: dict[str, Any], number: int) -> str:
    """Where a stone or what is left of it lies; the side's own values say it for the largest."""
    if of["ureteric"]:
        high = ("proximal_ureter", "proximal_ureter", "middle_ureter")
        return chance.choice(
            ("distal_ureter", "distal_ureter", "middle_ureter") if of["technique"] == SEMIRIGID else high
        )
    if number == 0 and of["lower_pole"]:
        return "lower_calyx"
    if number == 0 and of["largest_mm"] >= 35:
        return "partial_staghorn"
    return chance.choice(("pelvis", "pelvis", "middle_calyx", "upper_calyx"))


def aims(side: SideStory, chance: random.Random, of: dict[str, Any], known: list[Row]) -> None:
    """What was aimed at: every stone of the course when it begins, the largest in a stage or an auxiliary treatment."""
    wanted = known if of["stage"] == 0 else known[:1]
    for stone in wanted:
        result: str | None = "cleared" if not of["judged_left"] else "partly"
        if of["conduct"] == ABANDONED:
            result = "not_reached"
        elif of["conduct"] == NO_STONE:
            result = "not_found"
        elif of["conduct"] == NOT_STARTED:
            result = None
        side.aim(stone, result=result)


def staging(side: SideStory, of: dict[str, Any], on: date, next_on: date | None, next_kind: int | None) -> None:
    """The stage planned on the day; dropped when a scan made it needless."""
    if of["planned"]:
        done = next_kind == PLANNED
        dropped = None if done else on + timedelta(days=35)
        side.unit.planned_stage(of["course"], on, kind="same_technique", technique="flexible", dropped_on=dropped)


def drains_before(side: SideStory, chance: random.Random, of: dict[str, Any], on: date) -> None:
    """What had drained this kidney: a stent of an earlier operation or one placed elsewhere, removed today."""
    unit, row = side.unit, side.row
    row["pre_stented"] = _yes(of["pre_stented"])
    if unit.open_drain is None and of["pre_stented"]:
        placed = on - timedelta(days=chance.randint(10, 60))
        unit.open_drain = unit.drain(placed, "stent", placed_where=chance.choice(("here", "elsewhere")))
    if unit.open_drain is not None:
        row["pre_stented_days"] = (on - unit.open_drain["placed_on"]).days
        unit.open_drain |= {"removed_on": on, "removed_where": "theatre", "changed": "no"}
        unit.open_drain = None


def drains_after(
    made: OperationStory, side: SideStory, chance: random.Random, of: dict[str, Any], next_on: date | None
) -> None:
    """The drainage left at the end and its removal, before the next operation unless the stent stays for it."""
    on = made.key["operated_on"]
    exit_strategy = side.row["exit_strategy"]
    if exit_strategy == "none":
        return
    kinds = {"stent_on_string": ["stent"], "stent_and_nephrostomy": ["stent", "nephrostomy"]}
    for kind in kinds.get(exit_strategy, [exit_strategy]):
        dwell = {"stent": 14, "nephrostomy": 2, "ureteric_catheter": 1}[kind]
        string = exit_strategy == "stent_on_string"
        dwell = 5 if string else dwell
        drain = side.unit.drain(
            on,
            kind,
            made,
            on_string=_yes(string) if kind == "stent" else None,
            planned_removal_on=on + timedelta(days=dwell),
        )
        if kind == "stent" and of["stent_stays"]:
            drain["planned_removal_on"] = on + timedelta(days=42)
            side.unit.open_drain = drain
            continue
        removed = on + timedelta(days=max(1, dwell + (chance.randint(-2, 9) if kind == "stent" and not string else 0)))
        if next_on is not None:
            removed = min(removed, next_on - timedelta(days=1))
        place = "home" if string else "clinic" if kind == "stent" else "ward"
        drain |= {"removed_on": removed, "removed_where": place, "changed": "no"}


def events(side: SideStory, chance: random.Random, of: dict[str, Any]) -> None:
    """Events in the operation that stopped it, and stones that moved."""
    if side.row.get("conduct_reason") in ("bleeding", "stone_not_reached"):
        event = "bleeding" if side.row["conduct_reason"] == "bleeding" else "unable_to_reach"
        side.numbered("side_event", "event_number", event=event)
    elif of["ureteric"] and chance.random() < 0.06 and of["intended"]:
        side.numbered("side_event", "event_number", event="stone_migration", location="pelvis")


def analysed(
    made: OperationStory, side: SideStory, chance: random.Random, of: dict[str, Any], stone: Row | None
) -> None:
    """Stone analysis of some operations; the components follow the attenuation loosely."""
    if not lithotripsy(of) or stone is None or chance.random() > 0.3:
        return
    if of["density_hu"] < 500:
        parts: dict[str, float] = {"uric_acid": 90, "whewellite": 10}
    elif chance.random() < 0.12:
        parts = {"struvite": 60, "carbonate_apatite": 40}
    elif of["density_hu"] > 1300:
        parts = {"brushite": 70, "hydroxyapatite": 30} if chance.random() < 0.3 else {"whewellite": 100}
    else:
        parts = {"whewellite": 70, "weddellite": 30} if chance.random() < 0.5 else {"weddellite": 80, "brushite": 20}
    named = {name: stone[name] for name in ("course_number", "stone_number")}
    on = made.key["operated_on"]
    side.unit.analysis(
        parts,
        **made.link,
        **named,
        passed_at_home="no",
        sent_on=on,
        reported_on=on + timedelta(days=chance.randint(8, 30)),
    )


def _yes(value: Any) -> str:
    return "yes" if value else "no"
