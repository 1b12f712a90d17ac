"""What a window may ask of the desk, by path. All bodies are JSON; see `guard` for who may ask.

    GET  /                    the shell, and /assets/ its parts
    POST /api/enter           {token} -> {key}
    GET  /api/job             the file and its log
    POST /api/changes         {base, changes} -> the job
    POST /api/undo, /api/save {base} -> the job
    POST /api/offer           {op: "take" or "drop"}: the draft of an earlier start -> the job
    GET  /api/versions        before, here and in the file, key by key
    POST /api/settle          {base, mine}: keys that stay as they are here -> the job
    GET  /api/stream          events, a line of JSON each: job, answer, worker
    POST /api/log             {op: "add", cells} or {op: "undo"} -> {told, job}
    GET  /api/layout          the file as a form; GET /api/questions the first ten
    POST /api/questions       {answers, look, told, ticked} -> what to say of them, once kept;
                              {answers} -> kinds of run that suit; {base, answers, runs} -> the job
    POST /api/plan, /api/weights, /api/beside {changes}
    POST /api/past            {kind, units, files}: past jobs or daily reports -> what they change
    POST /api/include         {base, ticket}: them into the job -> the job
    POST /api/out             {what, open} -> {address}; GET it once, as a file or a page
    POST /api/window          -> {token} of one window more
    POST /api/close           the desk ends, unless something is unsaved

A refusal is {error}, with {faults} where the input is bad (422), and with the newest {job} where it
was made on an older one (409).
"""

from __future__ import annotations

import json
import mimetypes
from base64 import b64decode
from collections.abc import Awaitable, Callable, Mapping
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from econ.desk.guard import PAPER_POLICY, Locks, TooLargeError
from econ.desk.layout import layout
from econ.desk.session import RefusedError, Session
from econ.desk.supervisor import FaultsError, SupersededError, WorkerError
from econ.desk.windows import Windows
from econ.desk.worker import fault_rows
from econ.reports import theme
from econ.scenario.faults import ScenarioError

Row = dict[str, Any]
Handler = Callable[[Request], Awaitable[Response]]
KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}
MOST_FILES = 200  # of an upload; their bytes are bounded by the guard
LATER = 3600.0  # [s] in which past jobs that were read can be included
SOON = 60.0  # [s] in which a ticket or a token of a further window works
COLOURS = (
    *("PAPER", "INK", "MUTED", "RULE", "WASH", "FISHING", "FALLBACK", "RECOVERED", "BAND"),
    *("FLAT", "FISHING_TINT", "FALLBACK_TINT"),
)


def assets() -> dict[str, bytes]:
    """The parts of the shell by name, the colours of all reports among them."""
    found = {
        each.name: each.read_bytes()
        for each in files("econ.desk").joinpath("assets").iterdir()
        if each.name.endswith(tuple(KINDS))
    }
    colours = "".join(f"  --{name.lower()}: {getattr(theme, name)};\n" for name in COLOURS)
    colours += f"  --typefaces: {theme.SCREEN_TYPEFACES};\n"
    found["theme.css"] = f":root {{\n{colours}}}\n".encode()
    return found


def application(
    session: Session, windows: Windows, locks: Locks, *, entered: Callable[[], None]
) -> Starlette:
    """The routes. entered: called when a token was exchanged."""
    parts = assets()

    async def shell(request: Request) -> Response:
        return _part("index.html")

    async def asset(request: Request) -> Response:
        return _part(request.path_params["name"])

    def _part(name: str) -> Response:
        if name not in parts:
            return _refused(404, "nothing is here")
        return Response(parts[name], media_type=KINDS[name[name.rindex(".") :]])

    async def enter(request: Request) -> Response:
        token = (await _body(request)).get("token")
        if not isinstance(token, str) or locks.take(token) != ("window",):
            return _refused(403, "this way in has been used, or is none")
        entered()
        return JSONResponse({"key": locks.key})

    async def stream(request: Request) -> Response:
        return StreamingResponse(windows.stream(), media_type="application/x-ndjson")

    async def log(request: Request) -> Response:
        given = await _body(request)
        match given.get("op"):
            case "add":
                return JSONResponse(await session.enter(_cells(given.get("cells"))))
            case "undo":
                return JSONResponse(await session.take_back())
        raise RefusedError(400, "a log takes a row more, or gives its last one back")

    async def out(request: Request) -> Response:
        given = await _body(request)
        name, data = await session.paper(str(given.get("what")))
        shown = bool(given.get("open")) and name.endswith(".html")
        ticket = locks.give((name, data, shown), seconds=SOON)
        return JSONResponse({"address": f"/papers/{ticket}", "name": name})

    async def paper(request: Request) -> Response:
        taken = locks.take(request.path_params["ticket"])
        if taken is None or not isinstance(taken[0], tuple):
            return _refused(404, "this paper was taken, or is none; ask for it again")
        return _paper(*taken[0])

    async def beside(request: Request) -> Response:
        made = (await _body(request)).get("changes")
        if not isinstance(made, list) or not all(isinstance(each, str) for each in made[:100]):
            raise RefusedError(400, "changes are a list of key=value")
        return JSONResponse(await session.beside(made[:100]))

    async def answered(request: Request) -> Response:
        given = await _body(request)
        answers, kinds = given.get("answers"), given.get("runs")
        if not isinstance(answers, dict):
            raise RefusedError(400, "answers are an object, by key")
        if given.get("look"):
            return JSONResponse(session.looked(answers, given.get("told"), given.get("ticked")))
        if kinds is None:
            return JSONResponse(await session.suited(answers))
        if not isinstance(kinds, list) or not all(isinstance(each, str) for each in kinds[:100]):
            raise RefusedError(400, "runs are a list of kinds")
        return JSONResponse(await session.first(given.get("base"), answers, kinds[:100]))

    async def past(request: Request) -> Response:
        given = await _body(request)
        kind, units = given.get("kind"), given.get("units")
        if kind not in ("table", "reports") or units not in ("field", "metric"):
            raise RefusedError(
                400, "a table of past jobs or daily reports, in field or metric units"
            )
        found = await session.past(kind, units, _uploaded(given.get("files")))
        made = {name: found.pop(name) for name in ("key", "ending", "text")}
        ticket = locks.give(made, seconds=LATER)
        return JSONResponse({**found, "ticket": ticket})

    async def include(request: Request) -> Response:
        given = await _body(request)
        taken = locks.take(str(given.get("ticket")))
        if taken is None or not isinstance(taken[0], dict):
            raise RefusedError(404, "this was included, or is none; read the files again")
        return JSONResponse(await session.include(given.get("base"), taken[0]))

    async def window(request: Request) -> Response:
        return JSONResponse({"token": locks.give("window", seconds=SOON)})

    async def close(request: Request) -> Response:
        if session.unsaved:
            raise RefusedError(409, "save the file first, or take the changes back", unsaved=True)
        windows.end_now()  # after this reply, because a stream ends at its next event
        return JSONResponse({})

    post: Mapping[str, Handler] = {
        "enter": enter,
        "changes": _by(lambda given: session.change(given.get("base"), given.get("changes"))),
        "undo": _by(lambda given: session.undo(given.get("base"))),
        "save": _by(lambda given: session.save(given.get("base"))),
        "offer": _by(lambda given: session.offered(given.get("op"))),
        "settle": _by(lambda given: session.settle(given.get("base"), given.get("mine"))),
        "log": log,
        "out": out,
        "plan": _by(lambda _: session.plan()),
        "weights": _by(lambda _: session.weights()),
        "beside": beside,
        "questions": answered,
        "past": past,
        "include": include,
        "window": window,
        "close": close,
    }
    get: Mapping[str, Callable[[], Any]] = {
        "job": session.job,
        "layout": layout,
        "questions": session.asked,
        "versions": lambda: {"versions": session.versions()},
    }
    routes = [
        Route("/", shell, methods=["GET"]),
        Route("/assets/{name}", asset, methods=["GET"]),
        Route("/papers/{ticket}", paper, methods=["GET"]),
        *(Route(f"/api/{name}", each, methods=["POST"]) for name, each in post.items()),
        *(Route(f"/api/{name}", _told(each), methods=["GET"]) for name, each in get.items()),
        Route("/api/stream", stream, methods=["GET"]),
    ]
    return Starlette(routes=routes, exception_handlers=_HANDLERS)


def _by(work: Callable[[Row], Awaitable[Row]]) -> Handler:
    """A handler that gives what the work makes of the body of a request."""

    async def handler(request: Request) -> Response:
        return JSONResponse(await work(await _body(request)))

    return handler


def _told(state: Callable[[], Any]) -> Handler:
    """A handler that gives what stands."""

    async def handler(request: Request) -> Response:
        return JSONResponse(state())

    return handler


async def _body(request: Request) -> Row:
    """The JSON object of a request; RefusedError where it is none."""
    try:
        given = json.loads(await request.body(), parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise RefusedError(400, "the body is no JSON") from None
    if not isinstance(given, dict):
        raise RefusedError(400, "the body is no JSON object")
    return given


def _no_number(word: str) -> float:
    raise ValueError(word)


def _cells(given: Any) -> dict[str, str | None]:
    """The cells of a row of the log, as texts."""
    if not isinstance(given, dict):
        raise RefusedError(400, "a row is an object of cells")
    if not all(value is None or isinstance(value, str) for value in given.values()):
        raise RefusedError(400, "a cell is a text")
    return given


def _uploaded(given: Any) -> list[tuple[str, bytes]]:
    """Files of a request, each a name and its bytes in base 64."""
    if not isinstance(given, list) or not 1 <= len(given) <= MOST_FILES:
        raise RefusedError(400, f"from 1 to {MOST_FILES} files")
    found = []
    for each in given:
        try:
            found.append((str(each["name"]), b64decode(each["data"], validate=True)))
        except (TypeError, KeyError, ValueError):
            raise RefusedError(400, "a file is a name and its bytes in base 64") from None
    return found


def _paper(name: str, data: bytes, shown: bool) -> Response:
    """A paper as a file to keep, or as a page under a policy of its own."""
    headers = {"content-security-policy": PAPER_POLICY}
    if not shown:
        headers["content-disposition"] = f"attachment; {_named(name)}"
    kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
    return Response(data, media_type=kind, headers=headers)


def _named(name: str) -> str:
    """A name of a file in a header: ASCII, and the whole of it in UTF-8 (RFC 6266)."""
    from urllib.parse import quote

    plain = name.encode("ascii", "replace").decode().replace("?", "_").replace('"', "_")
    return f"filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}"


def _refused(status: int, words: str, **more: Any) -> JSONResponse:
    return JSONResponse({"error": words, **more}, status_code=status)


async def _on_refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, RefusedError)
    return _refused(error.status, str(error), **error.more)


async def _on_faults(request: Request, error: Exception) -> Response:
    assert isinstance(error, (FaultsError, ScenarioError))
    rows = error.rows if isinstance(error, FaultsError) else fault_rows(error)
    return _refused(422, "this cannot be used as it stands", faults=rows)


def _on(status: int) -> Any:
    """Says an error as it is."""

    async def handler(request: Request, error: Exception) -> Response:
        return _refused(status, str(error))

    return handler


async def _on_superseded(request: Request, error: Exception) -> Response:
    return _refused(409, "a newer one has taken its place", newer=True)


_HANDLERS: Any = {
    TooLargeError: _on(413),
    RefusedError: _on_refused,
    ScenarioError: _on_faults,
    FaultsError: _on_faults,
    SupersededError: _on_superseded,
    WorkerError: _on(503),
    OSError: _on(503),
}
