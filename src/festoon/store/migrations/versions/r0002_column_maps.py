"""Column maps kept per practice, and how long a case must be kept."""

import sqlalchemy as sa
from alembic import op

revision = "r0002"
down_revision = "r0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the maps and the day until which a case is kept."""
    op.create_table(
        "column_maps",
        sa.Column("name", sa.String(64), nullable=False),
        sa.Column("number", sa.Integer, nullable=False, autoincrement=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("entry", sa.Integer, sa.ForeignKey("trail.seq", name="fk_entry"), nullable=False),
        sa.PrimaryKeyConstraint("name", "number"),
    )
    op.add_column("cases", sa.Column("keep_until", sa.String(10), nullable=True))
