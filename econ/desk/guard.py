"""Who is let in: the desk answers the windows of the person who started it, and nobody else.

What other programs and pages of this machine could try, and what stops them:

    a page of another site asks, or sends a form      Host, Origin and Sec-Fetch-Site; JSON only
    a name that is made to point here (rebinding)      Host must be the number and port itself
    another user reads process lists or the history    the token is in a file of mode 0600 and then
                                                       in a fragment, works once, and is no key
    another server on this machine reads cookies       there are none; the key is a header
    a text of the file becomes a script                no script but ours, trusted types
    another page shows the desk in a frame             frame-ancestors 'none'

The key is asked for on every request but those for the shell, which holds nothing of a job, for
the exchange of a token, and for a paper, whose address is a ticket that works once.
"""

from __future__ import annotations

import hmac
import json
import re
import secrets
import time
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from typing import Any

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

KEY = b"desk-key"  # the header
LARGEST_BODY = 4_000_000  # bytes of a request
TOO_LARGE = "more than a request to the desk may hold"
PLAIN_PATH = re.compile(rb"/(?:[A-Za-z0-9_~-]+(?:\.[A-Za-z0-9_~-]+)*/?)*")
OPEN_PATHS = ("/", "/api/enter")  # and what begins as follows
OPEN_FOLDERS = ("/assets/", "/papers/")
POLICY = "; ".join(
    (
        *("default-src 'none'", "script-src 'self'", "style-src 'self'", "img-src 'self'"),
        *("connect-src 'self'", "base-uri 'none'", "form-action 'none'"),
        *("frame-ancestors 'none'", "require-trusted-types-for 'script'", "trusted-types 'none'"),
    )
)
# A paper opens where it can neither ask the desk for anything nor send anything elsewhere. What
# it may run is narrowed further by the policy that it brings along.
PAPER_POLICY = "; ".join(
    (
        *("sandbox allow-scripts allow-modals allow-downloads", "default-src 'none'"),
        *("script-src 'unsafe-inline'", "style-src 'unsafe-inline'", "img-src data:"),
        *("font-src data:", "base-uri 'none'", "form-action 'none'", "frame-ancestors 'none'"),
    )
)
HEADERS = {
    "content-security-policy": POLICY,
    "referrer-policy": "no-referrer",
    "cache-control": "no-store",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}


class Locks:
    """The key of a run of the desk, and what works once: tokens and tickets."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.key = secrets.token_urlsafe(32)
        self._clock = clock
        self._once: dict[str, tuple[float, Any]] = {}

    def give(self, thing: Any = None, *, seconds: float = float("inf")) -> str:
        """A word for a thing, that works once and for so long."""
        now = self._clock()
        self._once = {word: kept for word, kept in self._once.items() if kept[0] > now}
        word = secrets.token_urlsafe(32)
        self._once[word] = (now + seconds, thing)
        return word

    def take(self, word: str) -> tuple[Any] | None:
        """The thing of a word, which works no longer; None if it never did, or no more."""
        found = None
        for known in self._once:  # all of them, so that the time tells nothing
            if hmac.compare_digest(known.encode(), word.encode("utf-8", "replace")):
                found = known
        if found is None:
            return None
        until, thing = self._once.pop(found)
        return (thing,) if until > self._clock() else None

    def opens(self, key: bytes | None) -> bool:
        """Whether this is the key."""
        return key is not None and hmac.compare_digest(key, self.key.encode())


class Guard:
    """An application behind the rules at the head of this module. port: where it listens."""

    def __init__(self, app: App, locks: Locks, *, port: int) -> None:
        self._app, self._locks = app, locks
        self._host = f"127.0.0.1:{port}".encode()
        self._origin = b"http://" + self._host

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":  # no socket is open to anything else
            await send({"type": "websocket.close", "code": 1008})
            return
        guarded = _guarded(send)
        refused = self._refusal(scope)
        if refused is None:
            await self._app(scope, _counted(receive), guarded)
            return
        await refuse(guarded, *refused)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        """Status and words where a request is refused."""
        headers: list[tuple[bytes, bytes]] = scope["headers"]
        path: str = scope["path"]
        method: str = scope["method"]
        raw: bytes = scope.get("raw_path") or path.encode()
        if _all(headers, b"host") != [self._host]:
            return 421, "not the address of this desk"
        if method not in ("GET", "POST"):
            return 405, "a way of asking that the desk does not know"
        if not PLAIN_PATH.fullmatch(raw):
            return 404, "nothing is here"
        origins, sites = _all(headers, b"origin"), _all(headers, b"sec-fetch-site")
        # A write says where it comes from; a read may leave that out.
        if (origins or method == "POST") and origins != [self._origin]:
            return 403, "asked from another page"
        if any(site not in (b"same-origin", b"none") for site in sites) and not (
            # The file that brings the browser here is another place for it; the shell is empty.
            path == "/"
            and method == "GET"
            and _all(headers, b"sec-fetch-mode") == [b"navigate"]
            and _all(headers, b"sec-fetch-dest") == [b"document"]
        ):
            return 403, "asked from another page"
        if method == "POST" and not _is_json(headers):
            return 415, "JSON is asked for"
        length = _all(headers, b"content-length")
        if length and not (length[0].isdigit() and int(length[0][:12]) <= LARGEST_BODY):
            return 413, TOO_LARGE
        if path in OPEN_PATHS or path.startswith(OPEN_FOLDERS):
            return None
        keys = _all(headers, KEY)
        if len(keys) != 1 or not self._locks.opens(keys[0]):
            return 401, "this window is not let in"
        return None


class TooLargeError(Exception):
    """A request holds more than it may, which is seen while it is read."""

    def __init__(self) -> None:
        super().__init__(TOO_LARGE)


def _counted(receive: Receive) -> Receive:
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > LARGEST_BODY:
            raise TooLargeError
        return message

    return counted


def _guarded(send: Send) -> Send:
    """What is sent, with the headers of the guard where the application gives no others."""

    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            given: list[tuple[bytes, bytes]] = list(message.get("headers", ()))
            names = {name.lower() for name, _ in given}
            more = ((name.encode(), value.encode()) for name, value in HEADERS.items())
            message["headers"] = [*given, *(pair for pair in more if pair[0] not in names)]
        await send(message)

    return guarded


async def refuse(send: Send, status: int, words: str) -> None:
    """Answer with a status and words alone."""
    body = json.dumps({"error": words}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", b"%d" % len(body))]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


def _all(headers: Iterable[tuple[bytes, bytes]], name: bytes) -> list[bytes]:
    return [value for each, value in headers if each.lower() == name]


def _is_json(headers: Iterable[tuple[bytes, bytes]]) -> bool:
    kinds = _all(headers, b"content-type")
    return len(kinds) == 1 and kinds[0].split(b";")[0].strip().lower() == b"application/json"
