"""What was measured: a row a result (stores of the first edition have it already)."""

from __future__ import annotations

from alembic import op

revision, down_revision = "a_cases", None


def upgrade() -> None:
    """The table of cases."""
    op.execute(
        "CREATE TABLE IF NOT EXISTS cases "
        "(key TEXT PRIMARY KEY, folder TEXT NOT NULL, result TEXT NOT NULL, saved REAL NOT NULL, about TEXT NOT NULL)"
    )
