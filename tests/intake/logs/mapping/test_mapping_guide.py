"""The guide to mappings is itself a mapping without a mistake, and shows every key that there is."""

from __future__ import annotations

import re
from pathlib import Path

from click.testing import CliRunner

from registry.intake import log_mapping_columns, log_mapping_reader
from registry.intake.commands import intake
from registry.intake.log_mapping_reader import read_mapping

GUIDE = Path(log_mapping_reader.__file__).with_name("mapping_guide.toml")


def test_the_guide_is_a_mapping_without_a_mistake() -> None:
    assert read_mapping(GUIDE).name == "theatre log"


def test_every_key_is_shown() -> None:
    text = GUIDE.read_text(encoding="utf-8")
    keys = {*log_mapping_reader._TOP, *log_mapping_reader._READING, *log_mapping_reader._CONSTANT}
    keys |= {*log_mapping_columns._KEYS, "finds", "within_days", "fills"}
    shown = set(re.findall(r"^\s*([a-z_]+)\s*=", text, re.MULTILINE)) | set(re.findall(r"[\[{ ]([a-z_]+)[\].]", text))
    assert keys - {"values", "theatre_list"} <= shown


def test_the_command_prints_it() -> None:
    said = CliRunner().invoke(intake, ["map", "--guide"])
    assert said.exit_code == 0
    assert said.output == GUIDE.read_text(encoding="utf-8")
