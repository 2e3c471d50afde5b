"""The way through a described receiver: its stages in their order, and where each source point enters."""

from collections.abc import Mapping
from dataclasses import dataclass

from simulators.radios.described.design import Ladder, lay_out, share_out
from simulators.radios.described.paper import HZ, Paper
from simulators.radios.leads import Signal

Item = tuple[str, str]
"""A stage by what it is and its name."""


@dataclass(frozen=True, slots=True)
class Way:
    """The stages in their order, where each source point enters, and each amplifier's gain."""

    items: tuple[Item, ...]
    entries: Mapping[str, int]
    gains: Mapping[str, float]


def ladders_of(paper: Paper) -> dict[str, Ladder]:
    """Lay out every filter of a fixed IF, and what must be sealed in one for it to have its width."""
    made: dict[str, Ladder] = {}
    for key in paper.ifs:
        if "centre_khz" in paper.tables["if"][key]:
            made |= _switched(paper, key) or {}
            made |= _standing(
                paper, key, [name for name in paper.filters(key) if f"{name} {_a_choice(paper, key)}" not in made]
            )
    return made


def _a_choice(paper: Paper, key: str) -> str:
    width = paper.tables["if"][key]["width_khz"]
    return next(iter(width)) if isinstance(width, dict) else ""


def _switched(paper: Paper, key: str) -> dict[str, Ladder]:
    """Lay out what gives an IF its width at each choice: its last filter without an own width, or a sealed one."""
    entry, filters = paper.tables["if"][key], paper.table("filter")
    if not isinstance(entry["width_khz"], dict):
        return {}
    whole = [one for one in paper.filters(key) if filters[one]["kind"] == "filter" and "width_khz" not in filters[one]]
    name, circuits = (whole[-1], int(filters[whole[-1]]["circuits"])) if whole else (key, 4)
    centre_hz = entry["centre_khz"] * HZ
    return {
        f"{name} {choice}": lay_out(centre_hz, paper.width_hz(key, choice), circuits) for choice in entry["width_khz"]
    }


def _standing(paper: Paper, key: str, own: list[str]) -> dict[str, Ladder]:
    """Lay out the filters of an IF that no control switches, or what is sealed in one that has none at all."""
    filters, centre_hz = paper.table("filter"), paper.if_ends_hz(key)[0]
    loose = [name for name in own if "width_khz" not in filters[name]]
    shape = {name: (int(filters[name]["circuits"]), filters[name].get("coupling")) for name in own}
    given = [name for name in own if name not in loose]
    made = {name: lay_out(centre_hz, filters[name]["width_khz"] * HZ, *shape[name]) for name in given}
    shapes = [shape[name] for name in loose]
    if shapes:
        made |= dict(zip(loose, share_out(centre_hz, paper.widest_hz(key), shapes), strict=True))
    if not paper.filters(key) and not _a_choice(paper, key):
        made[key] = lay_out(centre_hz, paper.widest_hz(key), 2)
    return made


def way_of(paper: Paper, ladders: Mapping[str, Ladder]) -> Way:
    """Put the stages in order, and amplifiers before each source point, so that its usual level gives about a volt."""
    items: list[Item] = [("front", str(place)) for place in range(int(paper.tables["preselector"]["circuits"]))]
    sealed = {key for key in paper.ifs if any(name in ladders for name in _names_of(paper, key))}
    for key in paper.conversions:
        gives = str(paper.conversion(key)["gives"])
        items.append(("mixer", key))
        fixed = "centre_khz" in paper.tables["if"][gives]
        items += [("fixed" if fixed else "moving", name) for name in paper.filters(gives)]
        if fixed and gives in sealed:
            items.append(("fixed", gives))
        elif not fixed and not paper.filters(gives):
            items.append(("moving", gives))
    enters = _entries(paper, items)
    points = sorted(enters, key=lambda name: enters[name])
    needed = {name: 1.0 / _emf_volts(paper.table("source_point")[name]["level_dbm"]) for name in points}
    gains: dict[str, float] = {}
    out: list[Item] = []
    entries: dict[str, int] = {}
    for at in range(len(items) + 1):
        here = [name for name in points if enters[name] == at]
        if at == len(items) or (here and at > 0):
            name = here[0] if here else "last"
            before = [each for each in points if enters[each] < at]
            gains[name] = _gain(needed, before, name)
            out.append(("amplifier", name))
        entries |= dict.fromkeys(here, len(out))
        if at < len(items):
            out.append(items[at])
    return Way(tuple(out), entries, gains)


def _names_of(paper: Paper, key: str) -> list[str]:
    """How what is sealed in an IF is called, at each of its widths."""
    width = paper.tables["if"][key]["width_khz"]
    return [f"{key} {choice}" for choice in width] if isinstance(width, dict) else [key]


def _gain(needed: Mapping[str, float], before: list[str], name: str) -> float:
    """The gain between the point before and this one, or the detector, in bounds that valves have."""
    if not before:
        return 1.0
    wanted = needed[before[-1]] / needed.get(name, 1.0)
    return min(1e6, max(10.0, wanted)) if name == "last" else min(100.0, max(2.0, wanted))


def _emf_volts(level_dbm: float) -> float:
    return Signal(1e6, level_dbm).emf_volts()


def _entries(paper: Paper, items: list[Item]) -> dict[str, int]:
    """Before which stage each source point lies."""
    first = paper.conversions[0]
    found: dict[str, int] = {}
    for name, point in paper.table("source_point").items():
        enters = set(point["enters"])
        if "after_filter" in point:
            kinds = [at for at, item in enumerate(items) if item[1] == point["after_filter"] and item[0] != "mixer"]
            found[name] = kinds[0] + 1
        elif "signal" in enters:
            alone = enters == {"signal"} and 0 not in found.values()
            found[name] = 0 if alone else items.index(("mixer", first))
        else:
            found[name] = _if_entry(paper, items, enters)
    return found


def _if_entry(paper: Paper, items: list[Item], enters: set[str]) -> int:
    for key in paper.conversions:
        entry = paper.conversion(key)
        if entry["takes"] in enters and entry["gives"] in enters:
            return items.index(("mixer", key))
    giving = [key for key in paper.conversions if paper.conversion(key)["gives"] in enters]
    return items.index(("mixer", giving[-1])) + 1
