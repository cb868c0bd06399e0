"""How the theatre lists stand, in sentences, as CSV and as JSON. No line names its patient."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import asdict

from registry.validation.capture_recapture import ESTIMATE, INTERVAL, Share, Total
from registry.validation.theatre_list.standing import ListStanding

LEFT_COLUMNS = ("site", "line", "listed_on", "line_number", "patient_known")


def as_text(standings: Sequence[ListStanding]) -> str:
    """What stands where, a paragraph a site."""
    if not standings:
        return "No theatre list is held yet. Load one with: gravelbook intake load FILE --mapping MAPPING\n"
    return "\n".join("\n".join(_site(each)) + "\n" for each in standings)


def as_csv(standings: Sequence[ListStanding]) -> str:
    """The lines that are left, as comma-separated values with a heading row."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(LEFT_COLUMNS)
    for each in standings:
        for line in each.left:
            writer.writerow(
                [each.site, line.id, line.listed_on, line.line_number, "yes" if line.patient_known else "no"]
            )
    return out.getvalue()


def as_json(standings: Sequence[ListStanding]) -> str:
    """All of it as JSON."""
    body = []
    for each in standings:
        held = asdict(each)
        if each.total is not None:
            held["total"] |= {"seen": each.total.seen, "method": ESTIMATE, "interval": INTERVAL}
        held["present"]["interval"] = "Wilson"
        body.append(held)
    return json.dumps({"sites": body}, default=str, ensure_ascii=False, indent=1) + "\n"


def paragraph(each: ListStanding) -> str:
    """How a site's lists stand, in one paragraph for a report; no line is listed."""
    counts = each.counts
    said = (
        f"{each.site}, theatre lists of {each.first} to {each.last}: {sum(counts.values())} lines, of which "
        f"{counts['matched']} are matched to an operation here, {counts['cancelled']} were cancelled, "
        f"{counts['not_stone']} were not stone cases, and {counts['open']} are missing here until entered or settled."
    )
    more = [*_share(each.present), *(_total(each.total) if each.total is not None else _no_total())]
    return " ".join((said, *(line.strip() for line in more)))


def _site(each: ListStanding) -> list[str]:
    counts = each.counts
    lines = [
        f"{each.site}, {each.first} to {each.last}: {sum(counts.values())} lines",
        f"  {counts['matched']:>5}  matched to an operation here",
        f"  {counts['cancelled']:>5}  cancelled",
        f"  {counts['not_stone']:>5}  not a stone case",
        f"  {counts['open']:>5}  left: missing from the registry, until entered or settled",
    ]
    if each.ahead:
        lines.append(f"  {each.ahead:>5}  later than that, not counted yet")
    if each.contradicted:
        lines.append(
            f"  {each.contradicted} of the lines that were called off have an operation here on that day: look."
        )
    lines += ["", *_share(each.present)]
    lines += _total(each.total) if each.total is not None else _no_total()
    if each.left:
        lines += ["", "  Left, by line (settle one with: gravelbook quality theatre-list --settle LINE cancelled):"]
        for line in each.left:
            unknown = "" if line.patient_known else "  no patient here has its hospital number"
            lines.append(f"    {line.id}  {line.listed_on}  number {line.line_number} of the day{unknown}")
    return lines


def _share(share: Share) -> list[str]:
    if share.share is None or share.low is None or share.high is None:
        return ["  No line is a case yet, so no share can be given."]
    return [
        f"  Of {share.of} listed cases the registry has {share.present}: {_percent(share.share)} "
        f"({_level(share.level)} interval {_percent(share.low)} to {_percent(share.high)}, Wilson)."
    ]


def _total(total: Total) -> list[str]:
    return [
        f"  The list has {total.first} cases, the registry {total.second} operations, and {total.both} are in both; so "
        f"there were about {total.estimate:.0f} in all",
        f"  ({_level(total.level)} interval {total.low:.0f} to {total.high:.0f}; {ESTIMATE}'s estimate, {INTERVAL} "
        f"interval), of which {total.seen} are in one or the other.",
        "  That holds only if being on the list made a case neither more nor less likely to be entered here.",
    ]


def _no_total() -> list[str]:
    return [
        "  How many there were in all cannot be told: the registry is filled from this list, or the unit has not said",
        "  that it is not (setting registry_filled_from_theatre_list).",
    ]


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"


def _level(level: float) -> str:
    return f"{100 * level:g} %"
