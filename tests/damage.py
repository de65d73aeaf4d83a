"""Ways in which a file of a shop is damaged, and what a whole shop holds, for tests. No test lives here."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable
from contextlib import closing
from io import BytesIO
from pathlib import Path

from PIL import Image

from models.database import Store
from models.operations.shop.photo import keep_photo
from models.tables import Design
from tests.shops import NOON

NOT_RESTORED = frozenset({"signed_in", "program_key", "sign_in_try"})
"""Who is let in does not come back by itself."""


def picture(colour: str) -> bytes:
    """A small picture of one colour, as a person would send it."""
    out = BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, "PNG")
    return out.getvalue()


def a_design_with_photo(store: Store, colour: str = "brown") -> str:
    """A design with a photo; answers the photo's name."""
    name = keep_photo(store.photos, picture(colour))
    assert isinstance(name, str)
    with store.writing() as session:
        session.add(Design(name=f"Pendant in {colour}", photo=name, created_at=NOON))
    return name


def settle(file: Path) -> None:
    """Have everything of a database in its own file."""
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def garbage_at_the_front(file: Path) -> None:
    """Overwrite the first bytes."""
    with file.open("r+b") as opened:
        opened.write(b"garbage " * 16)


def cut_short(file: Path) -> None:
    """Leave the first half."""
    with file.open("r+b") as opened:
        opened.truncate(file.stat().st_size // 2)


def cut_to_a_stub(file: Path) -> None:
    """Leave less than a header."""
    with file.open("r+b") as opened:
        opened.truncate(50)


def holes(file: Path) -> None:
    """Every third page from the second on is zeros, as after a disk that lost blocks."""
    with file.open("r+b") as opened:
        for start in range(4096, file.stat().st_size - 4096, 3 * 4096):
            opened.seek(start)
            opened.write(bytes(4096))


def another_program(file: Path) -> None:
    """A sound database of some other program."""
    file.unlink()
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("CREATE TABLE shop (what TEXT)")
        connection.execute("INSERT INTO shop VALUES ('something else')")
        connection.commit()


def a_folder(file: Path) -> None:
    """A folder has the name of the file."""
    file.unlink()
    file.mkdir()
    (file / "notes.txt").write_text("mine")


def gone(file: Path) -> None:
    """The file is gone, and a journal of it is left."""
    file.with_name(file.name + "-wal").write_bytes(b"what was last written " * 300)
    file.unlink()


DAMAGES: dict[str, Callable[[Path], None]] = {
    "garbage in its first bytes": garbage_at_the_front,
    "cut short": cut_short,
    "cut to a stub": cut_to_a_stub,
    "pages of zeros": holes,
    "another program's": another_program,
    "a folder": a_folder,
    "gone, its journal left": gone,
}


def flip(file: Path, chance: random.Random, times: int = 1) -> None:
    """Change single bytes somewhere."""
    content = bytearray(file.read_bytes())
    for _ in range(times):
        content[chance.randrange(len(content))] ^= chance.randint(1, 255)
    file.write_bytes(content)


def cut(file: Path, chance: random.Random) -> None:
    """Cut a file off somewhere."""
    with file.open("r+b") as opened:
        opened.truncate(chance.randrange(file.stat().st_size))


def rows_of(file: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table of a database that a restore brings back."""
    # Alone it is read without laying anything beside it.
    still = "" if file.with_name(f"{file.name}-wal").exists() else "&immutable=1"
    with closing(sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro{still}", uri=True)) as connection:
        tables = [row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {
            table: connection.execute(f'SELECT * FROM "{table}"').fetchall()  # noqa: S608
            for table in tables
            if table not in NOT_RESTORED
        }


def content_of(folder: Path) -> dict[str, bytes]:
    """Every file of a folder and what is in it."""
    return {str(file.relative_to(folder)): file.read_bytes() for file in sorted(folder.rglob("*")) if file.is_file()}
