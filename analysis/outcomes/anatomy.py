"""The lower pole of a treated side: angle with its method, infundibular length and width.

Cuts of an angle belong to the way it was measured: what is published for one method is never applied to another.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

VERSION = "lower-pole-1"
SOURCE = (
    "Elbahnasy AM et al., J Urol 1998;159:676: favourable are an infundibulopelvic angle above 70 degrees "
    "(infundibular to ureteropelvic axis), a length under 30 mm and a width above 5 mm (values from memory)"
)
ANGLE_METHOD = "ureteropelvic_axis"
"""The only method of the angle to which the cut at 70 degrees belongs."""

CUTS = {"angle": 70.0, "length": 30.0, "width": 5.0}


def lower_pole(sides: pd.DataFrame) -> pd.DataFrame:
    """One row a side, as given, with what was measured and whether it is favourable.

    sides: side_id, infundibulopelvic_angle_deg, angle_method, infundibular_length_mm, infundibular_width_mm; missing
    values allowed. Columns: side_id, angle_deg, angle_method (`not recorded` when an angle has none), length_mm,
    width_mm, and angle_favourable, length_favourable, width_favourable: yes, no, or missing when not computable (the
    angle also when it was measured by another method than the cut's own, see SOURCE).
    """
    angle, length, width = (
        sides[name].to_numpy(dtype=np.float64, na_value=np.nan)
        for name in ("infundibulopelvic_angle_deg", "infundibular_length_mm", "infundibular_width_mm")
    )
    there = ~np.isnan(angle)
    method = sides["angle_method"].astype(object).where(sides["angle_method"].notna(), "not recorded").to_numpy()
    own = there & (method == ANGLE_METHOD)
    return pd.DataFrame(
        {
            "side_id": sides["side_id"].to_numpy(),
            "angle_deg": angle,
            "angle_method": pd.Series(method, dtype=object).where(there, None),
            "length_mm": length,
            "width_mm": width,
            "angle_favourable": _said(angle > CUTS["angle"], own),
            "length_favourable": _said(length < CUTS["length"], ~np.isnan(length)),
            "width_favourable": _said(width > CUTS["width"], ~np.isnan(width)),
        }
    )


def _said(favourable: npt.NDArray[np.bool_], known: npt.NDArray[np.bool_]) -> pd.Series:
    return pd.Series(np.where(favourable, "yes", "no"), dtype=object).where(known, None)
