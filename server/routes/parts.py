"""What routes share: the service, the client that a request comes from, and answers to be kept as files."""

from typing import Annotated

from fastapi import Depends, Header, Query, Request, Response

from server.api.seat import CLIENT_HEADER
from server.api.service import Service
from server.errors import NamelessClient


def _service(request: Request) -> Service:
    service: Service = request.app.state.service
    return service


ServiceDep = Annotated[Service, Depends(_service)]


def _client(
    named: Annotated[str | None, Header(alias=CLIENT_HEADER, max_length=64)] = None,
    client: Annotated[str | None, Query(max_length=64)] = None,
) -> str | None:
    return named or client


Client = Annotated[str | None, Depends(_client)]
"""The name a page or program gave itself, by header, or by `?client=` where no header can be set."""


def _sender(named: Annotated[str | None, Header(alias=CLIENT_HEADER, max_length=64)] = None) -> str | None:
    return named


Sender = Annotated[str | None, Depends(_sender)]
"""The name of who acts, by header alone: a form of another site can set no header."""


def _operate(service: ServiceDep, sender: Sender) -> None:
    service.act_as(sender)


def _named(sender: Sender) -> None:
    if not sender:
        raise NamelessClient(f"The request does not say who sends it; give a name of your own in {CLIENT_HEADER}.")


Named = Depends(_named)
"""Lets only those pass who say who they are: a form of another site cannot."""

Operating = Depends(_operate)
"""Lets only the operator pass; the first to act becomes it."""


def attachment(body: str | bytes, media_type: str, file_name: str, *, opens: bool = False) -> Response:
    """Give a body as a file to keep, by a name in ASCII; one that `opens` is shown first."""
    headers = {"Content-Disposition": f'{"inline" if opens else "attachment"}; filename="{file_name}"'}
    return Response(body, media_type=media_type, headers=headers)
