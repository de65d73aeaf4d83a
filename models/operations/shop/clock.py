"""The one place where operations read the clock, so that tests can set it."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo


def now() -> datetime:
    """This moment in UTC."""
    return datetime.now(UTC)


def today(time_zone: str) -> date:
    """The business date in the shop's time zone."""
    return now().astimezone(ZoneInfo(time_zone)).date()
