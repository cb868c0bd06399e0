"""The six parts of a stone-free status: threshold, imaging, window, unit, sessions, the unscanned.

The last part lives in the estimator; what becomes of the retreated and the dead, which belongs to it,
is said here, because it is decided side by side.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from analysis.outcomes import definition_words
from analysis.outcomes.adequacy import ADEQUACY_1, TABLES, AdequacyTable
from analysis.outcomes.thresholds import DefinitionError, Threshold, parse_thresholds

__all__ = ["ALLOWED", "Definition", "DefinitionError"]

DEFAULT_TARGET_DAY = 30

ALLOWED: dict[str, tuple[str, ...]] = {
    "imaging": ("any", "ct", "us", "kub", "us+kub", "second-look"),
    "pick": ("nearest", "last", "best"),
    "unit": ("side", "stone", "operation", "course", "patient"),
    "sessions": ("single", "planned", "auxiliary"),
    "stones": ("any", "targeted"),
    "retreated": ("failed", "unknown"),
    "died": ("out", "failed"),
    "denominator": ("intended", "protocol"),
}
"""What each worded option may be; the default first."""

UNITS_OF_ONE_OPERATION = ("side", "stone", "operation")


@dataclass(frozen=True, kw_only=True)
class Definition:
    """What is meant by stone-free, complete enough to be computed and to be printed.

    thresholds: largest fragments still allowed, each judged apart.
    imaging: which studies count. `us` and `kub` take single studies; `us+kub` takes pairs alone, so an
        ultrasound without its film is no study under it; `any` takes every study and pairs what pairs.
    pick: how the one study of a side is chosen among the adequate (else among the others).
    adequacy: the table that says which study can clear a side at which threshold.
    assume_slice_mm: slice thickness to assume for a CT that has none recorded, millimetres.
    window: first and last day after the anchor, both inclusive.
    target: the day `nearest` is nearest to; None is day 30 if inside the window, else its middle.
    unit, sessions, stones, retreated, died, denominator: see ALLOWED.

    Raises DefinitionError, in a sentence, for a value that is not allowed or a combination without meaning.
    """

    thresholds: tuple[Threshold, ...] = (Threshold(0), Threshold(2), Threshold(4))
    imaging: str = "any"
    pick: str = "nearest"
    adequacy: AdequacyTable = ADEQUACY_1
    assume_slice_mm: float | None = None
    window: tuple[int, int] = (14, 90)
    target: int | None = None
    unit: str = "side"
    sessions: str = "single"
    stones: str = "any"
    retreated: str = "failed"
    died: str = "out"
    denominator: str = "intended"

    def __post_init__(self) -> None:
        for option, allowed in ALLOWED.items():
            given = getattr(self, option)
            if given not in allowed:
                raise DefinitionError(f"{option} cannot be '{given}'; choose one of {', '.join(allowed)}.")
        if not self.thresholds:
            raise DefinitionError("No threshold is given; name at least one, 2 for example.")
        if len(set(self.thresholds)) != len(self.thresholds):
            raise DefinitionError("A threshold is given twice; name each one once.")
        self._check_days()
        if self.assume_slice_mm is not None and not 0 < self.assume_slice_mm < math.inf:
            raise DefinitionError(
                f"The slice to assume cannot be {self.assume_slice_mm} mm; give a thickness above 0, 5 for example."
            )
        if self.sessions != "single" and self.unit in UNITS_OF_ONE_OPERATION:
            article = "An" if self.unit == "operation" else "A"
            raise DefinitionError(
                f"{article} {self.unit} belongs to one operation, so it cannot be judged after several sessions "
                f"('{self.sessions}'); use unit course or patient, or sessions single."
            )

    def _check_days(self) -> None:
        first, last = self.window
        if first < 0 or last < first:
            raise DefinitionError(
                f"The window {first}:{last} is no window; give a first day of 0 or later and a last day "
                "not before it, 14:90 for example."
            )
        if self.target is not None and not first <= self.target <= last:
            raise DefinitionError(
                f"The target day {self.target} lies outside the window {first}:{last}; choose a day inside "
                "it or widen the window."
            )

    @classmethod
    def from_options(cls, options: Mapping[str, Any] | None = None, **more: Any) -> Definition:
        """Make a definition from options as they are typed.

        threshold: "0,lt2,4"; window: "14:90"; adequacy: a table or the name of a built-in one;
        every other key as the field of that name (`assume_slice` for assume_slice_mm). None is the default.
        """
        given = {key: value for key, value in {**(options or {}), **more}.items() if value is not None}
        made: dict[str, Any] = {}
        if "threshold" in given:
            made["thresholds"] = parse_thresholds(given.pop("threshold"))
        if "window" in given and isinstance(given["window"], str):
            made["window"] = _parse_window(given.pop("window"))
        if "adequacy" in given and isinstance(given["adequacy"], str):
            made["adequacy"] = _named_table(given.pop("adequacy"))
        if "assume_slice" in given:
            made["assume_slice_mm"] = _millimetres(given.pop("assume_slice"))
        known = {field.name for field in fields(cls)}
        for key in given:
            if key not in known:
                raise DefinitionError(f"'{key}' is no part of a stone-free definition.")
        return cls(**made, **given)

    @property
    def target_day(self) -> int:
        """The day after the anchor that `nearest` aims at."""
        if self.target is not None:
            return self.target
        first, last = self.window
        return DEFAULT_TARGET_DAY if first <= DEFAULT_TARGET_DAY <= last else (first + last) // 2

    def as_dict(self) -> dict[str, Any]:
        """All that was decided, defaults resolved, ready for JSON; `words` is the same in a sentence."""
        return {
            "thresholds": [
                {"code": one.code, "threshold_mm": one.value_mm, "comparison": one.comparison}
                for one in self.thresholds
            ],
            "imaging": self.imaging,
            "pick": self.pick,
            "adequacy": self.adequacy.as_dict(),
            "assume_slice_mm": self.assume_slice_mm,
            "window": list(self.window),
            "target_day": self.target_day,
            **{option: getattr(self, option) for option in ALLOWED if option not in ("imaging", "pick")},
            "words": self.in_words(),
            "cautions": list(self.cautions()),
        }

    def in_words(self) -> str:
        """The whole definition as one sentence."""
        first, last = self.window
        return definition_words.sentence(
            thresholds=" or, counted apart, ".join(one.in_words() for one in self.thresholds),
            options={option: getattr(self, option) for option in ALLOWED},
            adequacy="switched off" if self.adequacy.switched_off else self.adequacy.name,
            assume_slice_mm=self.assume_slice_mm,
            first_day=first,
            last_day=last,
            target_day=self.target_day,
        )

    def cautions(self) -> tuple[str, ...]:
        """Sentences to print beside the figures: what this definition can and cannot show."""
        said = []
        if self.adequacy.switched_off:
            said.append("Adequacy is switched off: every study is taken at its word, as in published series.")
        study = {"us": "ultrasound", "kub": "kub", "us+kub": "us+kub"}.get(self.imaging)
        if study is not None and not self.adequacy.covers(study):
            said.append(
                f"The adequacy table {self.adequacy.name} has no line for {self.imaging}: under it such a "
                "study can show failure and never success."
            )
        return tuple(said)


def _parse_window(text: str) -> tuple[int, int]:
    first, colon, last = text.partition(":")
    if not colon or not first.strip().isdigit() or not last.strip().isdigit():
        raise DefinitionError(f"'{text}' is no window; write its first and last day, 14:90 for example.")
    return int(first), int(last)


def _millimetres(written: Any) -> float:
    try:
        return float(written)
    except ValueError:
        raise DefinitionError(f"The slice to assume cannot be '{written}'; give a number of millimetres.") from None


def _named_table(name: str) -> AdequacyTable:
    if name not in TABLES:
        raise DefinitionError(f"There is no adequacy table '{name}'; choose one of {', '.join(TABLES)}.")
    return TABLES[name]
