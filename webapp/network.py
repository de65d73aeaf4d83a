"""Where the shop can be reached: this machine only, or an address of the home network. No socket is opened for good.

Names and addresses are checked here, because a foreign name that is pointed at the shop (DNS rebinding) must not be
answered. Who may sign in does not live here.
"""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Callable
from dataclasses import dataclass

from webapp.settings import BadSetting, is_loopback

Address = ipaddress.IPv4Address | ipaddress.IPv6Address

# Endings that no name of the open internet has. Source: RFC 6762 (local), RFC 8375 (home.arpa), the reservation of
# 'internal' for private use; 'lan' and 'home' are common practice in home routers.
HOME_ENDINGS = ("", ".local", ".lan", ".home", ".home.arpa", ".internal")
# Nothing is ever sent there (RFC 5737, RFC 3849); asking for the way to it names the address that we would send from.
_SOMEWHERE = ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1"))


@dataclass(frozen=True, slots=True)
class Reach:
    """Where the shop listens (`bind`), under which hosts people open it, and which other names mean it too."""

    bind: str
    hosts: tuple[str, ...]
    names: frozenset[str] = frozenset()

    @property
    def only_here(self) -> bool:
        """Whether only this machine can reach it."""
        return is_loopback(self.bind)

    def knows(self, host: str) -> bool:
        """Whether a host name or address means this shop."""
        return is_loopback(host) or host.strip("[]").lower().rstrip(".") in self.names

    def addresses(self, port: int) -> tuple[str, ...]:
        """The addresses to open in a browser."""
        return tuple(f"http://{f'[{host}]' if ':' in host else host}:{port}/" for host in self.hosts)


def this_machine(host: str = "127.0.0.1") -> Reach:
    """Only this machine."""
    return Reach(bind=host.strip("[]"), hosts=(host.strip("[]"),))


def home_network(
    host: str,
    *,
    own: Callable[[], tuple[str, ...]] | None = None,
    resolve: Callable[[str], tuple[str, ...]] | None = None,
    machine: str | None = None,
) -> Reach:
    """Listen on an address of the home network, on all of them (0.0.0.0, ::), or on a name of this machine.

    Raises `BadSetting` for an address of the open internet, and for a name that is not one of this machine's network.
    """
    own, resolve = own or own_addresses, resolve or addresses_of
    names = home_names(socket.gethostname() if machine is None else machine)
    bare = host.strip("[]").lower().rstrip(".")
    address = as_address(bare)
    if address is None:
        found = [text for text in resolve(bare) if not is_loopback(text)]
        if not found:
            raise BadSetting("host", _names_nothing(host, own()))
        for text in found:
            _refuse_open_internet(text, host)
        return Reach(bind=found[0], hosts=(bare, found[0]), names=names | {bare, *found})
    if not address.is_unspecified:
        _refuse_open_internet(bare, host)
        return Reach(bind=str(address), hosts=(str(address),), names=names | {str(address)})
    mine = [text for text in own() if _version(text) == address.version and not is_loopback(text)]
    for text in mine:
        _refuse_open_internet(text, host)
    if not mine:
        raise BadSetting("host", f"This machine has no network that '{host}' could mean. Connect it first.")
    return Reach(bind=str(address), hosts=tuple(mine), names=names | set(mine))


def home_names(machine: str) -> frozenset[str]:
    """The names that a home network knows this machine by."""
    short = machine.lower().rstrip(".").split(".")[0]
    if not short or short == "localhost":
        return frozenset()
    return frozenset(f"{short}{ending}" for ending in HOME_ENDINGS)


def own_addresses() -> tuple[str, ...]:
    """This machine's addresses as far as it knows them, the one that it would send from first."""
    found: list[str] = []
    for family, somewhere in _SOMEWHERE:
        text = _sends_from(family, somewhere)
        if text:
            found.append(text)
    found.extend(text for text in addresses_of(socket.gethostname()) if not is_loopback(text))
    return tuple(dict.fromkeys(found))


def addresses_of(name: str) -> tuple[str, ...]:
    """What a name stands for; nothing when nobody knows it."""
    try:
        found = socket.getaddrinfo(name, None, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError):
        return ()
    # A zone behind an address of one link ('fe80::1%eth0') means something on this machine only.
    texts = [str(where[0]) for _family, _type, _proto, _name, where in found]
    return tuple(dict.fromkeys(text for text in texts if "%" not in text))


def as_address(host: str) -> Address | None:
    """The address that a host is written as, or None for a name."""
    try:
        return ipaddress.ip_address(host.strip("[]"))
    except ValueError:
        return None


def is_same_address(host: str, other: str) -> bool:
    """Whether two texts are one and the same address."""
    address = as_address(host)
    return address is not None and address == as_address(other)


def _refuse_open_internet(address: str, host: str) -> None:
    known = as_address(address)
    if known is None or known.is_global or known.is_multicast:
        what = f"'{host}' is" if address == host else f"'{host}' also means {address}, which is"
        raise BadSetting(
            "host",
            f"{what} an address of the open internet, where anybody could reach the shop and read along. "
            "Ringbench listens in a home network only; give this machine's address there, such as 192.168.1.5.",
        )


def _names_nothing(host: str, own: tuple[str, ...]) -> str:
    mine = [text for text in own if _version(text) == 4] or list(own)
    example = mine[0] if mine else "192.168.1.5"
    return (
        f"'{host}' is no name that the network knows for this machine. Give its address in the network, "
        f"such as {example}."
    )


def _version(text: str) -> int:
    address = as_address(text)
    return 0 if address is None else address.version


def _sends_from(family: int, somewhere: str) -> str:
    try:
        with socket.socket(family, socket.SOCK_DGRAM) as asking:
            asking.connect((somewhere, 9))
            return str(asking.getsockname()[0]).split("%")[0]
    except OSError:
        # No network of this kind.
        return ""
