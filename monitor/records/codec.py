"""The one JSON codec: every record to and from text, by its class name and schema number."""

from __future__ import annotations

from typing import Any, Final, get_args

from pydantic import TypeAdapter

from monitor.records.estimates import LoadEstimate, Outlook
from monitor.records.events import In, Notice, Transition

SCHEMA: Final = 1
Record = In | LoadEstimate | Outlook | Notice | Transition
_ADAPTERS: Final[dict[str, TypeAdapter[Any]]] = {kind.__name__: TypeAdapter(kind) for kind in get_args(Record)}
_READ: Final = {kind: adapter.validator.validate_json for kind, adapter in _ADAPTERS.items()}  # on the hot path


def encode(record: Record) -> tuple[str, str]:
    """(kind, body): the class name and the JSON text of a record."""
    kind = type(record).__name__
    return kind, _ADAPTERS[kind].dump_json(record).decode()


def decode(kind: str, body: str | bytes, schema: int = SCHEMA) -> Record:
    """The record of a (kind, body) pair. Raises ValueError for an unknown kind, a newer schema or a bad body."""
    if schema > SCHEMA:
        raise ValueError(f"record '{kind}' has schema {schema}; this program knows up to {SCHEMA}: update it")
    read = _READ.get(kind)
    if read is None:
        raise ValueError(f"unknown kind of record '{kind}'; known: {', '.join(sorted(_READ))}")
    record: Record = read(body)
    return record
