"""A code for a model of which a log gives kind and dimensions: ``access_sheath 10/12 Fr 45 cm``."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

from registry.intake.log_mapping_targets import Target
from registry.intake.log_records import LogValue
from registry.intake.log_records_store import canonical
from registry.schema.fields import Text
from registry.schema.sheets import as_typed

_FLAGS = (("suction", "suction"), ("steerable_tip", "steerable"), ("single_use", "single-use"))


def model_code(values: Mapping[str, LogValue]) -> str | None:
    """The code of a model by its kind and dimensions; None where neither dimension nor description is there.

    The same dimensions give the same code, in whatever unit they were typed.
    """
    kind = _typed(values, "kind")
    if kind is None:
        return None
    dimensions = [part for part in (_calibres(values), *_others(values)) if part]
    flags = [word for heading, word in _FLAGS if _typed(values, heading) == "yes"]
    if not dimensions:
        described = _typed(values, "description") or _typed(values, "device_identifier")
        dimensions = [str(described)] if described is not None else []
    if not dimensions:
        return None
    return _short(" ".join([str(kind), *dimensions, *flags]))


def _calibres(values: Mapping[str, LogValue]) -> str:
    inner, outer = _typed(values, "inner_tenths_fr"), _typed(values, "outer_tenths_fr")
    tip, shaft = _typed(values, "tip_tenths_fr"), _typed(values, "shaft_tenths_fr")
    first, second = (inner, outer) if inner is not None or outer is not None else (tip, shaft)
    if first is not None and second is not None:
        return f"{first}/{second} Fr"
    named = {"inner": inner, "outer": outer, "tip": tip, "": shaft}
    return next((f"{name} {size} Fr".strip() for name, size in named.items() if size is not None), "")


def _others(values: Mapping[str, LogValue]) -> list[str]:
    units = {"channel_tenths_fr": "channel {} Fr", "wire_thousandths_inch": "{} inch", "fibre_core_um": "{} µm"}
    found = []
    for heading, words in (units | {"length_cm": "{} cm"}).items():
        value = _typed(values, heading)
        if value is not None:
            found.append(words.format(value))
    return found


def _typed(values: Mapping[str, LogValue], heading: str) -> Any:
    value = values.get(heading)
    stored = None if value is None else canonical("equipment_model", heading, value.cell)
    return as_typed(Target("equipment_model", heading).info, stored)


def _short(code: str) -> str:
    kind = Target("equipment_model", "model_code").info.kind
    assert isinstance(kind, Text)
    if len(code) <= kind.longest:
        return code
    mark = hashlib.sha256(code.encode()).hexdigest()[:6]
    return f"{code[: kind.longest - 7].rstrip()} {mark}"
