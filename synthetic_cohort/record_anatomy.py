"""What planning shows of a kidney: its anatomy, the lower pole, and more about the stones."""

from __future__ import annotations

import math
import random
from typing import Any

from synthetic_cohort.parameters import Parameters
from synthetic_cohort.story import Row, SideStory

COMPLETE_FROM_MM = 45
CALYX_SITES = {"upper_calyx": "superior", "middle_calyx": "middle", "lower_calyx": "inferior", "diverticulum": "middle"}
STAGHORNS = ("partial_staghorn", "complete_staghorn")
ALL_SITES = (
    "pelvis", "superior_major", "inferior_major", "superior_anterior", "superior_posterior", "middle_anterior",
    "middle_posterior", "inferior_anterior", "inferior_posterior",
)  # fmt: skip

_ABNORMAL = (
    "duplex", "duplex", "malrotated", "malrotated", "horseshoe", "horseshoe", "calyceal_diverticulum", "pelvic",
    "junction_obstruction", "medullary_sponge", "urinary_diversion", "other",
)  # fmt: skip
_METHODS = ("ureteropelvic_axis",) * 16 + ("pelvis_infundibulum",) * 3 + ("retrograde",)


def anatomy(parameters: Parameters, chance: random.Random) -> str:
    """The anatomy of a kidney."""
    return chance.choice(_ABNORMAL) if chance.random() < parameters.share_abnormal_anatomy else "normal"


def lower_pole(parameters: Parameters, side: SideStory, chance: random.Random, of: dict[str, Any]) -> None:
    """The infundibulopelvic angle of kidney sides, more often where the stone lies in the lower pole."""
    p, row = parameters, side.row
    if of["ureteric"] or not of["removal"]:
        return
    if chance.random() >= (p.share_angle_lower if of["lower_pole"] else p.share_angle_other):
        if of["lower_pole"]:
            row["infundibulopelvic_angle_deg"] = "not_done"
        return
    row["infundibulopelvic_angle_deg"] = round(min(max(chance.gauss(58, 18), 20), 115))
    row["angle_method"] = chance.choice(_METHODS)
    if chance.random() >= p.share_angle_no_length:
        row["infundibular_length_mm"] = round(min(max(chance.gauss(26, 6), 11), 48))
        row["infundibular_width_mm"] = round(min(max(chance.gauss(6, 2), 1.5), 15), 1)


def stones(parameters: Parameters, side: SideStory, chance: random.Random, rows: list[Row]) -> None:
    """Add to the stones of a course what only some reports tell. ``rows``: the stones' own rows."""
    for row in rows:
        _place(parameters, side, chance, row)
        if row["measured_by"] == "ct":
            _measured(parameters, chance, row)


def _place(parameters: Parameters, side: SideStory, chance: random.Random, row: Row) -> None:
    p, where = parameters, row["location"]
    if where == "partial_staghorn" and row["length_mm"] >= COMPLETE_FROM_MM:
        row["location"] = where = "complete_staghorn"
    if where in ("upper_calyx", "middle_calyx") and chance.random() < p.share_diverticulum:
        row["location"] = where = "diverticulum"
        side.unit.row["anatomy"] = "calyceal_diverticulum"
    row.pop("site_filled", None)
    row.pop("calyx_face", None)
    face = chance.choice(("anterior", "posterior", "posterior"))
    if where in CALYX_SITES and chance.random() < p.share_face:
        row["calyx_face"] = face
    elif where not in (*STAGHORNS, "pelvis"):
        return
    if chance.random() < p.share_sites:
        row["site_filled"] = "; ".join(_sites(where, face, row["length_mm"]))


def _sites(where: str, face: str, length_mm: float) -> tuple[str, ...]:
    if where == "complete_staghorn":
        return ALL_SITES
    if where == "partial_staghorn":
        return ("pelvis", "inferior_major", f"inferior_{face}")
    if where == "pelvis":
        return ("pelvis", "inferior_major") if length_mm > 25 else ("pelvis",)
    pole = CALYX_SITES[where]
    major = length_mm > 15 and pole != "middle" and where != "diverticulum"
    return (f"{pole}_{face}", f"{pole}_major") if major else (f"{pole}_{face}",)


def _measured(parameters: Parameters, chance: random.Random, row: Row) -> None:
    p = parameters
    methods = ["mean_region"] * 7 + ["mean_small_regions"] * 2 + ["not_said"]
    if "depth_mm" in row and chance.random() < p.share_segmented:
        ellipsoid = math.pi / 6 * row["length_mm"] * row["width_mm"] * row["depth_mm"]
        row["volume_mm3"] = max(round(ellipsoid * math.exp(chance.gauss(-0.05, 0.15)), 1), 5.0)
        methods += ["whole_volume"] * 6
    row["attenuation_method"] = chance.choice(methods)
    in_kidney = not row["location"].endswith("ureter")
    if in_kidney and chance.random() < p.share_skin_distance:
        row["skin_to_stone_mm"] = round(min(max(chance.gauss(98, 20), 45), 190))
