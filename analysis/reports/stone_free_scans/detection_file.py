"""Sensitivity and specificity of scans for residual fragments, from a small TOML file that the unit writes.

    name = "two published series"
    source = "what and where, for the reader of the figures"

    [[detection]]
    modality = "ct"
    sensitivity = 1
    specificity = 1

    [[detection]]
    modality = "ultrasound"
    threshold = "0"
    sensitivity = 0.45
    specificity = 0.88
    n_sensitivity = 120
    n_specificity = 80

`modality` is one of ours, or the word of `--imaging` for it (us, second-look), in any case.
`threshold` as on the command line; without it the row holds at every threshold that has no row of its own.
`n_sensitivity` and `n_specificity`: kidneys with and without a residual fragment in the study that measured them, both
or neither; without them sensitivity and specificity count as known. A modality that is not named is not corrected.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analysis.outcomes.adequacy import MODALITIES
from analysis.outcomes.thresholds import DefinitionError, parse_thresholds
from analysis.reports.stone_free_scans.definition_file import number_or_none, read_toml, rows_of, texts, whole_or_none
from registry.schema.errors import GravelbookError

KEYS = {"modality", "threshold", "sensitivity", "specificity", "n_sensitivity", "n_specificity", "source"}
ALSO_CALLED = {"us": "ultrasound", "second-look": "second_look"}
"""Words of the command line for a modality."""


@dataclass(frozen=True, kw_only=True)
class Detection:
    """How one modality finds residual fragments: shares, and on how many each was measured (None: known)."""

    modality: str
    threshold: str | None
    sensitivity: float
    specificity: float
    n_sensitivity: int | None = None
    n_specificity: int | None = None
    source: str = ""


@dataclass(frozen=True)
class DetectionTable:
    """A named list of them."""

    name: str
    source: str
    rows: tuple[Detection, ...]

    def of(self, modality: str, threshold: str) -> Detection | None:
        """The row for a modality at a threshold code: its own, else the one for every threshold, else None."""
        held: Mapping[str | None, Detection] = {row.threshold: row for row in self.rows if row.modality == modality}
        return held.get(threshold, held.get(None))

    def as_dict(self) -> dict[str, Any]:
        """All of it, ready for JSON."""
        return {"name": self.name, "source": self.source, "rows": [vars(row) for row in self.rows]}


def detection_table(path: Path) -> DetectionTable:
    """The sensitivities and specificities in a file.

    Raises GravelbookError, with file and row, for a file that cannot be used or a row whose sensitivity and
    specificity add up to 1 or less.
    """
    name, source, rows = rows_of(read_toml(path, "detection table"), path, "detection table", "detection")
    made = []
    for number, row in enumerate(rows, start=1):
        made.append(_checked(row, f"{path}, detection {number}"))
    taken = [(row.modality, row.threshold) for row in made]
    for one in taken:
        if taken.count(one) > 1:
            at = "every threshold" if one[1] is None else f"threshold {one[1]}"
            raise GravelbookError(f"{path} has two rows for {one[0]} at {at}; keep one of them.")
    return DetectionTable(name, source, tuple(made))


def _checked(row: Mapping[str, Any], where: str) -> Detection:
    held = dict(row)
    strange, lacking = set(held) - KEYS, {"modality", "sensitivity", "specificity"} - set(held)
    if strange or lacking:
        raise GravelbookError(
            f"{where} has {'unknown' if strange else 'no'} {', '.join(sorted(strange or lacking))}; a row needs "
            "modality, sensitivity and specificity and may have threshold, n_sensitivity, n_specificity and source."
        )
    texts(held, ("modality", "source"), where)
    named = str(held["modality"]).strip().casefold()
    modality = ALSO_CALLED.get(named, named)
    if modality not in MODALITIES:
        also = ", ".join(f"{word} for {ours}" for word, ours in ALSO_CALLED.items())
        raise GravelbookError(
            f"{where}: modality {held['modality']!r} is not known; choose one of {', '.join(MODALITIES)} (or {also})."
        )
    for key in ("sensitivity", "specificity"):
        number_or_none(held, key, where, 0, 1)
    for key in ("n_sensitivity", "n_specificity"):
        whole_or_none(held, key, where, 1)
    if ("n_sensitivity" in held) != ("n_specificity" in held):
        raise GravelbookError(f"{where}: give both n_sensitivity and n_specificity, or neither.")
    if not held["sensitivity"] + held["specificity"] > 1 + 1e-12:
        raise GravelbookError(
            f"{where}: sensitivity {held['sensitivity']:g} and specificity {held['specificity']:g} add up to "
            f"{held['sensitivity'] + held['specificity']:g}. A scan whose two add up to 1 or less tells nothing, and "
            "no correction exists; leave the row out, or mend it."
        )
    return Detection(**{**held, "modality": modality, "threshold": _threshold(held.get("threshold"), where)})


def _threshold(value: Any, where: str) -> str | None:
    if value is None:
        return None
    if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value):
        value = f"{value:g}"
    try:
        found = parse_thresholds(value) if isinstance(value, str) else ()
    except DefinitionError:
        found = ()
    if len(found) != 1:
        raise GravelbookError(f'{where}: threshold {value!r} cannot be read; write one, "2" or "lt2" for example.')
    return found[0].code
