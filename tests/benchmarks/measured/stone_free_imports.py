"""Loads everything that ``gravelbook stone-free`` needs for an unchanged registry, and nothing more."""

# ruff: noqa: E402, F401
from __future__ import annotations

from registry.command_line import collect_garbage_rarely

collect_garbage_rarely()

import analysis.reports.stone_free.asking
import analysis.reports.stone_free.command
import analysis.reports.stone_free.figure_of
import analysis.reports.stone_free.render_text
import registry.store.registry
