"""The log of the shop: a rotating file in the shop folder. It names what was asked for, never what was sent.

No body, no query string and no header is ever written: they hold names, prices and notes.
"""

from __future__ import annotations

import logging
import time
from io import TextIOWrapper
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import cast

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from models.files import make_private_folder, private_opener

FILE_BYTES = 1_000_000
FILES_KEPT = 5

logger = logging.getLogger("ringbench")


class _PrivateFile(RotatingFileHandler):
    """A log that only this account can read: it says who visited what."""

    def _open(self) -> TextIOWrapper:
        opened = open(  # noqa: SIM115  (the handler closes it)
            self.baseFilename, self.mode, encoding=self.encoding, errors=self.errors, opener=private_opener
        )
        return cast("TextIOWrapper", opened)


def start_log(folder: Path, level: str) -> logging.Handler:
    """Write the program's and the server's messages to `ringbench.log` in this folder; answer the handler to close."""
    make_private_folder(folder)
    handler = _PrivateFile(
        folder / "ringbench.log", maxBytes=FILE_BYTES, backupCount=FILES_KEPT, encoding="utf-8", delay=True
    )
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s %(message)s"))
    for name in ("ringbench", "uvicorn.error"):
        named = logging.getLogger(name)
        named.addHandler(handler)
        named.setLevel(level.upper())
    return handler


def stop_log(handler: logging.Handler) -> None:
    """Take the handler off again and close its file."""
    for name in ("ringbench", "uvicorn.error"):
        logging.getLogger(name).removeHandler(handler)
    handler.close()


class RequestLog:
    """Log one line a request: method, path, status, milliseconds."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        began = time.perf_counter()
        status = 500

        async def noted(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self.app(scope, receive, noted)
        finally:
            took_ms = (time.perf_counter() - began) * 1000
            # %r keeps a line break in a path from starting a line of its own.
            logger.info("%s %r %d %.1f ms", scope["method"], scope["path"], status, took_ms)
