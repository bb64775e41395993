"""Who may speak to the page: the right host and origin, a token, small bodies, strict headers."""

from __future__ import annotations

import asyncio
import secrets
from dataclasses import dataclass, field

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BYTES = 64 * 1024  # of a body
BODY_S = 10.0  # for the whole of it to arrive
NO_SOCKETS = 1008  # "policy violation", RFC 6455, section 7.4.1
TAB = "x-tab"
MOST_TAB = 64  # letters of a tab's name
HEADERS = {
    "content-security-policy": "default-src 'self'; object-src 'none'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'",
    "x-frame-options": "DENY",
    "x-content-type-options": "nosniff",
    "cache-control": "no-store",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
}
CLOSED = "open the address that the terminal shows, with its token"


@dataclass(frozen=True, slots=True)
class Door:
    """Where the page is served and what opens it."""

    address: str  # that is bound, such as 127.0.0.1
    port: int
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))  # of the first request
    session: str = field(default_factory=lambda: secrets.token_urlsafe(24))  # of the cookie

    @property
    def cookie(self) -> str:
        """Its name; one for each port, so that two pages on one machine do not mix."""
        return f"tenthstop_{self.port}"

    @property
    def hosts(self) -> tuple[str, ...]:
        """Accepted Host headers."""
        name = f"[{self.address}]" if ":" in self.address else self.address
        own = (f"{name}:{self.port}",)
        return (*own, f"localhost:{self.port}") if self.address == "127.0.0.1" else own

    @property
    def url(self) -> str:
        """The address with its token."""
        return f"http://{self.hosts[0]}/?token={self.token}"


def guarded(app: ASGIApp, door: Door) -> ASGIApp:
    """The app behind its door: what is not allowed never reaches it."""

    async def entered(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":  # there are no web sockets here, whoever asks
            if scope["type"] == "websocket":
                await send({"type": "websocket.close", "code": NO_SOCKETS})
            return

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(HEADERS)
            await send(message)

        refused = refusal(scope, door)
        if refused is not None:
            await refused(scope, receive, sent)
            return
        body = None
        if scope["method"] == "POST":
            try:
                body = await asyncio.wait_for(_body(Headers(scope=scope), receive), BODY_S)
            except TimeoutError:
                words = f"the request came too slowly (accepted: within {BODY_S:g} s)"
                await JSONResponse({"error": words}, 408)(scope, receive, sent)
                return
            if body is None:
                words = f"the request is too large (accepted: {MOST_BYTES // 1024} kB)"
                await JSONResponse({"error": words}, 413)(scope, receive, sent)
                return
        await app(scope, receive if body is None else _again(body, receive), sent)

    return entered


def refusal(scope: Scope, door: Door) -> Response | None:
    """The answer to a request that is not allowed, or None."""
    headers = Headers(scope=scope)
    if headers.getlist("host") not in [[host] for host in door.hosts]:
        return JSONResponse({"error": "this page has another address"}, 403)
    origin = headers.get("origin")
    if origin is not None and origin not in [f"http://{host}" for host in door.hosts]:
        return JSONResponse({"error": "this request comes from another page"}, 403)
    if _sent_from_elsewhere(scope, headers):
        return JSONResponse({"error": "this request comes from another page"}, 403)
    if scope["method"] not in ("GET", "HEAD", "POST"):
        return JSONResponse({"error": "unknown method"}, 405)
    if scope["path"] == "/" and scope["query_string"].startswith(b"token="):
        return None  # it is looked at where the cookie is made
    if not known(headers, door):
        return JSONResponse({"error": CLOSED}, 401)
    if scope["method"] == "POST":
        return _odd_post(headers)
    return None


def _sent_from_elsewhere(scope: Scope, headers: Headers) -> bool:
    """Whether the browser says that another page asks, such as one at another port of this machine.

    Cookies are not told apart by port, and pictures and scripts are asked for without an Origin.
    A link that somebody follows to the page itself is no such request.
    """
    if headers.get("sec-fetch-site", "none") in ("none", "same-origin"):
        return False
    followed = headers.get("sec-fetch-mode") == "navigate" and scope["method"] == "GET"
    return not (followed and scope["path"] == "/")


def known(headers: Headers, door: Door) -> bool:
    """Whether the request carries the cookie of this start."""
    # By hand: cookies of other programs on this machine may not be well formed.
    pairs = [each.strip().partition("=") for each in headers.get("cookie", "").split(";")]
    return any(name == door.cookie and same(value, door.session) for name, _, value in pairs)


def same(one: str, other: str) -> bool:
    """Whether two secrets are the same, in a time that tells nothing."""
    return secrets.compare_digest(one.encode(), other.encode())


def _odd_post(headers: Headers) -> Response | None:
    kind = headers.get("content-type", "").split(";")[0].strip().lower()
    if kind != "application/json":
        return JSONResponse({"error": "the body must be application/json"}, 415)
    if not 0 < len(headers.get(TAB, "")) <= MOST_TAB:
        return JSONResponse({"error": "the header X-Tab must name the tab"}, 400)
    return None


async def _body(headers: Headers, receive: Receive) -> bytes | None:
    """The whole body, None where it is too large."""
    stated = headers.get("content-length", "0")
    if not stated.isdecimal() or int(stated) > MOST_BYTES:
        return None
    body: bytes = b""
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return body
        body += bytes(message.get("body", b""))
        if len(body) > MOST_BYTES:
            return None
        if not message.get("more_body", False):
            return body


def _again(body: bytes, receive: Receive) -> Receive:
    """A receive that gives the body that was read already."""
    given = False

    async def received() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return received
