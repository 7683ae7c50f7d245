"""The house keeps its shape: who may import whom, who may read the clock, who may touch network and files.

Read from the source itself (ast): nothing is imported here. A breach is told as file:line and the rule.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator

import pytest

from tests.conftest import ROOT

FLOORS = {
    "base": 0, "records": 1, "settings": 1, "physics": 2, "intake": 2, "watch": 3, "outlet": 4, "run": 5,
    "__main__": 6,
}  # fmt: skip
SAME_FLOOR = {("monitor/settings/load.py", "records")}  # the journal's copy of the settings
NEVER = {"outlet": ("physics", "intake", "watch")}
LINES = 400

CLOCK_HOME = ("monitor/base/clock.py",)
CLOCK_MODULES = {"time", "sched"}
CLOCK_CALLS = {
    "datetime.datetime.now", "datetime.datetime.utcnow", "datetime.datetime.today", "datetime.date.today",
    "pandas.Timestamp.now", "pandas.Timestamp.utcnow", "pandas.Timestamp.today", "asyncio.sleep",
}  # fmt: skip

NETWORK_HOMES = ("monitor/intake/collector", "monitor/outlet/")
NETWORK_MODULES = {
    "asyncio", "ftplib", "http.client", "http.server", "imaplib", "requests", "select", "selectors", "serial",
    "smtplib", "socket", "socketserver", "ssl", "urllib.request", "urllib3", "xmlrpc", "pyais.stream",
}  # fmt: skip

FILE_HOMES = (*NETWORK_HOMES, "monitor/run/", "monitor/settings/load.py", "monitor/__main__.py")
FILE_MODULES = {"dbm", "shelve", "shutil", "sqlite3", "tempfile", "zipfile"}
FILE_METHODS = {
    "open", "read_text", "read_bytes", "write_text", "write_bytes", "mkdir", "unlink", "touch", "iterdir", "glob",
    "rglob", "read_csv", "to_csv", "loadtxt", "savetxt", "genfromtxt",
}  # fmt: skip

PURE = "monitor/physics/"
PUBLIC = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)


def breaches(file: str, source: str) -> list[str]:
    """All rules that a module breaks; `file` is its path from the top of the checkout."""
    tree = ast.parse(source)
    found = [
        *_floors(file, tree),
        *_clock(file, tree),
        *_network_and_files(file, tree),
        *_length(file, source),
        *_docstrings(file, tree),
    ]
    return [f"{file}:{line}: {rule}" for line, rule in sorted(found)]


def _room(file: str) -> str:
    """The package or module right below monitor/; "" for monitor/__init__.py."""
    name = file.split("/")[1].removesuffix(".py")
    return "" if name == "__init__" else name


def _imports(file: str, tree: ast.AST) -> Iterator[tuple[int, str, str]]:
    """(line, name in this module, full dotted name) of everything imported, also inside functions."""
    package = file.removesuffix(".py").split("/")[:-1]
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                whole = alias.name if alias.asname else alias.name.split(".")[0]
                yield node.lineno, alias.asname or whole, alias.name if alias.asname else whole
                if "." in alias.name and not alias.asname:
                    yield node.lineno, "", alias.name
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else []
            module = ".".join([*above, *([node.module] if node.module else [])])
            for alias in node.names:
                yield node.lineno, alias.asname or alias.name, f"{module}.{alias.name}"


def _is_below(name: str, modules: set[str]) -> str | None:
    """The one of `modules` that a dotted name is, or lies in."""
    parts = name.split(".")
    return next((m for n in range(1, len(parts) + 1) if (m := ".".join(parts[:n])) in modules), None)


def _floors(file: str, tree: ast.AST) -> Iterator[tuple[int, str]]:
    room = _room(file)
    if room and room not in FLOORS:
        yield 1, f"the room {room} has no floor: give it one in the design and in this test"
        return
    seen = set()
    for line, _, name in _imports(file, tree):
        parts = name.split(".")
        if parts[0] != "monitor" or len(parts) < 2 or parts[1] not in FLOORS or (line, parts[1]) in seen:
            continue
        other = parts[1]
        seen.add((line, other))
        if other == room or (file, other) in SAME_FLOOR:
            continue
        if other in NEVER.get(room, ()):
            yield line, f"{room} never imports {other}"
        elif not room or FLOORS[other] >= FLOORS[room]:
            yield line, f"{room or 'monitor'} may import lower floors only, not {other}"


def _clock(file: str, tree: ast.AST) -> Iterator[tuple[int, str]]:
    if file in CLOCK_HOME:
        return
    yield from _modules(file, tree, CLOCK_MODULES, "the clock is read and slept on in monitor/base/clock.py only")
    for line, name in _uses(file, tree):
        if name in CLOCK_CALLS:
            yield line, f"{name}: the clock is read and slept on in monitor/base/clock.py only"


def _network_and_files(file: str, tree: ast.AST) -> Iterator[tuple[int, str]]:
    if file.startswith(PURE):
        yield from _modules(file, tree, {"logging"}, "physics is pure")
    if not file.startswith(NETWORK_HOMES):
        yield from _modules(file, tree, NETWORK_MODULES, "the network belongs to intake/collector and outlet")
    if not file.startswith(FILE_HOMES):
        where = "files belong to intake/collector, outlet, run, settings/load and __main__"
        yield from _modules(file, tree, FILE_MODULES, where)
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and (name := _called(node)) in FILE_METHODS:
                yield node.lineno, f"{name}(): {where}"


def _modules(file: str, tree: ast.AST, modules: set[str], rule: str) -> set[tuple[int, str]]:
    named = ((line, _is_below(name, modules)) for line, _, name in _imports(file, tree))
    return {(line, f"{module}: {rule}") for line, module in named if module}


def _uses(file: str, tree: ast.AST) -> Iterator[tuple[int, str]]:
    """(line, full dotted name) of every attribute reached from an imported name."""
    full = {short: name for _, short, name in _imports(file, tree) if short}
    for node in ast.walk(tree):
        steps, inner = [], node
        while isinstance(inner, ast.Attribute):
            steps.append(inner.attr)
            inner = inner.value
        if steps and isinstance(inner, ast.Name) and inner.id in full:
            assert isinstance(node, ast.Attribute)
            yield node.lineno, ".".join([full[inner.id], *reversed(steps)])


def _called(call: ast.Call) -> str:
    """The last name of what is called: open in open(), Path.open() and gzip.open()."""
    match call.func:
        case ast.Name(id=name) | ast.Attribute(attr=name):
            return name
    return ""


def _length(file: str, source: str) -> Iterator[tuple[int, str]]:
    if (lines := len(source.splitlines())) > LINES:
        yield lines, f"{lines} lines: at most {LINES} in a module"


def _docstrings(file: str, tree: ast.Module) -> Iterator[tuple[int, str]]:
    if tree.body and ast.get_docstring(tree) is None:
        yield 1, "a module says in its docstring what it is for"
    for node in tree.body:
        public = isinstance(node, PUBLIC) and not node.name.startswith("_")
        if public and ast.get_docstring(node) is None:
            yield node.lineno, f"{node.name} is public: it needs a docstring"


def test_the_house_keeps_its_shape() -> None:
    found = []
    for path in sorted(ROOT.glob("monitor/**/*.py")):
        found += breaches(path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8"))
    assert not found, "\n" + "\n".join(found)


HEAD = '"""A module."""\n'
LOWER = "{} may import lower floors only, not {}"
CLOCK_RULE = "the clock is read and slept on in monitor/base/clock.py only"
NETWORK_RULE = "the network belongs to intake/collector and outlet"
FILE_RULE = "files belong to intake/collector, outlet, run, settings/load and __main__"


@pytest.mark.parametrize(("file", "line", "told"), [
    ("physics/x.py", "from monitor.watch import alarms", LOWER.format("physics", "watch")),
    ("physics/x.py", "import monitor.intake.wind", LOWER.format("physics", "intake")),
    ("physics/x.py", "from monitor import intake", LOWER.format("physics", "intake")),
    ("physics/passing/x.py", "from ...intake import wind", LOWER.format("physics", "intake")),
    ("intake/met/x.py", "from monitor.physics.air import rho", LOWER.format("intake", "physics")),
    ("settings/schema.py", "from monitor.records.events import In", LOWER.format("settings", "records")),
    ("records/x.py", "def _f():\n    import monitor.settings.schema", LOWER.format("records", "settings")),
    ("base/x.py", "from monitor.records import events", LOWER.format("base", "records")),
    ("outlet/x.py", "from monitor.watch.alarms import Alert", "outlet never imports watch"),
    ("outlet/x.py", "from monitor.physics import air", "outlet never imports physics"),
    ("outlet/x.py", "from monitor.run import journal", LOWER.format("outlet", "run")),
    ("run/x.py", "from monitor.__main__ import main", LOWER.format("run", "__main__")),
    ("__init__.py", "from monitor.base import units", LOWER.format("monitor", "base")),
    ("cellar/x.py", "x = 1", "the room cellar has no floor: give it one in the design and in this test"),
    ("watch/x.py", "import time", f"time: {CLOCK_RULE}"),
    ("watch/x.py", "from time import sleep as nap", f"time: {CLOCK_RULE}"),
    ("watch/x.py", "from datetime import datetime as d; d.now()", f"datetime.datetime.now: {CLOCK_RULE}"),
    ("watch/x.py", "import datetime as dt; f = dt.datetime.utcnow", f"datetime.datetime.utcnow: {CLOCK_RULE}"),
    ("run/x.py", "import pandas as pd; pd.Timestamp.now('UTC')", f"pandas.Timestamp.now: {CLOCK_RULE}"),
    ("watch/x.py", "import socket", f"socket: {NETWORK_RULE}"),
    ("run/x.py", "from http.server import HTTPServer", f"http.server: {NETWORK_RULE}"),
    ("intake/wind.py", "import serial.tools.list_ports", f"serial: {NETWORK_RULE}"),
    ("intake/met/x.py", "from requests import get", f"requests: {NETWORK_RULE}"),
    ("intake/wind.py", "open('x')", f"open(): {FILE_RULE}"),
    ("settings/schema.py", "import pathlib; pathlib.Path('x').read_text()", f"read_text(): {FILE_RULE}"),
    ("physics/x.py", "import numpy as np; np.loadtxt('x')", f"loadtxt(): {FILE_RULE}"),
    ("watch/x.py", "import sqlite3", f"sqlite3: {FILE_RULE}"),
    ("physics/x.py", "import logging", "logging: physics is pure"),
    ("watch/x.py", "def f(): ...", "f is public: it needs a docstring"),
    ("watch/x.py", "class C: ...", "C is public: it needs a docstring"),
])  # fmt: skip
def test_a_breach_is_told_with_its_place_and_rule(file: str, line: str, told: str) -> None:
    place = 1 if "has no floor" in told else 2 + line.count("\n")
    assert breaches(f"monitor/{file}", HEAD + line + "\n") == [f"monitor/{file}:{place}: {told}"]


@pytest.mark.parametrize(("file", "line"), [
    ("settings/load.py", "from monitor.records.events import SettingsSnapshot"),
    ("settings/load.py", "open('x')"),
    ("watch/x.py", "from monitor.physics.air import rho\nfrom monitor.intake import wind\nfrom . import alarms"),
    ("outlet/console/x.py", "from http.server import HTTPServer\nfrom monitor.records import events"),
    ("intake/collector.py", "import socket, serial, requests\nopen('x')"),
    ("run/x.py", "import sqlite3\nfrom pathlib import Path\nPath('x').write_text('')"),
    ("base/clock.py", "import time\nfrom datetime import datetime\ndatetime.now()\ntime.sleep(1)"),
    ("watch/x.py", "from datetime import date, datetime, time\nclock = object()\nclock.now()\ntime(6, 0)"),
    ("watch/x.py", "from http import HTTPStatus\nfrom urllib.parse import urlsplit"),
    ("watch/x.py", "def _f(): ...\nclass _C: ..."),
])  # fmt: skip
def test_what_is_allowed_is_not_called_a_breach(file: str, line: str) -> None:
    assert breaches(f"monitor/{file}", HEAD + line + "\n") == []


def test_a_long_module_and_one_without_a_docstring() -> None:
    assert breaches("monitor/watch/x.py", HEAD + "x = 1\n" * 399) == []
    assert breaches("monitor/watch/x.py", HEAD + "x = 1\n" * 400) == [
        "monitor/watch/x.py:401: 401 lines: at most 400 in a module"
    ]
    assert breaches("monitor/watch/__init__.py", "") == []
    assert breaches("monitor/watch/x.py", "x = 1\n") == [
        "monitor/watch/x.py:1: a module says in its docstring what it is for"
    ]
