"""How passbands are laid out: every IF that a sweep can show, at each of its widths."""

from sequences.kinds.if_passband.passband_findings import SKEW, WIDTH_ERROR
from sequences.plan.content import Limit, Shown, Spot, Step, Way, WayName
from sequences.plan.parts import adjusters_of, is_adjusted
from sequences.plan.places import WARM_UP, if_place, passband_step, steps_after_if, steps_of_filters
from sequences.procedures.adjusting.circuit_findings import CENTRE
from sequences.receiver.chain import ifs_in_order
from sequences.receiver.model import Receiver
from sequences.receiver.points import filters_of, swept_ifs
from sequences.receiver.targets import passband_targets

NAME = "if passband"
MEANING = (
    "The passband is the slice of frequencies that reaches the ear; off centre or lopsided, it cuts one side of a "
    "signal."
)


def steps(receiver: Receiver) -> list[Step]:
    """Measure the passband of every IF that a sweep can show, at each of its widths."""
    return [step for key in swept_ifs(receiver) if (step := _passband_step(receiver, key)) is not None]


def _passband_step(receiver: Receiver, key: str) -> Step | None:
    entry, limits = receiver.ifs[key], receiver.limits
    targets = passband_targets(receiver, key)
    if not targets:
        return None
    words = ("level against frequency, at each width the receiver has", "nothing narrower stands after it")
    first = targets[0]
    return Step(
        id=passband_step(key),
        kind=NAME,
        title=f"Passband of the {entry.name}",
        subject=f"if.{key}",
        places_from_detector=if_place(receiver, key),
        ways=(Way(WayName.SWEEP, first.hookup, first.cautions, *words),),
        limits=(
            Limit(CENTRE, limits.passband_centre_percent),
            Limit(WIDTH_ERROR, limits.passband_width_percent),
            Limit(SKEW, limits.passband_skew_db),
        ),
        adjusters=adjusters_of(receiver, *(f"filter.{name}" for name in _filters_shown_with(receiver, key))),
        nominal_khz=entry.centre_khz,
        spots=(Spot(None, None, entry.centre_khz),),
        targets=targets,
        meaning=MEANING,
        shown=Shown.RESPONSES,
        depends_on=(WARM_UP, *steps_of_filters(receiver, key), *steps_after_if(receiver, key)),
        moved_by=_knobs_that_shift(receiver, key),
    )


def _filters_shown_with(receiver: Receiver, key: str) -> tuple[str, ...]:
    """Name the filters of an IF, and those of earlier IFs that no step of their own can show.

    What was set in the factory before a narrower IF is measured with the passband it is seen through, or not at all.
    """
    shown, order = swept_ifs(receiver), ifs_in_order(receiver)
    unswept = [other for other in order[: order.index(key)] if other not in shown]
    sealed = [
        name for other in unswept for name in filters_of(receiver, other) if not is_adjusted(receiver, f"filter.{name}")
    ]
    return (*sealed, *filters_of(receiver, key)) if key == shown[0] else tuple(filters_of(receiver, key))


def _knobs_that_shift(receiver: Receiver, key: str) -> tuple[str, ...]:
    """Name what turns the passband control on its shaft, and with it where this IF lies at rest."""
    control = receiver.passband_control
    if control is None or control.intermediate != key:
        return ()
    return tuple(adjuster.name for adjuster in adjusters_of(receiver, "passband_control"))
