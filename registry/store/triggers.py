"""The triggers by which the database itself refuses to change or remove an entry of the history."""

from __future__ import annotations

from sqlalchemy import Connection

_REFUSAL = "the change history is only ever added to"

TRIGGERS: dict[str, list[str]] = {
    "sqlite": [
        "CREATE TRIGGER change_history_no_update BEFORE UPDATE ON change_history "
        f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END",
        "CREATE TRIGGER change_history_no_delete BEFORE DELETE ON change_history "
        f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END",
        # INSERT OR REPLACE would remove the old entry without waking the trigger above.
        "CREATE TRIGGER change_history_no_replace BEFORE INSERT ON change_history "
        "WHEN EXISTS (SELECT 1 FROM change_history WHERE id = NEW.id) "
        f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END",
    ],
    "postgresql": [
        "CREATE FUNCTION change_history_refuse() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{_REFUSAL}'; END $$",
        "CREATE TRIGGER change_history_no_update BEFORE UPDATE ON change_history "
        "FOR EACH ROW EXECUTE FUNCTION change_history_refuse()",
        "CREATE TRIGGER change_history_no_delete BEFORE DELETE ON change_history "
        "FOR EACH ROW EXECUTE FUNCTION change_history_refuse()",
        "CREATE TRIGGER change_history_no_truncate BEFORE TRUNCATE ON change_history "
        "FOR EACH STATEMENT EXECUTE FUNCTION change_history_refuse()",
    ],
}
"""The statements, by engine, in the order in which they are run."""


def install(connection: Connection) -> None:
    """Make the triggers in a database that has the table and not yet the triggers."""
    for statement in TRIGGERS[connection.dialect.name]:
        connection.exec_driver_sql(statement)


def expected(dialect: str) -> dict[str, str]:
    """The triggers a registry must have, by name, each with the text that tells whether it is still itself."""
    statements = [s for s in TRIGGERS[dialect] if s.startswith("CREATE TRIGGER")]
    return {s.split()[2]: _plain(s) for s in statements}


def listed(connection: Connection) -> dict[str, str]:
    """The triggers on the history that are there and switched on, by name, in the same wording."""
    if connection.dialect.name == "sqlite":
        query = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'change_history'"
        return {name: _plain(text) for name, text in connection.exec_driver_sql(query)}
    query = (
        "SELECT tgname, pg_get_triggerdef(oid) || CASE WHEN "
        f"(SELECT prosrc FROM pg_proc WHERE oid = tgfoid) LIKE '%%{_REFUSAL}%%' THEN '' ELSE ' (emptied)' END "
        "FROM pg_trigger WHERE tgrelid = 'change_history'::regclass AND NOT tgisinternal AND tgenabled IN ('O', 'A')"
    )
    return {name: _plain(text) for name, text in connection.exec_driver_sql(query)}


def _plain(text: str) -> str:
    return " ".join(text.replace("public.", "").split())
