"""Events leave the database: their rows were written and never read; an event's files are what holds."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Drop the table of events."""
    op.drop_table("event")


def downgrade() -> None:
    """Make the table of events again, empty: the next index of the version before fills it."""
    op.create_table(
        "event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("path", sa.Text(), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("scored_at", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_event"),
        sa.UniqueConstraint("path", name="uq_event_path"),
    )
