"""What a failed write says of the disk: full, or not to be written to. In words; who answers what is the web face's."""

from __future__ import annotations

import errno
import sqlite3

FULL = (
    "The disk is full, so nothing was changed. Make room on the disk that the shop's folder lies on, then try again; "
    "what was stored before is safe."
)
READ_ONLY = (
    "The shop's folder cannot be written to, so nothing was changed. Its disk may be read-only or gone, or the folder "
    "may belong to somebody else. What was stored before is as it was."
)

_FULL_ERRNO = frozenset({errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)})
_READ_ONLY_ERRNO = frozenset({errno.EROFS, errno.EACCES, errno.EPERM})
_SHMSIZE = getattr(sqlite3, "SQLITE_IOERR_SHMSIZE", 4874)
"""The index of the write-ahead log could not grow: where the disk is full, SQLite says it so."""
_FULL_STATE, _READ_ONLY_STATE = "53100", "25006"
"""Source: PostgreSQL, appendix A, error codes: disk_full, read_only_sql_transaction."""


def disk_words(error: BaseException) -> str:
    """Why the disk did not take a write; empty when the error is about something else."""
    cause = getattr(error, "orig", None) or error
    state = getattr(cause, "sqlstate", None)
    if isinstance(cause, sqlite3.Error):
        code = getattr(cause, "sqlite_errorcode", 0)
        if code & 0xFF == sqlite3.SQLITE_FULL or code == _SHMSIZE:
            return FULL
        # It cannot open the files beside the database that a write needs.
        return READ_ONLY if code & 0xFF in {sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN} else ""
    if isinstance(cause, OSError):
        if cause.errno in _FULL_ERRNO:
            return FULL
        return READ_ONLY if cause.errno in _READ_ONLY_ERRNO else ""
    return {_FULL_STATE: FULL, _READ_ONLY_STATE: READ_ONLY}.get(str(state), "")
