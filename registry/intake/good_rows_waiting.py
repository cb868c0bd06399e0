"""Which rows have to wait because another row of the file is not loaded."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

from registry.intake.good_rows_keys import FileKeys, NamedRows, Unit
from registry.intake.known_keys import Key
from registry.schema.tables import patient_path

Waiting = dict[Unit, str]
"""By row, the sentence that says which row it waits for."""


def hanging_on(keys: FileKeys, rejected: set[Unit], faulty: set[Unit], stay: set[tuple[str, Key]]) -> Waiting:
    """The rows that name a rejected row, and those that name these, and so on.

    A row that the registry holds already, or that a row which stays says too, can still be named.

    Args:
        keys: the rows of the file by what they are called.
        rejected: the rows that are not loaded.
        faulty: those of them of which nothing stays.
        stay: by table and key, records of the others that stay.
    """
    found: Waiting = {}
    kept: dict[str, set[Key]] = defaultdict(set)
    gone: dict[str, dict[Key, tuple[Unit, NamedRows]]] = defaultdict(dict)
    for named in keys.sheets:  # parents first, so that one pass finds whole chains
        for index, (unit, key) in enumerate(zip(named.units, named.keys, strict=True)):
            out = unit in rejected or unit in found
            if not out:
                cause = _missing(named, index, kept, gone, keys.held)
                if cause is not None:
                    found[unit] = _hangs(unit, *cause)
                    out = True
            if key is not None and (not out or ((named.table, key) in stay and unit not in faulty)):
                kept[named.table].add(key)
            elif key is not None:
                gone[named.table].setdefault(key, (unit, named))
    return found


def _missing(
    named: NamedRows,
    index: int,
    kept: dict[str, set[Key]],
    gone: dict[str, dict[Key, tuple[Unit, NamedRows]]],
    held: dict[str, frozenset[Key]],
) -> tuple[Unit, NamedRows] | None:
    for target, column in named.links:
        key = column[index]
        if key is not None and key in gone[target] and key not in kept[target] and key not in held[target]:
            return gone[target][key]
    return None


def _hangs(unit: Unit, parent: Unit, named: NamedRows) -> str:
    sheet = "" if parent[:2] == unit[:2] else f" of sheet {parent[1]}" if parent[1] else f" of {parent[0]}"
    label = named.rows.sheet.title
    what = "" if label == parent[1] else f" ({label})"
    return f"It belongs to row {parent[2]}{sheet}{what}, which was not loaded: it waits for that row."


def shared_records(keys: FileKeys, rejected: set[Unit], faulty: set[Unit]) -> set[tuple[str, Key]]:
    """Records of no patient that rejected rows of a log say and rows that stay need: an operator, a model.

    Args:
        keys: the rows of the log by what they are called.
        rejected: the rows that are not loaded.
        faulty: those of them whose shared records are at fault themselves.
    """
    needed: set[tuple[str, Key]] = set()
    stay: set[tuple[str, Key]] = set()
    for named in reversed(keys.sheets):  # children first: they need the records above them
        shared = not _of_a_patient(named.table)
        for index, (unit, key) in enumerate(zip(named.units, named.keys, strict=True)):
            if unit in rejected:
                if key is None or not shared or unit in faulty or (named.table, key) not in needed:
                    continue
                stay.add((named.table, key))
            needed |= {(target, link) for target, column in named.links if (link := column[index]) is not None}
    return stay


def together_with(keys: FileKeys, rejected: set[Unit], persons: Mapping[Unit, str]) -> Waiting:
    """The rows of a log that share a new patient, kidney, course or operation with a rejected row, however far.

    Courses and operations are counted over all rows of a patient, so that a part of them would be counted wrongly.

    Args:
        keys: the rows of the log by what they are called.
        rejected: the rows that are not loaded.
        persons: by row, what the log itself says of whom it is about, for rows from which nothing could be made;
            ``""`` where that does not matter.
    """
    neighbours = _neighbours(keys, rejected, persons)
    found: Waiting = {}
    for start in sorted(rejected):
        reached = [start]
        while reached:
            for unit in neighbours[reached.pop()]:
                if unit not in rejected and unit not in found:
                    where = "" if start[:2] == unit[:2] else f" of {start[1] or start[0]}"
                    found[unit] = (
                        f"It shares its patient with row {start[2]}{where}, which was not loaded: it waits for that "
                        "row, because operations and courses are counted over all rows of a patient."
                    )
                    reached.append(unit)
    return found


def _neighbours(keys: FileKeys, rejected: set[Unit], persons: Mapping[Unit, str]) -> dict[Unit, set[Unit]]:
    """By row, the rows that say or name the same new record of a patient."""
    neighbours: dict[Unit, set[Unit]] = defaultdict(set)
    owners: dict[tuple[str, Key], Unit] = {}

    def meet(name: tuple[str, Key], unit: Unit) -> None:
        owner = owners.setdefault(name, unit)
        if owner != unit:
            neighbours[owner].add(unit)
            neighbours[unit].add(owner)

    new = set(rejected)
    for named in keys.sheets:
        if not _of_a_patient(named.table):
            continue
        for index, unit in enumerate(named.units):
            if not named.held[index]:
                new.add(unit)
            for name in _new_names(named, index, keys.held):
                meet(name, unit)
    for unit, person in persons.items():
        if person and unit in new:  # a row that is in the registry already has its numbers
            meet(("person", (person,)), unit)
    return neighbours


def _new_names(named: NamedRows, index: int, held: dict[str, frozenset[Key]]) -> Iterator[tuple[str, Key]]:
    """What a row says or names of a patient and the registry does not hold yet."""
    for target, column in named.links:
        key = column[index]
        if key is not None and key not in held[target] and _of_a_patient(target):
            yield target, key
    own = named.keys[index]
    if own is not None and not named.held[index]:
        yield named.table, own
        if named.table == "course":
            yield "courses of one kidney", own[:-1]


def _of_a_patient(table: str) -> bool:
    return patient_path(table) is not None
