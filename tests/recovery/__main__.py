"""``python -m tests.recovery``: how much of each style's log comes back, and how many planted errors are found."""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from registry.store.registry import create_registry
from synthetic_cohort.logs.make_log import MESSES, STYLES
from tests.recovery.rehearsal import Rehearsal, rehearse

_HEAD = (
    "style", "mess", "planted", "lines", "recoverable", "recovered", "wrong", "invented", "found", "alarms/1000",
    "let in, asked", "let in, unasked",
)  # fmt: skip


def main() -> None:
    """Print the table."""
    asked = argparse.ArgumentParser(prog="python -m tests.recovery", description=__doc__)
    asked.add_argument("--operations", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--errors", type=int, default=40, help="how many are planted in the second run of each style")
    asked.add_argument("--mess", choices=list(MESSES), nargs="*", default=["none", "usual", "heavy"])
    asked.add_argument("--style", choices=list(STYLES), nargs="*", default=list(STYLES))
    asked.add_argument("--details", action="store_true", help="name what was missed, wrong or a false alarm")
    given = asked.parse_args()
    rows = [_HEAD]
    notes: list[str] = []
    for style in given.style:
        for mess, errors in [*((mess, 0) for mess in given.mess), ("usual", given.errors)]:
            with tempfile.TemporaryDirectory() as folder, create_registry(str(Path(folder) / "log.db")) as registry:
                made = rehearse(
                    registry, Path(folder) / "log", style, given.operations, given.seed, MESSES[mess](), errors
                )
            rows.append(_row(style, mess, made))
            notes += _notes(style, mess, made)
    widths = [max(len(row[n]) for row in rows) for n in range(len(_HEAD))]
    for row in rows:
        print("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
    if given.details:
        print("\n".join(notes))


def _row(style: str, mess: str, made: Rehearsal) -> tuple[str, ...]:
    back, said = made.recovered, made.found
    loaded = not said.planted
    kinds = {told: sorted({of.kind for of in made.let_in if of.asked is told}) for told in (True, False)}
    came = {told: sum(of.asked is told for of in made.let_in) for told in (True, False)}
    return (
        style,
        mess,
        str(said.planted),
        str(said.clean),
        str(back.recoverable),
        f"{back.recovered} ({100 * back.share:.2f} %)" if not (made.errors and loaded) else "refused",
        str(len(back.wrong)),
        str(len(back.invented)) if loaded else "",
        f"{said.planted - len(said.missed)} ({100 * said.share:.1f} %)" if said.planted else "",
        f"{len(said.alarms)} ({said.alarms_per_thousand:.1f})",
        "" if loaded else f"{came[True]} of {len(kinds[True])} kinds",
        "" if loaded else f"{came[False]} of {len(kinds[False])} kinds",
    )


def _notes(style: str, mess: str, made: Rehearsal) -> list[str]:
    head = f"[{style}, {mess}, {made.found.planted} planted]"
    notes = [f"{head} refused: {made.refusals()}"] if made.errors and not made.found.planted else []
    for wrong in made.recovered.wrong:
        at = wrong.true.places[0]
        place = f"{at.file} {at.sheet}!{at.column}{at.row}"
        notes.append(
            f"{head} wrong {wrong.true.table}.{wrong.true.heading} {place}: {wrong.true.value}, got {wrong.got}"
        )
    if not made.errors and not made.found.planted:
        for true in made.recovered.missing:
            at = true.places[0]
            notes.append(
                f"{head} missing {true.table}.{true.heading} {at.file} {at.sheet}!{at.column}{at.row}: {true.value}"
            )
    for of in made.let_in:
        right = "no such row" if of.true is None else of.true.value
        notes.append(f"{head} let in {'asked' if of.asked else 'unasked'} {of.kind}: {of.what}: {right}, got {of.got}")
    notes += [f"{head} invented {row}" for row in made.recovered.invented if not made.found.planted]
    notes += [f"{head} missed {one.kind.id}: {one.places(made.log.pages)[:3]}" for one in made.found.missed]
    notes += [
        f"{head} alarm {of.severity} {of.file} {of.place} {of.heading}: {of.rule}: {of.why}" for of in made.found.alarms
    ]
    return notes


if __name__ == "__main__":
    main()
