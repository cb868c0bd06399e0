"""Everything that ``gravelbook stone-free`` loads for an unchanged registry, and nothing more."""

# ruff: noqa: F401
from __future__ import annotations

import analysis.reports.stone_free.asking
import analysis.reports.stone_free.command
import analysis.reports.stone_free.figure_of
import analysis.reports.stone_free.render_text
import registry.command_line
import registry.store.registry
