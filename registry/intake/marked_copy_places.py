"""Where files go that are made from the files a person gave, and never onto these."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from registry.schema.errors import GravelbookError
from registry.store.files import refuse_overwriting


def places_beside(target: Path, files: Sequence[Path], *, overwrite: bool) -> dict[str, Path]:
    """The workbook made from each file: the target itself, or one that begins with the name of each of several files.

    Args:
        target: the name that was given.
        files: the files.
        overwrite: what stands there may be replaced, unless it is one of the files.

    Returns:
        By the file's name, where its workbook goes.

    Raises:
        GravelbookError: a workbook would replace one of the files, or the place cannot hold it.
    """
    # A mapping may tell files apart by how their names begin.
    stems = [file.stem for file in files]
    places = {}
    for file in files:
        name = file.stem if stems.count(file.stem) == 1 else file.name.replace(".", "-")
        place = target if len(files) == 1 else target.with_name(f"{name}-{target.stem}{target.suffix}")
        for own in files:
            if place.resolve() == own.resolve() or (place.exists() and own.exists() and place.samefile(own)):
                raise GravelbookError(
                    f"{place} is the file that is read itself, and that stays as it is. Give another name to write to."
                )
        refuse_overwriting(place, overwrite=overwrite)
        places[file.name] = place
    return places
