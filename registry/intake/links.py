"""Natural keys to ids: finds the row that a sheet's columns name, in the file or in the registry."""

from __future__ import annotations

from functools import cache

from registry.intake.known_keys import Key, KnownKeys
from registry.intake.parsed_sheet import ParsedSheet
from registry.schema.base import model_of
from registry.schema.fields import Reference, info_of
from registry.schema.tables import KeyPart, links_of, metadata, natural_key
from registry.validation.findings import FindingList, Problem, Severity


@cache
def target_of(table: str, link: str) -> str:
    """The table that a link leads to."""
    kind = info_of(metadata.tables[table].columns[link]).kind
    if not isinstance(kind, Reference):
        raise LookupError(f"{table}.{link} is not a link")
    return kind.table


class RowIndex:
    """Every row that can be named, by table and natural key.

    The id of a row of the registry is its own; a row that the file brings has a stand-in, ``-1`` for the table's
    first new row, ``-2`` for its second and so on, until the ids are known. Rows of the file with errors of their own
    can be named too: what hangs on them is not at fault.
    """

    def __init__(self, known: KnownKeys) -> None:
        self._known = known
        self._ids: dict[str, dict[Key, int]] = {}
        self.unread: dict[str, list[int]] = {}
        """By table, the numbers of the file's rows whose own key could not be read: nothing can name them."""

    def of(self, table: str) -> dict[Key, int]:
        """The ids and stand-ins of a table's rows by natural key."""
        if table not in self._ids:
            self._ids[table] = dict(self._known.of(table))
        return self._ids[table]


def resolve(sheet: ParsedSheet, index: RowIndex, findings: FindingList) -> dict[str, list[int | None]]:
    """The ids of the rows that a sheet's rows lead to.

    Args:
        sheet: the typed columns; blank parts of a key take their declared default here.
        index: the rows that can be named; parents must be in it before their children are resolved.
        findings: takes links to rows that exist nowhere, and links that are named in part.

    Returns:
        By link, one id, stand-in or None a row.
    """
    found: dict[str, list[int | None]] = {}
    orphans: set[tuple[int, str, Key]] = set()
    for link, parts in links_of(sheet.table).items():
        required = info_of(metadata.tables[sheet.table].columns[link]).required
        target = target_of(sheet.table, link)
        meant = [True] * len(sheet) if required else _meant(sheet, link, parts, target, findings)
        _fill_defaults(sheet, parts, meant)
        ids = index.of(target)
        columns = [sheet.values[part.heading] for part in parts]
        keys = list(zip(*columns, strict=True))
        found[link] = [ids.get(key) if wanted else None for key, wanted in zip(keys, meant, strict=True)]
        for row, row_id in enumerate(found[link]):
            if row_id is None and meant[row]:
                _explain(sheet, row, link, parts, keys[row], index, orphans, findings)
    return found


def _meant(sheet: ParsedSheet, link: str, parts: tuple[KeyPart, ...], target: str, findings: FindingList) -> list[bool]:
    """In which rows an optional link is filled in: some column of its own is not blank."""
    own = [part for part in parts if not part.shared]
    columns = [(part, sheet.values[part.heading], sheet.failed.get(part.heading, ())) for part in own]
    meant = []
    for row in range(len(sheet)):
        given = [part for part, values, failed in columns if values[row] is not None or row in failed]
        reasons = [part for part in own if row in sheet.reasons.get(part.heading, ())]
        if given and not any(part.info.table == target for part in given):
            last = own[-1].heading
            why = f"{given[0].heading} is filled in, but {last} is blank: the two name one row together."
            sheet.report(
                findings, row, last, Problem(f"{sheet.table}.{link}.whole", Severity.ERROR, why, "both, or neither")
            )
            given = []
        elif given and reasons:
            why = f"{given[0].heading} is filled in, and {reasons[0].heading} says that it is missing."
            sheet.report(
                findings,
                row,
                reasons[0].heading,
                Problem(f"{sheet.table}.{link}.whole", Severity.ERROR, why, "one of the two"),
            )
        meant.append(bool(given))
    return meant


def _fill_defaults(sheet: ParsedSheet, parts: tuple[KeyPart, ...], meant: list[bool]) -> None:
    for part in parts:
        if part.info.default is not None:
            values, failed = sheet.values[part.heading], sheet.failed.get(part.heading, ())
            for row, value in enumerate(values):
                if value is None and meant[row] and row not in failed:
                    values[row] = part.info.default


def _explain(
    sheet: ParsedSheet,
    row: int,
    link: str,
    parts: tuple[KeyPart, ...],
    key: Key,
    index: RowIndex,
    orphans: set[tuple[int, str, Key]],
    findings: FindingList,
) -> None:
    """Say why a link leads nowhere: a part of it is blank, or the first row on the way does not exist."""
    for part, value in zip(parts, key, strict=True):
        if value is None:
            blank = part.heading in sheet.rows.cells and row not in sheet.failed.get(part.heading, ())
            if blank and part.heading != "site":
                label = model_of(metadata.tables[target_of(sheet.table, link)]).label.lower()
                why = f"{part.heading} is blank, so that nothing says which {label} is meant."
                right = f"{part.heading} of the {label}: {part.info.label}"
                sheet.report(
                    findings, row, part.heading, Problem(f"{sheet.table}.{link}.named", Severity.ERROR, why, right)
                )
            return
    table, missing = _first_missing(target_of(sheet.table, link), key, index)
    # A row whose patient does not exist has no operation and no renal unit either: the cause is said once.
    said = (row, table, missing)
    if said in orphans:
        return
    orphans.add(said)
    label = model_of(metadata.tables[table]).label
    named = ", ".join(f"{part.heading} {value}" for part, value in zip(natural_key(table), missing, strict=True))
    heading = next(p.heading for p in reversed(parts) if p.info.table == table or not p.shared)
    last = [p.heading for p in parts if p.info.table == table]
    why = f"There is no row of {label} with {named}, neither in this file nor in the registry."
    if unread := index.unread.get(table):
        rows = f"row {unread[0]}" if len(unread) == 1 else f"{len(unread)} rows, the first being {unread[0]},"
        why += f" In sheet {label} {rows} could not be read: it may be there."
    right = f"a row in sheet {label}, or the right {last[0] if last else heading}"
    sheet.report(
        findings, row, last[0] if last else heading, Problem(f"{sheet.table}.{link}.exists", Severity.ERROR, why, right)
    )


def _first_missing(table: str, key: Key, index: RowIndex) -> tuple[str, Key]:
    """The row furthest up that a natural key needs and that does not exist: its table and its own key."""
    by_heading = {part.heading: value for part, value in zip(natural_key(table), key, strict=True)}
    links = links_of(table)
    for name in model_of(metadata.tables[table]).key_fields:
        if name in links:
            parent = tuple(by_heading[part.heading] for part in links[name])
            above = target_of(table, name)
            if index.of(above).get(parent) is None:
                return _first_missing(above, parent, index)
    return table, key
