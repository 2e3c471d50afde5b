"""The templates of the page's parts, and what they may call."""

from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode

from server.fragments import figures, standing, words

if TYPE_CHECKING:
    from jinja2 import Environment


def render(template: str, context: Mapping[str, Any]) -> str:
    """Fill a template; what the window's title says goes with it."""
    from markupsafe import Markup  # noqa: PLC0415 - comes with the templates

    body = _environment().get_template(f"{template}.html.jinja").render(context)
    return Markup('<body data-title="{}">{}</body>').format(context["title"], Markup(body))  # noqa: S704 - escaped


def prepare() -> None:
    """Read the templates, so that the first who looks does not wait for it."""
    environment = _environment()
    for name in environment.list_templates():
        environment.get_template(name)


def address(*path: object, **query: object) -> str:
    """Give the address of a place on the page; what is empty is left out of the query."""
    given = {name: value for name, value in query.items() if value not in {None, ""}}
    place = "/".join(quote(str(part), safe="") for part in path)
    return f"#/{place}{f'?{urlencode(given)}' if given else ''}"


@cache
def _environment() -> "Environment":
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - not needed by the command line

    environment = Environment(
        loader=PackageLoader("server.fragments"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    for room in (figures, standing, words):
        environment.filters.update(_functions_of(vars(room), room.__name__))
    environment.globals.update(address=address, joined=words.joined, COUNTS=standing.COUNTS)
    return environment


def _functions_of(names: Mapping[str, Any], room: str) -> dict[str, Any]:
    return {
        name: each
        for name, each in names.items()
        if callable(each) and getattr(each, "__module__", "") == room and not name.startswith("_")
    }
