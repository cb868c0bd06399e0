"""What is to be loaded: the registry's own workbook, or the files of a log together with its mapping."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from registry.intake.rows import FileRows
from registry.intake.workbook_open import content_hash, file_bytes
from registry.intake.workbook_reader import read_workbook
from registry.validation.findings import FindingList

if TYPE_CHECKING:
    from registry.store.registry import Registry


@dataclass(frozen=True)
class Source:
    """Files that belong together.

    Attributes:
        files: the files, one or more; a workbook of the registry stands alone.
        mapping: the mapping file of a flat log; None for a workbook in the registry's own layout.
    """

    files: tuple[Path, ...]
    mapping: Path | None = None

    @property
    def name(self) -> str:
        """What the files are called in messages and in the list of batches."""
        return ", ".join(path.name for path in self.files)

    def content_hash(self) -> str:
        """SHA-256 over the files and the mapping, so that the same files under another mapping are read again.

        Raises:
            GravelbookError: a file cannot be read.
        """
        if self.mapping is None:
            return content_hash(file_bytes(self.files[0]))
        whole = hashlib.sha256()
        for path in (*self.files, self.mapping):
            from registry.intake.log_open import log_bytes

            whole.update(hashlib.sha256(log_bytes(path)).digest())
        return whole.hexdigest()

    def read(self, registry: Registry, findings: FindingList) -> FileRows:
        """Open the files; their rows come sheet by sheet as they are asked for.

        Args:
            registry: the registry that the rows are meant for; a log's patients are looked up in it.
            findings: takes what reading finds.

        Raises:
            GravelbookError: a file or the mapping as a whole cannot be read.
        """
        if self.mapping is None:
            return read_workbook(self.files[0], findings)
        from registry.intake.log_rows import read_log

        return read_log(registry, self, findings)


def source_of(path: Path | Source) -> Source:
    """A path alone is a workbook in the registry's own layout."""
    return path if isinstance(path, Source) else Source((path,))
