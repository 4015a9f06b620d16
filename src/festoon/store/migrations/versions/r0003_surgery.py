"""Surgeries, what was entered at the chair, and what recalls found."""

import sqlalchemy as sa
from alembic import op

revision = "r0003"
down_revision = "r0002"
branch_labels = None
depends_on = None

_CODE, _HASH, _WHEN, _WORD = sa.String(64), sa.String(64), sa.String(32), sa.String(64)


def _entry() -> sa.Column[int]:
    return sa.Column("entry", sa.Integer, sa.ForeignKey("trail.seq", name="fk_entry"), nullable=False)


def upgrade() -> None:
    """Add the three tables."""
    op.create_table(
        "surgeries",
        sa.Column("case_id", _CODE, nullable=False),
        sa.Column("number", sa.Integer, nullable=False, autoincrement=False),
        sa.Column("plan", sa.Integer, nullable=False),
        sa.Column("plan_sha256", _HASH, nullable=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("begun_at", _WHEN, nullable=False),
        sa.Column("begun_by", _CODE, nullable=False),
        _entry(),
        sa.PrimaryKeyConstraint("case_id", "number"),
        sa.ForeignKeyConstraint(["case_id", "plan"], ["plans.case_id", "plans.number"]),
    )
    for name in ("surgery_entries", "recall_entries"):
        op.create_table(
            name,
            sa.Column("case_id", _CODE, nullable=False),
            sa.Column("surgery", sa.Integer, nullable=False, autoincrement=False),
            sa.Column("number", sa.Integer, nullable=False, autoincrement=False),
            sa.Column("key", _WORD, nullable=False),
            sa.Column("document", sa.Text, nullable=False),
            sa.Column("kept_at", _WHEN, nullable=False),
            sa.Column("kept_by", _CODE, nullable=False),
            _entry(),
            sa.PrimaryKeyConstraint("case_id", "surgery", "number"),
            sa.ForeignKeyConstraint(["case_id", "surgery"], ["surgeries.case_id", "surgeries.number"]),
            sa.UniqueConstraint("case_id", "surgery", "key"),
        )
