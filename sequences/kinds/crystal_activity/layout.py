"""How crystals are laid out: one step for each oscillator with a test point, with every band."""

from sequences.kinds.crystal_activity.procedure import activity_against
from sequences.numerics.wording import heading
from sequences.plan.content import Limit, Shown, Spot, Step, WayName
from sequences.plan.parts import adjusters_of, tuned_to, way
from sequences.plan.places import WARM_UP, conversion_place, slug
from sequences.receiver.chain import conversions_in_order, for_band, mid_band
from sequences.receiver.model import Receiver
from sequences.receiver.points import meter_that_reads

NAME = "crystal activity"
MEANING = (
    "Each band has a crystal that must oscillate; how hard it does is its activity. A weak one makes the band "
    "weak, and one that stops makes it dead."
)


def steps(receiver: Receiver) -> list[Step]:
    """Read the test point of each oscillator that has one and is not tuned by the dial."""
    found = []
    for key in conversions_in_order(receiver):
        tested = meter_that_reads(receiver, "oscillator activity", f"conversion.{key}")
        if tested is not None and receiver.conversions[key].oscillator_kind != "tunable":
            found.append(_activity_step(receiver, key, tested[0]))
    return found


def _activity_step(receiver: Receiver, key: str, meter: str) -> Step:
    entry = receiver.conversions[key]
    limit = receiver.limits.activity_below_reference_db
    reference = entry.activity_reference_band or next(iter(receiver.bands))
    below = f"activity below band {reference}"
    settings = [mid_band(receiver, band) for band in receiver.bands]
    words = (
        f"the voltage at the test point on each band, in dB against band {reference}",
        "more negative means stronger oscillation; a meter of 10 megohm or more loads the point little",
    )
    return Step(
        id=f"activity-{slug(key)}",
        kind=NAME,
        title=f"{heading(entry.oscillator)} activity",
        subject=f"conversion.{key}",
        places_from_detector=conversion_place(receiver, key),
        ways=(way(receiver, WayName.TEST_POINT, tuned_to(receiver, settings[0]), words, meter=meter),),
        limits=() if limit is None else (Limit(activity_against(reference), limit, below),),
        adjusters=adjusters_of(receiver, f"conversion.{key}"),
        nominal_khz=None if entry.oscillator_khz is None else for_band(entry.oscillator_khz, reference),
        spots=tuple(Spot(at.band, at.dial_khz, None) for at in settings),
        depends_on=(WARM_UP,),
        meaning=MEANING,
        shown=Shown.BY_PLACE,
    )
