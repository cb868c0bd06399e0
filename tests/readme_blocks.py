"""Prints one of the README's two copy-paste commands: ``python tests/readme_blocks.py demo`` or ``... tests``."""

from __future__ import annotations

import re
import sys
from pathlib import Path

ORDER = ("demo", "tests")


def fenced_blocks(path: Path) -> list[str]:
    """The fenced shell blocks of a Markdown file, in order."""
    return re.findall(r"^```sh\n(.*?)\n```$", path.read_text(encoding="utf-8"), flags=re.M | re.S)


def readme_command(which: str) -> str:
    """The command that sets up and runs the demo, or the one that sets up and passes the tests."""
    return fenced_blocks(Path(__file__).parents[1] / "README.md")[ORDER.index(which)]


if __name__ == "__main__":
    print(readme_command(sys.argv[1]))
