"""A recording locked against change: a chain of hashes over its lines, and its head for the log book.

Each link is the SHA-256 of the link before it and one line, in the order of the event numbers; the chain begins
with what ``about.toml`` says. ``chain.txt`` holds every link, so that the first changed line can be told; the head
stands in ``about.toml`` too. Who rewrites lines, chain and head together is found out by the head in the log book
alone.
"""

from __future__ import annotations

import gzip
import hashlib
import tomllib
import zlib
from collections.abc import Iterator
from heapq import merge
from itertools import zip_longest
from pathlib import Path
from typing import Final, NamedTuple

from monitor.records.codec import decode
from monitor.records.events import SettingsSnapshot

CHAIN: Final = "chain.txt"
HEAD: Final = "chain_head"
_ABOUT: Final = "about.toml"
_FILES: Final = ("in.jsonl.gz", "out.jsonl.gz")


class _Line(NamedTuple):
    seq: int
    file: str
    number: int
    text: bytes


def lock(folder: Path) -> str:
    """Write the chain of a recording folder that has none; its head."""
    links = list(_links(folder))
    (folder / CHAIN).write_text("".join(f"{link}\n" for link, _ in links), encoding="ascii")
    head = links[-1][0]
    with (folder / _ABOUT).open("a", encoding="utf-8") as about:
        about.write(f'{HEAD} = "{head}"\n')
    return head


def locked(folder: Path) -> bool:
    """Whether it was ever locked: a chain that was taken away is a change, too."""
    return (folder / CHAIN).is_file() or HEAD in _about(folder)


def changed(folder: Path, head: str = "") -> str:
    """The first change since it was locked, in words; "" when there is none. `head`: as in the log book."""
    if not (folder / CHAIN).is_file():
        return f"{CHAIN} is missing" if HEAD in _about(folder) else "it was never locked"
    kept = (folder / CHAIN).read_text(encoding="ascii", errors="replace").split()
    last = ""
    try:
        for one, was in zip_longest(_links(folder), kept):
            if one is None:
                return f"ends after {last or 'nothing'}; more was there when it was locked"
            link, line = one
            where = f"line {line.number} of {line.file}" if line else _ABOUT
            if link != was:
                return f"{where} is not as it was locked" if was else f"{where} was not there when it was locked"
            last = where
    except (EOFError, OSError, ValueError, zlib.error) as error:
        return f"cannot be read after {last or 'nothing'}: {error}"
    if not kept or kept[-1] != _about(folder).get(HEAD):
        return f"{_ABOUT} holds another head than {CHAIN}"
    if head and kept[-1] != head.strip().lower():
        return f"its head is {kept[-1]}, not the one given: lines and chain were rewritten together"
    return _copies_changed(folder)


def _about(folder: Path) -> dict[str, object]:
    try:
        return tomllib.loads((folder / _ABOUT).read_text("utf-8"))
    except (OSError, ValueError):
        return {}


def _links(folder: Path) -> Iterator[tuple[str, _Line | None]]:
    """Every link with its line; the first one is of ``about.toml`` without its head."""
    about = (folder / _ABOUT).read_bytes().splitlines(keepends=True)
    link = hashlib.sha256(
        b"".join(line for line in about if not line.startswith(f"{HEAD} =".encode()))
    ).hexdigest()
    yield link, None
    for line in merge(*(_lines(folder, file) for file in _FILES)):
        link = hashlib.sha256(f"{link} {line.file} ".encode() + line.text).hexdigest()
        yield link, line


def _lines(folder: Path, file: str) -> Iterator[_Line]:
    with gzip.open(folder / file) as lines:
        for number, text in enumerate(lines, 1):
            seq = text[1:].partition(b",")[0]
            if not seq.isdigit():
                raise ValueError(f"line {number} of {file} has no number")
            yield _Line(int(seq), file, number, text)


def _copies_changed(folder: Path) -> str:
    """The copies of the settings are for people; they must be those of the first snapshot."""
    for line in _lines(folder, _FILES[0]):
        if b'"SettingsSnapshot"' in line.text[:80]:
            body = line.text.decode().split(",", 4)[4].rstrip()[:-1]
            taken = decode("SettingsSnapshot", body)
            assert isinstance(taken, SettingsSnapshot)
            for name, text in taken.files:
                copy = folder / "settings" / name
                if not copy.is_file() or copy.read_bytes() != text.encode():
                    return f"settings/{name} is not as it was locked"
            break
    return ""
