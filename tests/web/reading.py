"""What a person would read on a page. No test lives here."""

from __future__ import annotations

import re
from html import unescape


def words(page: str) -> str:
    """The text of a page on one line."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())
