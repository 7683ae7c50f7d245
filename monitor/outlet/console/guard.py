"""Who may speak to the console: this very page, on this machine; from elsewhere only with the token.

Refused are other Host names (a name in the web that somebody points at us), other origins (a page of another site
in the same browser), and, when the console listens beyond this machine, everybody without the token. The token is
given once in the address, kept in a cookie that scripts cannot read, and never written to a page or a log.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, MutableMapping
from hmac import compare_digest
from http.cookies import CookieError, SimpleCookie
from typing import Any, Final
from urllib.parse import parse_qs, quote, urlencode, urlsplit

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE: Final = "bightwatch"
HEADERS: Final = (
    (b"x-frame-options", b"DENY"),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)


class Guard:
    """Wraps the application. `hosts` are the names we answer to, without port; `token` "": this machine alone."""

    def __init__(self, app: App, hosts: frozenset[str], token: str = "") -> None:
        self._app, self._hosts, self._token = app, hosts, token

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request or connection."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        headers = {name.decode("latin-1").lower(): value.decode("latin-1") for name, value in scope["headers"]}
        why = refusal(headers, self._hosts)
        if not why and self._token and not self._knows(scope, headers):
            if scope["type"] == "http" and await self._let_in(scope, send):
                return
            why = "the token is missing or wrong"
        if why:
            await _refuse(scope, send, why)
            return

        async def sending(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.start":
                kept = [
                    (k, v) for k, v in message.get("headers", ()) if not k.lower().startswith(b"access-control-")
                ]
                message = {**message, "headers": [*kept, *HEADERS]}
            await send(message)

        await self._app(scope, receive, sending)

    def _knows(self, scope: Scope, headers: dict[str, str]) -> bool:
        try:
            kept = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
        except CookieError:
            return False
        return kept is not None and compare_digest(kept.value.encode(), self._token.encode())

    async def _let_in(self, scope: Scope, send: Send) -> bool:
        """The token in the address: set the cookie and go on without it in the address."""
        asked = parse_qs(scope.get("query_string", b"").decode("latin-1"))
        given = asked.pop("token", [""])[0]
        if not compare_digest(given.encode(), self._token.encode()):
            return False
        rest = urlencode(asked, doseq=True)
        where = "/" + quote(str(scope["path"]).lstrip("/\\")) + (f"?{rest}" if rest else "")
        cookie = f"{COOKIE}={self._token}; Path=/; HttpOnly; SameSite=Strict"
        await send({"type": "http.response.start", "status": 303, "headers": [
            (b"location", where.encode("ascii")), (b"set-cookie", cookie.encode()),
            *HEADERS]})  # fmt: skip
        await send({"type": "http.response.body", "body": b""})
        return True


def refusal(headers: dict[str, str], hosts: frozenset[str]) -> str:
    """Why a request with these headers (lower-case names) is refused; "" when it is not."""
    host = headers.get("host", "")
    try:
        name = urlsplit(f"//{host}").hostname or ""
        origin = headers.get("origin")
        from_us = origin is None or urlsplit(origin).netloc == host
    except ValueError:  # no name at all, such as "[::1"
        return "this console does not answer to that name"
    if name not in hosts:
        return "this console does not answer to that name"
    if not from_us:
        return "asked from another site"
    if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
        return "asked from another site"
    return ""


async def _refuse(scope: Scope, send: Send, why: str) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008, "reason": why})
        return
    await send({"type": "http.response.start", "status": 403, "headers": [
        (b"content-type", b"text/plain; charset=utf-8"), *HEADERS]})  # fmt: skip
    await send({"type": "http.response.body", "body": f"Refused: {why}.\n".encode()})
