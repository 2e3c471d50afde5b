"""How the preselector is laid out: last of all, at each spot of its knob or of the dial."""

from sequences.kinds.preselector.preselector_figures import POINTER
from sequences.numerics.wording import heading
from sequences.plan.content import Limit, Shown, Spot, Step, Way, WayName
from sequences.plan.parts import adjusters_of, way
from sequences.plan.places import PRESELECTOR, WARM_UP, antenna_place, every_conversion_step
from sequences.procedures.adjusting.circuit_findings import CENTRE, LEFT
from sequences.receiver.model import SIGNAL, Receiver
from sequences.receiver.points import level_point, meter_that_reads, source_with_all_behind
from sequences.receiver.preselector import preselector_settings
from sequences.receiver.targets import preselector_controls, preselector_targets
from sequences.receiver.windows import window_name, window_of

NAME = "preselector"
MEANING = (
    "What comes from the antenna is tuned to the wanted station before anything else; off tune, weak stations are "
    "lost and strong ones break through from elsewhere."
)


def steps(receiver: Receiver) -> list[Step]:
    """Align the preselector, last of all."""
    ways = _preselector_ways(receiver)
    if not ways:
        return []
    limits, entry = receiver.limits, receiver.preselector
    held = [Limit(CENTRE, limits.preselector_centre_percent)]
    if limits.preselector_pointer_marks is not None:
        held.append(Limit(POINTER, limits.preselector_pointer_marks))
    held.append(Limit(LEFT, limits.preselector_gain_db))
    return [
        Step(
            id=PRESELECTOR,
            kind=NAME,
            title=heading(entry.name),
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
            meaning=MEANING,
            shown=Shown.RESPONSES,
            depends_on=(WARM_UP, *every_conversion_step(receiver)),
        )
    ]


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
    detector = level_point(receiver)
    if detector is not None:
        window = window_of(receiver, "preselector").through
        through = "what follows" if window is None else window_name(receiver, window)
        words = (
            "the level at the window's peak, the receiver roughly retuned for each frequency",
            f"through the receiver everything is seen through {through}",
        )
        ways.append(way(receiver, WayName.THROUGH_RECEIVER, controls, words, source=source, meter=detector[0]))
    return tuple(ways)
