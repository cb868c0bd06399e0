"""Patterns for cells that hold several things, tried on the values and kept where they fit."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from functools import cache
from itertools import product

from registry.intake.log_mapping_targets import Target, find_target
from registry.intake.log_patterns import Pattern, Piece, compile_pattern, match
from registry.intake.map_codes import SHORT_FORMS, code_for
from registry.intake.map_profile import Profile
from registry.intake.values import parse, spellings
from registry.schema.fields import Code

_L, _W, _D = "{stone.length_mm}", "{stone.width_mm}", "{stone.depth_mm}"
_PLACE, _HU = "{stone.location}", "{stone.attenuation_hu}"
_INNER, _OUTER, _LENGTH = (
    "{equipment_model.inner_tenths_fr}",
    "{equipment_model.outer_tenths_fr}",
    "{equipment_model.length_cm}",
)
_ENOUGH, _MOST_PATTERNS, _LEAST_GAIN = 0.9, 6, 0.02
SEPARATORS = ("+", ";", " & ", ",", " and ")
# Words of which the heading needs one, beside the patterns that are tried under it.
_SUBJECTS: dict[str, tuple[str, ...]] = {
    "stone": ("stone", "burden", "size", "location", "attenuation", "ct", "diagnosis"),
    "sheath": ("sheath", "fr", "scope"),
    "side": ("side", "location", "stone", "kidney", "diagnosis"),
    "laser": ("laser", "setting", "settings", "energy", "lithotripsy"),
    "person": ("age", "sex", "patient", "name"),
}


@dataclass
class Split:
    """How the cells of a column come apart.

    Attributes:
        subject: what they are about.
        patterns: the patterns, the most detailed first.
        separator: what stands between several entries; empty for one entry a cell.
        values: for fields with a list, the wordings and the codes they stand for.
        share: the share of the cells that a pattern fits.
        odd: the places of cells that none fits.
        unusual: the places of cells with a bare number that is not usual in the field's own unit, or with a sheath
            whose inner diameter would be the larger one.
    """

    subject: str
    patterns: list[str]
    separator: str = ""
    values: dict[str, dict[str, str]] = field(default_factory=dict)
    share: float = 0.0
    odd: list[int] = field(default_factory=list)
    unusual: list[int] = field(default_factory=list)


def find_split(made: Profile) -> Split | None:
    """The patterns that fit a column's cells, or None where they do not come apart."""
    words = made.heading.words
    best: Split | None = None
    for subject, named in _SUBJECTS.items():
        if not words & set(named):
            continue
        for separator in ("", *SEPARATORS):
            if separator and not any(separator.strip() in text for text in made.texts):
                continue
            split = _cover(subject, made, separator)
            if split is not None and (best is None or split.share > best.share + _LEAST_GAIN):
                best = split
    return best


def _cover(subject: str, made: Profile, separator: str) -> Split | None:
    """Choose patterns one after the other, each the one that fits most of the entries not yet fitted."""
    parts = {at: _entries(made.cells[at].text, separator) for at in made.filled}
    left = {entry for listed in parts.values() for entry in listed}
    fits = {text: {entry: read for entry in left if (read := _read(pattern, entry)) is not None}
            for text, pattern in _compiled(subject)}  # fmt: skip
    total = len(left)
    chosen: list[str] = []
    while left and len(chosen) < _MOST_PATTERNS:
        text = max(fits, key=lambda t: (len(left & fits[t].keys()), -t.count("[")))
        gain = left & fits[text].keys()
        if len(gain) < max(1, _LEAST_GAIN * total):
            break
        chosen.append(text)
        left -= gain
    odd = [at for at, listed in parts.items() if any(entry in left for entry in listed)]
    share = 1 - len(odd) / len(parts) if parts else 0.0
    several = any(text.count("{") > 1 for text in chosen) or (separator and any(len(p) > 1 for p in parts.values()))
    if not chosen or share < _ENOUGH or not several:
        return None
    order = [text for text, _ in _compiled(subject) if text in chosen]
    split = Split(subject, order, separator.strip(), share=share, odd=odd)
    for text in order:
        for entry in fits[text]:
            for name, wording, code in fits[text][entry] or ():
                split.values.setdefault(name, {})[wording.casefold()] = code
    patterns = [pattern for text, pattern in _compiled(subject) if text in chosen]
    strange = {entry for entry in {e for listed in parts.values() for e in listed} if _unusual(patterns, entry)}
    split.unusual = [at for at, listed in parts.items() if strange.intersection(listed)]
    return split


def _unusual(patterns: list[Pattern], entry: str) -> bool:
    """A bare number of the entry is not usual in the unit in which its field is typed."""
    for pattern in patterns:
        found = match(pattern, entry)
        if found is None:
            continue
        for piece, text in found:
            plausible: tuple[float, float] | None = getattr(piece.target.info.kind, "plausible", None)
            if plausible is None or piece.unit:
                continue
            value = parse(piece.target.info, text.replace(",", ".")).value
            if value is not None and not plausible[0] <= value <= plausible[1]:
                return True
        return _inside_out(found)
    return False


def _inside_out(found: list[tuple[Piece, str]]) -> bool:
    """The inner diameter would be larger than the outer one."""
    numbers = {piece.target.heading: parse(piece.target.info, text.replace(",", ".")).value for piece, text in found}
    inner, outer = numbers.get("inner_tenths_fr"), numbers.get("outer_tenths_fr")
    return inner is not None and outer is not None and inner >= outer


def _entries(text: str, separator: str) -> list[str]:
    listed = text.split(separator) if separator else [text]
    return [" ".join(entry.split()) for entry in listed if entry.strip()]


def _read(pattern: Pattern, entry: str) -> list[tuple[str, str, str]] | None:
    """The wordings of an entry that need a translation; None where it does not fit or a value is refused."""
    found = match(pattern, entry)
    if found is None:
        return None
    needed = []
    for piece, text in found:
        info = piece.target.info
        if isinstance(info.kind, Code):
            code, own = code_for(info.kind.list, text)
            if code is None:
                return None
            if not own:
                needed.append((piece.target.text, text, code))
        elif parse(info, f"{text} {piece.unit}".strip().replace(",", ".")).failed:
            return None
    return needed


def _words(target: Target) -> Collection[str]:
    if not isinstance(target.info.kind, Code):
        return ()
    codes = target.info.kind.list
    return {*spellings(codes), *SHORT_FORMS.get(codes.__name__, {})}


@cache
def _compiled(subject: str) -> tuple[tuple[str, Pattern], ...]:
    """The patterns of a subject, ready for use, the most detailed first."""
    return tuple((text, compile_pattern(text, find_target, _words)) for text in dict.fromkeys(_PATTERNS[subject]()))


def _stone() -> Iterator[str]:
    sizes = [f"{_L}x{_W}x{_D}", f"{_L}x{_W}", _L]
    metric = [*(f"{size}[mm]" for size in sizes)]
    inches = [size.replace("mm}", "mm:cm}") + "cm" for size in sizes]
    attenuations = [f"[,] {_HU}HU", f"[,] HU {_HU}", f" ({_HU}HU)", f" \\[{_HU}HU\\]", ""]
    places = [f" {_PLACE}", f", {_PLACE}", f" in {_PLACE}", f" ({_PLACE})"]
    for attenuation, size in product(attenuations, [*metric, *inches]):
        for place in places:
            yield f"{size}{place}{attenuation}"
        yield f"{_PLACE}[,] {size}{attenuation}"
        yield f"{_PLACE}: {size}{attenuation}"
        if attenuation or size not in (metric[-1], inches[-1]):
            yield f"{size}{attenuation}"


def _sheath() -> Iterator[str]:
    for mark, unit in product(("/", "-"), ("Fr", "F", "Ch", "")):
        for length in (f" {_LENGTH}cm", f", {_LENGTH}cm", f" x {_LENGTH}cm", f" x {_LENGTH}", f" {_LENGTH}", ""):
            yield f"{_INNER}{mark}{_OUTER}{unit}{length}"


def _side() -> Iterator[str]:
    yield f"{{renal_unit.unit}} {_PLACE}"
    yield f"{{renal_unit.unit}}, {_PLACE}"
    yield _PLACE


def _laser() -> Iterator[str]:
    energy, rate = "{lithotripsy_setting.pulse_energy_j}", "{lithotripsy_setting.frequency_hz}"
    for mark in ("/", " x ", " @ ", ", ", " "):
        yield f"{energy}J{mark}{rate}Hz"


def _person() -> Iterator[str]:
    age, sex = "{operation.age_years}", "{patient.sex}"
    yield from (f"{age}{sex}", f"{age}/{sex}", f"{sex}{age}", f"{sex}/{age}", f"{age}y {sex}", f"{age} yrs {sex}")


_PATTERNS = {"stone": _stone, "sheath": _sheath, "side": _side, "laser": _laser, "person": _person}
