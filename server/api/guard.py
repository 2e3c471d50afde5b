"""Who may talk to the service, and what a browser may do with what it says. Plain ASGI: streams pass through."""

import hmac
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qsl, urlencode

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, RedirectResponse, Response

from server.api.bounded_body import bounded
from server.errors import ForeignOrigin, RequestRefused, StrangeHost, TokenRefused
from server.settings import Settings, is_loopback

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
AsgiApp = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE = "peakwright_token"

HEALTH = "/health"
"""Asked by programs that watch over programs; it tells no secrets, and so asks for no token."""

# The charts' script writes style elements, hence 'unsafe-inline' for styles; scripts come from files of ours alone.
CONTENT_POLICY = (
    "default-src 'self'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; "
    "connect-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
SECURITY_HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class Guard:
    """Checks each request before the service sees it, and adds the security headers to each answer."""

    def __init__(self, app: AsgiApp, settings: Settings) -> None:
        self._app = app
        self._token = settings.token
        self._loopback = is_loopback(settings.host)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        guarded = _with_headers(scope, send)
        try:
            self._check(scope)
        except RequestRefused as refusal:
            await JSONResponse({"error": str(refusal)}, refusal.status)(scope, receive, guarded)
            return
        welcome = self._welcome(scope)
        await (welcome or self._app)(scope, bounded(scope, receive), guarded)

    def _check(self, scope: Scope) -> None:
        headers = Headers(scope=scope)
        # A page of another site may resolve its own name to this machine and so reach a service that listens to nobody
        # but this machine; the name it was addressed by gives it away.
        if self._loopback and not is_loopback(_host_name(headers.get("host", ""))):
            raise StrangeHost("This service answers only to localhost and 127.0.0.1; use one of them in the address.")
        origin = headers.get("origin")
        if origin is not None and not _is_own(origin, headers.get("host", "")):
            raise ForeignOrigin("A page of another site sent this request; only this bench's own page may.")
        if self._token is None or scope["path"] == HEALTH:
            return
        if not any(_same(given, self._token) for given in _tokens(scope, headers)):
            raise TokenRefused("This bench asks for its token; open the address that was printed when it was started.")

    def _welcome(self, scope: Scope) -> Response | None:
        """Answer the first visit with a token: keep it in a cookie and take it out of the address."""
        query = parse_qsl(scope["query_string"].decode("latin-1"))
        if self._token is None or scope["method"] != "GET" or "token" not in dict(query):
            return None
        rest = urlencode([pair for pair in query if pair[0] != "token"])
        path = "/" + scope["path"].lstrip("/\\")  # a browser takes `//name` for another host
        response = RedirectResponse(path + (f"?{rest}" if rest else ""), 303)
        secure = scope["scheme"] == "https"
        response.set_cookie(COOKIE, self._token, httponly=True, samesite="lax", secure=secure)
        return response


def _with_headers(scope: Scope, send: Send) -> Send:
    api = scope["path"].startswith("/api/")

    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            headers.update(SECURITY_HEADERS)
            headers.setdefault("Cache-Control", "no-store" if api else "no-cache")
        await send(message)

    return guarded


def _host_name(host: str) -> str:
    """Give the name or address of a Host header without its port; an IPv6 address stands in brackets."""
    if host.startswith("["):
        return host[1:].partition("]")[0]
    return host.partition(":")[0]


def _tokens(scope: Scope, headers: Headers) -> list[str]:
    given = [value for key, value in parse_qsl(scope["query_string"].decode("latin-1")) if key == "token"]
    scheme, _, value = headers.get("authorization", "").partition(" ")
    if scheme.lower() == "bearer":
        given.append(value.strip())
    try:
        cookies = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return given
    return [*given, cookies[COOKIE].value] if COOKIE in cookies else given


def _is_own(origin: str, host: str) -> bool:
    """Tell whether a page of this service sent a request. RFC 6454, section 7: `null` stands for one that hides."""
    scheme, _, authority = origin.partition("://")
    return scheme in {"http", "https"} and authority.lower() == host.lower()


def _same(given: str, token: str) -> bool:
    return hmac.compare_digest(given.encode(), token.encode())
