"""Serves the console beside the watch, in a thread of its own: the watch never waits for it."""

from __future__ import annotations

import ipaddress
import logging
import socket
import threading
from dataclasses import dataclass
from typing import Any, Final

import uvicorn
from fastapi import FastAPI, HTTPException
from fastapi.responses import Response
from nicegui import core, ui
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from monitor.outlet.console.desk import Desk
from monitor.outlet.console.guard import Guard
from monitor.outlet.console.headline import headline
from monitor.outlet.console.page import Screen
from monitor.records.picture import Picture

PORT: Final = 8321
TITLE: Final = "bightwatch"
_ICON: Final = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 16 16"><path d="M1 4h14M3 4v8l5 3 5-3V4" '
    'fill="none" stroke="#0b4f5e" stroke-width="2"/></svg>'
)
_PICTURE: Final = TypeAdapter(Picture)


class _Model(BaseModel):
    model_config = ConfigDict(extra="forbid")


class Health(_Model):
    """Whether the watch is alive, for other programs: `beat` must grow."""

    beat: int
    mode: str | None
    now: str | None


class Told(_Model):
    """The sentence and the alerts, in words."""

    order: str
    reason: str
    priority: str
    unknown: bool
    alerts: list[str]


class Entry(_Model):
    """An entry as it is typed at the terminal."""

    model_config = ConfigDict(extra="forbid", strict=True)

    line: str = Field(min_length=1, max_length=500)
    who: str = Field(pattern="^[A-Za-z]{1,4}$")
    decks_clear: bool = False


class Taken(_Model):
    """The entry as it was handed in."""

    line: str


class Refused(_Model):
    """Why an entry was not taken."""

    detail: str


def application(desk: Desk) -> FastAPI:
    """The data endpoints, below /api; the page is put beside them by `serve`."""
    api = FastAPI(title=TITLE, docs_url=None, redoc_url=None, description="Advice only; it never certifies.")

    def now() -> Picture:
        picture = desk.picture()
        if picture is None:
            raise HTTPException(503, "nothing is watched yet")
        return picture

    none_yet: dict[int | str, dict[str, Any]] = {503: {"description": "Nothing is watched yet"}}

    @api.get("/health")
    def health() -> Health:
        """Whether the watch is alive."""
        picture, at = desk.picture(), desk.now()
        return Health(
            beat=desk.beat(), mode=picture.mode.value if picture else None, now=at.isoformat() if at else None
        )

    @api.get("/told", responses=none_yet)
    def told() -> Told:
        """The sentence on the screen and the standing alerts."""
        picture = now()
        head = headline(picture)
        alerts = [f"{a.priority.value}: {a.about}: {a.state.value}" for a in picture.alerts]
        return Told(
            order=head.order, reason=head.reason, priority=head.priority.value, unknown=head.unknown, alerts=alerts
        )

    @api.get("/picture", responses=none_yet)
    def picture() -> Response:
        """Everything the screen shows, as JSON."""
        return Response(_PICTURE.dump_json(now()), media_type="application/json")

    @api.post(
        "/entries",
        responses={
            400: {"description": "Not JSON"},
            409: {"description": "Cannot be taken as things stand; the text says why", "model": Refused},
            **none_yet,
        },
    )
    def entries(entry: Entry) -> Taken:
        """Hand in an entry, by the same door as the page and the terminal."""
        now()
        wrong = desk.enter(entry.line, entry.who, entry.decks_clear)
        if wrong:
            raise HTTPException(409, wrong)
        return Taken(line=entry.line)

    app = FastAPI(openapi_url=None)
    app.mount("/api", api)
    return app


@dataclass(slots=True)
class Console:
    """A running console: where it is, and how to end it."""

    address: str
    _server: uvicorn.Server
    _thread: threading.Thread

    def close(self) -> None:
        """End it; open pages turn stale."""
        self._server.should_exit = True
        self._thread.join(timeout=5.0)


def serve(desk: Desk, host: str = "127.0.0.1", port: int = PORT, token: str = "") -> Console:
    """Begin to serve. Beyond this machine a token is asked for.

    Raises ValueError without one, OSError when the port is taken.
    """
    if not ipaddress.ip_address(host).is_loopback and len(token) < 16:
        raise ValueError(f"{host} is beyond this machine: that needs a token of at least 16 characters")
    listening = socket.create_server((host, port))
    where = f"{host}:{listening.getsockname()[1]}"
    app = application(desk)
    ui.page("/")(lambda: _screen(desk))
    ui.run_with(
        app, root=lambda: _screen(desk), title=TITLE, favicon=_ICON, language="en-GB", tailwind=False,
        binding_refresh_interval=None, gzip_middleware_factory=None, show_welcome_message=False,
        reconnect_timeout=10.0,
    )  # fmt: skip
    core.sio.eio.cors_allowed_origins = []  # ours alone: the guard lets no other origin through anyhow
    names = {host, "localhost", "127.0.0.1", "[::1]"}
    if ipaddress.ip_address(host).is_unspecified:
        names |= {socket.gethostname().lower(), *socket.gethostbyname_ex(socket.gethostname())[2]}
    guarded = Guard(app, frozenset(names), token)
    settings = uvicorn.Config(
        guarded,
        log_level="warning",
        access_log=False,
        server_header=False,
        date_header=False,
        ws_max_size=1_000_000,
    )
    server = uvicorn.Server(settings)
    logging.getLogger("nicegui").setLevel(logging.WARNING)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, name="console", daemon=True)
    thread.start()
    return Console(f"http://{where}/", server, thread)


def _screen(desk: Desk) -> None:
    Screen(desk)
