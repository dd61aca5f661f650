"""What dealer and customer have written to each other."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision, down_revision = "c_messages", "b_enquiries"


def upgrade() -> None:
    """The table of messages."""
    op.create_table(
        "messages",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("enquiry", sa.Text, sa.ForeignKey("enquiries.key", ondelete="CASCADE"), nullable=False),
        sa.Column("at", sa.Float, nullable=False),
        sa.Column("by_customer", sa.Integer, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
    )
    op.create_index("messages_of_enquiry", "messages", ["enquiry"])
