"""The settings files, from the disk or from a journal's copy of them, into one checked whole.

Nothing is taken in part: either all four files are good and fit together, or SettingsFault tells all that is
wrong.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from functools import cache, partial
from pathlib import Path
from typing import Any, Final, Generic, TypeVar

from monitor.records.events import SettingsSnapshot
from monitor.settings import decks_sense, fit, names, sense
from monitor.settings.faults import Fault, SettingsFault, listed, nearest
from monitor.settings.page import Page, read_page
from monitor.settings.schema import Alerts, Berth, Settings, Ship, Stay, Strict
from monitor.settings.shape import could_be, shaped

_FOLDERS: Final = {"stay": "stays", "ship": "ships", "berth": "berths", "alerts": "alerts"}
_LARGEST_BYTES: Final = 1_000_000

Model = TypeVar("Model", bound=Strict)


@dataclass(frozen=True, slots=True)
class _Shelf:
    """Where settings files are: names per folder (without .toml), what to call a path, and how to read it."""

    names: Mapping[str, tuple[str, ...]]
    shown: Callable[[str], str]
    read: Callable[[str], bytes]


@dataclass(slots=True)
class _Sheet(Generic[Model]):
    """One file: its page when it is TOML, its model when it has the shape, what it may mean (the model alone when
    it has), and its faults, those of the shape apart."""

    page: Page | None = None
    model: Model | None = None
    may_be: tuple[Model, ...] = ()
    misshapen: list[Fault] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


def load_stay(config: Path, stay: str) -> Settings:
    """The settings of config/stays/<stay>.toml and of the files it names. Raises SettingsFault."""
    return _settings(_disk(config), stay)[0]


def load_stay_text(config: Path, stay: str, text: str) -> Settings:
    """As `load_stay`, of a stay file that is not written yet. Raises SettingsFault."""
    disk, own = _disk(config), f"stays/{stay}.toml"
    stays = tuple(sorted({*disk.names["stays"], stay}))
    shelf = _Shelf(
        {**disk.names, "stays": stays}, disk.shown, lambda path: _encoded(text) if path == own else disk.read(path)
    )
    return _settings(shelf, stay)[0]


def snapshot(config: Path, stay: str) -> SettingsSnapshot:
    """The texts of the four files of a stay, for the journal. Raises SettingsFault, as `load_stay`.

    A watch begins with `from_snapshot(snapshot(config, stay))`: it then uses the very texts that it journals.
    The SHA-256 is of all paths and texts in their order, in UTF-8 with a zero byte between.
    """
    shelf = _disk(config)
    _, paths = _settings(shelf, stay)
    files = tuple((path, shelf.read(path).decode()) for path in paths)
    return SettingsSnapshot(files, stay, _sha256(files))


def from_snapshot(taken: SettingsSnapshot) -> Settings:
    """The settings of a journal's copy, checked like files. Raises SettingsFault, whose faults name the copy."""
    if _sha256(taken.files) != taken.sha256:
        raise SettingsFault([Fault("the journal's copy of the settings", "", "", "damaged: its SHA-256 differs")])
    texts = dict(taken.files)
    shelf = _Shelf(
        names={
            folder: tuple(path[len(folder) + 1 : -5] for path in texts if fnmatchcase(path, f"{folder}/*.toml"))
            for folder in _FOLDERS.values()
        },
        shown=lambda path: f"{path} (the journal's copy)",
        read=lambda path: _encoded(texts[path]),
    )
    return _settings(shelf, taken.stay)[0]


def check_all(config: Path) -> list[Fault]:
    """Faults of every settings file in `config`, also of files that no stay uses; [] when all is well."""
    shelf = _disk(config)
    faults = [_no_file(shelf, folder) for folder in _FOLDERS.values() if not shelf.names[folder]]
    for name in shelf.names["stays"]:
        faults += _gathered(shelf, name)[1]
    for read, folder in ((_ship, "ships"), (_berth, "berths"), (_alerts, "alerts")):
        for name in shelf.names[folder]:
            faults += read(shelf, name).faults
    return list(dict.fromkeys(faults))


def _settings(shelf: _Shelf, stay: str) -> tuple[Settings, tuple[str, ...]]:
    """The checked whole, and the paths of its four files."""
    settings, faults = _gathered(shelf, stay)
    if settings is None or faults:
        raise SettingsFault(faults)
    named = settings.stay
    return settings, (
        f"stays/{stay}.toml",
        f"ships/{named.ship}.toml",
        f"berths/{named.berth}.toml",
        f"alerts/{named.alerts}.toml",
    )


def _gathered(shelf: _Shelf, name: str) -> tuple[Settings | None, list[Fault]]:
    """A stay and what it names, as far as it can be read, with every fault: file by file, each from its top."""
    if name not in shelf.names["stays"]:
        return None, [_no_file(shelf, "stays", name)]
    stay = _sheet(shelf, f"stays/{name}.toml", Stay, lambda _: (), sense.stay_sense)
    if stay.page is None:
        return None, stay.faults
    ship = _named(shelf, stay.page, "ship", _ship)
    berth = _named(shelf, stay.page, "berth", _berth)
    alerts = _named(shelf, stay.page, "alerts", _alerts)
    faults = [*stay.faults, *ship.faults, *berth.faults, *alerts.faults]
    faults += names.stay_names(stay.page, ship.page, berth.page)
    faults += _whatever(partial(fit.afloat, stay.page), stay, ship)
    faults += _whatever(partial(fit.pulled, stay.page), stay, ship)
    faults += _whatever(partial(fit.enough_water, stay.page), stay, berth)
    if berth.page:
        faults += _whatever(partial(fit.alongside, stay.page, berth.page), stay, ship, berth)
    files = [sheet.page.file for sheet in (stay, ship, berth, alerts) if sheet.page]
    faults.sort(
        key=lambda fault: (files.index(fault.file) if fault.file in files else len(files), fault.line or 0)
    )
    if not (stay.model and ship.model and berth.model and alerts.model):
        return None, faults
    return Settings(ship=ship.model, berth=berth.model, stay=stay.model, alerts=alerts.model), faults


def _ship(shelf: _Shelf, name: str) -> _Sheet[Ship]:
    return _sheet(
        shelf,
        f"ships/{name}.toml",
        Ship,
        lambda page: (*names.ship_names(page), *decks_sense.deck_names(page)),
        lambda page, ship: (*sense.ship_sense(page, ship), *decks_sense.deck_sense(page, ship)),
    )


def _berth(shelf: _Shelf, name: str) -> _Sheet[Berth]:
    return _sheet(
        shelf,
        f"berths/{name}.toml",
        Berth,
        lambda page: (*names.berth_names(page), *decks_sense.ashore_names(page)),
        lambda page, berth: (*sense.berth_sense(page, berth), *decks_sense.ashore_sense(page, berth)),
    )


def _alerts(shelf: _Shelf, name: str) -> _Sheet[Alerts]:
    return _sheet(shelf, f"alerts/{name}.toml", Alerts, lambda _: (), sense.alerts_sense)


def _named(shelf: _Shelf, stay: Page, key: str, read: Callable[[_Shelf, str], _Sheet[Model]]) -> _Sheet[Model]:
    """The sheet of the file that the stay names under `key`."""
    name, folder = stay.tree.get(key), _FOLDERS[key]
    if not isinstance(name, str):
        return _Sheet()  # a fault of the stay's shape, told there
    if name not in shelf.names[folder]:
        problem = f"no such file in {shelf.shown(folder)}"
        return _Sheet(faults=[stay.fault((key,), problem, among=shelf.names[folder])])
    return read(shelf, name)


def _sheet(
    shelf: _Shelf,
    path: str,
    model: type[Model],
    names_of: Callable[[Page], Iterable[Fault]],
    sense_of: Callable[[Page, Model], Iterable[Fault]],
) -> _Sheet[Model]:
    try:
        page = read_page(shelf.shown(path), shelf.read(path))
    except OSError as error:
        page = Fault(shelf.shown(path), "", "", f"cannot be read: {error.strerror or error}")
    if isinstance(page, Fault):
        return _Sheet(faults=[page])
    shape, misshapen = shaped(page, model)
    sheet = _Sheet(page, shape, could_be(page, model) if shape is None else (shape,), misshapen)
    sheet.faults = [*misshapen, *names_of(page), *_whatever(partial(sense_of, page), sheet)]
    return sheet


def _whatever(look: Callable[..., Iterable[Fault]], *sheets: _Sheet[Any]) -> list[Fault]:
    """The faults that `look` finds whatever the sheets may mean, but for keys that cannot be read themselves: so a
    fault of the shape hides no other, and brings none along that goes with it."""
    if not all(sheet.may_be for sheet in sheets):
        return []
    ways = range(max(len(sheet.may_be) for sheet in sheets))
    first, *others = (list(look(*(each.may_be[n % len(each.may_be)] for each in sheets))) for n in ways)
    unread = [fault for sheet in sheets for fault in sheet.misshapen]
    return [
        fault
        for fault in first
        if all(fault in other for other in others) and not any(fault.about(each) for each in unread)
    ]


def _no_file(shelf: _Shelf, folder: str, name: str | None = None) -> Fault:
    found = shelf.names[folder]
    if name is None or not found:
        return Fault(shelf.shown(folder), "", "", "no such folder, or no .toml file in it")
    return Fault(shelf.shown(f"{folder}/{name}.toml"), "", "", "no such file", listed(found), nearest(name, found))


def _disk(config: Path) -> _Shelf:
    found = {f: tuple(sorted(path.stem for path in (config / f).glob("*.toml"))) for f in _FOLDERS.values()}

    @cache  # so that a snapshot holds what was checked, whatever is saved meanwhile
    def read(path: str) -> bytes:
        with (config / path).open("rb") as file:
            content = file.read(_LARGEST_BYTES + 1)
        if len(content) > _LARGEST_BYTES:
            raise OSError(f"larger than {_LARGEST_BYTES} bytes")
        return content

    return _Shelf(found, lambda path: (config / path).as_posix(), read)


def _sha256(files: Iterable[tuple[str, str]]) -> str:
    return hashlib.sha256(b"\0".join(_encoded(part) for file in files for part in file)).hexdigest()


def _encoded(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")  # what is not UTF-8 is told when the page is read
