"""The statuses of a cohort packed into one small whole number a unit, so that any grouping is one counting pass.

Units that fared alike at every threshold (same status, rung, modality) share a *pattern*; a registry of a
million sides has some tens or hundreds of patterns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.outcomes.adequacy import MODALITIES
from analysis.outcomes.ladder import RUNGS, STATUSES
from analysis.outcomes.thresholds import Threshold
from analysis.reports.request.grouping import BoolArray, IntArray

RUNG_CODES = tuple(RUNGS)
NO_STUDY = "none"
SEEN_BY = (*MODALITIES, NO_STUDY)
"""Modality of the picked study, `none` where there is none."""


@dataclass(frozen=True, eq=False)
class AskedThreshold:
    """One threshold as asked for: `2` or `lt2`, its millimetres, and '<=' or '<'."""

    code: str
    threshold_mm: float
    comparison: str

    def in_words(self) -> str:
        return f"{self.comparison} {self.threshold_mm:g} mm" if self.threshold_mm else "0 mm"

    def on_axis(self) -> str:
        """The millimetres alone, for the axis of a figure."""
        return self.in_words().removesuffix(" mm").replace("<=", "\N{LESS-THAN OR EQUAL TO}")


@dataclass(frozen=True, eq=False)
class Packed:
    """Statuses by unit and by pattern.

    unit_id, patient, operation_id, side_id, pattern: shape (units,). patient: whole codes from 0. side_id: the
        side whose values a grouping reads (`references`).
    status, rung, modality: shape (patterns, thresholds), positions in STATUSES, RUNG_CODES and SEEN_BY.
    failed_inadequate: shape (patterns, thresholds).
    """

    thresholds: tuple[AskedThreshold, ...]
    unit_id: IntArray
    patient: IntArray
    operation_id: IntArray
    side_id: IntArray
    pattern: IntArray
    status: IntArray
    rung: IntArray
    modality: IntArray
    failed_inadequate: BoolArray

    @property
    def units(self) -> int:
        return len(self.pattern)

    @property
    def patterns(self) -> int:
        return len(self.status)

    def is_status(self, *names: str) -> BoolArray:
        """Whether a pattern has one of these statuses, shape (patterns, thresholds)."""
        return np.isin(self.status, [STATUSES.index(name) for name in names])

    def is_rung(self, *names: str) -> BoolArray:
        """Whether a pattern was decided on one of these rungs, shape (patterns, thresholds)."""
        return np.isin(self.rung, [RUNG_CODES.index(name) for name in names])

    def inside(self) -> BoolArray:
        """Whether each unit is inside the denominator, shape (units,); no threshold changes that."""
        if not self.patterns:
            return np.zeros(self.units, dtype=bool)
        inside: BoolArray = ~self.is_status("out")[:, 0]
        return inside[self.pattern]


def packed(statuses: pd.DataFrame, asked: Sequence[Threshold] | None = None) -> Packed:
    """Pack what `stone_free_status` gave: one row per unit and threshold.

    asked: the thresholds in the order asked for; None reads them off the rows, which may be none.

    Raises ValueError when a unit lacks a threshold or a word is not one of the declared ones.
    """
    thresholds = _met(statuses) if asked is None else tuple(_as_asked(one) for one in asked)
    width = len(thresholds)
    rows = _by_unit(statuses, [one.code for one in thresholds])
    first = rows.iloc[::width] if width else rows
    seen = rows["modality"].astype(object).where(rows["modality"].notna(), NO_STUDY)
    parts = (
        _positions(rows["status"], STATUSES, "status"),
        _positions(rows["rung"], RUNG_CODES, "rung"),
        _positions(seen, SEEN_BY, "modality"),
        rows["failed_inadequate"].to_numpy(dtype=bool).astype(np.int64),
    )
    sizes = (len(STATUSES), len(RUNG_CODES), len(SEEN_BY), 2)
    classes = np.ravel_multi_index(parts, sizes).reshape(-1, width) if width else np.empty((0, 0), dtype=np.int64)
    pattern = np.zeros(len(classes), dtype=np.int64)
    for column in classes.T:
        pattern = pd.factorize(pattern * int(np.prod(sizes)) + column)[0].astype(np.int64)
    _, example = np.unique(pattern, return_index=True)
    status, rung, modality, inadequate = np.unravel_index(classes[example], sizes)
    # The side that decided may differ between thresholds; the lowest of them keeps a unit in one piece.
    side, operation = (
        rows[name].to_numpy(dtype=np.int64).reshape(-1, max(width, 1)).min(axis=1) if len(rows) else np.empty(0, int)
        for name in ("side_id", "operation_id")
    )
    return Packed(
        thresholds=thresholds,
        unit_id=first["unit_id"].to_numpy(dtype=np.int64),
        patient=pd.factorize(first["patient_id"])[0].astype(np.int64),
        operation_id=operation.astype(np.int64),
        side_id=side.astype(np.int64),
        pattern=pattern,
        status=status.astype(np.int64),
        rung=rung.astype(np.int64),
        modality=modality.astype(np.int64),
        failed_inadequate=inadequate.astype(bool),
    )


def _as_asked(threshold: Threshold) -> AskedThreshold:
    return AskedThreshold(threshold.code, float(threshold.value_mm), threshold.comparison)


def _met(statuses: pd.DataFrame) -> tuple[AskedThreshold, ...]:
    met = statuses[["threshold", "threshold_mm", "comparison"]].drop_duplicates("threshold")
    return tuple(AskedThreshold(str(code), float(mm), str(than)) for code, mm, than in met.to_numpy())


def _by_unit(statuses: pd.DataFrame, codes: list[str]) -> pd.DataFrame:
    """The rows with each unit's thresholds together, in the order of `codes`."""
    width = len(codes)
    if _in_place(statuses, codes):
        return statuses
    place = statuses["threshold"].map({code: number for number, code in enumerate(codes)})
    ordered = statuses.assign(place=place).sort_values(["unit_id", "place"], ignore_index=True).drop(columns="place")
    if not _in_place(ordered, codes):
        raise ValueError(f"Every unit needs one row for each of its {width} thresholds ({', '.join(codes)}).")
    return ordered


def _in_place(rows: pd.DataFrame, codes: list[str]) -> bool:
    width = len(codes)
    if not width or len(rows) % width:
        return not len(rows)
    units = rows["unit_id"].to_numpy().reshape(-1, width)
    threshold = rows["threshold"].to_numpy(dtype=object).reshape(-1, width)
    return bool((units == units[:, :1]).all() and all((threshold[:, at] == codes[at]).all() for at in range(width)))


def _positions(values: pd.Series, words: tuple[str, ...], name: str) -> IntArray:
    """The place of each value in `words`, by way of the few distinct ones."""
    codes, distinct = pd.factorize(values)
    place = pd.Index(words).get_indexer(pd.Index(distinct, dtype=object))
    if (codes < 0).any() or (place < 0).any():
        strange = [str(word) for word, at in zip(distinct, place, strict=True) if at < 0] or ["a missing value"]
        raise ValueError(f"{name} holds {', '.join(strange)}; allowed are {', '.join(words)}.")
    return np.asarray(place, dtype=np.int64)[codes] if len(codes) else np.empty(0, dtype=np.int64)
