"""The folder that a bridge PC without a network is installed from: the program, pinned wheels, checksums,
instructions.

Wheels are fetched for Linux and for Windows on 64-bit Intel, each in the very version that runs here, so that
what is installed aboard is what was tried ashore. `pip` is among them: it runs out of its own wheel, without
being installed, which is how the embeddable Python of Windows, which has none, is served.
"""

from __future__ import annotations

import hashlib
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterable, Sequence
from importlib import import_module, metadata
from pathlib import Path
from typing import Any, Final

SUMS: Final = "CHECKSUMS.sha256"
WINDOWS_ONLY: Final = ("tzdata", "colorama")  # asked for by packages on Windows only
PLATFORMS: Final = {
    "linux": ("manylinux_2_28_x86_64", "manylinux_2_17_x86_64", "manylinux2014_x86_64"),
    "windows": ("win_amd64",),
}
Run = Callable[[Sequence[str]], None]


class BundleError(Exception):
    """The folder cannot be made; the text says why."""


def pinned(source: Path, extras: Iterable[str] = ()) -> dict[str, str]:
    """Name → version of all that the program needs here, itself and `pip` not among them; by the installed
    packages.

    `extras` are the program's optional parts. Raises BundleError when something needed is not installed.
    """
    project = tomllib.loads((source / "pyproject.toml").read_text("utf-8"))["project"]
    optional = project.get("optional-dependencies", {})
    if unknown := set(extras) - set(optional):
        raise BundleError(f"no such part: {', '.join(sorted(unknown))}; there are: {', '.join(sorted(optional))}")
    texts = [*project["dependencies"], *(text for extra in extras for text in optional[extra])]
    found: dict[str, str] = {}
    asked = [need for text in texts if (need := _needed(text, frozenset())) is not None]
    seen = set()
    while asked:
        name, of = asked.pop()
        key = _plain(name)
        if (key, of) in seen:
            continue
        seen.add((key, of))
        try:
            distribution = metadata.distribution(name)
        except metadata.PackageNotFoundError:
            raise BundleError(
                f"{name} is not installed here: install the program with these parts first"
            ) from None
        found[distribution.metadata["Name"]] = distribution.version
        asked += [need for text in distribution.requires or () if (need := _needed(text, of)) is not None]
    return dict(sorted(found.items(), key=lambda each: each[0].lower()))


def _needed(text: str, extras: frozenset[str]) -> tuple[str, frozenset[str]] | None:
    """(name, its extras) of a requirement, when its marker holds here."""
    requirement: Any = import_module("pip._vendor.packaging.requirements").Requirement(text)
    marker = requirement.marker
    if marker is not None and not any(marker.evaluate({"extra": extra}) for extra in (extras or {""})):
        return None
    return requirement.name, frozenset(requirement.extras)


def build(source: Path, to: Path, extras: Sequence[str], run: Run | None = None) -> list[str]:
    """Fill the new folder `to` from the checkout `source`; what is in it, in words. Needs a network.

    Raises BundleError, also when `to` holds something.
    """
    if to.exists() and any(to.iterdir()):
        raise BundleError(f"{to} is not empty: a folder is never written over")
    run = run or _run
    needed = pinned(source, extras)
    version = f"{sys.version_info.major}.{sys.version_info.minor}"
    pip = [sys.executable, "-m", "pip"]
    for platform, tags in PLATFORMS.items():
        wheels = to / "wheels" / platform
        wheels.mkdir(parents=True)
        wanted = dict(needed)
        if platform == "windows":
            wanted |= {name: _version(name) for name in WINDOWS_ONLY}
        names = [f"{name}=={number}" if number else name for name, number in wanted.items()]
        fetch = [*pip, "download", "--quiet", "--no-deps", "--only-binary=:all:", "--dest", str(wheels)]
        fetch += ["--python-version", version, "--implementation", "cp"]
        for tag in tags:
            fetch += ["--platform", tag]
        run([*fetch, *names, "pip"])
        run([*pip, "wheel", "--quiet", "--no-deps", "--wheel-dir", str(wheels), str(source)])
    parts = f"[{','.join(extras)}]" if extras else ""
    (to / "pinned.txt").write_text("".join(f"{name}=={number}\n" for name, number in needed.items()), "utf-8")
    (to / "READ-ME-FIRST.txt").write_text(_instructions(version, parts), "utf-8")
    (to / "install-linux.sh").write_text(_LINUX.format(parts=parts), "utf-8")
    (to / "install-windows.bat").write_bytes(_WINDOWS.format(parts=parts).replace("\n", "\r\n").encode())
    shutil.copytree(source / "config", to / "config")
    sums = checksums(to)
    (to / SUMS).write_text("".join(f"{digest}  {name}\n" for name, digest, _ in sums), "utf-8")
    size = sum(count for _, _, count in sums)
    return [f"{len(sums)} files, {size / 1e6:.0f} MB, checksums in {SUMS}", f"for Python {version}, 64 bit"]


def checksums(folder: Path) -> list[tuple[str, str, int]]:
    """(path, SHA-256, bytes) of each file below a folder but the list itself, in order."""
    files = sorted(path for path in folder.rglob("*") if path.is_file() and path.name != SUMS)
    return [
        (path.relative_to(folder).as_posix(), hashlib.sha256(path.read_bytes()).hexdigest(), path.stat().st_size)
        for path in files
    ]


def damaged(folder: Path) -> list[str]:
    """Files of a carried folder that are not as they were, in words; none when all are. Raises OSError without
    list.
    """
    lines = (line.partition("  ") for line in (folder / SUMS).read_text("utf-8").splitlines())
    told = {name: digest for digest, _, name in lines}
    here = {name: digest for name, digest, _ in checksums(folder)}
    return [
        *(f"{name}: missing" for name in told if name not in here),
        *(f"{name}: not as it was" for name in told if name in here and here[name] != told[name]),
        *(f"{name}: was not there" for name in here if name not in told),
    ]


def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return ""  # the newest there is


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def _run(command: Sequence[str]) -> None:
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode:
        said = [line for line in done.stderr.splitlines() if line.strip()] or ["no reason given"]
        raise BundleError(f"{' '.join(command[2:4])}: {said[-1]}")


_LINUX: Final = """\
#!/bin/sh
# Installs below the present user's home or into the folder given. No network, no administrator.
set -e
here=$(cd "$(dirname "$0")" && pwd)
to=${{1:-"$HOME/bightwatch"}}
(cd "$here" && sha256sum --quiet -c CHECKSUMS.sha256)
python3 -m venv --without-pip "$to/python"
pip=$(echo "$here"/wheels/linux/pip-*.whl)
"$to/python/bin/python" "$pip/pip" install --quiet --no-index \\
    --find-links "$here/wheels/linux" "bightwatch{parts}"
[ -e "$to/config" ] || cp -r "$here/config" "$to/config"
echo "Installed: $to/python/bin/bightwatch --help"
"""
_WINDOWS: Final = """\
@echo off
rem Run in the folder where the embeddable Python was unpacked as "python". No network, no administrator.
setlocal
set here=%~dp0
for %%W in ("%here%wheels\\windows\\pip-*.whl") do set pip=%%W
python\\python.exe "%pip%\\pip" install --quiet --no-index --find-links "%here%wheels\\windows" ^
    --target site "bightwatch{parts}" || exit /b 1
if not exist config xcopy /e /i /q "%here%config" config
echo @python\\python.exe -m monitor %%* > bightwatch.bat
echo Installed: bightwatch.bat --help
"""


def _instructions(version: str, parts: str) -> str:
    dotless = version.replace(".", "")
    return f"""\
bightwatch{parts} for a PC without a network

Check that nothing was damaged on the way: the file {SUMS} holds the SHA-256 of every other file
(Linux: sha256sum -c {SUMS}; Windows: certutil -hashfile FILE SHA256, for those in doubt).

Linux, 64 bit, with Python {version}:
    sh install-linux.sh                 installs into ~/bightwatch; another folder may be given

Windows, 64 bit (NOT TRIED by us: written from the documentation of Python's embeddable package):
  1. Bring the "Windows embeddable package (64-bit)" of Python {version} along; it is not in here. Compare its
     checksum with the one on its page.
  2. Make a folder, for instance C:\\Users\\you\\bightwatch; unpack the package into a folder "python" in it.
  3. In python\\python{dotless}._pth add a line:  ..\\site
  4. In that folder run install-windows.bat out of this one.
  5. bightwatch.bat --help

Nothing is written outside these folders. To remove the program delete them. To go back to an earlier version keep
the old folder: settings and journals are in config and data, which a new installation leaves as they are.
"""
