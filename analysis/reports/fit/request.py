"""What is asked of `gravelbook fit`, read from the options as typed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from analysis.outcomes.fit.outflow import Conditions
from analysis.outcomes.fit.pair import Pair
from analysis.outcomes.fit.pressure import PASCAL_IN, to_pascal
from analysis.reports.fit.sizes_typed import Typed, Unanswered, read_size, read_sizes
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.own_defaults import SMALL_NUMBER, Family, OwnDefault
from analysis.reports.request.values import measured, whole_number
from registry.schema.errors import GravelbookError

FIT = Family(
    "fit",
    "the fit of scope and sheath",
    ("reference", "length", "viscosity", "density", "pressure", "eccentricity"),
)
DEFAULTS = {
    "reference": "7.5/10",
    "length": "45",
    "viscosity": "0.69",
    "density": "1000",
    "pressure": "40",
    "eccentricity": "0,1",
    SMALL_NUMBER: "5",
}
"""Water at 37 C (0.69 mPa s), a usual long sheath, and a pressure difference of 40 cmH2O."""

DECIMAL_COMMA = re.compile(r"\s*\d+,\d\s*(?!\d)[^,]*")
"""Text such as 7,5: two sizes by our rule, one in the countries that write decimals with a comma."""


@dataclass(frozen=True, kw_only=True)
class FitRequest:
    """pairs: those possible, scopes within sheaths, in the order typed; unanswered: the cases that are not.

    labels: sheaths typed as inner/outer. reference: None when it cannot be. eccentricities: 0 centred to 1 on the
    wall. pressure: as typed, in words. channels, devices: every device is tried in every channel. commas: options
    whose comma may have been meant as a decimal point.
    """

    pairs: tuple[Pair, ...]
    labels: tuple[Typed, ...]
    reference: Pair | None
    conditions: Conditions
    eccentricities: tuple[float, ...]
    pressure: str
    channels: tuple[Typed, ...]
    devices: tuple[Typed, ...]
    unanswered: tuple[Unanswered, ...]
    commas: tuple[str, ...]
    small_number: int
    own_defaults: tuple[OwnDefault, ...] = ()


def read_request(
    typed: Mapping[str, str | None], own: Sequence[OwnDefault] = (), *, nothing_asked: bool = False
) -> FitRequest:
    """The request: options as typed, else the unit's own defaults, else DEFAULTS.

    nothing_asked: whether it may be that no sizes are asked about (the unit's own pairs are).
    Raises MalformedOptionError for an option that cannot be read; GravelbookError when a setting cannot.
    """
    given = {name: value for name, value in typed.items() if value is not None}
    _check_asked(given, nothing_asked=nothing_asked)
    held = {one.option: one.value for one in own if one.option not in given}
    try:
        return _read({**DEFAULTS, **held, **given}, tuple(own))
    except MalformedOptionError as fault:
        for option, value in held.items():
            if f"--{option}" in str(fault):
                one = next(each for each in own if each.option == option)
                raise GravelbookError(
                    f"The registry's setting {one.name} = {value} cannot be read. {fault} Mend it in the sheet Setting."
                ) from None
        raise


def _check_asked(given: Mapping[str, str], *, nothing_asked: bool) -> None:
    for one, other in (("scope", "sheath"), ("channel", "device")):
        for here, there in ((one, other), (other, one)):
            if here in given and there not in given:
                raise MalformedOptionError(f"--{here} needs --{there}: a fit is of two sizes. Name both.")
    if not {"scope", "channel"} & set(given) and not nothing_asked:
        raise MalformedOptionError(
            "Nothing is asked. Name --scope and --sheath (such as --scope 7.5 --sheath 10,11,12), --channel and "
            "--device, or --own for the unit's own pairs."
        )


def _read(said: Mapping[str, str], own: tuple[OwnDefault, ...]) -> FitRequest:
    sizes: dict[str, list[Typed]] = {}
    unanswered: list[Unanswered] = []
    for option in ("scope", "sheath", "channel", "device"):
        sizes[option], untold = read_sizes(said[option], option) if option in said else ([], [])
        unanswered += untold
    pairs, impossible = possible_pairs(sizes["scope"], sizes["sheath"])
    reference, no_reference = read_reference(said["reference"])
    pressure, in_words = read_pressure(said["pressure"])
    given = Conditions(
        length=_with_unit(said["length"], "length", "cm", 1, 400) / 100,
        viscosity=_with_unit(said["viscosity"], "viscosity", "mPa s", 0.1, 100) / 1000,
        density=_with_unit(said["density"], "density", "kg/m3", 500, 2000),
        pressure=pressure,
    )
    return FitRequest(
        pairs=pairs,
        labels=tuple(one for one in sizes["sheath"] if one.outer is not None),
        reference=reference,
        conditions=given,
        eccentricities=read_eccentricities(said["eccentricity"]),
        pressure=in_words,
        channels=tuple(sizes["channel"]),
        devices=tuple(sizes["device"]),
        unanswered=(*unanswered, *impossible, *no_reference),
        commas=tuple(f"--{option} {said[option]}" for option in sizes if DECIMAL_COMMA.fullmatch(said.get(option, ""))),
        small_number=whole_number(said[SMALL_NUMBER], SMALL_NUMBER, 1, 1000),
        own_defaults=own,
    )


def possible_pairs(scopes: Sequence[Typed], sheaths: Sequence[Typed]) -> tuple[tuple[Pair, ...], list[Unanswered]]:
    """Every scope in every sheath; the pairs that cannot be come back with the reason."""
    pairs, impossible = [], []
    for scope, sheath in product(scopes, sheaths):
        if scope.size < sheath.size:
            pairs.append(Pair(scope.size, sheath.size))
        else:
            impossible.append(_impossible(scope.size.in_fr(), sheath.size.in_fr()))
    return tuple(pairs), impossible


def _impossible(scope: str, sheath: str) -> Unanswered:
    said = "the scope's shaft has to be smaller than the sheath's inner diameter."
    return Unanswered(f"{scope} in {sheath} Fr", f"an impossible pair: {said}")


def read_reference(text: str) -> tuple[Pair | None, list[Unanswered]]:
    """SCOPE/SHEATH; a label as sheath (7.5/10/12) is taken by its inner diameter.

    Raises MalformedOptionError when there are not two sizes.
    """
    scope_text, slash, sheath_text = text.partition("/")
    if not slash:
        raise MalformedOptionError(f"--reference {text!r} is no pair; write SCOPE/SHEATH, such as 7.5/10.")
    read = [read_size(scope_text.strip(), "reference", "scope"), read_size(sheath_text.strip(), "reference", "sheath")]
    untold = [one for one in read if isinstance(one, Unanswered)]
    scope, sheath = read
    if isinstance(scope, Unanswered) or isinstance(sheath, Unanswered):
        return None, untold
    if scope.size >= sheath.size:
        one = _impossible(scope.size.in_fr(), sheath.size.in_fr())
        return None, [Unanswered(f"--reference {one.case}", one.reason)]
    return Pair(scope.size, sheath.size), []


def read_pressure(text: str) -> tuple[float, str]:
    """A pressure difference in Pa, and in words; a number alone is cmH2O.

    Raises MalformedOptionError unless it is above 0 and at most 1,000 cmH2O, in cmH2O, mmHg or kPa.
    """
    units = {unit.lower(): unit for unit in PASCAL_IN}
    found = re.fullmatch(r"(\d+(?:\.\d+)?)\s*([a-z0-9]*)", text.strip().lower())
    unit = units.get(found[2] or "cmh2o") if found else None
    if found is None or unit is None:
        raise MalformedOptionError(
            f"--pressure {text!r} is no pressure; write a number of cmH2O, or with its unit: 40, 30mmHg, 4kPa."
        )
    pascal = to_pascal(float(found[1]), unit)
    if not 0 < pascal <= to_pascal(1000, "cmH2O"):
        raise MalformedOptionError(f"--pressure {text!r} has to be above 0 and at most 1000 cmH2O.")
    return pascal, f"{float(found[1]):g} {unit}"


def read_eccentricities(text: str) -> tuple[float, ...]:
    """Positions from 0 (centred) to 1 (on the wall), once each. Raises MalformedOptionError for any other."""
    return tuple(dict.fromkeys(measured(word.strip(), "eccentricity", 0, 1, "") for word in text.split(",")))


def _with_unit(text: str, option: str, unit: str, low: float, high: float) -> float:
    bare = re.sub(rf"\s*{unit.replace(' ', ' ?')}\s*$", "", text.strip(), flags=re.IGNORECASE)
    return measured(bare, option, low, high, unit)
