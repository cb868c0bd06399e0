"""Options as typed, the unit's own defaults, and what is refused."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest

from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.own_defaults import OwnDefault, own_defaults
from analysis.reports.request.values import read_as_of
from analysis.reports.stone_free.adequacy_file import adequacy_table
from analysis.reports.stone_free.request import read_request
from registry.schema.errors import GravelbookError

DAY = dt.date(2025, 6, 30)


def setting(name: str, value: str, since: str = "2024-01-01", site: int = 1) -> dict[str, Any]:
    return {"site_id": site, "setting_name": name, "since": dt.date.fromisoformat(since), "value": value}


def in_force(*rows: dict[str, Any], given: tuple[str, ...] = ()) -> tuple[OwnDefault, ...]:
    return own_defaults(rows, {1: "LB", 2: "OTHER"}, DAY, given=given)


def test_nothing_typed_is_the_default_of_every_option():
    made = read_request({})
    assert [one.code for one in made.definition.thresholds] == ["0", "2", "4"]
    assert made.definition.window == (14, 90)
    assert (made.unscanned, made.interval, made.level) == (("complete",), "wilson", 0.95)
    assert (made.seed, made.replicates, made.small_number) == (1, 2000, 5)
    assert (made.by, made.contrast, made.strata, made.own_defaults) == ((), None, None, ())


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("threshold", "two"),
        ("threshold", "lt0"),
        ("imaging", "mri"),
        ("pick", "first"),
        ("adequacy", "no-such-table"),
        ("assume_slice", "thin"),
        ("assume_slice", "-1"),
        ("window", "90:14"),
        ("window", "14-90"),
        ("target", "200"),
        ("target", "soon"),
        ("unit", "kidney"),
        ("sessions", "planned"),
        ("unscanned", "ignored"),
        ("unscanned", "lower,lower"),
        ("stones", "some"),
        ("retreated", "free"),
        ("died", "free"),
        ("denominator", "all"),
        ("interval", "wald"),
        ("level", "95"),
        ("level", "nan"),
        ("seed", "-1"),
        ("replicates", "0"),
        ("replicates", "many"),
        ("by", "a,b,c"),
        ("compare", "technique"),
        ("strata", "largest_mm:20"),
    ],
)
def test_a_value_that_cannot_be_used_is_refused_in_one_paragraph(option: str, value: str):
    with pytest.raises(MalformedOptionError) as fault:
        read_request({option: value})
    said = str(fault.value)
    assert "\n" not in said
    assert len(said) > 40


@pytest.mark.parametrize(
    ("option", "value", "ours"),
    [
        ("imaging", "CT", "ct"),
        ("imaging", "US+kub", "us+kub"),
        ("pick", "Best", "best"),
        ("unit", "COURSE", "course"),
        ("stones", "Targeted", "targeted"),
        ("retreated", "Unknown", "unknown"),
        ("died", "FAILED", "failed"),
        ("denominator", "Protocol", "protocol"),
        ("adequacy", "AS-Published", "as-published"),
        ("unscanned", "Complete, LOWER", "complete,lower"),
        ("interval", "Mid-P", "mid-p"),
        ("threshold", "0,LT2", "0,lt2"),
    ],
)
def test_words_are_ours_in_any_case(option: str, value: str, ours: str):
    assert read_request({option: value}) == read_request({option: ours})
    assert read_request({"sessions": "Planned", "unit": "patient"}).definition.sessions == "planned"


def test_a_file_of_ones_own_keeps_its_case_and_a_strange_word_is_named_as_typed():
    with pytest.raises(MalformedOptionError, match="Own-Table"):
        read_request({"adequacy": "Own-Table"})
    with pytest.raises(MalformedOptionError, match="MRI"):
        read_request({"imaging": "MRI"})


@pytest.mark.parametrize("code", ["lt2", "3", "lt4", "1.5"])
def test_imputed_answers_no_threshold_inside_a_size_class(code: str):
    with pytest.raises(MalformedOptionError, match=f"cannot answer --threshold {code}: it imputes the size class"):
        read_request({"unscanned": "complete,imputed", "threshold": f"0,{code}"})
    assert read_request({"unscanned": "weighted", "threshold": f"0,{code}"}).unscanned == ("weighted",)


@pytest.mark.parametrize("mode", ["weighted", "imputed"])
def test_what_no_model_answers_is_refused_by_name(mode: str):
    with pytest.raises(MalformedOptionError, match=f"--unscanned {mode} cannot be asked of --unit stone"):
        read_request({"unscanned": mode, "unit": "stone"})
    with pytest.raises(MalformedOptionError, match=f"--strata cannot be joined to --unscanned {mode}"):
        read_request({"unscanned": mode, "compare": "arm=a,b", "strata": "size"})


def test_imputations_are_a_whole_number_of_two_or_more():
    assert read_request({}).imputations == 20
    with pytest.raises(MalformedOptionError, match="--imputations"):
        read_request({"imputations": "1"})


def test_strata_cannot_be_the_column_compared():
    with pytest.raises(MalformedOptionError, match="no stratum would hold both groups"):
        read_request({"compare": "technique=a,b", "strata": "technique"})


def test_an_as_of_date_is_a_date():
    assert read_as_of("2025-06-30") == DAY
    assert read_as_of(None) is None
    with pytest.raises(MalformedOptionError, match=r"--as-of '30\.6\.2025'"):
        read_as_of("30.6.2025")


def test_the_newest_setting_that_holds_on_the_as_of_date_is_the_default_and_is_named():
    rows = (
        setting("stone_free_window", "20:60"),
        setting("stone_free_window", "30:120", "2025-01-01"),
        setting("stone_free_window", "1:2", "2025-07-01"),
        setting("small_number", "10"),
        setting("auxiliary_days", "60"),
    )
    made = read_request({}, in_force(*rows))
    assert made.definition.window == (30, 120)
    assert made.small_number == 10
    assert [one.name for one in made.own_defaults] == ["stone_free_window", "small_number"]
    assert made.own_defaults[0].in_words() == "window 30:120: the unit's own default since 2025-01-01"


def test_what_is_typed_counts_before_a_setting():
    found = in_force(setting("stone_free_threshold", "lt2"), given=("threshold",))
    assert found == ()
    made = read_request({"window": "20:60"}, in_force(setting("stone_free_target", "90")))
    assert (made.definition.target_day, made.own_defaults) == (30, ())


def test_a_setting_that_cannot_be_read_is_the_registrys_fault_and_says_where():
    with pytest.raises(GravelbookError, match="stone_free_window = soon since 2024-01-01") as fault:
        read_request({}, in_force(setting("stone_free_window", "soon")))
    assert not isinstance(fault.value, MalformedOptionError)


def test_a_setting_that_stands_for_no_option_is_refused():
    with pytest.raises(GravelbookError, match="'stone_free_windows' stands for no option"):
        in_force(setting("stone_free_windows", "14:90"))


def test_sites_that_disagree_need_the_option_typed():
    rows = (setting("stone_free_window", "14:90"), setting("stone_free_window", "30:90", site=2))
    with pytest.raises(GravelbookError, match="say which with --window"):
        in_force(*rows)
    assert in_force(*rows, given=("window",)) == ()
    agreed = in_force(setting("stone_free_died", "failed"), setting("stone_free_died", "failed", site=2))
    assert agreed[0].sites == ("LB", "OTHER")


def test_of_small_numbers_the_most_careful_holds():
    (found,) = in_force(setting("small_number", "5"), setting("small_number", "10", site=2))
    assert found.value == "10"


def table_file(folder: Path, text: str) -> str:
    path = folder / "ours.toml"
    path.write_text(text)
    return str(path)


def test_a_units_own_adequacy_table_is_read_from_a_file(tmp_path: Path):
    rows = ('modality = "ct"\nslice_to_mm = 1.5\nfrom_mm = 0\n', 'modality = "kub"\nfrom_mm = 4\n')
    written = 'name = "ours"\n' + "".join(f"[[row]]\n{row}" for row in rows)
    table = read_request({"adequacy": table_file(tmp_path, written)}).definition.adequacy
    assert table.name == "ours"
    assert [(row.modality, row.slice_to_mm, row.from_mm) for row in table.rows] == [("ct", 1.5, 0), ("kub", None, 4)]
    assert adequacy_table("as-published").switched_off


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name = ", "is not TOML"),
        ("[[rows]]\n", "'rows' means nothing"),
        ("name = 3\n", "name has to be text"),
        ('[[row]]\nmodality = "mri"\nfrom_mm = 0\n', "'mri'"),
        ('[[row]]\nmodality = "ct"\nfrom_mm = "all"\n', "from_mm has to be a number"),
        ('[[row]]\nmodality = "ct"\n', "no from_mm"),
        ('name = "adequacy-1"\n', "is taken"),
    ],
)
def test_a_faulty_adequacy_table_is_refused_with_its_place(tmp_path: Path, text: str, said: str):
    with pytest.raises(GravelbookError, match=said) as fault:
        read_request({"adequacy": table_file(tmp_path, text)})
    assert "ours.toml" in str(fault.value)
