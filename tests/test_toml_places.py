"""Line numbers of keys against tomllib: the same keys, each on a line that names it (TOML 1.0.0)."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

import pytest

from monitor.settings.places import lines_of
from tests.conftest import ROOT
from tests.settings_texts import GOOD

# Our own text in every form of TOML 1.0.0: headers dotted, quoted and repeated; strings of four kinds with quotes,
# brackets, hashes and line breaks inside; arrays over lines with comments; inline tables; dates with a blank.
FORMS = r'''# first
title = "a # no comment"
"quoted key" = 'C:\no\escape'
'single "quoted"' = 1
dotted.key . "with space" = true
date = 2031-05-04 06:12:00Z # a blank inside
many = """
[not.a.header]
x = 1 \"""
two quotes at the end"""""
plain = §
+ """ "
§ # after
list = [ # a comment ] with a bracket
  1, [2, 3], # more
  "a]b", { in = 1, "]" = [ 4 ] },
]
[table."a.b".c]
x = -1e6
[[rows]]
name = "one"
[[rows]]
name = "two"
  [rows.inner]
  deep = 'x'
  [[rows.more]]
  y = 0x1F
  [[rows.more]]
  y = inf
[table]
z = { a.b = 1, c = { d = [] } }
'''.replace("§", "'''")


def paths(tree: Any, above: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Every key and list entry of a tree."""
    items = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    for step, value in items:
        yield (*above, step)
        yield from paths(value, (*above, step))


@pytest.mark.parametrize(
    "text",
    [FORMS, FORMS.replace("\n", "\r\n"), *GOOD.values(), *(p.read_text() for p in ROOT.glob("config/*/*.toml"))],
)
def test_every_key_has_a_line_that_names_it(text: str) -> None:
    found = lines_of(text)
    assert set(found) == set(paths(tomllib.loads(text)))
    rows = text.split("\n")
    for path, line in found.items():
        if isinstance(path[-1], str):
            assert path[-1] in rows[line - 1], path


def test_lines_of_a_table_of_tables_are_those_of_its_entries() -> None:
    found = lines_of(FORMS)
    rows = FORMS.split("\n")
    assert [rows[found["rows", i] - 1] for i in (0, 1)] == ["[[rows]]", "[[rows]]"]
    assert rows[found["rows", 1, "more", 1, "y"] - 1] == "  y = inf"
    assert rows[found["list", 2] - 1].startswith('  "a]b"')
    assert found["table", "a.b", "c", "x"] < found["rows", 0, "name"] < found["table", "z", "c", "d"]
