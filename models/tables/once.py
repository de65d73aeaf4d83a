"""One-time keys of forms and API writes, so that a thing sent twice acts once."""

from datetime import datetime

from sqlmodel import Field

from models.tables.columns import Row, kept_text, moment


class Once(Row, table=True):
    """A key that was used, the hash of what came with it, and what was answered, as a kept document."""

    __tablename__ = "once"

    key: str = Field(primary_key=True)
    body_hash: str
    result: str = kept_text()
    used_at: datetime = moment(index=True)
