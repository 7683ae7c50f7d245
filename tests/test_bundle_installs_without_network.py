"""The folder for a PC without a network. The whole way, download and installation with the network cut (a
network namespace of its own, `unshare -n`, and `pip --no-index`), needs a network first and a minute or two:
BIGHTWATCH_BUNDLE=1.

Windows was not at hand: of its part only the files and their tags are looked at (PEP 425: cp3xx, abi3 or none;
win_amd64 or any).
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from monitor.__main__ import main
from monitor.run.bundle import BundleError, build, checksums, damaged, pinned
from tests.conftest import ROOT


def fetched(commands: list[list[str]]) -> object:
    """In place of pip: wheels of our own making."""

    def run(command: Sequence[str]) -> None:
        commands.append(list(command))
        dest = Path(command[command.index("--dest" if "--dest" in command else "--wheel-dir") + 1])
        (dest / f"package-{len(commands)}-py3-none-any.whl").write_bytes(b"wheel %d" % len(commands))

    return run


def test_every_direct_need_is_pinned() -> None:
    """What pyproject.toml asks for is there, each in the version that runs here, and nothing of the tests."""
    names = {name.lower().replace("_", "-") for name in pinned(ROOT)}
    assert {"numpy", "pandas", "requests", "pyais", "pint", "pydantic", "pyserial", "rich", "attrs"} <= names
    assert not {"pytest", "mypy", "hypothesis", "pip", "bightwatch"} & names


def test_a_part_that_is_not_installed_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    from importlib import metadata

    def absent(name: str) -> None:
        raise metadata.PackageNotFoundError(name)

    monkeypatch.setattr(metadata, "distribution", absent)
    with pytest.raises(BundleError, match="install the program"):
        pinned(ROOT)


def test_the_folder_and_its_checksums(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    commands: list[list[str]] = []
    to = tmp_path / "aboard"
    build(ROOT, to, [], fetched(commands))  # type: ignore[arg-type]
    fetches = [command for command in commands if "download" in command]
    assert [("win_amd64" in c, "--only-binary=:all:" in c) for c in fetches] == [(False, True), (True, True)]
    assert all(f"numpy=={pinned(ROOT)['numpy']}" in command for command in fetches)
    assert any(part.startswith("tzdata") for part in fetches[1])
    names = {name for name, _, _ in checksums(to)}
    assert {"READ-ME-FIRST.txt", "install-linux.sh", "install-windows.bat", "pinned.txt"} <= names
    assert any(name.startswith("config/stays/") for name in names)
    assert b"\r\n" in (to / "install-windows.bat").read_bytes()
    assert "NOT TRIED" in (to / "READ-ME-FIRST.txt").read_text()
    assert main(["bundle", str(to), "--check"]) == 0
    wheel = next((to / "wheels" / "linux").iterdir())
    wheel.write_bytes(b"another")
    (to / "pinned.txt").unlink()
    (to / "more").write_text("x")
    relative = wheel.relative_to(to).as_posix()
    assert damaged(to) == ["pinned.txt: missing", f"{relative}: not as it was", "more: was not there"]
    assert main(["bundle", str(to), "--check"]) == 1
    assert "not as it was" in capsys.readouterr().out


def test_a_folder_is_never_written_over(tmp_path: Path) -> None:
    (tmp_path / "x").write_text("mine")
    with pytest.raises(BundleError, match="not empty"):
        build(ROOT, tmp_path, [], fetched([]))  # type: ignore[arg-type]


@pytest.mark.slow
@pytest.mark.skipif(os.environ.get("BIGHTWATCH_BUNDLE") != "1", reason="BIGHTWATCH_BUNDLE=1 fetches some 200 MB")
def test_it_installs_with_the_network_cut(tmp_path: Path) -> None:
    to, home = tmp_path / "carried", tmp_path / "home"
    build(ROOT, to, [])
    for wheel in (to / "wheels" / "windows").glob("*.whl"):
        *_, python, abi, platform = wheel.stem.split("-")
        assert platform in ("any", "win_amd64"), wheel.name
        ours = f"cp3{sys.version_info.minor}" in python or abi == "abi3" or "py3" in python
        assert ours, wheel.name
    home.mkdir()
    cut = ["unshare", "-n"] if shutil.which("unshare") and os.geteuid() == 0 else []
    environment = {"HOME": str(home), "PATH": os.environ["PATH"], "PIP_NO_INDEX": "1"}
    python = Path(sys.executable).parent
    environment["PATH"] = f"{python}:{environment['PATH']}"
    subprocess.run([*cut, "sh", str(to / "install-linux.sh")], check=True, env=environment, timeout=300)
    program = home / "bightwatch" / "python" / "bin" / "bightwatch"
    config = home / "bightwatch" / "config"
    done = subprocess.run(
        [*cut, str(program), "check", "--config", str(config)], env=environment, capture_output=True, text=True
    )
    assert done.returncode == 0 and "no faults" in done.stdout, done.stderr
