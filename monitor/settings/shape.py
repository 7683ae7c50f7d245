"""Does a page have the shape the schema asks for? All that is wrong is told, each with what may be written."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Final, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from pydantic import BeforeValidator, ValidationError
from pydantic_core import ErrorDetails

from monitor.settings.faults import Fault, listed
from monitor.settings.page import Page
from monitor.settings.places import Path
from monitor.settings.quantity import Reader
from monitor.settings.schema import Strict

Model = TypeVar("Model", bound=Strict)

_ROUNDS: Final = 4  # a table put in for one that is missing lacks its own keys, and so on
_PROBLEMS: Final = {
    "missing": "missing",
    "literal_error": "none of the words allowed here",
    "too_long": "too many entries",
    "model_type": "not a table",
}


def shaped(page: Page, model: type[Model]) -> tuple[Model | None, list[Fault]]:
    """The page as `model`, or None and its faults in the order of the file."""
    try:
        return model.model_validate(page.tree), []
    except ValidationError as error:
        return None, [_fault(page, model, d) for d in error.errors(include_url=False) if not _only_follows(d)]


def could_be(page: Page, model: type[Model]) -> tuple[Model, ...]:
    """What a page that has not the shape may mean: three of `model` that agree with all that can be read of it,
    far from each other in the rest. What is wrong with each of them is wrong whatever was meant. () when a list is
    missing or too short: nothing stands in for that."""
    return tuple(meant for n in range(3) if (meant := _mended(page, model, n)) is not None)


def _mended(page: Page, model: type[Model], n: int) -> Model | None:
    tree = deepcopy(page.tree)
    for _ in range(_ROUNDS):
        try:
            return model.model_validate(tree)
        except ValidationError as error:
            for detail in error.errors(include_url=False):
                _mend(tree, model, detail, n)
    return None


def _mend(tree: Any, model: type[Strict], detail: ErrorDetails, n: int) -> None:
    """Drop what is unknown; put the `n`th stand-in for what is missing or cannot be read."""
    *above, last = detail["loc"]
    for step in above:
        tree = tree[step]
    if detail["type"] == "extra_forbidden":
        del tree[last]
        return
    if isinstance(tree, list) and last == len(tree):  # of a list of so many
        tree.append(None)
    core, reader = opened(_inside(model, detail["loc"]))
    if reader is not None:
        tree[last] = reader.stand_ins[n]
    elif choice := words(core):
        tree[last] = choice[(0, len(choice) // 2, -1)[n]]
    elif get_origin(core) is not tuple:
        tree[last] = {}


@cache
def keys(model: type[Strict]) -> Mapping[str, Any]:
    """The keys of a table and the type of each, with its reader."""
    hints: Mapping[str, Any] = get_type_hints(model, include_extras=True)
    return hints


def allowed(hint: Any) -> str:
    """What may be written for a field of type `hint`, in a user's words."""
    core, reader = opened(hint)
    if reader is not None:
        return reader.allowed
    if get_origin(core) is tuple:
        entries = get_args(core)
        return "a list" if entries[-1] is Ellipsis else f"a list of {len(entries)}"
    return listed(words(hint)) or "a table"


def words(hint: Any) -> tuple[str, ...]:
    """The words a field may hold when it holds one of a few, else ()."""
    core, _ = opened(hint)
    return get_args(core) if get_origin(core) is Literal else ()


def opened(hint: Any) -> tuple[Any, Reader | None]:
    """A field's type without "or None", and the reader it is marked with."""
    reader = None
    while True:
        if get_origin(hint) is Annotated:
            hint, *marks = get_args(hint)
            readers = (mark.func for mark in marks if isinstance(mark, BeforeValidator))
            reader = next((read for read in readers if isinstance(read, Reader)), reader)
        elif get_origin(hint) in (Union, UnionType):
            hint = next(part for part in get_args(hint) if part is not NoneType)
        else:
            return hint, reader


def _inside(model: Any, path: Path) -> Any:
    """The type at `path` below a table."""
    hint = model
    for step in path:
        core, _ = opened(hint)
        hint = keys(core)[step] if isinstance(step, str) else get_args(core)[0]
    return hint


def _only_follows(detail: ErrorDetails) -> bool:
    """A list is called too short when entries of it have faults of their own: those are told already."""
    return detail["type"] == "too_short" and len(detail["input"]) >= detail["ctx"]["min_length"]


def _fault(page: Page, model: type[Strict], detail: ErrorDetails) -> Fault:
    path, kind = detail["loc"], detail["type"]
    if kind == "extra_forbidden":
        table, _ = opened(_inside(model, path[:-1]))
        return page.fault(path, "unknown key", among=tuple(keys(table)), word=path[-1])
    hint = _inside(model, path)
    if kind == "refused":
        problem = detail["msg"]
    elif kind == "too_short":
        problem = f"too few entries: at least {detail['ctx']['min_length']}"
    else:
        problem = _PROBLEMS.get(kind, f"not {allowed(hint)}")
    return page.fault(path, problem, allowed(hint), words(hint))
