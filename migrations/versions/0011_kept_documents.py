"""Documents that columns keep as JSON text say their format: what is there stays, and goes back to what had no number.

Rows of before are read as they are, so nothing of them is rewritten on the way up.

Before this is released: read every line; check that rows that are already there survive, both ways; one intention only.

Revision: 0011
Follows: 0010
"""

import json
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

_KEPT = (
    ("build", "id", "choices"),
    ("layout", "id", "plan"),
    ("layout", "id", "palette"),
    ("layout", "id", "route"),
    ("layout", "id", "closed"),
    ("make_plan", "id", "question"),
    ("make_plan", "id", "result"),
    ("make_plan", "id", "limits"),
    ("make_plan", "id", "booked"),
    ("once", "key", "result"),
)


def upgrade() -> None:
    pass


def downgrade() -> None:
    connection = op.get_bind()
    for name, key, column in _KEPT:
        table = sa.table(name, sa.column(key), sa.column(column))
        numbered = sa.select(table.c[key], table.c[column]).where(table.c[column].like('{"format":%'))
        for row, text in connection.execute(numbered).all():
            bare = json.dumps(_bare(column, json.loads(text)["kept"]), ensure_ascii=False)
            connection.execute(sa.update(table).where(table.c[key] == row).values({column: bare}))


def _bare(column: str, kept: Any) -> Any:
    """What an older program kept; optional parts of a build stood under 'with'."""
    if column == "choices":
        return {("with" if name == "with_optional" else name): value for name, value in kept.items()}
    return kept
