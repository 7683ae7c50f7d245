"""Met services on the web: what they answered, and the text it becomes in the journal.

The collector writes a reply as one line of JSON, `{"status", "headers", "body"}`; the parsers read that line, so a
replay parses the very bytes the service sent.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

KEPT_HEADERS: Final = ("content-type", "date", "expires", "last-modified", "retry-after")


@dataclass(frozen=True, slots=True)
class Reply:
    """An HTTP reply: its status, the headers we need (names in lower case), its body as text."""

    status: int
    headers: Mapping[str, str]
    body: str


def encode(reply: Reply) -> str:
    """One line of ASCII."""
    headers = {name.lower(): value for name, value in reply.headers.items() if name.lower() in KEPT_HEADERS}
    return json.dumps({"status": reply.status, "headers": headers, "body": reply.body}, separators=(",", ":"))


def decode(text: str) -> Reply:
    """Inverse of `encode`. Raises ValueError when the text is not such a line."""
    try:
        match json.loads(text):
            case {"status": int(status), "headers": dict(headers), "body": str(body)}:
                return Reply(status, {str(name): str(value) for name, value in headers.items()}, body)
    except RecursionError:
        pass
    raise ValueError("not the reply of a met service")
