"""Headings that are nearly those of a field, over values that the field would take: none may be sure."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from registry.intake.map_reading import proposal_for

DAY, NUMBERS, CODES, SIZES = ("2023-07-0%d",), ("123%d45",), ("AB", "CD", "EF"), ("4", "6", "9", "7")
TRAPS: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("Previous operation date", "Planned date of surgery", "Date listed", "Consent date"), DAY),
    **dict.fromkeys(("Date of CT", "Date KUB", "Re-op date", "Pre-op Hb date", "Date of first stone"), DAY),
    **dict.fromkeys(("GP number", "Admission no", "Unit no.", "Registry number", "CT no", "Scope number"), NUMBERS),
    **dict.fromkeys(("Anaesthetist", "Trainee surgeon", "Supervising surgeon", "Father's surname"), CODES),
    **dict.fromkeys(("Contralateral stone size (mm)", "Stone size at last FU", "Smallest stone size mm"), SIZES),
    **dict.fromkeys(("Kidney length (mm)", "Total stone size", "Stent size Fr", "Number of stones"), SIZES),
    **dict.fromkeys(("Contralateral side", "Operation side planned", "Side effects"), ("L", "R")),
    **dict.fromkeys(("Second procedure", "Operation planned", "Repeat procedure"), ("RIRS", "PCNL")),
    **dict.fromkeys(("Intra-op stone free", "Stone-free according to surgeon"), ("Y", "N")),
    **dict.fromkeys(("Stone location post op", "Residual location"), ("LP", "UP")),
    **dict.fromkeys(("Opposite HU", "HU residual"), ("900", "800", "1200")),
    **dict.fromkeys(("Wife's age", "Age of stent", "Age at first stone"), ("40", "50", "60")),
    **dict.fromkeys(("Discharge weight", "Weight of stone"), ("70", "80", "90")),
    **dict.fromkeys(("Time of day", "Op time start"), ("9:30", "10:30", "14:00")),
    "Surgeon's sex": ("M", "F"),
    "Position of stone": ("supine", "prone"),
    "Hydronephrosis post-op": ("none", "mild"),
}


@pytest.mark.parametrize("heading", TRAPS)
def test_what_is_only_nearly_a_field_is_left_to_a_person(heading: str, tmp_path: Path) -> None:
    path, values = tmp_path / "log.csv", TRAPS[heading]
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(["MRN", "Operation date", heading])
        for n in range(9):
            value = values[n % len(values)]
            writer.writerow([f"9011{n}", f"2023-04-1{n}", value % (n + 1) if "%d" in value else value])
    number, day, trap = proposal_for(path).columns
    assert (number.proposed, day.proposed, trap.proposed) == (True, True, False)
