"""The HTTP side of serving: paths in, whole documents out.

A subscriber is a calendar program, so everything is plain: no redirect, cookie, login, compression or negotiation. An
address that was never given out, has been revoked or is malformed gets the same answer by the same way through the
program.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from datetime import UTC, datetime

from fastapi import FastAPI, Request, Response

from fleet.errors import FleetError
from fleet.services.serving import Answer, Served
from fleet.web.validators import is_unchanged

CALENDAR = re.compile(r"/c/(?P<token>[^/]*?)(?:~(?P<part>[1-9][0-9]?))?\.ics", re.ASCII)
SHEET = re.compile(r"/s/(?P<token>[^/]*)/(?P<name>[^/]*)")
INDEX = "index.html"

PLAIN = "text/plain; charset=utf-8"
ALWAYS = {
    "Cache-Control": "private, no-cache",
    "X-Robots-Tag": "noindex",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'unsafe-inline'; img-src data:; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
}
NOT_FOUND = b"Not found.\n"
NOT_ALLOWED = b"Only GET and HEAD.\n"
UNAVAILABLE = b"Not to be had at the moment; ask again later.\n"
FAULT = b"A fault in the server; ask again later.\n"
RETRY_S = "300"


def make_app(served: Served, *, prefix: str = "", log: Callable[[str], None]) -> FastAPI:
    """The application. `prefix` is a path that a proxy in front may have left before ours; `log` takes one line for
    each request, in which no address stands."""

    def answer(request: Request) -> Response:
        began = time.perf_counter()
        number: int | None = None
        fault = ""
        try:
            found = _find(served, request.scope["path"], prefix)
            number = found.number
            response = _response(found, request.headers.getlist("if-none-match"))
        except FleetError as error:
            fault = f" {error}"
            response = _text(503, UNAVAILABLE, **{"Retry-After": RETRY_S})
        except Exception as error:
            fault = f" this should not happen: {error!r}"
            response = _text(500, FAULT)
        whose = "-" if number is None else f"address {number}"
        tell(f"{request.method} {whose} {response.status_code}", response, f"{_ms_since(began):.1f} ms{fault}")
        return response

    async def refuse(request: Request, error: Exception) -> Response:
        response = _text(405, NOT_ALLOWED, Allow="GET, HEAD")
        # A method may be any word that somebody sends.
        tell("other - 405", response, "")
        return response

    def tell(what: str, response: Response, more: str) -> None:
        at = f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}"
        log(f"{at} {what} {len(response.body)} octets {more}".rstrip())

    app = FastAPI(
        docs_url=None, redoc_url=None, openapi_url=None, redirect_slashes=False, exception_handlers={405: refuse}
    )
    app.add_route("/{path:path}", answer, methods=["GET", "HEAD"], include_in_schema=False)
    return app


def _find(served: Served, path: str, prefix: str) -> Answer:
    if prefix and path.startswith(f"{prefix}/"):
        path = path[len(prefix) :]
    sheet = SHEET.fullmatch(path)
    if sheet is not None:
        return served.sheet(sheet["token"], sheet["name"] or INDEX)
    calendar = CALENDAR.fullmatch(path)
    if calendar is not None:
        return served.calendar(calendar["token"], int(calendar["part"] or 1))
    return served.calendar(path, 1)


def _response(found: Answer, validators: list[str]) -> Response:
    document = found.document
    if document is None:
        return _text(404, NOT_FOUND)
    headers = {**ALWAYS, "ETag": document.etag}
    if is_unchanged(document.etag, validators):
        return Response(status_code=304, headers=headers)
    return Response(document.content, headers={**headers, "Content-Type": document.media_type})


def _text(status: int, content: bytes, **more: str) -> Response:
    return Response(content, status_code=status, headers={**ALWAYS, "Content-Type": PLAIN, **more})


def _ms_since(began: float) -> float:
    return (time.perf_counter() - began) * 1000.0
