"""Rules of inclusion and exclusion."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.cohort.rules import parse_rules, read_rules
from registry.schema.errors import GravelbookError
from tests.cohort.rows import Rows, day

ADULTS = """
name = "adults, flexible"

[[include]]
column = "age_years"
at_least = 18
reason = "under 18 years"

[[exclude]]
column = "technique"
containing = ["open"]
reason = "open surgery"

[[include]]
column = "operated_on"
from = 2024-01-03
until = "2024-01-31"
reason = "operated in another month"
"""


def step(text: str) -> str:
    return f'[[include]]\nreason = "r"\n{text}\n'


@pytest.fixture
def mixed(rows: Rows) -> Rows:
    """Six sides of six patients: ages 10, 20, 30, 40, 50 and unknown, on days 0 to 5."""
    for number, age in enumerate((10, 20, 30, 40, 50, None)):
        person = rows.patient(research_use=("yes", "no", "not_asked", None, "no", "yes")[number])
        techniques = ("flexible", "open") if age == 40 else ("flexible",)
        rows.side(rows.unit(person), operation=rows.operation(person, number, age_years=age), techniques=techniques)
    return rows


def inside(rows: Rows, folder: Path, text: str) -> list[int]:
    return rows.cohort(folder, rules=parse_rules(text)).sides_frame["side_id"].tolist()


def test_steps_keep_the_order_of_the_file() -> None:
    rules = parse_rules(ADULTS)
    assert [f"{each.verb} {each.column.name}" for each in rules.steps] == [
        "include age_years",
        "exclude technique",
        "include operated_on",
    ]
    assert rules.name == "adults, flexible"


def test_the_flow_says_who_fell_out_where(mixed: Rows, folder: Path) -> None:
    cohort = mixed.cohort(folder, rules=parse_rules(ADULTS))
    assert cohort.flow.text() == "\n".join(
        [
            "In the registry: 6 sides, 6 operations, 6 patients",
            "  - under 18 years: 1 side, 1 operation, 1 patient left out",
            "  - age_years not recorded: 1 side, 1 operation, 1 patient left out",
            "  - open surgery: 1 side, 1 operation, 1 patient left out",
            "  - operated in another month: 1 side, 1 operation, 1 patient left out",
            "In the cohort: 2 sides, 2 operations, 2 patients",
        ]
    )
    assert cohort.sides_frame["side_id"].tolist() == [3, 5]
    sides = cohort.outcome_frames["sides"]
    assert sides.loc[sides["in_cohort"], "side_id"].tolist() == [3, 5]
    assert len(sides) == 6


@pytest.mark.parametrize(
    ("text", "ids"),
    [
        ("at_least = 30", [3, 4, 5]),
        ("at_most = 30", [1, 2, 3]),
        ("above = 30", [4, 5]),
        ("below = 30", [1, 2]),
        ("above = 10\nbelow = 40", [2, 3]),
        ("equals = 30", [3]),
        ("among = [10, 50]", [1, 5]),
        ("not_among = [10, 50]", [2, 3, 4]),
        ('at_least = 30\nmissing = "keep"', [3, 4, 5, 6]),
    ],
)
def test_conditions_on_numbers(mixed: Rows, folder: Path, text: str, ids: list[int]) -> None:
    assert inside(mixed, folder, step(f'column = "age_years"\n{text}')) == ids
    excluding = step(f'column = "age_years"\n{text}').replace("include", "exclude").replace('"keep"', '"exclude"')
    kept_missing = [] if "missing" in text else [6]
    assert inside(mixed, folder, excluding) == sorted({1, 2, 3, 4, 5} - set(ids)) + kept_missing


@pytest.mark.parametrize(
    ("text", "ids"),
    [
        ('column = "technique"\namong = ["flexible"]', [1, 2, 3, 5, 6]),
        ('column = "technique"\nequals = "open+flexible"', [4]),
        ('column = "technique"\ncontaining = ["flexible"]', [1, 2, 3, 4, 5, 6]),
        ('column = "operated_on"\nequals = 2024-01-02', [2]),
        ('column = "operated_on"\namong = [2024-01-02, "2024-01-04"]', [2, 4]),
        ('column = "study_number"\namong = ["S0002"]', [2]),
        ('column = "research_use"\nequals = "no"', [2, 5]),
    ],
)
def test_conditions_on_codes_and_dates(mixed: Rows, folder: Path, text: str, ids: list[int]) -> None:
    assert inside(mixed, folder, step(text)) == ids


def test_a_technique_that_is_not_recorded_is_missing(rows: Rows, folder: Path) -> None:
    rows.side(techniques=())
    assert inside(rows, folder, step('column = "technique"\nnot_among = ["open"]')) == []


def test_patients_who_refused_research_are_counted_out(mixed: Rows, folder: Path) -> None:
    cohort = mixed.cohort(folder, research=True)
    assert cohort.sides_frame["side_id"].tolist() == [1, 3, 4, 6]
    (only,) = cohort.flow.rows
    assert (only.reason, only.left_out.patients) == ("patient refused research use", 2)


def test_the_unit_may_leave_out_those_not_asked(mixed: Rows, folder: Path) -> None:
    mixed.add("setting", site_id=1, setting_name="research_not_asked", since=day(-1), value="out")
    cohort = mixed.cohort(folder, research=True)
    assert cohort.sides_frame["side_id"].tolist() == [1, 6]
    assert [row.left_out.sides for row in cohort.flow.rows] == [2, 2]


def test_operations_after_the_as_of_date_are_counted_out(mixed: Rows, folder: Path) -> None:
    cohort = mixed.cohort(folder, as_of=day(3))
    assert cohort.sides_frame["side_id"].tolist() == [1, 2, 3, 4]
    assert [(row.reason, row.left_out.sides) for row in cohort.flow.rows] == [(f"operated on after {day(3)}", 2)]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("include = 3", r"rules: each include has to be a table of its own, headed \[\[include\]\]"),
        ("[[include]\n", "rules is not TOML"),
        ("[[inclode]]\ncolumn = 'sex'", "'inclode' means nothing in a file of rules. Allowed are name, "),
        ("name = 3", "name has to be text, not 3"),
        ("include = [{column = 'sex', equals = 'male', reason = 'r'}]", "order of its steps cannot be told"),
        (step("column = 'age_yaers'\nat_least = 1"), r"step 1 \(include\): 'age_yaers' is no column.*: age_years"),
        (step("column = 'age_years'\nat_laest = 1"), "'at_laest' is no condition. Did you mean at_least"),
        (step("column = 'age_years'"), "age_years has no condition. Allowed are at_least, at_most, "),
        (step("at_least = 1"), "has no column"),
        ("[[include]]\ncolumn = 'sex'\nequals = 'male'", "sex: give a reason"),
        (step("column = 'age_years'\nat_least = 'x'"), r"at_least needs a number \(years\), not 'x'"),
        (step("column = 'age_years'\nat_least = true"), r"at_least needs a number \(years\), not True"),
        (
            step("column = 'age_years'\nfrom = 2024-01-01"),
            "from compares dates, and age_years holds whole numbers",
        ),
        (step("column = 'operated_on'\nfrom = '1.2.2024'"), "needs a date such as 2024-05-31, not '1.2.2024'"),
        (step("column = 'operated_on'\nfrom = 2024-01-01T10:00:00"), "needs a date such as 2024-05-31"),
        (
            step("column = 'operated_on'\nabove = 3"),
            "above compares numbers, and operated_on holds dates. Use",
        ),
        (step("column = 'sex'\nequals = 'man'"), "'man' is not on its list. Allowed are female, male, other"),
        (step("column = 'sex'\nequals = 3"), "needs text in quotation marks, not 3"),
        (step("column = 'sex'\namong = 'male'"), "among needs a list of values in square brackets"),
        (step("column = 'sex'\namong = []"), "among needs a list of values in square brackets"),
        (step("column = 'sex'\ncontaining = ['male']"), "containing is for columns of joined codes, and sex is none"),
        (step("column = 'technique'\namong = ['flexible+opan']"), "'opan' is not on its list. Allowed are flexible, "),
        (step("column = 'sex'\nequals = 'male'\nmissing = 'maybe'"), 'missing has to be "exclude" or "keep"'),
    ],
)
def test_mistakes_are_named(text: str, said: str) -> None:
    with pytest.raises(GravelbookError, match=said):
        parse_rules(text)


def test_the_message_names_file_and_step(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(ADULTS + step("column = 'sax'\nequals = 'male'"), encoding="utf-8")
    with pytest.raises(GravelbookError, match=r"mine.toml, step 4 \(include\): 'sax' is no column"):
        read_rules(file)
    with pytest.raises(GravelbookError, match=r"not_there\.toml cannot be read"):
        read_rules(tmp_path / "not_there.toml")
    with pytest.raises(GravelbookError, match="cannot be read"):
        read_rules(tmp_path)
