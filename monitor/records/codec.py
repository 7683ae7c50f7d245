"""The one JSON codec: every record to and from text, by its class name and schema number."""

from __future__ import annotations

from functools import cache
from typing import Any, Final, get_args

from pydantic import TypeAdapter

from monitor.records.estimates import LoadEstimate, Outlook
from monitor.records.events import In, Notice, Transition

SCHEMA: Final = 1
Record = In | LoadEstimate | Outlook | Notice | Transition
KINDS: Final[dict[str, type]] = {kind.__name__: kind for kind in get_args(Record)}


@cache
def _adapter(kind: type) -> TypeAdapter[Any]:
    return TypeAdapter(kind)


def encode(record: Record) -> tuple[str, str]:
    """(kind, body): the class name and the JSON text of a record."""
    kind = type(record)
    return kind.__name__, _adapter(kind).dump_json(record).decode()


def decode(kind: str, body: str | bytes, schema: int = SCHEMA) -> Record:
    """The record of a (kind, body) pair. Raises ValueError for an unknown kind, a newer schema or a bad body."""
    if schema > SCHEMA:
        raise ValueError(f"record '{kind}' has schema {schema}; this program knows up to {SCHEMA}: update it")
    if kind not in KINDS:
        raise ValueError(f"unknown kind of record '{kind}'; known: {', '.join(sorted(KINDS))}")
    record: Record = _adapter(KINDS[kind]).validate_json(body)
    return record
