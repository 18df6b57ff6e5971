"""The files beside the records, and the claims on those that are read and written again.

No record or view is changed.
"""

from alembic import op

revision = "0002"
down_revision = "0001"

STEPS = (
    # Compared by their bytes, so that a range of names is one stretch of the index.
    'CREATE TABLE files (name text COLLATE "C" PRIMARY KEY, content bytea NOT NULL)',
    "INSERT INTO claims (name) VALUES ('devices'), ('passphrase'), ('photos'), ('settings'), ('mail-trial'),"
    " ('sheets'), ('door')",
)


def upgrade() -> None:
    """Make the table and the rows."""
    for step in STEPS:
        op.execute(step)
