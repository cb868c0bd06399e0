"""The quality report counts what a person would count by hand, and its page needs nothing from elsewhere."""

from __future__ import annotations

import datetime as dt
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from registry.schema.errors import GravelbookError
from registry.store.registry import Registry, open_registry
from registry.validation.quality_commands import quality
from registry.validation.quality_report.ascertainment import follow_up
from registry.validation.quality_report.completeness import FieldCompleteness, completeness
from registry.validation.quality_report.figures import stacked_months, trend
from registry.validation.quality_report.gather import gather
from registry.validation.quality_report.page import report_page
from registry.validation.quality_report.registry_picture import dated_by, picture_of
from registry.validation.quality_report.timeliness import timeliness

MARCH, APRIL = dt.date(2024, 3, 4), dt.date(2024, 4, 8)
ON = dt.date(2024, 12, 31)
ASKED: dict[str, Any] = {"window": (14, 90), "review_days": 30, "first": "2024-03", "last": "2024-04"}


@pytest.fixture
def filled(registry: Registry) -> Registry:
    """Four operations: three in March, one in April. Two March sides are scanned in time, one of them by CT."""
    with registry.writing(by="enterer") as door:
        site = door.insert("site", {"code": "LB", "name": "Larkspur Bay Stone Unit", "time_zone": "Europe/Lisbon"})
        for n in range(4):
            patient = door.insert(
                "patient", {"site_id": site, "study_number": f"P{n}", "sex": "female", "birth_year": 1960}
            )
            kidney = door.insert("renal_unit", {"patient_id": patient, "unit": "left"})
            on = MARCH if n < 3 else APRIL
            filled = {"fluoroscopy_s": 30} if n == 0 else {}
            reasons = {"missing_reasons": "fluoroscopy_s=not_done;"} if n == 1 else {}
            reasons |= {"missing_reasons": "fluoroscopy_s=pending;"} if n == 2 else {}
            operation = door.insert(
                "operation",
                {"patient_id": patient, "operated_on": on, "purpose": "stone_removal", **filled, **reasons},
            )
            door.insert(
                "treated_side",
                {"operation_id": operation, "renal_unit_id": kidney, "intent": "stone_removal", "conduct": "completed"},
            )
            if n < 2:
                scan = door.insert(
                    "examination",
                    {
                        "patient_id": patient,
                        "examined_on": on + dt.timedelta(days=(30, 90)[n]),
                        "modality": ("ct", "ultrasound")[n],
                    },
                )
                door.insert("reading", {"examination_id": scan, "renal_unit_id": kidney, "finding": "none_seen"})
            if n == 2:
                late = {"patient_id": patient, "examined_on": on + dt.timedelta(days=91), "modality": "ct"}
                scan = door.insert("examination", late)
                door.insert("reading", {"examination_id": scan, "renal_unit_id": kidney, "finding": "none_seen"})
                door.insert("contact", {"patient_id": patient, "contacted_on": on + dt.timedelta(days=30)})
    return registry


def of(fields: list[FieldCompleteness], name: str) -> FieldCompleteness:
    return next(f for f in fields if f.field == name)


def test_a_recorded_reason_counts_and_a_pending_one_does_not(filled: Registry) -> None:
    with picture_of(filled) as picture:
        fields = completeness(picture, first="2024-03", last="2024-04")
    march, april = of(fields, "fluoroscopy_s").months
    assert (march.month, march.rows, march.filled, march.answered, march.open) == ("2024-03", 3, 1, 1, 3 - 1 - 1)
    assert march.share == (1 + 1) / 3
    assert (april.month, april.rows, april.open) == ("2024-04", 1, 1)


def test_months_outside_are_not_counted(filled: Registry) -> None:
    with picture_of(filled) as picture:
        fields = completeness(picture, first="2024-04", last="2024-04")
    assert [m.month for m in of(fields, "fluoroscopy_s").months] == ["2024-04"]


def test_a_patient_counts_in_the_month_of_the_first_operation(filled: Registry) -> None:
    with picture_of(filled) as picture:
        assert [m.rows for m in of(completeness(picture, first="2024-03", last="2024-04"), "sex").months] == [3, 1]
    assert dated_by("cost_rate") is None


def test_scans_count_from_day_14_to_day_90_and_reviews_from_day_30(filled: Registry) -> None:
    with picture_of(filled) as picture:
        march, april = follow_up(picture, as_of="2024-12-31", **ASKED)
    assert (march.sides, march.scanned, march.by_modality) == (3, 2, {"ct": 1, "ultrasound": 1})
    assert (march.operations, march.reviewed) == (3, 1)
    assert (april.sides, april.scanned, april.reviewed) == (1, 0, 0)


def test_a_window_that_is_still_open_does_not_count(filled: Registry) -> None:
    last_open_day = (MARCH + dt.timedelta(days=89)).isoformat()
    with picture_of(filled) as picture:
        found = follow_up(picture, as_of=last_open_day, **ASKED)
    assert [m.sides for m in found] == [0, 0]


def test_delay_is_from_the_event_to_its_entry(filled: Registry) -> None:
    days = (dt.datetime.now(dt.UTC).date() - MARCH).days
    with picture_of(filled) as picture:
        march = timeliness(picture, first="2024-03", last="2024-03")[0]
    assert (march.subject, march.rows, march.within) == ("Operations", 3, 0)
    assert march.median_days in (days, days + 1)  # the day may end while the test runs


def test_the_page_says_what_was_counted_and_needs_nothing_else(filled: Registry) -> None:
    page = report_page(gather(filled, on=ON))
    text = re.sub(r"<[^>]+>", " ", page.split("<body>")[1])
    text = " ".join(text.split())
    assert "Larkspur Bay Stone Unit" in text and "4 operations" in text
    assert "2 of 4" in text  # sides scanned in the window
    assert "Operation: Fluoroscopy time" in text
    assert "P0" not in page  # nobody is named
    assert "gravelbook quality due --what follow-up" in text

    class Links(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            assert tag not in ("script", "link", "img", "iframe"), tag
            assert not [a for a, _ in attrs if a in ("src", "href") or a.startswith("on")], attrs

    Links().feed(page)
    assert "http" not in page


def test_an_empty_registry_is_refused_in_a_sentence(registry: Registry) -> None:
    with pytest.raises(GravelbookError, match="holds no operation"):
        gather(registry, on=ON)


def test_the_command_writes_once_and_overwrites_when_told(filled: Registry, location: str, tmp_path: Path) -> None:
    file = tmp_path / "report.html"
    asked = ["report", str(file), "--registry", location, "--on", "2024-12-31"]
    with open_registry(location):
        assert CliRunner().invoke(quality, asked).exit_code == 0
    before = file.read_text(encoding="utf-8")
    again = CliRunner().invoke(quality, asked)
    assert isinstance(again.exception, GravelbookError) and "was left as it is" in str(again.exception)
    assert CliRunner().invoke(quality, [*asked, "--overwrite"]).exit_code == 0
    assert file.read_text(encoding="utf-8") == before


def test_drawings_say_their_numbers_in_words() -> None:
    drawn = stacked_months([("2024-03", 1, 2, 3)])
    assert "2024-03: 1 by CT or second look, 2 otherwise, 3 not scanned" in drawn
    assert "from 4 to 1 over 3 runs" in trend((4, 2, 1))
    assert trend((4,)) == ""
