"""Where the shop may listen, and which names it answers to."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from models.database import Store
from tests.web.conftest import Client
from webapp.app import create_app
from webapp.network import Reach, addresses_of, home_names, home_network, own_addresses, this_machine
from webapp.serve import reach_of
from webapp.settings import BadSetting, Settings, is_loopback

KNOWN = {
    "bench": ("127.0.1.1", "192.168.1.5"),
    "loop": ("127.0.1.1",),
    "web": ("93.184.216.34",),
    "bench.lan": ("fd00::5",),
}
OWN = ("192.168.1.5", "fd00::5")


def listen(host: str, own: tuple[str, ...] = OWN) -> Reach:
    return home_network(host, own=lambda: own, resolve=lambda name: KNOWN.get(name, ()), machine="Bench.example")


@pytest.mark.parametrize(
    ("host", "bind", "hosts"),
    [
        ("192.168.1.5", "192.168.1.5", ("192.168.1.5",)),
        ("10.0.0.4", "10.0.0.4", ("10.0.0.4",)),
        ("100.64.3.2", "100.64.3.2", ("100.64.3.2",)),
        ("[fd00::5]", "fd00::5", ("fd00::5",)),
        ("0.0.0.0", "0.0.0.0", ("192.168.1.5",)),  # noqa: S104
        ("::", "::", ("fd00::5",)),
        ("Bench", "192.168.1.5", ("bench", "192.168.1.5")),
        ("bench.lan.", "fd00::5", ("bench.lan", "fd00::5")),
    ],
)
def test_an_address_or_a_name_of_the_home_network_is_listened_on(host: str, bind: str, hosts: tuple[str, ...]) -> None:
    reach = listen(host)
    assert (reach.bind, reach.hosts, reach.only_here) == (bind, hosts, False)
    for name in (
        *hosts,
        *(one.upper() for one in hosts),
        "bench",
        "bench.local",
        "BENCH.home.arpa.",
        "localhost",
        "127.0.0.1",
    ):
        assert reach.knows(name), name
    for name in ("elsewhere.example", "bench.example", "bench.local.elsewhere.example", "192.168.1.6", "", "0.0.0.1"):
        assert not reach.knows(name), name


@pytest.mark.parametrize(
    ("host", "says"),
    [
        ("93.184.216.34", "is an address of the open internet"),
        ("2606:4700::1", "is an address of the open internet"),
        ("224.0.0.1", "open internet"),
        ("web", "'web' also means 93.184.216.34, which is an address of the open internet"),
        (
            "loop",
            "no name that the network knows for this machine. Give its address in the network, such as 192.168.1.5.",
        ),
        ("nowhere", "no name that the network knows"),
        ("192.168.1.300", "no name that the network knows"),
    ],
)
def test_another_host_is_refused_in_plain_words(host: str, says: str) -> None:
    with pytest.raises(BadSetting) as bad:
        listen(host)
    assert says in bad.value.message
    assert bad.value.name == "host"


def test_all_networks_means_none_of_the_open_internet() -> None:
    with pytest.raises(BadSetting, match=r"'0\.0\.0\.0' also means 93\.184\.216\.34"):
        listen("0.0.0.0", ("192.168.1.5", "93.184.216.34"))  # noqa: S104
    with pytest.raises(BadSetting, match="has no network"):
        listen("0.0.0.0", ("127.0.0.1", "fd00::5"))  # noqa: S104
    assert listen("0.0.0.0", ("192.168.1.5", "2606:4700::1")).hosts == ("192.168.1.5",)  # noqa: S104


def test_addresses_can_be_clicked() -> None:
    assert Reach("::", ("fd00::5", "bench")).addresses(80) == ("http://[fd00::5]:80/", "http://bench:80/")
    assert this_machine("[::1]").addresses(8042) == ("http://[::1]:8042/",)


def test_a_machine_without_a_name_of_its_own_has_no_names() -> None:
    assert home_names("localhost") == home_names("") == frozenset()
    assert "wren.lan" in home_names("WREN.fritz.example.")


def test_this_machine_tells_its_own_addresses() -> None:
    found = own_addresses()
    assert len(found) == len(set(found))
    assert not any(is_loopback(one) for one in found)
    assert addresses_of("127.0.0.1") == ("127.0.0.1",)
    assert addresses_of("no such name.invalid") == ()
    assert addresses_of("a" * 300) == ()


@pytest.mark.parametrize("asks", [True, False])
def test_this_machine_needs_no_password(asks: bool) -> None:
    assert reach_of(Settings(Path("shop"), host="localhost"), asks=asks).only_here


def test_a_network_needs_a_password_and_a_demo_has_none() -> None:
    with pytest.raises(BadSetting, match="ringbench password"):
        reach_of(Settings(Path("shop"), host="192.168.1.5"), asks=False)
    with pytest.raises(BadSetting, match="demo"):
        reach_of(Settings(Path("shop"), host="192.168.1.5", demo=True), asks=True)
    assert reach_of(Settings(Path("shop"), host="192.168.1.5"), asks=True).bind == "192.168.1.5"


@pytest.fixture
def on_the_network(store: Store) -> Any:
    """A browser on a shop that listens on the home network and has a password."""
    from models.operations.shop.sign_in import set_password

    with store.writing() as session:
        set_password(session, "seven kettles by the door")
    with Client(create_app(store, Settings(store.folder, host="bench"), listen("bench"))) as opened:
        yield opened


@pytest.mark.parametrize("host", ["bench:8042", "192.168.1.5:8042", "bench.local", "localhost:8042"])
def test_the_names_of_this_machine_are_answered(on_the_network: Client, host: str) -> None:
    assert on_the_network.get("/sign-in", headers={"host": host}).status_code == 200


@pytest.mark.parametrize("host", ["elsewhere.example", "bench.elsewhere.example", "192.168.1.6:8042", "[fd00::6]"])
def test_a_name_that_was_pointed_here_is_refused(on_the_network: Client, host: str) -> None:
    answer = on_the_network.get("/sign-in", headers={"host": host})
    assert answer.status_code == 421


def test_the_address_that_a_connection_came_in_by_is_ours(on_the_network: Client) -> None:
    # The test's transport says of each request that it came in by the host of its address.
    assert on_the_network.get("http://192.168.1.77:8042/sign-in").status_code == 200
    assert on_the_network.get("http://192.168.1.77:8042/sign-in", headers={"host": "192.168.1.78"}).status_code == 421
    assert on_the_network.get("http://elsewhere.example:8042/sign-in").status_code == 421


def test_a_post_from_the_page_of_that_very_name_passes(on_the_network: Client) -> None:
    sent = {"data": {"password": "seven kettles by the door"}}
    here = {"host": "bench:8042", "origin": "http://bench:8042"}
    assert on_the_network.request("POST", "/sign-in", headers=here, **sent).status_code == 303
    other = {"host": "bench:8042", "origin": "http://192.168.1.5:8042"}
    assert on_the_network.request("POST", "/sign-in", headers=other, **sent).status_code == 403
