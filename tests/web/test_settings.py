"""Where each setting comes from."""

from __future__ import annotations

from pathlib import Path

import pytest

from webapp.settings import DEFAULT_PORT, BadSetting, default_data_dir, is_loopback, read_settings


def test_a_flag_wins_over_a_variable_and_a_variable_over_the_default() -> None:
    env = {"RINGBENCH_PORT": "9001", "RINGBENCH_DATA": "/shop/env", "HOME": "/home/mo"}
    assert read_settings({"port": 9002, "data": None}, env).port == 9002
    assert read_settings({"port": None}, env).port == 9001
    assert read_settings({}, env).data_dir == Path("/shop/env")
    assert read_settings({}, {"HOME": "/home/mo"}).port == DEFAULT_PORT


def test_an_empty_variable_counts_as_none() -> None:
    assert read_settings({}, {"HOME": "/home/mo", "RINGBENCH_HOST": ""}).host == "127.0.0.1"


@pytest.mark.parametrize(
    ("name", "value"),
    [("port", "eighty"), ("port", "70000"), ("port", "-1"), ("log_level", "loud")],
)
def test_what_cannot_be_used_is_named(name: str, value: str) -> None:
    with pytest.raises(BadSetting) as caught:
        read_settings({}, {"HOME": "/home/mo", f"RINGBENCH_{name.upper()}": value})
    assert caught.value.name == name
    assert value in caught.value.message


@pytest.mark.parametrize("value", ["1", "yes", "true", "on", "perhaps"])
def test_no_variable_makes_a_shop_a_demo_that_lets_everybody_in(value: str) -> None:
    env = {"HOME": "/home/mo", "RINGBENCH_DEMO": value}
    assert not read_settings({}, env).demo
    assert not read_settings({"demo": None}, env).demo
    assert read_settings({"demo": True}, env).demo


def test_the_data_folder_follows_the_custom_of_the_system() -> None:
    home = {"HOME": "/home/mo"}
    assert default_data_dir("linux", home) == Path("/home/mo/.local/share/ringbench")
    assert default_data_dir("linux", {**home, "XDG_DATA_HOME": "/data"}) == Path("/data/ringbench")
    assert default_data_dir("linux", {**home, "XDG_DATA_HOME": "relative"}) == Path("/home/mo/.local/share/ringbench")
    assert default_data_dir("darwin", home) == Path("/home/mo/Library/Application Support/Ringbench")
    assert default_data_dir("win32", {**home, "LOCALAPPDATA": "/local"}) == Path("/local/Ringbench")


def test_loopback_hosts_are_told_from_others() -> None:
    for host in ("127.0.0.1", "127.9.9.9", "::1", "[::1]", "localhost", "LocalHost.", "shop.localhost"):
        assert is_loopback(host), host
    for host in ("0.0.0.0", "192.168.0.4", "::", "shop.example", "", "localhost.example", "1270.0.0.1"):  # noqa: S104
        assert not is_loopback(host), host
