"""The tables of the database: whether they are this version's, and the migrations that make them so.

Nothing is changed at a start; a person asks for it.
"""

from __future__ import annotations

from pathlib import Path

from psycopg import sql

from sync.errors import LaybyError
from sync.records.postgres.database import Connection, Database, DatabaseAway

# The last migration; a test compares it with the folder of migrations.
VERSION = "0003"
_MIGRATIONS = Path(__file__).parent / "migrations"


class SchemaBehind(LaybyError):
    """The tables are an earlier version's, or there are none yet."""

    code = "schema_behind"


class SchemaAhead(LaybyError):
    """The tables are a later version's."""

    code = "schema_ahead"


def check(database: Database) -> None:
    """Check that the tables are this version's.

    Raises:
        SchemaBehind, SchemaAhead: they aren't.
        DatabaseAway: the database doesn't answer.
    """
    found = database.run(_version)
    if found is None or found < VERSION:
        raise SchemaBehind(found=found or "-", wanted=VERSION)
    if found > VERSION:
        raise SchemaAhead(found=found, wanted=VERSION)


def _version(connection: Connection) -> str | None:
    row = connection.execute("SELECT to_regclass('alembic_version')").fetchone()
    if row is None or row[0] is None:
        return None
    row = connection.execute(sql.SQL("SELECT version_num FROM alembic_version")).fetchone()
    return None if row is None else str(row[0])


def prepare(url: str) -> None:
    """Bring the tables of a database to this version.

    Args:
        url: where it is [postgresql://user@host/name]

    Raises:
        DatabaseAway: it can't be reached; nothing was changed.
    """
    # Only here: they take longer to import than a start may.
    from alembic.config import Config
    from alembic.runtime.environment import EnvironmentContext
    from alembic.script import ScriptDirectory
    from sqlalchemy import create_engine
    from sqlalchemy.exc import OperationalError
    from sqlalchemy.pool import NullPool

    script = ScriptDirectory(str(_MIGRATIONS.parent), version_locations=[str(_MIGRATIONS)])
    engine = create_engine(url.replace("postgresql://", "postgresql+psycopg://", 1), poolclass=NullPool)
    # As Alembic's own page on EnvironmentContext does it, without a file of settings.
    steps = {"fn": lambda found, _: script._upgrade_revs("head", found)}
    try:
        with engine.begin() as connection, EnvironmentContext(Config(), script, **steps) as environment:
            environment.configure(connection=connection, target_metadata=None)
            environment.run_migrations()
    except OperationalError as error:
        raise DatabaseAway(why=str(error.orig).strip().splitlines()[0]) from error
    finally:
        engine.dispose()
