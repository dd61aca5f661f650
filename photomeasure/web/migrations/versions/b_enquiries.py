"""Customers: what a dealer asks for, the links that lead there, photographs as they arrive, and the dealer's settings."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision, down_revision = "b_enquiries", "a_cases"


def upgrade() -> None:
    """The tables of enquiries, photographs and links."""
    op.create_table(
        "enquiries",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("folder", sa.Text, nullable=False, unique=True),
        sa.Column("about", sa.Text, nullable=False),  # what the dealer typed, JSON
        sa.Column("answers", sa.Text, nullable=False),  # what the customer answered, JSON
        sa.Column("round", sa.Integer, nullable=False),  # photographs of one round show the rig standing still
        sa.Column("ask", sa.Text, nullable=False),  # what the customer is asked for once more, or nothing
        sa.Column("made", sa.Float, nullable=False),
        sa.Column("opened", sa.Float),  # for the first time, by the customer
        sa.Column("sent", sa.Float),  # by the customer, the last time
        sa.Column("news", sa.Float),  # the last thing that the customer did
        sa.Column("seen", sa.Float),  # by the dealer, the last time
        sa.Column("closed", sa.Float),
    )
    op.create_table(
        "links",
        sa.Column("digest", sa.Text, primary_key=True),  # SHA-256 of the link's secret; the secret is not kept
        sa.Column("enquiry", sa.Text, sa.ForeignKey("enquiries.key", ondelete="CASCADE"), nullable=False),
        sa.Column("made", sa.Float, nullable=False),
        sa.Column("until", sa.Float, nullable=False),
        sa.Column("withdrawn", sa.Float),
    )
    op.create_table(
        "photographs",
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("enquiry", sa.Text, sa.ForeignKey("enquiries.key", ondelete="CASCADE"), nullable=False),
        sa.Column("file", sa.Text, nullable=False, unique=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("sha256", sa.Text, nullable=False),
        sa.Column("bytes", sa.Integer, nullable=False),
        sa.Column("round", sa.Integer, nullable=False),
        sa.Column("arrived", sa.Float, nullable=False),
        sa.Column("left_out", sa.Integer, nullable=False, server_default="0"),
        sa.Column("looked", sa.Text),  # what was seen in it, JSON; nothing as long as nobody has looked
        sa.UniqueConstraint("enquiry", "sha256"),
        sqlite_autoincrement=True,  # a number that was deleted is never another photograph's
    )
    op.create_table(
        "arriving",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("enquiry", sa.Text, sa.ForeignKey("enquiries.key", ondelete="CASCADE"), nullable=False),
        sa.Column("mark", sa.Text, nullable=False),  # by which the customer's browser knows the file again
        sa.Column("file", sa.Text, nullable=False, unique=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("bytes", sa.Integer, nullable=False),
        sa.Column("began", sa.Float, nullable=False),
        sa.UniqueConstraint("enquiry", "mark"),
    )
    op.create_table(
        "settings", sa.Column("name", sa.Text, primary_key=True), sa.Column("value", sa.Text, nullable=False)
    )
    for table in ("links", "photographs", "arriving"):
        op.create_index(f"{table}_of_enquiry", table, ["enquiry"])
