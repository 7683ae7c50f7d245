"""One settings file as read: its tree of values, where each stands, and faults that name the place."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from monitor.settings.faults import Fault, listed, nearest, written
from monitor.settings.places import BARE_KEY, Path, lines_of

_ABSENT: Final = object()
_PLAINER: Final = {  # what the reader of TOML says of the commonest slips
    "Cannot overwrite a value": "this key stands here twice",
    "Illegal character '\\n'": "a quote is not closed on this line",
    "Expected newline or end of document after a statement": "more than one value: are quotes missing?",
    "Invalid value": "no value: write texts and quantities in straight quotes",
}


@dataclass(frozen=True, slots=True)
class Page:
    """A settings file that is good TOML; what its keys mean is looked at elsewhere."""

    file: str  # as people know it
    tree: dict[str, Any]
    text: str

    def entries(self, table: str) -> list[tuple[int, dict[str, Any]]]:
        """The entries of the list of tables `table`, each with its place from 0; what is no table is left out."""
        rows = self.tree.get(table)
        return [(i, row) for i, row in enumerate(rows) if isinstance(row, dict)] if isinstance(rows, list) else []

    def names(self, table: str) -> list[str]:
        """The names of the entries of a list of tables, each once."""
        return list(
            dict.fromkeys(row["name"] for _, row in self.entries(table) if isinstance(row.get("name"), str))
        )

    def fault(
        self, path: Path, problem: str, allowed: str = "", among: Sequence[str] = (), word: object = None
    ) -> Fault:
        """The fault at `path`. `among`: the names of which the nearest to `word` (or the value) is looked for."""
        value, lines = self._at(path), lines_of(self.text)
        return Fault(
            file=self.file,
            key=self._spoken(path),
            value="" if value is _ABSENT else written(value),
            problem=problem,
            allowed=allowed or listed(among),
            nearest=nearest(value if word is None else word, among),
            line=next((lines[path[:n]] for n in range(len(path), 0, -1) if path[:n] in lines), None),
        )

    def _at(self, path: Path) -> Any:
        value: Any = self.tree
        for step in path:
            try:
                value = value[step]
            except (KeyError, IndexError, TypeError):
                return _ABSENT
        return value

    def _spoken(self, path: Path) -> str:
        """A path in a person's words: entries counted from 1, with their name when they have one."""
        spoken = ""
        for n, step in enumerate(path, 1):
            if isinstance(step, str):
                key = step if BARE_KEY.fullmatch(step) else written(step)
                spoken += f".{key}" if spoken else key
                continue
            spoken += f"[{step + 1}]"
            entry = self._at(path[:n])
            name = entry.get("name", entry.get("line")) if isinstance(entry, dict) else None
            if isinstance(name, str):
                spoken += f" {written(name)}"
        return spoken


def read_page(file: str, content: bytes) -> Page | Fault:
    """The page of a file's bytes, or why it cannot be read."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return Fault(file, "", "", "the file is UTF-16", "text in UTF-8 without a byte order mark")
    if content.startswith(b"\xef\xbb\xbf"):
        return Fault(file, "", "", "the file begins with a byte order mark", "text in UTF-8 without one", line=1)
    try:
        text = content.decode()
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        return Fault(file, "", "", f"byte {error.start} is not UTF-8", "text in UTF-8", line=line)
    if not text.strip():
        return Fault(file, "", "", "the file is empty")
    try:
        return Page(file, tomllib.loads(text), text)
    except RecursionError:
        return Fault(file, "", "", "lists or tables nested too deep")
    except ValueError as error:  # TOMLDecodeError, and whatever int() makes of ten thousand digits
        found = re.fullmatch(r"(.*) \(at line (\d+), column (\d+)\)", str(error))
        if found is None:
            return Fault(file, "", "", f"not TOML: {error}")
        said = _PLAINER.get(found[1], found[1])
        return Fault(file, "", "", f"not TOML: {said}, column {found[3]}", line=int(found[2]))
