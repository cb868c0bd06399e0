"""What the unit itself enters once: site, operators, cost rates, its own fields, its settings."""

from __future__ import annotations

from datetime import date

from synthetic_cohort.catalogue import CURRENCY
from synthetic_cohort.story import SITE, Row, Rows, add

SITE_NAME = "Larkspur Bay Stone Unit"
GRADES = ("consultant", "consultant", "consultant", "consultant", "fellow", "specialist_trainee")
FIRST_DAY = date(2019, 1, 1)

LOCAL_FIELDS: tuple[Row, ...] = (
    {
        "belongs_to": "patient", "field_name": "daily_fluid_l", "field_label": "Fluid drunk in a day", "kind": "number",
        "field_unit": "L", "low": 0, "high": 10,
    },
    {
        "belongs_to": "operation", "field_name": "list_position", "field_label": "Place on the list", "kind": "whole",
        "low": 1, "high": 12,
    },
    {
        "belongs_to": "treated_side", "field_name": "calyces_inspected", "field_label": "Calyces inspected at the end",
        "kind": "code", "choices": "all;most;some",
    },
)  # fmt: skip
"""The unit's own fields: one of each kind of owner."""

SETTINGS: tuple[tuple[str, date, str, str], ...] = (
    ("stone_free_window", FIRST_DAY, "14:120", "Scan appointments were scarce."),
    ("stone_free_window", date(2021, 1, 1), "14:90", "The house window from 2021 on."),
    ("small_number", FIRST_DAY, "5", "Agreed with the data protection officer."),
)

RATES: tuple[tuple[str, str, float], ...] = (
    ("theatre_minute", "-", 14.5),
    ("bed_day", "-", 480),
    ("intensive_care_day", "-", 1850),
    ("clinic_visit", "-", 95),
    ("emergency_visit", "-", 230),
    ("ct", "-", 140),
    ("ultrasound", "-", 62),
    ("kub", "-", 34),
    ("stent_removal", "clinic", 180),
    ("reprocessing", "flexible scope", 96),
    ("reprocessing", "semirigid scope", 44),
    ("reprocessing", "nephroscope", 52),
    ("drug", "antibiotic course", 48),
)

RATE_CHANGES = ((2019, 1.0), (2022, 1.07), (2024, 1.1))
"""Years from which rates hold, and their multiple of the first."""

PRICE_YEAR = 2024
"""All rates are written in the prices of this year: they change because the hospital's own costs do."""


def operator_code(number: int) -> str:
    """The code of an operator, counted from 0: OP-A to OP-Z, then OP-27 and on."""
    return f"OP-{chr(ord('A') + number)}" if number < 26 else f"OP-{number + 1}"


def grade(number: int) -> str:
    """The grade of an operator; those beyond the first six are consultants."""
    return GRADES[number] if number < len(GRADES) else "consultant"


def office(rows: Rows, operators: int) -> None:
    """Site, operators with their cases before 2019, rates, local fields and settings."""
    site = {"site": SITE}
    add(rows, "site", site, name=SITE_NAME, time_zone="Europe/Lisbon")
    for number in range(operators):
        code = operator_code(number)
        add(rows, "operator", site, operator=code)
        senior = grade(number) == "consultant"
        for technique, cases in (("flexible", 420), ("semirigid", 350), ("percutaneous", 90)):
            before = cases * (6 - number % 6) // 6 if senior else cases // 20
            add(rows, "operator_prior_cases", site, operator=code, technique=technique, cases=before)
    for item, detail, amount in RATES:
        for year, factor in RATE_CHANGES:
            key: Row = {"item": item, "item_detail": detail, "since": date(year, 1, 1)}
            values: Row = {"currency": CURRENCY, "price_year": PRICE_YEAR}
            add(rows, "cost_rate", site, key, values, amount=round(amount * factor, 2))
    for local in LOCAL_FIELDS:
        add(rows, "local_field", site, local)
    for name, since, value, reason in SETTINGS:
        add(rows, "setting", site, setting_name=name, since=since, value=value, reason=reason)
