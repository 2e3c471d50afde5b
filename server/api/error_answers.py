"""Every error of every route as `{"error": "<one sentence>"}` with a fitting status."""

import logging
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from fastapi.routing import APIRoute
from starlette.exceptions import HTTPException

from server.errors import ServerError
from server.sentences import tell_validation


def answer_errors(app: FastAPI) -> None:
    """Give an app the one shape of errors."""
    app.add_exception_handler(ServerError, _answer_ours)
    app.add_exception_handler(RequestValidationError, _answer_validation)
    app.add_exception_handler(HTTPException, _answer_http)
    app.add_exception_handler(Exception, _answer_fault)


def _answer(sentence: str, status: int) -> JSONResponse:
    return JSONResponse({"error": sentence}, status)


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
    sentences = {
        404: f"There is nothing at {request.url.path}.",
        405: f"{request.method} is not possible at {request.url.path}.",
    }
    return _answer(sentences.get(status, f"The request was refused ({status})."), status)


def _answer_fault(request: Request, error: Exception) -> JSONResponse:
    logging.getLogger(__name__).error("%s %s", request.method, request.url.path, exc_info=error)
    return _answer("The service met a fault of its own; its log says more.", 500)
