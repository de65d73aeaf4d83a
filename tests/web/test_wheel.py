"""The built wheel: pages, static files and migrations are inside, and are found when it runs from there."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

TOP = Path(__file__).parents[2]

# Runs in a process of its own, from a folder without the project, with nothing but the unpacked wheel before it.
VISIT = """
import asyncio, pathlib, sys
import httpx, models, webapp
from models.database import Store, migrations_folder
from models.operations.shop.shop import found_shop
from webapp.app import create_app
from webapp.web.render import template_folder
from webapp.settings import Settings

wheel = pathlib.Path(sys.argv[1])
for found in (pathlib.Path(webapp.__file__), pathlib.Path(models.__file__), migrations_folder(), template_folder()):
    assert found.is_relative_to(wheel), found
store = Store(pathlib.Path("shop"))
store.prepare()
with store.writing() as session:
    found_shop(session, name="From a wheel", currency="EUR")

async def visit():
    transport = httpx.ASGITransport(create_app(store, Settings(store.folder)))
    async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1:8042") as client:
        for path in ("/", "/settings", "/outlets", "/static/ringbench.css", "/static/htmx.min.js", "/openapi.json"):
            answer = await client.get(path)
            print(path, answer.status_code, len(answer.content))
            assert answer.status_code == 200, answer.text
        assert "From a wheel" in (await client.get("/settings")).text

asyncio.run(visit())
store.close()
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel of the project as it stands."""
    folder = tmp_path_factory.mktemp("wheel")
    build = "import sys; from hatchling.build import build_wheel; print(build_wheel(sys.argv[1]))"
    subprocess.run([sys.executable, "-c", build, str(folder)], cwd=TOP, check=True, capture_output=True)
    (built,) = folder.glob("*.whl")
    return built


def test_a_wheel_carries_everything_that_the_program_reads(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        inside = set(archive.namelist())
    for source, target in (
        ("templates", "webapp/_templates"),
        ("migrations", "models/_migrations"),
        ("webapp/static", "webapp/static"),
    ):
        files = [
            path.relative_to(TOP / source)
            for path in (TOP / source).rglob("*")
            if path.is_file() and "__pycache__" not in path.parts
        ]
        assert files
        for file in files:
            assert f"{target}/{file.as_posix()}" in inside
    modules = [path.relative_to(TOP) for room in ("models", "webapp") for path in (TOP / room).rglob("*.py")]
    assert {module.as_posix() for module in modules} <= inside
    assert not any(name.startswith("tests/") or name.endswith((".pyc", ".db")) for name in inside)
    assert any(name.endswith("entry_points.txt") for name in inside)


@pytest.mark.long
def test_a_shop_opens_from_an_unpacked_wheel(wheel: Path, tmp_path: Path) -> None:
    unpacked = tmp_path / "site"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(unpacked)
    done = subprocess.run(
        [sys.executable, "-c", VISIT, str(unpacked)],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(unpacked)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
