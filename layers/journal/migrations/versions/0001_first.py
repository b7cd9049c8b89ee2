"""The first released schema; a new journal is made from layers/journal/tables/schema.py."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

Big = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the tables as they were in schema 0001."""
    op.create_table(
        "journal",
        sa.Column("one", sa.Integer, sa.CheckConstraint("one = 1"), primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("exercise", sa.Boolean, nullable=False),
        sa.Column("created_us", Big, nullable=False),
        sa.Column("clock_offset_us", Big, nullable=False),
        sa.Column("clock_kept_us", Big, nullable=False),
    )
    op.create_table(
        "blocks",
        sa.Column("block", Big, primary_key=True, autoincrement=False),
        sa.Column("first_seq", Big, nullable=False),
        sa.Column("last_seq", Big, nullable=False),
        sa.Column("recorded_at_us", Big, nullable=False),
        sa.Column("hash", sa.Text, nullable=False),
    )
    op.create_index("blocks_by_time", "blocks", ["recorded_at_us", "last_seq"])
    op.create_table(
        "records",
        sa.Column("seq", Big, primary_key=True, autoincrement=False),
        sa.Column("block", Big, nullable=False),
        sa.Column("id", sa.Text, nullable=False, unique=True),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("valid_at_us", Big, nullable=False),
        sa.Column("heard_at_us", Big, nullable=False),
        sa.Column("recorded_at_us", Big, nullable=False),
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("author", sa.Text, nullable=False),
        sa.Column("payload", sa.Text, nullable=False),
    )
    op.create_index("records_by_kind", "records", ["kind", "seq"])
    op.create_table(
        "rejects",
        sa.Column("number", Big, primary_key=True, autoincrement=True),
        sa.Column("same", sa.Text, unique=True),
        sa.Column("recorded_at_us", Big, nullable=False),
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("line", Big),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
    )
    op.create_table(
        "blobs",
        sa.Column("digest", sa.Text, primary_key=True),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sa.Column("recorded_at_us", Big, nullable=False),
    )
    op.create_table(
        "sources",
        sa.Column("source", sa.Text, primary_key=True),
        sa.Column("last_heard_us", Big, nullable=False),
        sa.Column("last_valid_us", Big, nullable=False),
        sa.Column("records", Big, nullable=False),
        sa.Column("by_feed", sa.Boolean, nullable=False),
    )
    op.create_table(
        "sides",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("made_of", sa.Text, nullable=False),
    )
