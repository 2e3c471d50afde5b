"""How a step, a figure and a verdict stand: symbol, word and tone, so that colour is never alone."""

from typing import NamedTuple

from server.fragments.sources import Json


class Stand(NamedTuple):
    """What shows how something stands."""

    symbol: str
    word: str
    tone: str = "quiet"


ENDINGS = {
    "within its limits": Stand("done", "good", "good"),
    "left outside its limits": Stand("beyond", "off", "off"),
    "a part is suspected": Stand("part", "part suspected", "part"),
    "blocked by an earlier step": Stand("wait", "blocked", "off"),
    "measured, but not judged": Stand("half", "not judged", "doubt"),
    "not measured": Stand("missing", "left unmeasured", "doubt"),
}

COUNTS = dict(zip(("good", "off", "suspect", "blocked", "unjudged", "unmeasured"), ENDINGS.values(), strict=True))
"""The names under which the list of jobs counts them."""

VERDICTS = {
    "leave": Stand("done", "no adjustment"),
    "measure again": Stand("half", "measure again"),
    "touch up": Stand("beyond", "touch up"),
    "adjust": Stand("beyond", "adjust"),
    "suspect a part": Stand("part", "suspect a part"),
}

LIMITS = {
    "within its limit": Stand("done", "within"),
    "within its uncertainty of its limit": Stand("half", "too close to call"),
    "beyond its limit": Stand("beyond", "beyond"),
}


def stand_of(step: Json, *, is_next: bool, on_bench: bool) -> Stand:
    """Say how a step stands."""
    state = step["state"]
    ended = ENDINGS.get(state["ending"] or "")
    if on_bench:
        return Stand("running", "on the bench", "now")
    if state["on"]:
        return Stand("half", "begun", "now")
    if ended is not None:
        return Stand("again", "to measure again", "doubt") if state["undone_by"] else ended
    if is_next:
        return Stand("next", "next", "now")
    return Stand("wait", "waits") if state["refused"] else Stand("open", "to do")


def verdict_of(verdict: str) -> Stand:
    """Say a verdict."""
    return VERDICTS.get(verdict, Stand("half", verdict))


def limit_stand(finding: Json | None) -> Stand | None:
    """Say how a figure stands to its limit; None where it has none."""
    standing = None if finding is None else finding["standing"]
    return None if standing is None else LIMITS.get(standing, Stand("half", standing))
