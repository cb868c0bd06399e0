"""The invented units that claims are tested in, and the switch that makes each claim exact.

In all of them readers see what is there: an error of reading is no matter of who was scanned. In the exact ones
every patient has one operation, and what is left is independent from patient to patient.
"""

from __future__ import annotations

from typing import Any

from synthetic_cohort.parameters import Parameters

# Nobody is treated again, dies, is abandoned or waits: a side has no status but by its scan.
_BY_SCAN_ALONE: dict[str, Any] = {
    "reading_error": False,
    "share_retreated": 0.0,
    "share_planned_if_large": 0.0,
    "share_drainage": 0.0,
    "share_not_started": 0.0,
    "share_abandoned": 0.0,
    "share_died": 0.0,
    "share_died_of_complication": 0.0,
}
_ONE_SIDE: dict[str, Any] = {"share_bilateral": 0.0}
# The further scan is CT or ultrasound, whatever the first was.
_THIN_CT: dict[str, Any] = {"share_ct": 1.0, "share_ultrasound": 0.0, "share_kub": 0.0, "share_pair": 0.0} | {
    "share_slice_1": 1.0,
    "share_slice_2": 0.0,
    "share_slice_3": 0.0,
    "share_later_scan": 0.0,
}
_BY_LOT: dict[str, Any] = {"missingness": "completely_random"}
_BY_WHAT_IS_RECORDED: dict[str, Any] = {
    "missingness": "by_recorded",
    "share_scanned": 0.6,
    "scanned_per_10mm": 1.2,
    "operators": 3,
}
_BY_WHAT_IS_LEFT: dict[str, Any] = {"missingness": "not_random"}

SCENARIOS: dict[str, Parameters] = {
    # Scans of every kind, by lot: what an adequate scan shows is a simple random sample.
    "mixed scans": Parameters(**_BY_SCAN_ALONE | _ONE_SIDE | _BY_LOT),
    # Every scan adequate, by lot: complete case is a simple random sample too.
    "thin CT": Parameters(**_BY_SCAN_ALONE | _ONE_SIDE | _BY_LOT | _THIN_CT),
    # As before, but those with more left are scanned more often.
    "not random": Parameters(**_BY_SCAN_ALONE | _ONE_SIDE | _BY_WHAT_IS_LEFT | _THIN_CT),
    # As thin CT, but nine in ten have both sides treated, and the sides of a patient are alike.
    "both sides": Parameters(**_BY_SCAN_ALONE | _BY_LOT | _THIN_CT | {"share_bilateral": 0.9, "patient_sd": 5.0}),
    # As thin CT, but one side in ten is abandoned, and so failed without a scan.
    "abandoned": Parameters(**_BY_SCAN_ALONE | _ONE_SIDE | _BY_LOT | _THIN_CT | {"share_abandoned": 0.1}),
    # As thin CT, but larger burdens, which are cleared less often, are scanned more often, as are some operators' own.
    "by recorded": Parameters(**_BY_SCAN_ALONE | _ONE_SIDE | _THIN_CT | _BY_WHAT_IS_RECORDED),
    # The same with scans of every kind, of which most can show failure and never success.
    "mixed by recorded": Parameters(**_BY_SCAN_ALONE | _ONE_SIDE | _BY_WHAT_IS_RECORDED),
    # A unit as it is: stages, retreatments, deaths, mixed scans, and who is scanned depends on what is left.
    "everything": Parameters(reading_error=False, **_BY_WHAT_IS_LEFT),
    # The same with readers who err and scans by recorded values: the generator's defaults. No claim is made of it.
    "as it comes": Parameters(),
}

MODELLED = {"by recorded": 200, "mixed by recorded": 0, "not random": 0, "abandoned": 0}
"""The units in which weighted and imputed rates are worked out too, and resamples of a cohort for weighted limits: too
few to print, enough for coverage over many cohorts; 0 where nothing is claimed of limits."""

EVERYBODY_SCANNED: dict[str, Any] = {
    **_BY_LOT,
    **_THIN_CT,
    "share_scanned": 1.0,
    "scan_day_median": 42.0,
    "scan_day_log_sd": 0.0,
}
"""Changes that give every operation of a unit one adequate scan inside the window, and leave all else as it was."""
