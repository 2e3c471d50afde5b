"""Crystal activity over real sockets: the Skerry 7's seven bands on five slugs, two of them shared."""

import math
from collections.abc import Iterator
from dataclasses import replace

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task
from sequences.kinds.crystal_activity.procedure import crystal_activity
from sequences.numerics.verdicts.verdict import Verdict
from tests.bench.steps import StepBench, step_bench

FINGERS_TURNS = 1 / 32
BESIDE_THE_BEST = 0.97
"""Of the worst band's voltage at the best setting: what coarse fingers and a flat top may give away."""


@pytest.fixture(scope="module")
def skerry() -> Iterator[StepBench]:
    """A Skerry 7; each test puts its own unit on the bench."""
    with step_bench("skerry-7", coarse_turns=FINGERS_TURNS) as bench:
        yield bench


def true_volts(bench: StepBench) -> dict[str, float]:
    """Give each band's test point, by the simulator's own truth."""
    volts: dict[str, float] = bench.truth()["crystal oscillator test point"]
    return volts


def activity(outcome: StepOutcome, band: str) -> Finding:
    """Give a band's finding."""
    return next(one for one in outcome.findings if one.where == band and one.name.startswith("activity"))


def to_four_decibels(task: Task) -> Task:
    """The same step with less allowed than a weak crystal loses at its best."""
    limits = tuple(replace(limit, most=4.0) for limit in task.step.limits)
    return replace(task, step=replace(task.step, limits=limits))


@pytest.mark.parametrize("seed", [1, 4, 11])
def test_every_band_s_activity_is_the_simulator_s_own(skerry: StepBench, seed: int) -> None:
    """Decibels against band 16, within 4 sigma; what has stopped has no figure, and a verdict."""
    skerry.bench.do(do="reseed", seed=seed)
    volts = true_volts(skerry)
    skerry.robot.done.clear()

    outcome = skerry.run(crystal_activity, "activity-first", Phase.AS_FOUND)

    for band, volt in volts.items():
        figure = activity(outcome, band).figure
        if volt == 0.0:
            assert figure is None
            assert "does not oscillate" in (activity(outcome, band).reason or "")
        else:
            assert figure is not None
            assert abs(figure.value - 20 * math.log10(volt / volts["16"])) <= 4 * figure.sigma
    assert not skerry.asked("turn")


@pytest.mark.parametrize("seed", [5, 9, 12])
def test_stopped_and_weak_bands_are_brought_back(skerry: StepBench, seed: int) -> None:
    """By the truth: every slug that was turned stands where its worst band is as good as anywhere."""
    skerry.bench.do(do="reseed", seed=seed)
    assert 0.0 in true_volts(skerry).values()

    outcome = skerry.run(crystal_activity, "activity-first", Phase.ADJUST)

    left = true_volts(skerry)
    assert all(volt < 0.0 for volt in left.values())
    assert outcome.verdict is Verdict.LEAVE
    assert outcome.turned
    for turned in outcome.turned:
        served = skerry.receiver.adjusters[turned.adjuster].bands
        off_turns = skerry.truth()["adjusters"][turned.adjuster]["off_turns"]
        skerry.bench.do(do="turn", adjuster=turned.adjuster, turns=-off_turns)
        best = true_volts(skerry)
        assert min(-left[band] for band in served) > BESIDE_THE_BEST * min(-best[band] for band in served)


@pytest.mark.parametrize(
    ("seed", "band", "phase"), [(4, "25.5", Phase.ADJUST), (8, "25.5", Phase.AS_FOUND), (19, "16", Phase.AS_FOUND)]
)
def test_a_weak_crystal_within_its_limit_is_pointed_at_all_the_same(
    skerry: StepBench, seed: int, band: str, phase: Phase
) -> None:
    """Even where it is the reference band's."""
    skerry.bench.do(do="reseed", seed=seed)
    assert f"weak crystal, band {band}" in skerry.truth()["faults"]

    outcome = skerry.run(crystal_activity, "activity-first", phase)

    assert outcome.verdict is Verdict.LEAVE
    assert any(sentence.startswith(f"Band {band} is") and "crystal is weak" in sentence for sentence in outcome.advice)


def test_what_is_within_its_limit_is_not_turned(skerry: StepBench) -> None:
    """Seed 3's crystals all run within 6 dB of band 16."""
    skerry.bench.do(do="reseed", seed=3)

    outcome = skerry.run(crystal_activity, "activity-first", Phase.ADJUST)

    assert outcome.turned == ()
    assert outcome.verdict is Verdict.LEAVE


@pytest.mark.parametrize(
    ("seed", "band", "sign"),
    [(4, "25.5", "the best the adjuster reaches"), (12, "4.5", "siblings on the same adjuster are right")],
)
def test_a_weak_crystal_is_suspected_once_its_slug_is_right(skerry: StepBench, seed: int, band: str, sign: str) -> None:
    """Alone on its slug, or with a sibling that is right."""
    skerry.bench.do(do="reseed", seed=seed)
    assert f"weak crystal, band {band}" in skerry.truth()["faults"]

    outcome = skerry.run(crystal_activity, "activity-first", Phase.ADJUST, to_four_decibels)

    judged = activity(outcome, band).judged
    assert judged is not None
    assert judged.verdict is Verdict.SUSPECT
    assert sign in judged.text
