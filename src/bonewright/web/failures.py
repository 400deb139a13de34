"""Errors turned into words: one handler, one shape.

Whatever goes wrong, a program receives ``{"error", "remedy", "problems"}`` and a person
receives a page saying the same. What the person cannot mend is logged whole and shown as
one plain sentence.
"""

import logging
from html import escape

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from bonewright.errors import BonewrightError, StudyProblems
from bonewright.web.messages import FailureMessage, ProblemMessage

__all__ = ["NoStudyOpen", "Refusal", "failure_response", "handle_failures"]

_LOG = logging.getLogger("bonewright.web")

_STATUS_WORDS = {
    404: ("There is nothing at this address.", "Choose a step from the list."),
    405: ("This address does not take that kind of request.", "Choose a step from the list."),
}
# Whoever is not let in gets no style sheet either; asking for it would ask for the password anew.
_NOT_LET_IN = (401, 403)


class Refusal(BonewrightError):
    """A request the page does not carry out, with the HTTP status that says so."""

    def __init__(self, status: int, message: str, *, remedy: str) -> None:
        super().__init__(message, remedy=remedy)
        self.status = status


class NoStudyOpen(Refusal):
    """A request that needs a study, before one was chosen."""


def handle_failures(app: FastAPI) -> None:
    """Route every exception of the app to the one handler."""
    for kind in (BonewrightError, RequestValidationError, HTTPException, Exception):
        app.add_exception_handler(kind, _handler)


async def _handler(request: Request, exception: Exception) -> Response:
    return failure_response(request, exception)


def failure_response(request: Request, exception: Exception) -> Response:
    """Answer a request with what went wrong: JSON for a program, a page for a person."""
    status, failure = _in_words(exception)
    wants_page = "text/html" in request.headers.get("accept", "") and not (
        request.url.path.startswith("/api/")
    )
    if wants_page and isinstance(exception, NoStudyOpen):
        return RedirectResponse("/start", status_code=303)
    if wants_page:
        return HTMLResponse(_as_page(failure, plain=status in _NOT_LET_IN), status_code=status)
    return JSONResponse(failure.model_dump(), status_code=status)


def _in_words(exception: Exception) -> tuple[int, FailureMessage]:
    if isinstance(exception, StudyProblems):
        count = len(exception.problems)
        noun = "problem" if count == 1 else "problems"
        return 422, FailureMessage(
            error=f"The study has {count} {noun}.",
            remedy=exception.remedy,
            problems=[ProblemMessage.of(problem) for problem in exception.problems],
        )
    if isinstance(exception, BonewrightError):
        status = exception.status if isinstance(exception, Refusal) else 422
        return status, FailureMessage(error=exception.message, remedy=exception.remedy)
    if isinstance(exception, RequestValidationError):
        # What was sent is not repeated: it may be a whole table.
        places = sorted({".".join(map(str, error["loc"])) for error in exception.errors()})
        return 422, FailureMessage(
            error="The page could not read what was sent: " + ", ".join(places) + ".",
            remedy="Reload the page and try again.",
        )
    if isinstance(exception, HTTPException):
        error, remedy = _STATUS_WORDS.get(
            exception.status_code, ("The request was refused.", "Reload the page and try again.")
        )
        return exception.status_code, FailureMessage(error=error, remedy=remedy)
    _LOG.error("A fault in the program", exc_info=exception)
    return 500, FailureMessage(
        error="Something went wrong inside the program; your tables on disk are unharmed.",
        remedy="Reload the page. If it happens again, please report it with what you did.",
    )


def _as_page(failure: FailureMessage, *, plain: bool) -> str:
    problems = "".join(f"<li>{escape(problem.sentence)}</li>" for problem in failure.problems)
    listed = f"<ul>{problems}</ul>" if problems else ""
    look = "" if plain else '<link rel="stylesheet" href="/static/page.css">'
    return (
        '<!doctype html><html lang="en-GB"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width"><title>Not shown</title>'
        f"{look}</head>"
        f'<body class="start"><main><h1>{escape(failure.error)}</h1>'
        f'<p class="lead">{escape(failure.remedy)}</p>{listed}'
        '<p><a href="/">To the study</a></p></main></body></html>'
    )
