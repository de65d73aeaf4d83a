"""What the program needs to know before it can open a shop: where the folder is, and where to listen.

Each setting is taken from the flag, then from its `RINGBENCH_…` variable, then from the default. What belongs to the
shop itself (currency, wage, units shown) is kept in the shop and does not live here.
"""

from __future__ import annotations

import ipaddress
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

LOG_LEVELS = ("debug", "info", "warning", "error")
LOOPBACK_NAMES = frozenset({"localhost", "localhost.localdomain", "ip6-localhost"})
DEFAULT_PORT = 8042


class BadSetting(ValueError):
    """A flag or a variable holds something that cannot be used; the message names it and says what would be right."""

    def __init__(self, name: str, message: str) -> None:
        super().__init__(message)
        self.name = name
        self.message = message


@dataclass(frozen=True, slots=True)
class Settings:
    """How this process runs. `demo`, which only that command sets, marks an invented shop that lets everybody in."""

    data_dir: Path
    host: str = "127.0.0.1"
    port: int = DEFAULT_PORT
    demo: bool = False
    log_level: str = "info"


def read_settings(flags: Mapping[str, object], env: Mapping[str, str]) -> Settings:
    """Settle every setting: the flag where one was given (not None), else the variable, else the default.

    No variable makes a demo: one left over in an environment would open a real shop to everybody.
    Raises `BadSetting`.
    """

    def given(name: str) -> str | None:
        if flags.get(name) is not None:
            return str(flags[name])
        return env.get(f"RINGBENCH_{name.upper()}") or None

    folder = given("data_dir") or given("data")
    level = (given("log_level") or "info").lower()
    if level not in LOG_LEVELS:
        raise BadSetting("log_level", f"The log level '{level}' is not known. Use one of {', '.join(LOG_LEVELS)}.")
    return Settings(
        data_dir=Path(folder).expanduser() if folder else default_data_dir(sys.platform, env),
        host=given("host") or "127.0.0.1",
        port=_port(given("port")),
        demo=flags.get("demo") is True,
        log_level=level,
    )


def default_data_dir(platform: str, env: Mapping[str, str]) -> Path:
    """The folder that this operating system keeps a person's own data in, with 'ringbench' under it.

    Source: XDG Base Directory Specification 0.8 for Linux; the platform guidelines of macOS and Windows.
    """
    home = Path(env.get("HOME") or env.get("USERPROFILE") or Path.home())
    if platform == "darwin":
        return home / "Library" / "Application Support" / "Ringbench"
    if platform == "win32":
        return Path(env.get("LOCALAPPDATA") or home / "AppData" / "Local") / "Ringbench"
    base = Path(env.get("XDG_DATA_HOME", ""))
    # The specification says that a relative path is to be ignored.
    return (base if base.is_absolute() else home / ".local" / "share") / "ringbench"


def is_loopback(host: str) -> bool:
    """Whether a host can be reached from this machine only: 127.0.0.0/8, ::1, or a name that always means them."""
    name = host.strip().strip("[]").lower().rstrip(".")
    if name in LOOPBACK_NAMES or name.endswith(".localhost"):
        return True
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False


def _port(text: str | None) -> int:
    if text is None:
        return DEFAULT_PORT
    # Zero lets the system choose a free one.
    if not text.isascii() or not text.isdigit() or int(text) > 65535:
        raise BadSetting("port", f"The port '{text}' is not a number between 0 and 65535.")
    return int(text)
