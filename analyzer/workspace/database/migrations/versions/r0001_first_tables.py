"""The first tables."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make all tables of the first version."""
    op.create_table(
        "meta",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_meta"),
    )
    _people()
    _runs()
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
    op.create_table(
        "audit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("by_user", sa.Text(), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_audit"),
    )


def _people() -> None:
    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("group_name", sa.Text(), nullable=False),
        sa.Column("consent", sa.Boolean(), nullable=False),
        sa.Column("consent_date", sa.Date(), nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_person"),
        sa.UniqueConstraint("name", name="uq_person_name"),
    )
    op.create_table(
        "spelling",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], "fk_spelling_person_id_person", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("key", name="pk_spelling"),
    )
    op.create_index("ix_spelling_person_id", "spelling", ["person_id"])


def _runs() -> None:
    op.create_table(
        "drill",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("key", sa.String(64), nullable=False),
        sa.Column("rules_sha256", sa.String(64), nullable=False),
        sa.Column("engine", sa.Text(), nullable=False),
        sa.Column("lines_version", sa.Integer(), nullable=False),
        sa.Column("failures", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_drill"),
        sa.UniqueConstraint("name", name="uq_drill_name"),
    )
    op.create_table(
        "run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("drill_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("searcher", sa.Text(), nullable=False),
        sa.Column("searcher_key", sa.Text(), nullable=False),
        sa.Column("result_sha256", sa.String(64), nullable=False),
        sa.Column("time_zero", sa.Text(), nullable=False),
        sa.Column("duration_s", sa.Double(), nullable=False),
        sa.Column("score", sa.Double(), nullable=True),
        sa.Column("score_low", sa.Double(), nullable=True),
        sa.Column("score_high", sa.Double(), nullable=True),
        sa.Column("line", sa.JSON(), nullable=False),
        sa.Column("stale", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["drill_id"], ["drill.id"], "fk_run_drill_id_drill", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name="pk_run"),
        sa.UniqueConstraint("drill_id", "name", name="uq_run_drill_id"),
    )
    op.create_index("ix_run_drill_id", "run", ["drill_id"])
    op.create_index("ix_run_searcher_key", "run", ["searcher_key"])
