"""Which commands are installed, and which version this is, read from the installer's own records.

``importlib.metadata`` would say the same, but loading it takes as long as loading click; it is asked only for a
command that is not found here, such as one in a package that is kept in an archive.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from typing import Any

COMMAND_GROUP = "gravelbook.commands"
DISTRIBUTION = "gravelbook"
_RECORDS = (".dist-info", ".egg-info")


def installed_commands() -> dict[str, str]:
    """Where each command is, as ``module:name``, by the command's name; of packages that are there twice, the first."""
    return dict(_commands_on(tuple(sys.path)))


@cache
def _commands_on(path: tuple[str, ...]) -> dict[str, str]:
    found: dict[str, str] = {}
    heading = f"[{COMMAND_GROUP}]"
    for _, folder in _distributions(path):
        text = _text(folder, "entry_points.txt")
        if heading in text:
            for name, place in _section(text, heading):
                found.setdefault(name, place)
    return found


def load_command(name: str) -> Any:
    """The command of a name; None when no installed package has it.

    Raises:
        ImportError: its package is broken.
    """
    place = installed_commands().get(name)
    if place is not None:
        module, _, attribute = place.partition(":")
        return getattr(import_module(module), attribute)
    from importlib.metadata import entry_points

    for point in entry_points(group=COMMAND_GROUP, name=name):
        return point.load()
    return None


def version() -> str:
    """The version of this program."""
    for distribution, folder in _distributions(tuple(sys.path)):
        if distribution == DISTRIBUTION:
            told = re.search(r"^Version: *(.+)$", _text(folder, "METADATA") or _text(folder, "PKG-INFO"), re.MULTILINE)
            if told:
                return told[1].strip()
    from importlib.metadata import version as asked

    return asked(DISTRIBUTION)


def _distributions(path: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """(name, folder of the installer's records) of each package, in the order in which Python would meet it."""
    met = set()
    for place in path:
        try:
            names = sorted(os.listdir(place or "."))  # noqa: PTH208
        except OSError:
            continue
        for record in names:
            if record.endswith(_RECORDS):
                distribution = re.split(r"-\d|\.(?:dist|egg)-info$", record)[0].lower()
                if distribution not in met:
                    met.add(distribution)
                    yield distribution, os.path.join(place, record)  # noqa: PTH118  (a path object each is slow)


def _text(folder: str, name: str) -> str:
    try:
        with open(os.path.join(folder, name), encoding="utf-8") as file:  # noqa: PTH118, PTH123
            return file.read()
    except OSError:
        return ""


def _section(text: str, heading: str) -> Iterator[tuple[str, str]]:
    """(name, place) of the lines under a heading."""
    inside = False
    for line in map(str.strip, text.splitlines()):
        if line.startswith("["):
            inside = line == heading
        elif inside and "=" in line and not line.startswith(("#", ";")):
            name, place = (part.strip() for part in line.split("=", 1))
            # Behind the place an older record may name extras in brackets.
            yield name, place.partition("[")[0].strip()
