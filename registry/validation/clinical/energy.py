"""Rules of the energy that breaks the stone."""

from __future__ import annotations

from registry.validation.clinical.flow import ROUNDING_MIN
from registry.validation.clinical.rule import ERROR, QUESTION, ClinicalRule

# What settings add up to is typed rounded, and read off at another moment than the time.
TOLERANCE = 0.15
PERCUTANEOUS = "('percutaneous', 'mini_percutaneous', 'combined')"
# A setting counted for itself has its own power; energy and minutes of all settings together lie between the powers
# of the weakest and the strongest setting used on the side.
POWERS = (
    "FROM lithotripsy_setting t LEFT JOIN (SELECT treated_side_id, min(pulse_energy_j * frequency_hz) AS weakest, "
    "max(pulse_energy_j * frequency_hz) AS strongest, count(*) AS settings, count(pulse_energy_j "
    "* frequency_hz) AS known "
    "FROM lithotripsy_setting GROUP BY ALL) p ON p.treated_side_id = t.treated_side_id"
)
ALONE = "(p.settings = 1 OR t.counted = 'this_setting')"
LOW = f"(CASE WHEN {ALONE} THEN t.pulse_energy_j * t.frequency_hz ELSE p.weakest END * t.emission_min * 60 / 1000)"
HIGH = f"(CASE WHEN {ALONE} THEN t.pulse_energy_j * t.frequency_hz ELSE p.strongest END * t.emission_min * 60 / 1000)"

ENERGY = (
    ClinicalRule(
        id="lithotripsy_setting.total_energy_kj.fits_settings",
        table="lithotripsy_setting",
        fields=("total_energy_kj", "pulse_energy_j", "frequency_hz", "emission_min"),
        severity=QUESTION,
        sentence="the energy is pulse energy x frequency x emission minutes x 60 / 1000, between the lowest and the "
        f"highest setting used, within {TOLERANCE * 100:g} %",
        rows=POWERS,
        needs="t.total_energy_kj IS NOT NULL AND t.emission_min IS NOT NULL AND CASE WHEN "
        f"{ALONE} THEN t.pulse_energy_j * t.frequency_hz IS NOT NULL ELSE p.known = p.settings END",
        broken=f"t.total_energy_kj < {LOW} * (1 - {TOLERANCE}) - 0.05 OR t.total_energy_kj > {HIGH} * "
        f"(1 + {TOLERANCE}) + 0.05",
        why="The energy is {kj} kJ; the settings and {minutes} minutes make {low} to {high} kJ.",
        shows={
            "kj": "t.total_energy_kj",
            "minutes": "t.emission_min",
            "low": f"round({LOW}, 2)",
            "high": f"round({HIGH}, 2)",
        },
        source="power is pulse energy times frequency; energy is power times time",
    ),
    ClinicalRule(
        id="lithotripsy_setting.power_w.fits_setting",
        table="lithotripsy_setting",
        fields=("power_w", "pulse_energy_j", "frequency_hz"),
        severity=QUESTION,
        sentence="the power is pulse energy x frequency, within 10 %",
        rows="FROM lithotripsy_setting t WHERE t.power_w IS NOT NULL",
        needs="t.pulse_energy_j IS NOT NULL AND t.frequency_hz IS NOT NULL",
        broken="abs(t.power_w - t.pulse_energy_j * t.frequency_hz) > 0.1 * t.pulse_energy_j * t.frequency_hz + 0.1",
        why="The power is {power} W; pulse energy and frequency make {product} W.",
        shows={"power": "t.power_w", "product": "round(t.pulse_energy_j * t.frequency_hz, 2)"},
    ),
    ClinicalRule(
        id="lithotripsy_setting.emission_min.within_operating",
        table="lithotripsy_setting",
        fields=("emission_min",),
        severity=ERROR,
        sentence="energy is given for no longer than the operation takes",
        rows="FROM lithotripsy_setting t LEFT JOIN treated_side s ON s.id = t.treated_side_id "
        "LEFT JOIN operation o ON o.id = s.operation_id",
        needs="t.emission_min IS NOT NULL AND o.operating_min IS NOT NULL",
        broken=f"t.emission_min > o.operating_min + {ROUNDING_MIN}",
        why="Energy was given for {part} minutes, the operation took {whole} minutes.",
        shows={"part": "t.emission_min", "whole": "o.operating_min"},
    ),
    ClinicalRule(
        id="lithotripsy_setting.energy_source.none_given",
        table="lithotripsy_setting",
        fields=("energy_source", "total_energy_kj"),
        severity=ERROR,
        sentence="a stone that was removed whole took no energy",
        rows="FROM lithotripsy_setting t",
        needs="t.energy_source <> 'none' OR t.total_energy_kj IS NOT NULL",
        broken="t.energy_source = 'none' AND t.total_energy_kj > 0",
        why="No energy source was used, and {kj} kJ were given.",
        shows={"kj": "t.total_energy_kj"},
    ),
    ClinicalRule(
        id="treated_side.lithotripsy_min.energy_source",
        table="treated_side",
        fields=("lithotripsy_min",),
        severity=QUESTION,
        sentence="where the stone was broken, what broke it is recorded",
        rows="FROM treated_side t WHERE NOT EXISTS (SELECT 1 FROM shock_wave_session w WHERE w.treated_side_id = t.id)",
        needs="t.lithotripsy_min IS NOT NULL",
        broken="t.lithotripsy_min > 0 AND NOT EXISTS (SELECT 1 FROM lithotripsy_setting l "
        "WHERE l.treated_side_id = t.id)",
        why="Lithotripsy took {minutes} minutes, and no energy source is recorded.",
        shows={"minutes": "t.lithotripsy_min"},
    ),
    ClinicalRule(
        id="tract.size_tenths_fr.technique",
        table="tract",
        fields=("size_tenths_fr",),
        severity=QUESTION,
        sentence="a side with a tract was treated through the skin",
        rows="FROM tract t LEFT JOIN (SELECT treated_side_id, count(*) FILTER "
        f"(WHERE technique IN {PERCUTANEOUS}) AS through_skin FROM side_technique GROUP BY ALL) e "
        "ON e.treated_side_id = t.treated_side_id",
        needs="e.through_skin IS NOT NULL",
        broken="e.through_skin = 0",
        why="A tract is recorded, and none of the techniques goes through the skin.",
    ),
    ClinicalRule(
        id="shock_wave_session.shocks.technique",
        table="shock_wave_session",
        fields=("shocks",),
        severity=QUESTION,
        sentence="a side with a shock-wave session was treated with shock waves",
        rows="FROM shock_wave_session t LEFT JOIN (SELECT treated_side_id, count(*) FILTER "
        "(WHERE technique = 'shock_wave') AS waves FROM side_technique GROUP BY ALL) e "
        "ON e.treated_side_id = t.treated_side_id",
        needs="e.waves IS NOT NULL",
        broken="e.waves = 0",
        why="A session is recorded, and shock waves are not among the techniques.",
    ),
)
