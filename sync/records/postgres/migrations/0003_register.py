"""The register: one row for each visit with what a list shows of it, and one for each word that finds it.

No record or view is changed. The first service that starts afterwards fills both tables from the views.
"""

from alembic import op

revision = "0003"
down_revision = "0002"

STEPS = (
    # Compared by their bytes, so that all words with one beginning are one stretch of the index, in any locale.
    """CREATE TABLE visits (
        visit text COLLATE "C" PRIMARY KEY,
        place text COLLATE "C" NOT NULL UNIQUE,
        vehicle text COLLATE "C",
        customer text COLLATE "C",
        called text COLLATE "C" NOT NULL,
        words text NOT NULL,
        shown text NOT NULL
    )""",
    "CREATE INDEX visits_of_vehicles ON visits (vehicle, place)",
    "CREATE INDEX visits_of_customers ON visits (customer, place)",
    "CREATE INDEX visits_called ON visits (called, place)",
    # With the visits' places, so that the newest are found without a look at the others' rows.
    'CREATE TABLE words (word text COLLATE "C", place text COLLATE "C", PRIMARY KEY (word, place))',
)


def upgrade() -> None:
    """Make the tables."""
    for step in STEPS:
        op.execute(step)
