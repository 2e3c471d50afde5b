"""The steps that concern tuned circuits: cans, single circuits, passbands, the preselector."""

from sequences.plan.content import Limit, Spot, Step, StepKind, Way, WayName
from sequences.plan.parts import adjusters_of, is_adjusted, tuned_to, way, widest_open
from sequences.plan.places import (
    PRESELECTOR,
    WARM_UP,
    antenna_place,
    every_conversion_step,
    filter_step,
    if_place,
    passband_step,
    steps_after_if,
    steps_of_filters,
)
from sequences.receiver.chain import dial_setting, frequency_khz, mid_band
from sequences.receiver.model import SIGNAL, Filter, Receiver
from sequences.receiver.points import (
    filters_of,
    meter_that_reads,
    source_before_filter,
    source_with_all_behind,
    swept_ifs,
)
from sequences.receiver.preselector import preselector_settings
from sequences.receiver.targets import passband_targets, preselector_controls, preselector_targets
from sequences.receiver.windows import View, Window, window_name, window_of


def can_steps(receiver: Receiver) -> list[Step]:
    """Align cans and single circuits, each seen from the nearest point before it. What nobody may turn has no step."""
    steps = [_circuit_step(receiver, key, entry) for key, entry in reversed(receiver.filters.items())]
    return [step for step in steps if step is not None]


def passband_steps(receiver: Receiver) -> list[Step]:
    """Measure the passband of every IF that a sweep can show, at each of its widths."""
    return [step for key in swept_ifs(receiver) if (step := _passband_step(receiver, key)) is not None]


def preselector_steps(receiver: Receiver) -> list[Step]:
    """Align the preselector, last of all."""
    ways = _preselector_ways(receiver)
    if not ways:
        return []
    limits, entry = receiver.limits, receiver.preselector
    held = [Limit("centre error", limits.preselector_centre_percent, "% of the 3 dB width")]
    if limits.preselector_pointer_marks is not None:
        held.append(Limit("knob pointer error", limits.preselector_pointer_marks, "marks"))
    held.append(Limit("level still to be gained", limits.preselector_gain_db, "dB"))
    return [
        Step(
            id=PRESELECTOR,
            kind=StepKind.PRESELECTOR,
            title=entry.name.capitalize(),
            subject="preselector",
            places_from_detector=antenna_place(receiver),
            ways=ways,
            limits=tuple(held),
            adjusters=adjusters_of(receiver, "preselector"),
            spots=tuple(
                Spot(setting.at.band, setting.at.dial_khz, setting.at.signal_khz, setting.knob_mark)
                for setting in preselector_settings(receiver)
            ),
            targets=preselector_targets(receiver),
            depends_on=(WARM_UP, *every_conversion_step(receiver)),
        )
    ]


def _circuit_step(receiver: Receiver, key: str, entry: Filter) -> Step | None:
    source = source_before_filter(receiver, key)
    detector = meter_that_reads(receiver, "detector")
    subject = f"filter.{key}"
    if source is None or detector is None or entry.kind == "filter" or not is_adjusted(receiver, subject):
        return None
    single = entry.kind == "single circuit"
    name, because = _how_to_see(receiver, entry, window_of(receiver, subject))
    band = next(iter(receiver.bands))
    mark = entry.align_at_mark_khz
    setting = mid_band(receiver, band) if mark is None else dial_setting(receiver, band, mark)
    words = (_measured(name), because)
    controls = {**tuned_to(receiver, setting), **widest_open(receiver)}
    gain = receiver.limits.peak_gain_db if single else receiver.limits.can_gain_db
    frequency = frequency_khz(receiver, entry.intermediate, setting)
    return Step(
        id=filter_step(key),
        kind=StepKind.PEAK if single else StepKind.CAN,
        title=f"{key[0].upper()}{key[1:]}, {receiver.ifs[entry.intermediate].name}",
        subject=subject,
        places_from_detector=if_place(receiver, entry.intermediate),
        ways=(way(receiver, name, controls, words, source=source, meter=detector[0]),),
        limits=_circuit_limits(receiver, name, gain),
        adjusters=adjusters_of(receiver, subject),
        nominal_khz=frequency,
        spots=(Spot(setting.band, setting.dial_khz, frequency),),
        depends_on=(WARM_UP, *_later_filters(receiver, key), *steps_after_if(receiver, entry.intermediate)),
    )


def _circuit_limits(receiver: Receiver, name: WayName, gain_db: float) -> tuple[Limit, ...]:
    """A circuit seen by its own edges has a centre as well: off it, level is hardly lost, yet the passband moves."""
    gain = Limit("level still to be gained", gain_db, "dB")
    if name is WayName.STEP_AND_FIT:
        return (gain,)
    return gain, Limit("centre error", receiver.limits.passband_centre_percent, "% of the 3 dB width")


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


def _passband_step(receiver: Receiver, key: str) -> Step | None:
    entry, limits = receiver.ifs[key], receiver.limits
    targets = passband_targets(receiver, key)
    if not targets:
        return None
    words = ("level against frequency, at each width the receiver has", "nothing narrower stands after it")
    first = targets[0]
    return Step(
        id=passband_step(key),
        kind=StepKind.PASSBAND,
        title=f"Passband of the {entry.name}",
        subject=f"if.{key}",
        places_from_detector=if_place(receiver, key),
        ways=(Way(WayName.SWEEP, first.hookup, first.cautions, *words),),
        limits=(
            Limit("centre error", limits.passband_centre_percent, "% of the 3 dB width"),
            Limit("width error", limits.passband_width_percent, "%"),
            Limit("skew", limits.passband_skew_db, "dB"),
        ),
        adjusters=adjusters_of(receiver, *(f"filter.{name}" for name in filters_of(receiver, key))),
        nominal_khz=entry.centre_khz,
        spots=(Spot(None, None, entry.centre_khz),),
        targets=targets,
        depends_on=(WARM_UP, *steps_of_filters(receiver, key), *steps_after_if(receiver, key)),
        moved_by=_knobs_that_shift(receiver, key),
    )


def _knobs_that_shift(receiver: Receiver, key: str) -> tuple[str, ...]:
    """Name what turns the passband control on its shaft, and with it where this IF lies at rest."""
    control = receiver.passband_control
    if control is None or control.intermediate != key:
        return ()
    return tuple(adjuster.name for adjuster in adjusters_of(receiver, "passband_control"))


def _preselector_ways(receiver: Receiver) -> tuple[Way, ...]:
    source = source_with_all_behind(receiver, SIGNAL)
    if source is None:
        return ()
    controls = preselector_controls(receiver, preselector_settings(receiver)[0])
    ways: list[Way] = []
    probe = meter_that_reads(receiver, "rf probe")
    if probe is not None:
        words = ("level at the first mixer against frequency", "the probe sees the preselector alone")
        ways.append(way(receiver, WayName.PROBE, controls, words, source=source, meter=probe[0]))
    detector = meter_that_reads(receiver, "detector")
    if detector is not None:
        window = window_of(receiver, "preselector").through
        through = "what follows" if window is None else window_name(receiver, window)
        words = (
            "the level at the window's peak, the receiver roughly retuned for each frequency",
            f"through the receiver everything is seen through {through}",
        )
        ways.append(way(receiver, WayName.THROUGH_RECEIVER, controls, words, source=source, meter=detector[0]))
    return tuple(ways)
