"""The figure of an answer, as the bytes of a file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from analysis.reports.equipment.asking import Equipment
from analysis.reports.equipment.failure_sections import failure_sections, model_section
from analysis.reports.equipment.first_failure import first_failure_curve
from analysis.tables.small_numbers import too_few, withheld
from registry.schema.errors import GravelbookError
from registry.schema.lists_equipment import EquipmentKind

if TYPE_CHECKING:
    from analysis.figures.equipment import Curve
    from analysis.figures.stone_free import Kind


def figure_of(found: Equipment, kind: Kind) -> bytes:
    """Failures by the groups asked for, else by model; and uses to the first failure where enough pieces can tell.

    Raises GravelbookError when there are more groups than it can hold, or nothing was opened.
    """
    from analysis.figures.equipment import MOST_GROUPS, draw
    from analysis.figures.stone_free import as_bytes

    request, source = found.request, found.asked.source
    section = failure_sections(found)[1] if request.by else model_section(found)
    rows = [_shown(row, request.small_number) for row in section.rows]
    if not 1 <= len(rows) <= MOST_GROUPS:
        raise GravelbookError(
            f"--figure: there are {len(rows)} groups, and a figure shows 1 to {MOST_GROUPS}. Split by another column, "
            "cut a number into fewer stretches, or ask for another --kind."
        )
    by = " and ".join(one.column for one in request.by) or "model"
    title = f"Failures of equipment: {EquipmentKind(request.kind).label.lower()}, by {by}"
    notes = [
        "A piece opened is an attempt to use it, one known piece in one operation being one. Points: failures of the "
        f"pieces that can be judged, with their {100 * request.level:g} % interval, wider where uses of one piece or "
        f"patient go together. As of {source.as_of}, snapshot {str(source.snapshot['content_hash'])[:12]}. Failures "
        "are counted as entered: a unit that writes down more has more of them.",
    ]
    figure = draw(pd.DataFrame(rows), _curve(found), title=title, notes=notes)
    words = [f"{row['group']}: {row['events']} of {row['n']}" for row in rows]
    return as_bytes(figure, kind, title=title, description="; ".join(words))


def _shown(row: Mapping[str, Any], small_number: int) -> dict[str, Any]:
    few = too_few(row["n"], small_number) or not row["n"]
    wide = row["low_clustered"] is not None
    limits = (row["low_clustered"], row["high_clustered"]) if wide else (row["low"], row["high"])
    hidden = np.nan, np.nan
    low, high = hidden if few else limits
    return {
        "group": ", ".join(str(value) for value in row["group"].values()),
        "n": row["n"],
        "events": row["events"],
        "rate": np.nan if few else row["estimate"],
        "low": low,
        "high": high,
        "instead": (withheld(small_number) if row["n"] else "none") if few else "",
    }


def _curve(found: Equipment) -> Curve | None:
    from analysis.figures.equipment import Curve

    made = first_failure_curve(found)
    if made is None or len(made.last) < found.request.small_number:
        return None
    return Curve(
        steps=made.steps, ended=sorted(made.last[~made.failed]), pieces=len(made.last), failed=int(made.failed.sum())
    )
