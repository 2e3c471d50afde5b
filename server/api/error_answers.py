"""Every error of every route as `{"error": "<one sentence>"}` with a fitting status."""

import logging
from collections.abc import Mapping
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from fastapi.routing import APIRoute
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException
from starlette.routing import Match

from server.errors import ServerError
from server.sentences import tell_validation

METHOD_NOT_ALLOWED = 405
METHODS = ("DELETE", "GET", "HEAD", "PATCH", "POST", "PUT")
MOST_SHOWN = 200
"""Letters of an address that are said back."""


def answer_errors(app: FastAPI) -> None:
    """Give an app the one shape of errors."""
    app.add_exception_handler(ServerError, _answer_ours)
    app.add_exception_handler(RequestValidationError, _answer_validation)
    app.add_exception_handler(HTTPException, _answer_http)
    app.add_exception_handler(Exception, _answer_fault)


class ErrorBody(BaseModel):
    """What every error looks like."""

    error: str = Field(description="What is wrong, where, and what to do: one sentence for a person.")


ERROR_STATUSES: dict[int | str, dict[str, Any]] = {
    status: {"model": ErrorBody, "description": description}
    for status, description in {
        400: "The request cannot be understood, or does not say who sends it.",
        401: "The token is missing or wrong.",
        403: "A page of another site sent the request.",
        404: "There is no such thing.",
        405: "The method is not possible here; the header Allow names those that are.",
        408: "The body of the request did not come in time.",
        409: "Not now: something else is on, somebody else operates, or an instrument is missing.",
        413: "The request brings too much.",
        421: "The request was addressed to another name than this machine's.",
        422: "A value in the request is wrong.",
        500: "A fault of the service, or of its record.",
        502: "The instruments, or the practice bench, cannot be reached.",
        429: "Too many listen already.",
    }.items()
}


def _answer(sentence: str, status: int, headers: Mapping[str, str] | None = None) -> JSONResponse:
    return JSONResponse({"error": sentence}, status, headers)


def _answer_ours(_request: Request, error: Exception) -> JSONResponse:
    return _answer(str(error), error.status if isinstance(error, ServerError) else ServerError.status)


def _answer_validation(request: Request, error: Exception) -> JSONResponse:
    first = error.errors()[0] if isinstance(error, RequestValidationError) else {"loc": ("body",), "type": ""}
    return _answer(_sentence(first, _known_keys(request)), 422)


def _known_keys(request: Request) -> str:
    """Name the keys of the body that was asked for."""
    route = request.scope.get("route")
    bodies = route.dependant.body_params if isinstance(route, APIRoute) else []
    return ", ".join(name for body in bodies for name in getattr(body.field_info.annotation, "model_fields", {}))


def _sentence(failure: dict[str, Any], known_keys: str) -> str:
    place, *names = [str(part) for part in failure["loc"]]
    if failure["type"] == "json_invalid":
        return "The request body is not valid JSON."
    if not names:
        return f"The request {place} must be a JSON object."
    return tell_validation(failure, subject=names[-1], known_keys=known_keys)


def _answer_http(request: Request, error: Exception) -> JSONResponse:
    status = error.status_code if isinstance(error, HTTPException) else 500
    path = request.url.path[:MOST_SHOWN]
    sentences = {
        400: "The request body cannot be read; send JSON as /api/openapi.json describes it.",
        404: f"There is nothing at {path}.",
        405: f"{request.method} is not possible at {path}.",
        408: "The request body did not come in time; send it again.",
        413: "The request body is too large.",
    }
    headers = {"Allow": ", ".join(_methods_at(request))} if status == METHOD_NOT_ALLOWED else None
    return _answer(sentences.get(status, f"The request was refused ({status})."), status, headers)


def _methods_at(request: Request) -> list[str]:
    """Name what is possible at the path that was asked for, by all its routes. RFC 9110, section 15.5.6."""
    routes = request.app.routes
    scopes = ({**request.scope, "method": method} for method in METHODS)
    return [scope["method"] for scope in scopes if any(each.matches(scope)[0] is Match.FULL for each in routes)]


def _answer_fault(request: Request, error: Exception) -> JSONResponse:
    logging.getLogger(__name__).error("%s %s", request.method, request.url.path, exc_info=error)
    return _answer("The service met a fault of its own; its log says more.", 500)
