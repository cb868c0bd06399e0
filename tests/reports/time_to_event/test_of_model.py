"""A model file whose outcome is a time to an event."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.design.terms import Interaction
from analysis.reports.ratio.model_file import Model
from analysis.reports.request.source import Asked
from analysis.reports.sections.render_text import as_text
from analysis.reports.time_to_event.of_model import is_time, time_drawing, time_report
from registry.schema.errors import GravelbookError
from tests.reports.time_to_event.worked_unit import SEX, asked_of, worked

MODEL = Model(name="retreatment by sex", outcome="retreatment", options={}, exposure=SEX, place="model.toml")
ASKED = (("question", "does retreatment go with sex?"),)


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Asked:
    return asked_of(worked(), tmp_path_factory.mktemp("of_model"))


def test_the_question_stands_before_any_number(asked: Asked) -> None:
    said = as_text(time_report(MODEL, asked, ASKED))
    assert said.startswith("Retreatment by sex, as of ")
    assert said.index("does retreatment go with sex?") < said.index("Who is at risk")
    assert "no proof of a cause" in said


def test_the_record_holds_what_it_was_made_by(asked: Asked) -> None:
    held = time_report(MODEL, asked, ASKED).definition
    assert held["outcome_definition"]["name"] == "retreatment"
    assert held["outcome_definition"]["choices"]["censoring"] == "settled"
    assert {"lifelines", "comprisk"} <= set(held["software"])


def test_its_options_are_those_of_the_outcome(asked: Asked) -> None:
    report = time_report(replace(MODEL, options={"horizons": "365"}), asked, ASKED)
    (incidence,) = [one for one in report.sections if one.name == "time_incidence"]
    assert {row["days"] for row in incidence.rows} == {365}


def test_the_figure_is_that_of_the_model(asked: Asked) -> None:
    assert time_drawing(MODEL, asked, "png").startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"cluster_by": "operator"}, r"model.toml, \[cluster\]: errors of a time to an event allow"),
        ({"cluster_method": "mixed"}, r"model.toml, \[cluster\]"),
        ({"covariates": "imputed"}, r"model.toml, \[missing\] covariates: .* are not imputed"),
        ({"fit": "firth"}, r"model.toml, \[fit\] method"),
        ({"interactions": (Interaction("sex", "age_years"),)}, r"model.toml, \[\[interaction\]\]"),
        ({"options": {"orign": "index"}}, r"model.toml, \[outcome\]: 'orign' means nothing for retreatment"),
        ({"options": {"horizons": "0"}}, r"model.toml, \[outcome\]: horizons '0' has to be a whole number"),
    ],
)
def test_what_it_does_not_take_is_said(asked: Asked, change: dict[str, object], said: str) -> None:
    with pytest.raises(GravelbookError, match=said):
        time_report(replace(MODEL, **change), asked, ASKED)  # type: ignore[arg-type]


def test_only_times_are_times() -> None:
    assert is_time(MODEL)
    assert not is_time(replace(MODEL, outcome="stone_free"))
