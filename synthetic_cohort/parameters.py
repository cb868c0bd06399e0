"""Every number that the invented unit is made from.

Effects are changes of log odds unless the name says otherwise. The reference side, at which the two intercepts hold,
is a flexible ureteroscopy through a sheath, ratio 1.3, no suction, 12 mm of stone of 950 HU outside the lower pole,
an average operator, the year 2022, an average patient. Sizes of equipment and shares are common practice, not a
publication's; effects are invented, of a size that a unit would find worth knowing.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field, fields, replace
from datetime import date, datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Literal

from registry.schema.errors import GravelbookError
from synthetic_cohort.parameter_fields import effect, share, size
from synthetic_cohort.parameters_complications import ComplicationParameters
from synthetic_cohort.parameters_detail import DetailParameters

Missingness = Literal["completely_random", "by_recorded", "not_random"]
MISSINGNESS: tuple[Missingness, ...] = ("completely_random", "by_recorded", "not_random")

REFERENCE_RATIO = 1.3
REFERENCE_BURDEN_MM = 12.0
REFERENCE_DENSITY_HU = 950.0
REFERENCE_YEAR = 2022


@dataclass(frozen=True)
class Parameters(DetailParameters, ComplicationParameters):
    """All causal paths and shares of the generator; each field's ``metadata`` holds its meaning, unit and limits.

    Those of complications and of detail stand in files of their own, and are named, set and read like these.
    """

    # Calendar, people and stones.
    first_day: date = field(default=date(2019, 1, 7), metadata={"about": "first day of operating", "unit": "date"})
    last_day: date = field(default=date(2024, 12, 13), metadata={"about": "last day of operating", "unit": "date"})
    age_mean: float = size(53, "years", 20, 80, "mean age")
    age_sd: float = size(15, "years", 0, 30, "spread of age")
    share_female: float = share(0.42, "women")
    body_mass_mean: float = size(27.5, "kg/m2", 18, 40, "mean body mass index")
    body_mass_sd: float = size(4.5, "kg/m2", 0, 10, "spread of body mass index")
    share_diabetes: float = share(0.15, "patients with diabetes")
    share_recurrent: float = share(0.38, "patients who had formed stones before")
    share_bilateral: float = share(0.08, "first operations on both sides")
    burden_median_mm: float = size(12, "mm", 5, 40, "median sum of the stones' lengths on one side")
    burden_log_sd: float = size(0.45, "log mm", 0, 1.5, "spread of the burden")
    density_mean_hu: float = size(950, "HU", 300, 1600, "mean attenuation of the largest stone")
    density_sd_hu: float = size(280, "HU", 0, 600, "spread of attenuation")
    share_lower_pole: float = share(0.38, "kidney stones that lie in the lower pole")
    share_ureteric: float = share(0.24, "sides whose largest stone lies in the ureter")
    share_pre_stented: float = share(0.28, "sides stented before")
    share_culture_positive: float = share(0.13, "positive urine cultures, man, no diabetes, no stent")
    culture_female: float = effect(0.6, "women -> positive culture")
    culture_diabetes: float = effect(0.5, "diabetes -> positive culture")
    culture_pre_stented: float = effect(0.8, "stented before -> positive culture")

    # Choice of technique and equipment. Sizes: sheaths 10, 11, 12 Fr inner; scopes 7.5, 8.5, 9.5 Fr shaft.
    share_semirigid_if_ureteric: float = share(0.65, "ureteric stones treated by semirigid ureteroscopy")
    share_percutaneous_if_large: float = share(0.55, "kidney burdens of 20 mm or more treated percutaneously")
    share_mini_if_percutaneous: float = share(0.5, "percutaneous operations that are miniaturised")
    share_shock_wave: float = share(0.05, "burdens under 15 mm treated by shock waves")
    operators: int = field(default=6, metadata={"about": "number of operators", "unit": "people", "low": 1, "high": 60})
    confounding: float = size(1, "multiplier", 0, 5, "strength of every choice below; 0 deals equipment out by lot")
    share_without_sheath: float = share(0.12, "flexible ureteroscopies without a sheath")
    share_sheath_10: float = share(0.40, "sheaths of 10 Fr inner, at the reference")
    share_sheath_12: float = share(0.35, "sheaths of 12 Fr inner, at the reference")
    wide_sheath_per_10_years: float = effect(0.12, "age -> wider sheath, each 10 years")
    wide_sheath_male: float = effect(0.4, "men -> wider sheath")
    wide_sheath_per_10mm: float = effect(0.7, "burden -> wider sheath, each 10 mm")
    wide_sheath_pre_stented: float = effect(0.6, "stented before -> wider sheath")
    wide_sheath_operator: float = effect(0.6, "operator, each spread of skill -> wider sheath")
    share_scope_75: float = share(0.40, "scopes of 7.5 Fr, at the reference")
    share_scope_95: float = share(0.25, "scopes of 9.5 Fr, at the reference")
    slim_scope_per_year: float = effect(0.3, "calendar year -> slimmer scope")
    slim_scope_female: float = effect(0.2, "women -> slimmer scope")
    slim_scope_per_10mm: float = effect(-0.25, "burden -> slimmer scope, each 10 mm")
    slim_scope_operator: float = effect(0.4, "operator, each spread of skill -> slimmer scope")
    share_sheath_fails: float = share(0.09, "11 and 12 Fr sheaths that do not pass a ureter not stented before")
    share_suction: float = share(0.40, "suction through the sheath, at the reference")
    suction_per_year: float = effect(0.45, "calendar year -> suction")
    suction_per_10mm: float = effect(0.5, "burden -> suction, each 10 mm")
    suction_operator: float = effect(0.5, "operator, each spread of skill -> suction")

    # What is left: one latent size, so that the odds of every threshold have the same effects.
    free_log_odds: float = effect(0.45, "log odds that no fragment at all is left, reference side")
    fragment_scale_mm: float = size(2.0, "mm", 0.25, 20, "a threshold of t mm adds t divided by this to the log odds")
    free_per_tenth_ratio: float = effect(0.12, "sheath-to-scope ratio -> stone-free, each 0.1")
    ratio_plateau: float = size(9, "ratio", 1, 9, "above this ratio more room brings nothing more")
    free_suction: float = effect(0.5, "suction -> stone-free")
    free_per_10mm: float = effect(-0.75, "burden -> stone-free, each 10 mm")
    free_per_100hu: float = effect(-0.07, "attenuation -> stone-free, each 100 HU")
    free_lower_pole: float = effect(-0.5, "lower pole -> stone-free")
    free_per_year: float = effect(0.06, "calendar year -> stone-free")
    free_without_sheath: float = effect(-0.15, "no sheath, against ratio 1.3 -> stone-free")
    free_semirigid: float = effect(1.0, "semirigid, against flexible at 1.3 -> stone-free")
    free_percutaneous: float = effect(1.2, "percutaneous, against flexible at 1.3 -> stone-free")
    free_mini: float = effect(1.0, "miniaturised percutaneous, against flexible at 1.3 -> stone-free")
    free_shock_wave: float = effect(-0.8, "shock waves, against flexible at 1.3 -> stone-free")
    operator_sd: float = size(0.35, "log odds", 0, 3, "spread of operators' skill -> stone-free")
    patient_sd: float = size(0.8, "log odds", 0, 5, "spread of patients, shared by both sides -> stone-free")
    surgeon_sensitivity: float = share(0.6, "fragments left that the surgeon suspects")
    surgeon_specificity: float = share(0.95, "clear sides that the surgeon calls clear")

    # Course of the operation and after.
    share_abandoned: float = share(0.025, "sides abandoned: everything is left")
    share_not_started: float = share(0.01, "sides not started")
    share_no_stone: float = share(0.012, "sides where no stone was found")
    share_drainage: float = share(0.02, "first operations for drainage only")
    share_planned_if_large: float = share(0.4, "kidney burdens of 20 mm or more planned in stages")
    share_retreated: float = share(0.3, "fragments above 4 mm, no stage planned, that are retreated")
    minutes_median: float = size(52, "min", 10, 200, "median operating time, reference side")
    minutes_log_sd: float = size(0.25, "log min", 0, 1, "spread of operating time")
    minutes_log_per_10mm: float = size(0.25, "log min", -1, 1, "burden -> time, each 10 mm")
    minutes_log_per_tenth_ratio: float = size(-0.02, "log min", -1, 1, "ratio -> time, each 0.1")
    infection_log_odds: float = effect(-3.2, "log odds of infection, reference side, negative culture, man")
    infection_per_tenth_tighter: float = effect(0.3, "tighter fit -> infection, each 0.1 less ratio")
    infection_culture_positive: float = effect(1.2, "positive culture -> infection")
    infection_tight_and_positive: float = effect(0.1, "extra of a tighter fit when the culture is positive")
    infection_pre_stented: float = effect(0.6, "stented before -> infection")
    infection_diabetes: float = effect(0.5, "diabetes -> infection")
    infection_female: float = effect(0.3, "women -> infection")
    infection_per_10mm: float = effect(0.2, "burden -> infection, each 10 mm")
    infection_suction: float = effect(-0.5, "suction -> infection")
    infection_percutaneous: float = effect(0.6, "percutaneous -> infection")
    infection_bilateral: float = effect(0.3, "both sides at once -> infection")
    share_sepsis: float = share(0.22, "infections that are sepsis")
    share_died: float = share(0.006, "patients who die, of other causes, within 300 days")
    share_reviewed: float = share(0.86, "operations whose later course was reviewed on or after day 30")
    review_missingness: Missingness = field(
        default="by_recorded",
        metadata={"about": "who is reviewed: by lot, by recorded values, or also by what happened", "unit": "word"},
    )
    share_unreviewed_known: float = share(0.6, "complications known to the unit though there was no review")

    # Who is scanned, how and when.
    missingness: Missingness = field(
        default="by_recorded",
        metadata={"about": "who is scanned: by lot, by recorded values, or also by what is left", "unit": "word"},
    )
    share_scanned: float = share(0.78, "operations followed by a scan, average patient")
    scanned_per_10_years: float = effect(-0.15, "age -> scanned, each 10 years (by_recorded, not_random)")
    scanned_per_10mm: float = effect(0.5, "burden -> scanned, each 10 mm (by_recorded, not_random)")
    scanned_per_year: float = effect(0.12, "calendar year -> scanned (by_recorded, not_random)")
    scanned_pre_stented: float = effect(0.3, "stented before -> scanned (by_recorded, not_random)")
    scanned_operator: float = effect(0.4, "operator's habit -> scanned (by_recorded, not_random)")
    scanned_per_mm_left: float = effect(0.35, "each mm left, to 6 mm -> scanned (not_random only)")
    scan_day_median: float = size(42, "days", 5, 200, "median day of the scan")
    scan_day_log_sd: float = size(0.5, "log days", 0, 2, "spread of the day; days stay within 5 to 200")
    share_later_scan: float = share(0.15, "scanned operations with a further scan 30 to 90 days later")
    share_ct: float = share(0.62, "scans by CT")
    share_ultrasound: float = share(0.13, "scans by ultrasound alone")
    share_kub: float = share(0.05, "scans by plain film alone")
    share_pair: float = share(0.17, "scans by ultrasound with plain film; the rest are second looks")
    share_slice_1: float = share(0.2, "CT of 1 mm slices")
    share_slice_2: float = share(0.4, "CT of 2 mm slices")
    share_slice_3: float = share(0.25, "CT of 3 mm slices; the rest are 5 mm")
    reading_error: bool = field(
        default=True, metadata={"about": "false: every reading shows exactly what is there", "unit": "switch"}
    )
    sensitivity_ct_1: float = share(0.98, "fragments seen on CT of 1 mm slices")
    sensitivity_ct_2: float = share(0.97, "fragments seen on CT of 2 mm slices")
    sensitivity_ct_3: float = share(0.93, "fragments seen on CT of 3 mm slices")
    sensitivity_ct_5: float = share(0.85, "fragments seen on CT of 5 mm slices")
    sensitivity_ultrasound: float = share(0.54, "fragments seen on ultrasound")
    sensitivity_kub: float = share(0.50, "fragments seen on plain film")
    sensitivity_second_look: float = share(0.99, "fragments seen at a second look")
    specificity_ct: float = share(0.99, "clear sides read as clear on CT")
    specificity_ultrasound: float = share(0.91, "clear sides read as clear on ultrasound")
    specificity_kub: float = share(0.87, "clear sides read as clear on plain film")
    share_indeterminate: float = share(0.01, "readings that cannot tell")

    # Of records only.
    share_research_refused: float = share(0.04, "patients who refuse research use")
    share_research_not_asked: float = share(0.06, "patients not asked about research use")

    def __post_init__(self) -> None:
        for parameter in fields(self):
            value, about = getattr(self, parameter.name), parameter.metadata
            if "low" in about and not about["low"] <= value <= about["high"]:
                raise _wrong(parameter.name, value, f"it must lie between {about['low']} and {about['high']}")
        for name in ("missingness", "review_missingness"):
            if getattr(self, name) not in MISSINGNESS:
                raise _wrong(name, getattr(self, name), f"it must be one of {', '.join(MISSINGNESS)}")
        if (self.last_day - self.first_day).days < 30:
            raise _wrong("last_day", self.last_day, "it must be at least 30 days after first_day")
        for first, *others in _SUMS:
            if first + sum(getattr(self, name) for name in others) > 1 + 1e-9:
                raise _wrong(others[0], getattr(self, others[0]), f"{' + '.join(others)} must not exceed 1")


_SUMS: tuple[tuple[Any, ...], ...] = (
    (0, "share_sheath_10", "share_sheath_12"),
    (0, "share_scope_75", "share_scope_95"),
    (0, "share_ct", "share_ultrasound", "share_kub", "share_pair"),
    (0, "share_slice_1", "share_slice_2", "share_slice_3"),
    (0, "share_abandoned", "share_not_started", "share_no_stone"),
    (0, "share_research_refused", "share_research_not_asked"),
    (0, "share_lesion_1", "share_lesion_2", "share_lesion_3", "share_lesion_4", "share_lesion_5"),
    (0, "share_wall_1", "share_wall_2", "share_wall_3", "share_wall_4"),
    (0, "share_incident_1", "share_incident_2a", "share_incident_2b", "share_incident_3"),
)


def _wrong(name: str, value: Any, why: str) -> GravelbookError:
    return GravelbookError(
        f"The parameter {name} = {value} cannot be used: {why}. Correct it and run the command again."
    )


def described(parameters: Parameters) -> list[dict[str, Any]]:
    """Every parameter with its value, unit and meaning, in the order they are declared."""
    return [
        {"name": f.name, "value": getattr(parameters, f.name), "unit": f.metadata["unit"], "about": f.metadata["about"]}
        for f in fields(parameters)
    ]


def with_changes(parameters: Parameters, changes: dict[str, Any]) -> Parameters:
    """The parameters with some of them set anew.

    Raises:
        GravelbookError: a name is not a parameter, or a value has the wrong type or lies outside its limits.
    """
    kinds = {f.name: str(f.type) for f in fields(parameters)}
    clean: dict[str, Any] = {}
    for name, value in changes.items():
        if name not in kinds:
            alike = ", ".join(get_close_matches(name, kinds, n=5))
            raise GravelbookError(
                f"There is no parameter {name}. " + (f"Names that are alike: {alike}." if alike else "Check its name.")
            )
        allowed, words = _TYPES[kinds[name]]
        # A truth value is a whole number to Python, and a time stamp a date; neither is one here.
        other = isinstance(value, datetime) or (isinstance(value, bool) and allowed is not bool)
        if other or not isinstance(value, allowed):
            raise _wrong(name, value, f"it must be {words}")
        clean[name] = float(value) if kinds[name] == "float" else value
    return replace(parameters, **clean)


_TYPES: dict[str, tuple[Any, str]] = {
    "float": (int | float, "a number"),
    "int": (int, "a whole number"),
    "bool": (bool, "true or false"),
    "date": (date, "a date such as 2020-01-06"),
    "Missingness": (str, f"one of {', '.join(MISSINGNESS)}"),
}


def read_parameters(path: Path) -> Parameters:
    """Parameters from a TOML file of ``name = value`` lines; those not named keep their defaults.

    Raises:
        GravelbookError: the file cannot be read, is not TOML, or names or values are wrong.
    """
    try:
        changes = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as problem:
        raise GravelbookError(
            f"The parameter file {path} cannot be read: {problem}. Give a readable file."
        ) from problem
    except tomllib.TOMLDecodeError as problem:
        raise GravelbookError(
            f"The parameter file {path} is not valid TOML: {problem}. Write one 'name = value' on each line."
        ) from problem
    return with_changes(Parameters(), changes)
