"""Grades and events of one side that cannot both be true, named case by case. Nothing is corrected."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import pandas as pd

from analysis.outcomes.in_operation.scales import SCALES

URETER = frozenset({"proximal_ureter", "middle_ureter", "distal_ureter", "vesicoureteric_junction", "junction"})
NOT_OF_THE_SCOPE = frozenset({"anaesthetic", "other"})
OPENED = frozenset({"open", "laparoscopic", "robotic"})


def contradictions(sides: pd.DataFrame, events: pd.DataFrame, standing: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Every contradiction.

    sides: side_id, study_number, operated_on, unit, satava, ureteric_lesion, wall_injury. events: side_id, event,
    location, converted_to. standing: `standing.standings` of the same sides. Returns side_id, study_number,
    operated_on, unit,
    kind and what, one row a contradiction, in order of the sides.
    """
    grades = {scale.column: sides[scale.column].astype("string").fillna("").tolist() for scale in SCALES}
    states = {scale.column: standing[scale.column]["state"].tolist() for scale in SCALES}
    keys = sides["side_id"].tolist()
    found = events[events["side_id"].isin(keys)]
    by_side = {side: found.iloc[places] for side, places in zip(*_places(found), strict=True)}
    none = events.iloc[:0]
    rows = []
    for at, key in enumerate(keys):
        own_grades = {name: str(values[at]) for name, values in grades.items()}
        own_states = {name: str(values[at]) for name, values in states.items()}
        rows += [(at, kind, what) for kind, what in _named(own_grades, own_states, by_side.get(key, none))]
    named = sides.iloc[[at for at, _, _ in rows]][["side_id", "study_number", "operated_on", "unit"]]
    return named.assign(kind=[kind for _, kind, _ in rows], what=[what for _, _, what in rows]).reset_index(drop=True)


def _places(events: pd.DataFrame) -> tuple[list[int], list[list[int]]]:
    """The sides that have events, and the places of theirs."""
    places: dict[int, list[int]] = {}
    for at, side in enumerate(events["side_id"].tolist()):
        places.setdefault(side, []).append(at)
    return list(places), list(places.values())


def _named(grades: Mapping[str, str], states: Mapping[str, str], events: pd.DataFrame) -> Iterator[tuple[str, str]]:
    lesion, wall = grades["ureteric_lesion"], grades["wall_injury"]
    if not events.empty:
        yield from _of_events(grades["satava"], lesion, wall, events)
    if lesion == "0" and wall in {"1", "2", "3", "4"}:
        yield "lesion scale 0 but wall injury 1 or more", f"lesion scale 0, no lesion, but wall injury {wall}"
    for scale in SCALES:
        if states[scale.column] == "outside":
            why = "no ureteric sheath was tried" if scale.column == "wall_injury" else "no ureteroscope was used"
            label = f"{scale.definition.label} {grades[scale.column]}"
            yield (
                f"{scale.definition.label} where it does not apply (not counted)",
                f"{label}, but {why} or nothing was started",
            )


def _of_events(satava: str, lesion: str, wall: str, events: pd.DataFrame) -> Iterator[tuple[str, str]]:
    told = set(events["event"])
    incidents = sorted(told - NOT_OF_THE_SCOPE)
    if "avulsion" in told and lesion not in {"", "5"}:
        yield "avulsion but lesion scale under 5", f"avulsion recorded, but lesion scale {lesion}, not 5"
    if "avulsion" in told and wall not in {"", "4"}:
        yield "avulsion but wall injury under 4", f"avulsion recorded, but wall injury {wall}, not 4"
    in_ureter = set(events.loc[events["location"].isin(URETER), "event"])
    if "perforation" in in_ureter and lesion in {"0", "1", "2"}:
        what = f"perforation of the ureter recorded, but lesion scale {lesion}, under 3"
        yield "perforation but lesion scale under 3", what
    if "mucosal_injury" in in_ureter and lesion == "0":
        what = "mucosal injury of the ureter recorded, but lesion scale 0, no lesion"
        yield "mucosal injury but lesion scale 0", what
    if set(events["converted_to"].dropna()) & OPENED and satava not in {"", "3"}:
        what = f"converted to open or laparoscopic surgery, but Satava {satava}, not 3"
        yield "converted to open surgery but Satava under 3", what
    if satava == "0" and incidents:
        yield "an event but Satava 0", f"{' and '.join(incidents)} recorded, but Satava 0, no incident"
