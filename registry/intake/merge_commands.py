"""The command that makes two records of one patient one."""

from __future__ import annotations

import click

from registry.command_options import by_option, person, registry_option


@click.command()
@click.argument("kept")
@click.argument("merged")
@click.option("--reason", metavar="TEXT", required=True, help="Why, for the change history.")
@click.option("--site", metavar="CODE", help="The site, where several have these study numbers.")
@click.option("--undo", is_flag=True, help="Undo the merge of MERGED into KEPT.")
@registry_option
@by_option
def merge(kept: str, merged: str, reason: str, site: str | None, undo: bool, location: str, by: str | None) -> None:
    """Merge the record of study number MERGED into that of KEPT: they are one patient.

    Nothing is lost: where both have a first operation of one day the merged record's becomes the second, and so on.
    Records that contradict each other are refused, with the names of the fields.
    """
    from registry.store.merge_undo import undo_merge
    from registry.store.merging import merge_patients
    from registry.store.patient_lookup import patient_of
    from registry.store.registry import open_registry

    with open_registry(location) as registry, registry.writing(by=person(by), reason=reason) as door:
        one, other = (patient_of(door.connection, number, site) for number in (kept, merged))
        if undo:
            undo_merge(door, one, other)
        else:
            merge_patients(door, one, other)
    if undo:
        click.echo(f"The records of {kept} and {merged} are two again.")
    else:
        click.echo(
            f"The record of {merged} is merged into that of {kept}. To undo it: gravelbook intake merge {kept} "
            f"{merged} --undo --reason TEXT"
        )
