"""How a store of an earlier version becomes one of this: a step a file in ``versions``.

There is no way back: the copy made before a step is the store as it was.
"""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, Engine, inspect, text

from springloom.errors import StoreError
from springloom.store.backup import copy_file, dated

STEPS = ("0001", "0002")
"""Every step, in order."""

HEAD = STEPS[-1]


def bring_up(engine: Engine, place: str, path: Path | None) -> None:
    """Bring a store to :data:`HEAD`; a file that holds anything is copied before.

    All steps are one transaction: they are taken together or not at all.

    Raises:
        StoreError: it holds something else, or a later version wrote it.
    """
    with engine.connect() as connection, connection.begin():
        if version(connection, place) == HEAD:
            return
    with (engine.connect().execution_options(springloom_writes=True) as connection,
          connection.begin()):
        found = version(connection, place)  # again: another program may have been faster
        if found == HEAD:
            return
        if found is not None and path is not None:
            copy_file(path, dated(path, f"before-{HEAD}"))
        upgrade(connection, HEAD)


def version(connection: Connection, place: str) -> str | None:
    """The step a store has come to, None for an empty one.

    Raises:
        StoreError: it holds something else, or a later version wrote it.
    """
    names = set(inspect(connection).get_table_names())
    if not names:
        return None
    if not {"alembic_version", "paddle", "reading"} <= names:
        raise StoreError("holds something else, no paddles", field=place,
                         allowed="a store, or a new name for one")
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    if found not in STEPS:
        raise StoreError("was written by a newer Springloom", field=place, given=found,
                         allowed=f"a store up to step {HEAD}: install the newer Springloom")
    return str(found)


def upgrade(connection: Connection, to: str) -> None:
    """Run the steps up to ``to`` inside the connection's transaction."""
    from alembic import command  # noqa: PLC0415 - slow to import, and seldom needed
    from alembic.config import Config  # noqa: PLC0415

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, to)
