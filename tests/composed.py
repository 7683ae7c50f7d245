"""Sentences of our own making: invented ships (MMSI 200911xxx), encoded by pyais, sealed with their checksum."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import reduce
from operator import xor
from typing import Any

from pyais import encode_dict

NOW = datetime(2026, 3, 14, 9, 26, 53, 589793, tzinfo=UTC)
OWN = 200911999
POSITION: dict[str, Any] = {
    "msg_type": 1,
    "mmsi": 200911001,
    "lat": 51.9,
    "lon": 4.05,
    "speed": 12.3,
    "course": 271.4,
    "heading": 272,
    "second": 52,
    "status": 0,
    "turn": -12,
}
STATIC: dict[str, Any] = {
    "msg_type": 5,
    "mmsi": 200911001,
    "shipname": "VARNHOLT",
    "callsign": "QZ9X",
    "ship_type": 79,
    "to_bow": 170,
    "to_stern": 40,
    "to_port": 20,
    "to_starboard": 12,
    "draught": 11.4,
    "destination": "TAVRIN",
}


def sealed(body: str) -> str:
    """A sentence, from its "!" or "$", with its checksum."""
    return f"{body}*{reduce(xor, body[1:].encode('latin-1'), 0):02X}"


def vdm(fields: dict[str, Any], seq_id: int | None = None, talker: str = "AI", **changed: Any) -> list[str]:
    """The sentences of one AIS message."""
    return encode_dict({**fields, **changed}, talker_id=talker, sentence_type="VDM", seq_id=seq_id)


def with_payload(payload: str, fill: int = 0) -> str:
    """A single sentence round a payload."""
    return sealed(f"!AIVDM,1,1,,B,{payload},{fill}")


def payload(sentence: str) -> str:
    """The payload field."""
    return sentence.split(",")[5]
