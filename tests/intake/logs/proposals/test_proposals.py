"""Proposals over logs of several styles: right ones are made, and nothing wrong is ever said to be sure."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from registry.intake.log_mapping_reader import read_mapping
from registry.intake.map_proposal import Proposal
from registry.intake.map_reading import proposal_for
from registry.intake.map_writer import CODE, PROSE, as_mapping
from tests.intake.logs.proposals.styles import STYLES, Style, cases
from tests.intake.logs.proposals.unseen import UNSEEN

every_style = pytest.mark.parametrize("style", (*STYLES, *UNSEEN), ids=lambda style: style.name)


def found(proposal: Proposal) -> set[str]:
    return {"status"} if "status" in proposal.settings else set(proposal.to)


@every_style
def test_nothing_wrong_is_sure_and_what_can_be_told_is_told(style: Style, tmp_path: Path) -> None:
    whole = proposal_for(style.write(tmp_path))
    assert [p.made.heading.text for p in whole.columns] == list(style.truth)
    told = {p.made.heading.text: found(p) for p in whole.columns if p.proposed}
    assert told == {heading: set(right) for heading, right in style.truth.items() if right}


@every_style
def test_every_proposal_has_reasons_and_every_doubt_is_said(style: Style, tmp_path: Path) -> None:
    whole = proposal_for(style.write(tmp_path))
    text = as_mapping(whole, name="log", file="log.csv", mapping="log.toml")
    for proposal in whole.columns:
        assert proposal.reasons
        assert 0 <= proposal.sureness <= 1
        assert not (proposal.proposed and proposal.doubts)
        assert all(doubt in text for doubt in proposal.doubts)


@every_style
def test_the_mapping_is_one_that_the_loader_reads(style: Style, tmp_path: Path) -> None:
    whole = proposal_for(style.write(tmp_path))
    path = tmp_path / "log.toml"
    path.write_text(as_mapping(whole, name="log", file="log.csv", mapping="log.toml"), encoding="utf-8")
    mapping = read_mapping(path)
    assert {t.text for c in mapping.columns for t in c.targets} == {
        name for p in whole.columns if p.proposed and "status" not in p.settings for name in p.to
    }


@every_style
def test_what_is_left_to_a_person_becomes_an_entry_when_its_marks_are_taken_off(style: Style, tmp_path: Path) -> None:
    whole = proposal_for(style.write(tmp_path))
    text = as_mapping(whole, name="log", file="log.csv", mapping="log.toml")
    bare = "\n".join(line.removeprefix(CODE) for line in text.splitlines() if not line.startswith(PROSE.strip()))
    taken = tomllib.loads(bare)
    named = {one.get("heading") for one in (*taken["column"], *taken["ignore"])}
    assert {p.made.heading.text for p in whole.columns if not p.proposed} <= named


@every_style
def test_no_identifying_value_is_repeated(style: Style, tmp_path: Path) -> None:
    from registry.intake.map_table import as_json, as_table

    whole = proposal_for(style.write(tmp_path))
    said = as_mapping(whole, name="log", file="log.csv", mapping="log.toml") + as_table(whole) + as_json(whole)
    for case in cases():
        for value in (case.number, f"{case.born:%d/%m/%Y}", f"{case.born:%d.%m.%Y}", f"{case.born:%d %b %Y}"):
            assert value not in said
    for word in ("Quill", "Thrift", "Sorrel", "Vetch", "Cleo", "uneventful", "two weeks", "digital 1"):
        assert word not in said


def test_a_column_that_differs_by_its_number_alone_is_thought_of_like_its_sibling(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    lines = ["Hosp no,Date,Stone 1 site,Stone 2 site"]
    lines += [f"A{n},{n:02}/03/2021,{'Lower pole' if n % 2 else 'Renal pelvis'},L{n} infundib" for n in range(1, 13)]
    log.write_text("\n".join(lines) + "\n", encoding="utf-8")
    by_heading = {p.made.heading.text: p for p in proposal_for(log).columns}
    first, second = by_heading["Stone 1 site"], by_heading["Stone 2 site"]
    assert first.proposed and first.to == ("stone.location",)
    assert not second.proposed and second.to == first.to
    assert "Stone 1 site" in second.reasons[0]
