"""Records, the views made from them, what was set aside, and what only one service may hold.

Nothing is put in but the rows that every database needs.
"""

from alembic import op

revision = "0001"
down_revision = None

TABLES = (
    # `counted` is the id of an operation that counts: the database itself lets it count only once.
    """CREATE TABLE records (
        number bigint PRIMARY KEY,
        received_ms bigint NOT NULL,
        result text NOT NULL,
        line bytea NOT NULL,
        "check" char(8) NOT NULL,
        counted text UNIQUE,
        is_blank boolean NOT NULL DEFAULT false
    )""",
    """CREATE TABLE views (
        area text NOT NULL,
        name text NOT NULL,
        folder text NOT NULL,
        number bigint NOT NULL,
        "check" char(8) NOT NULL,
        tables text NOT NULL,
        PRIMARY KEY (area, name)
    )""",
    "CREATE INDEX views_by_folder ON views (area, folder)",
    # How far all views of an area reach.
    """CREATE TABLE reach (
        area text PRIMARY KEY,
        number bigint NOT NULL,
        "check" char(8) NOT NULL
    )""",
    "CREATE TABLE set_aside (name text PRIMARY KEY, content bytea NOT NULL)",
    # Grows whenever what services have in memory isn't to be trusted any more.
    "CREATE TABLE desk (one smallint PRIMARY KEY CHECK (one = 1), generation bigint NOT NULL)",
    "INSERT INTO desk (one, generation) VALUES (1, 0)",
    "CREATE TABLE claims (name text PRIMARY KEY)",
    "INSERT INTO claims (name) VALUES ('records'), ('alone'), ('printing'), ('approving'), ('sending')",
)


def upgrade() -> None:
    """Make the tables."""
    for table in TABLES:
        op.execute(table)
