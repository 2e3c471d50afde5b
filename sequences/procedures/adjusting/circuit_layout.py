"""A tuned circuit as a step: cans and single circuits, each seen from the nearest point before it."""

from dataclasses import replace

from sequences.plan.content import Limit, Shown, Spot, Step, WayName
from sequences.plan.parts import adjusters_of, is_adjusted, tuned_to, way, widest_open
from sequences.plan.places import WARM_UP, filter_step, if_place, steps_after_if
from sequences.procedures.adjusting.circuit_findings import CENTRE, LEFT
from sequences.receiver.chain import dial_setting, frequency_khz, mid_band
from sequences.receiver.model import Filter, Receiver
from sequences.receiver.points import filters_of, level_point, source_before_filter
from sequences.receiver.windows import View, Window, window_name, window_of


def circuit_steps(receiver: Receiver, filter_kind: str, step_kind: str, gain_db: float, meaning: str) -> list[Step]:
    """Lay out the circuits of one kind of filter, the last one first. What nobody may turn has no step."""
    entries = [(key, entry) for key, entry in receiver.filters.items() if entry.kind == filter_kind]
    steps = [_circuit_step(receiver, key, step_kind, gain_db) for key, _ in reversed(entries)]
    return [replace(step, meaning=meaning) for step in steps if step is not None]


def _circuit_step(receiver: Receiver, key: str, kind: str, gain_db: float) -> Step | None:
    entry = receiver.filters[key]
    source = source_before_filter(receiver, key)
    detector = level_point(receiver)
    subject = f"filter.{key}"
    if source is None or detector is None or not is_adjusted(receiver, subject):
        return None
    name, because = _how_to_see(receiver, entry, window_of(receiver, subject))
    band = next(iter(receiver.bands))
    mark = entry.align_at_mark_khz
    setting = mid_band(receiver, band) if mark is None else dial_setting(receiver, band, mark)
    words = (_measured(name), because)
    controls = {**tuned_to(receiver, setting), **widest_open(receiver)}
    frequency = frequency_khz(receiver, entry.intermediate, setting)
    return Step(
        id=filter_step(key),
        kind=kind,
        title=f"{key[0].upper()}{key[1:]}, {receiver.ifs[entry.intermediate].name}",
        subject=subject,
        places_from_detector=if_place(receiver, entry.intermediate),
        ways=(way(receiver, name, controls, words, source=source, meter=detector[0]),),
        limits=_circuit_limits(receiver, name, gain_db),
        adjusters=adjusters_of(receiver, subject),
        nominal_khz=frequency,
        spots=(Spot(setting.band, setting.dial_khz, frequency),),
        shown=Shown.RESPONSES,
        shows_by_turning=True,
        depends_on=(WARM_UP, *_later_filters(receiver, key), *steps_after_if(receiver, entry.intermediate)),
    )


def _circuit_limits(receiver: Receiver, name: WayName, gain_db: float) -> tuple[Limit, ...]:
    """A circuit seen by its own edges has a centre as well: off it, level is hardly lost, yet the passband moves."""
    gain = Limit(LEFT, gain_db)
    if name is WayName.STEP_AND_FIT:
        return (gain,)
    return gain, Limit(CENTRE, receiver.limits.passband_centre_percent)


def _later_filters(receiver: Receiver, key: str) -> list[str]:
    own = list(filters_of(receiver, receiver.filters[key].intermediate))
    return [filter_step(other) for other in own[own.index(key) + 1 :]]


def _how_to_see(receiver: Receiver, entry: Filter, window: Window) -> tuple[WayName, str]:
    through = None if window.through is None else window_name(receiver, window.through)
    if window.view is View.THROUGH_NARROWER:
        return WayName.STEP_AND_FIT, (
            f"{window.width_khz:.3g} kHz wide, it is seen through {through} of {window.through_khz:.3g} kHz: "
            "a sweep would show that and not this"
        )
    if entry.coupling == "over-coupled":
        return WayName.HUMP_BALANCE, "over-coupled, it has two humps, and peaking by meter would end on one of them"
    if entry.kind == "single circuit":
        return WayName.STEP_AND_FIT, "one circuit, one peak: level against equal steps finds it"
    after = "nothing tuned stands" if through is None else f"only {through}, as wide or wider, stands"
    return WayName.EDGE_BALANCE, f"{after} between it and the detector, so its own edges show"


def _measured(name: WayName) -> str:
    return {
        WayName.STEP_AND_FIT: "the level after each equal step of the adjuster, at one frequency",
        WayName.EDGE_BALANCE: "the difference in level between its two 3 dB points",
        WayName.HUMP_BALANCE: "the difference in level between its two humps",
    }[name]
