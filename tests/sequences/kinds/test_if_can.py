"""A can with two slugs: by steps through a narrower window, by its edges where it can be seen, and what stops it."""

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task
from sequences.kinds.if_can.can_edges import HUMPS
from sequences.kinds.if_can.can_slugs import COUPLING, DIP
from sequences.kinds.if_can.procedure import if_can
from sequences.numerics.verdicts.verdict import Verdict
from sequences.plan.content import WayName
from sequences.procedures.adjusting.circuit_findings import CENTRE, GAINED, LEFT
from sequences.receiver.model import Receiver
from tests.sequences.procedures.circuit_desk import (
    CircuitDesk,
    Detector,
    Slug,
    measure_only,
    pair_gain,
    shipped,
    task_of,
)

SKERRY_HZ, MILLRACE_HZ = 520e3, 455e3
Q = 64.0
"""A critical pair of 455 kHz and Q 64 is 10 kHz wide (sqrt 2 f/Q: Zverev, Handbook of Filter Synthesis, 1967, n = 2
Butterworth, from memory). A turn is 1 % of inductance: 0.64 of a half-width."""

QUARTER_DB = 10 ** (-0.25 / 20)


def slugs_of(can: str, primary: Slug, secondary: Slug) -> dict[str, Slug]:
    """Name the slugs of a can."""
    return {f"{can} primary": primary, f"{can} secondary": secondary}


def shares(on: CircuitDesk, can: str) -> tuple[float, float]:
    """How far the two circuits of a can are off."""
    return on.slugs[f"{can} primary"].share, on.slugs[f"{can} secondary"].share


def skerry(primary: Slug, secondary: Slug, coupling: float = 1.0) -> CircuitDesk:
    """T2 before a window 4 kHz wide."""

    def gain(on: CircuitDesk, frequency_hz: float, point: str) -> float:
        assert point == "second mixer"
        window = 1 / math.sqrt(1 + ((frequency_hz - SKERRY_HZ) / 2e3) ** 8)
        return 200.0 * window * pair_gain(frequency_hz, SKERRY_HZ, Q, coupling, shares(on, "T2"))

    return CircuitDesk(shipped("skerry-7"), slugs_of("T2", primary, secondary), gain)


def millrace(
    can_1: tuple[Slug, Slug], can_2: tuple[Slug, Slug], couplings: tuple[float, float] = (1.0, 1.0)
) -> CircuitDesk:
    """Two cans; the source may enter between them. AGC holds what is stronger than 0.3 V."""

    def gain(on: CircuitDesk, frequency_hz: float, point: str) -> float:
        last = 100.0 * pair_gain(frequency_hz, MILLRACE_HZ, Q, couplings[1], shares(on, "can 2"))
        if point == "IF grid":
            return last
        assert point == "converter grid"
        return 20.0 * last * pair_gain(frequency_hz, MILLRACE_HZ, Q, couplings[0], shares(on, "can 1"))

    slugs = {**slugs_of("can 1", *can_1), **slugs_of("can 2", *can_2)}
    return CircuitDesk(shipped("millrace-5"), slugs, gain, detector=Detector(agc_volts=0.3))


def level(on: CircuitDesk, can: str, frequency_hz: float, coupling: float = 1.0) -> float:
    """What a can gives at a frequency, of the most it could."""
    return pair_gain(frequency_hz, frequency_hz, Q, coupling, shares(on, can)) / pair_gain(
        frequency_hz, frequency_hz, Q, coupling, (0.0, 0.0)
    )


def found(outcome: StepOutcome, name: str, when: Phase | None = None) -> list[Finding]:
    """Give the findings of a name, of one time or of any."""
    return [finding for finding in outcome.findings if finding.name == name and when in {None, finding.when}]


def right() -> tuple[Slug, Slug]:
    """Two slugs that stand right."""
    return Slug(), Slug()


@pytest.mark.parametrize(("primary", "secondary"), [(2.0, -1.0), (-2.5, -2.0), (0.0, 0.1), (1.0, 3.0)])
@pytest.mark.parametrize("coupling", [0.8, 1.15])
def test_through_a_narrower_window_both_slugs_are_set_by_steps(
    primary: float, secondary: float, coupling: float
) -> None:
    on = skerry(Slug(at=primary), Slug(at=secondary), coupling)
    before = level(on, "T2", SKERRY_HZ, coupling)

    outcome = on.run(if_can, task_of(on.receiver, "filter-t2", Phase.ADJUST))

    assert level(on, "T2", SKERRY_HZ, coupling) > QUARTER_DB
    assert outcome.verdict is Verdict.LEAVE
    assert len(on.turns()) <= 40
    assert any("a sweep would show that and not this" in sentence for sentence in outcome.advice)
    gained = found(outcome, GAINED.name)[0].figure
    assert gained is not None
    assert gained.value == pytest.approx(20 * math.log10(level(on, "T2", SKERRY_HZ, coupling) / before), abs=0.3)
    kq = found(outcome, COUPLING.name)[0].figure
    assert kq is not None
    assert abs(kq.value - coupling) < 4 * kq.sigma + 0.02
    frequencies = {frequency for call, frequency in on.source.calls if call == "frequency"}
    assert frequencies == {SKERRY_HZ}, "the source never moves"


def test_a_sweep_through_a_narrower_window_is_refused_with_the_reason() -> None:
    on = skerry(*right())
    task = task_of(on.receiver, "filter-t2", Phase.ADJUST)

    for name in (WayName.SWEEP, WayName.EDGE_BALANCE, WayName.HUMP_BALANCE):
        outcome = on.run(if_can, replace(task, way=replace(task.way, name=name)))

        assert not on.asked
        left = found(outcome, LEFT.name)[0]
        assert left.figure is None
        assert "moving the source shows the window, not the circuit" in (left.reason or "")


@pytest.mark.parametrize("phase", [Phase.AS_FOUND, Phase.AS_LEFT])
def test_measuring_turns_nothing(phase: Phase) -> None:
    for on, step in (
        (skerry(Slug(at=1.0), Slug()), "filter-t2"),
        (millrace(right(), (Slug(at=1.0), Slug())), "filter-can-2"),
    ):
        on.run(if_can, task_of(on.receiver, step, phase))

        assert not on.turns()


def test_a_can_over_coupled_by_accident_is_set_to_its_middle_and_its_windings_are_suspected() -> None:
    on = skerry(Slug(at=2.0), Slug(at=-1.0), 1.8)

    outcome = on.run(if_can, task_of(on.receiver, "filter-t2", Phase.ADJUST))

    assert all(abs(share) < 0.004 for share in shares(on, "T2"))
    assert outcome.verdict is Verdict.SUSPECT
    dip = found(outcome, DIP.name)[0]
    assert dip.figure is not None
    wanted_db = 20 * math.log10((1 + 1.8**2) / (2 * 1.8))
    assert abs(dip.figure.value - wanted_db) < 4 * dip.figure.sigma + 0.05
    assert dip.judged is not None
    assert "outside the limit" in dip.judged.text


def test_a_seized_slug_leaves_the_other_at_its_best_and_a_part_suspected() -> None:
    on = skerry(Slug(at=1.5), Slug(at=1.0, seized=True))

    outcome = on.run(if_can, task_of(on.receiver, "filter-t2", Phase.ADJUST))

    assert on.slugs["T2 secondary"].at == 1.0
    assert outcome.verdict is Verdict.SUSPECT
    assert any("T2 secondary cannot be turned" in sentence for sentence in outcome.advice)
    best = max(pair_gain(SKERRY_HZ, SKERRY_HZ, Q, 1.0, (0.01 * at / 20, 0.01)) for at in range(-120, 121))
    now = pair_gain(SKERRY_HZ, SKERRY_HZ, Q, 1.0, shares(on, "T2"))
    assert now > QUARTER_DB * best


def test_a_slug_at_the_end_of_its_travel_points_at_its_capacitor() -> None:
    on = skerry(Slug(at=1.0), Slug(at=3.0, right_at=8.0))

    outcome = on.run(if_can, task_of(on.receiver, "filter-t2", Phase.ADJUST))

    assert on.slugs["T2 secondary"].at > 5.9
    assert outcome.verdict is Verdict.SUSPECT
    assert any("suspect the fixed capacitor" in sentence for sentence in outcome.advice)


def test_a_slug_set_in_the_factory_is_left_and_the_other_peaked() -> None:
    on = skerry(Slug(at=1.5), Slug(at=0.2))

    outcome = on.run(if_can, measure_only(task_of(on.receiver, "filter-t2", Phase.ADJUST), "T2 secondary"))

    assert {asked.subject for asked in on.turns()} == {"T2 primary"}
    assert outcome.verdict is Verdict.LEAVE


@pytest.mark.parametrize(("step", "can"), [("filter-can-2", "can 2"), ("filter-can-1", "can 1")])
@pytest.mark.parametrize(("primary", "secondary"), [(2.0, 1.5), (-2.0, 1.0), (1.2, -1.3)])
def test_a_can_seen_by_its_edges_is_matched_and_centred(step: str, can: str, primary: float, secondary: float) -> None:
    mine, other = (Slug(at=primary), Slug(at=secondary)), (Slug(at=0.2), Slug(at=-0.1))
    on = millrace(mine, other) if can == "can 1" else millrace(other, mine)
    untouched = shares(on, "can 2" if can == "can 1" else "can 1")

    outcome = on.run(if_can, task_of(on.receiver, step, Phase.ADJUST))

    assert shares(on, "can 2" if can == "can 1" else "can 1") == untouched
    assert level(on, can, MILLRACE_HZ) > QUARTER_DB
    together = sum(shares(on, can)) / 2
    assert abs(together) < 2 * 0.03 * math.sqrt(2) / Q, "within 3 % of its width"
    assert outcome.verdict is Verdict.LEAVE
    centre = found(outcome, "centre", Phase.AS_LEFT)[0].figure
    assert centre is not None
    assert abs(centre.value - true_centre_hz(lambda f: pair_gain(f, MILLRACE_HZ, Q, 1.0, shares(on, can)))) < (
        4 * centre.sigma
    )


def true_centre_hz(gain: Callable[[float], float]) -> float:
    """Give the middle of the outermost half-power points, by trying in steps of 10 Hz."""
    frequency_hz = [MILLRACE_HZ + 10.0 * step for step in range(-1500, 1501)]
    levels = [gain(one) for one in frequency_hz]
    inside = [f for f, one in zip(frequency_hz, levels, strict=True) if one >= max(levels) / math.sqrt(2)]
    return (inside[0] + inside[-1]) / 2


def test_a_can_within_its_limits_is_left_alone() -> None:
    on = millrace(right(), (Slug(at=0.1), Slug(at=0.1)), (1.0, 0.97))

    outcome = on.run(if_can, task_of(on.receiver, "filter-can-2", Phase.ADJUST))

    assert not on.turns()
    assert outcome.verdict is Verdict.LEAVE
    assert any("nothing was turned" in sentence for sentence in outcome.advice)


def test_slugs_that_stand_apart_are_found_out_though_the_can_is_on_its_frequency() -> None:
    on = millrace(right(), (Slug(at=1.4), Slug(at=-1.4)))

    outcome = on.run(if_can, task_of(on.receiver, "filter-can-2", Phase.AS_FOUND))

    left = found(outcome, LEFT.name)[0]
    assert left.figure is not None
    truth_db = -20 * math.log10(level(on, "can 2", MILLRACE_HZ))
    assert abs(left.figure.value - truth_db) < 3 * left.figure.sigma
    assert outcome.verdict in {Verdict.ADJUST, Verdict.TOUCH_UP}


def with_coupling(receiver: Receiver, can: str, coupling: str) -> Receiver:
    """Give the receiver with a can its makers coupled otherwise."""
    entry = receiver.filters[can].model_copy(update={"coupling": coupling})
    return receiver.model_copy(update={"filters": {**receiver.filters, can: entry}})


def over_coupled(phase: Phase, on: CircuitDesk) -> Task:
    """Give the task of can 2 as one that is over-coupled by design."""
    on.receiver = with_coupling(on.receiver, "can 2", "over-coupled")
    return task_of(on.receiver, "filter-can-2", phase)


def test_a_can_over_coupled_by_design_is_balanced_and_not_suspected() -> None:
    on = millrace(right(), (Slug(at=1.5), Slug(at=0.5)), (1.0, 1.7))
    task = over_coupled(Phase.ADJUST, on)
    assert task.way.name is WayName.HUMP_BALANCE

    outcome = on.run(if_can, task)

    assert all(abs(share) < 0.003 for share in shares(on, "can 2"))
    humps = found(outcome, HUMPS.name, Phase.AS_LEFT)[0]
    assert humps.figure is not None
    assert abs(humps.figure.value) < 0.5
    assert outcome.verdict is Verdict.LEAVE
    assert not any("looks over-coupled" in sentence for sentence in outcome.advice)


def test_a_can_that_nothing_isolates_is_set_by_steps_and_it_says_why() -> None:
    on = millrace((Slug(at=1.0), Slug(at=-0.5)), right())
    points = {name: point for name, point in on.receiver.source_points.items() if name != "IF grid"}
    on.receiver = on.receiver.model_copy(update={"source_points": points})
    task = task_of(on.receiver, "filter-can-1", Phase.ADJUST)

    outcome = on.run(if_can, task)

    assert any("No source point lies between" in sentence for sentence in outcome.advice)
    assert level(on, "can 1", MILLRACE_HZ) > QUARTER_DB
    assert CENTRE.name not in {finding.name for finding in outcome.findings}


def test_the_stage_behind_is_measured_first_from_its_own_point() -> None:
    on = millrace((Slug(at=1.0), Slug(at=1.0)), right())

    on.run(if_can, task_of(on.receiver, "filter-can-1", Phase.AS_FOUND))

    connects = [asked.detail["source"]["to"] for asked in on.asked if asked.action == "connect"]
    assert connects == ["IF grid", "converter grid"]


def test_a_silent_receiver_leaves_a_reason() -> None:
    on = CircuitDesk(shipped("skerry-7"), slugs_of("T2", *right()), lambda _on, _f, _point: 0.0)

    outcome = on.run(if_can, task_of(on.receiver, "filter-t2", Phase.ADJUST))

    assert not on.turns()
    assert "check the leads" in (found(outcome, LEFT.name)[0].reason or "")
    assert outcome.verdict is None
