"""Does a use of equipment fit a safety notice: certainly, possibly, or can it only not be excluded?

Three answers, because a patient who is missed is worse off than one who is looked up in vain. Certain: all that is
named stands there to the letter. Possible: written differently, or read out of a code that is not whole, or one part
fits while another was never recorded. Cannot be excluded: the model fits, and neither lot nor serial was recorded.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

from analysis.reports.equipment.notice import Notice
from registry.schema.udi import Udi

Verdict = Literal["certain", "possible", "cannot be excluded", "no"]
CERTAIN: Verdict = "certain"
POSSIBLE: Verdict = "possible"
OPEN: Verdict = "cannot be excluded"
NO: Verdict = "no"
RULE = {
    "id": "tracing",
    "version": "1",
    "source": "a rule of this house",
    "certain": "all that is named stands there to the letter",
    "possible": (
        "the same but for blanks, dashes or case; or from a scanned code that is not whole or only holds the text; or "
        "another model code with the same device identifier; or a part fits and another was not recorded"
    ),
    "cannot be excluded": "nothing recorded speaks against it, and what would tell was not recorded",
}
TELLING = 4
"""A text shorter than this is found in too many codes by chance to be looked for inside those that can be read."""


@dataclass(frozen=True, kw_only=True)
class Use:
    """What is recorded of one use that can tell which piece it was.

    model: its code. identifier: the model's device identifier in 14 digits, None where the catalogue has none.
    """

    model: str
    identifier: str | None = None
    lot: str | None = None
    serial_as_scanned: str | None = None
    item_serial: str | None = None
    udi: str | None = None
    code: Udi | None = None


@dataclass(frozen=True)
class Match:
    """How well a use fits, and what that is taken from."""

    verdict: Verdict
    where: str = ""


def folded(text: str) -> str:
    """Without blanks, dashes, dots and case: how people write one number in different ways."""
    return re.sub(r"[\s\-‐-―._/]+", "", text).casefold()


def matched(use: Use, notice: Notice, identifiers: Collection[str] = ()) -> Match:
    """How well a use fits a notice.

    identifiers: the device identifiers that the catalogue has for the model the notice names.
    """
    model: list[Match] = []
    piece: dict[str, Match] = {}
    if notice.model is not None:
        model.append(_model(use, notice.model, identifiers))
    if notice.identifier is not None:
        model.append(_identifier(use, notice.identifier))
    if notice.lot is not None:
        piece["lot"] = _text(notice.lot, [("typed lot", use.lot), ("lot in the scanned code", _lot(use))], use)
    if notice.serial is not None:
        sources = [("typed serial", use.serial_as_scanned), ("serial of the item", use.item_serial)]
        piece["serial"] = _text(notice.serial, [*sources, ("serial in the scanned code", _serial(use))], use)
    if notice.code is not None:
        piece["code"] = _text(notice.code, [("scanned code", use.udi)], use)
    return _together(model, piece)


def _together(model: Sequence[Match], piece: dict[str, Match]) -> Match:
    every = [*model, *piece.values()]
    verdicts = {one.verdict for one in every}
    where = "; ".join(dict.fromkeys(one.where for one in every if one.where))
    if NO in verdicts:
        return Match(NO)
    # A serial number names one piece of a model; its lot, where nobody wrote it down, adds nothing.
    serial_tells = "serial" in piece and piece["serial"].verdict == CERTAIN and len(model) > 0
    if serial_tells and all(one.verdict == CERTAIN for one in model):
        needed = {one.verdict for name, one in piece.items() if name != "lot" or one.verdict != OPEN}
    else:
        needed = verdicts
    if needed == {CERTAIN}:
        return Match(CERTAIN, where)
    told = [one for one in piece.values() if one.verdict in (CERTAIN, POSSIBLE)]
    if OPEN in verdicts and not told:
        return Match(OPEN, where)
    return Match(POSSIBLE, where)


def _model(use: Use, wanted: str, identifiers: Collection[str]) -> Match:
    scanned = _scanned_identifier(use)
    if use.model == wanted:
        other = scanned is not None and bool(identifiers) and scanned not in identifiers
        return Match(CERTAIN, "model (the scanned code names another)" if other else "model")
    if scanned is not None and scanned in identifiers:
        return Match(POSSIBLE, "device identifier in the scanned code")
    if use.identifier is not None and use.identifier in identifiers:
        return Match(POSSIBLE, "another model code with the same device identifier")
    return Match(NO)


def _identifier(use: Use, wanted: str) -> Match:
    scanned = _scanned_identifier(use)
    if scanned == wanted:
        return Match(CERTAIN, "device identifier in the scanned code")
    if use.identifier == wanted:
        return Match(POSSIBLE if scanned else CERTAIN, "device identifier of the model")
    return Match(OPEN if scanned is None and use.identifier is None else NO)


def _text(wanted: str, sources: Sequence[tuple[str, str | None]], use: Use) -> Match:
    """Compare a lot or serial number with each place it may be recorded in."""
    known = [(name, value) for name, value in sources if value]
    exact = [name for name, value in known if value.strip() == wanted]
    whole = use.code is None or not use.code.problems or use.code.has("other_issuer")
    if exact:
        certain = whole or any("code" not in name for name in exact)
        other = "" if len({folded(value) for _, value in known}) == 1 else " (recorded otherwise elsewhere)"
        return Match(CERTAIN if certain else POSSIBLE, " and ".join(exact) + other)
    near = [name for name, value in known if folded(value) == folded(wanted)]
    if near:
        return Match(POSSIBLE, " and ".join(near) + ", written differently")
    unread = use.code is not None and bool(use.code.problems)
    if use.udi and folded(wanted) in folded(use.udi) and (unread or len(folded(wanted)) >= TELLING):
        return Match(POSSIBLE, "text inside the scanned code")
    return Match(NO if known else OPEN)


def _lot(use: Use) -> str | None:
    return use.code.lot if use.code else None


def _serial(use: Use) -> str | None:
    return use.code.serial if use.code else None


def _scanned_identifier(use: Use) -> str | None:
    """The device identifier of the scanned code, unless its check digit says that it was read wrongly."""
    return None if use.code is None or use.code.has("check_digit") else use.code.device_identifier
