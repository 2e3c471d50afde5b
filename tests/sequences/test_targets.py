"""What can be scanned of the shipped receivers, and that a scan of it shows what it says."""

import pytest
from hypothesis import given

from sequences.receiver.model import Receiver
from sequences.receiver.points import swept_ifs
from sequences.receiver.targets import ScanTarget, scan_targets
from tests.sequences.receiver_files import made_up, made_up_receivers, shipped


def by_id(receiver_id: str) -> dict[str, ScanTarget]:
    """Give a shipped receiver's targets."""
    return {target.id: target for target in scan_targets(shipped(receiver_id))}


def test_skerry_7_offers_its_85_khz_passband_at_each_selectivity_and_its_preselector_on_each_band() -> None:
    """The wider 520 kHz cans are no target: a sweep would show the 85 kHz filter."""
    targets = by_id("skerry-7")

    assert list(targets) == [
        "skerry-7-third-passband-0-8khz",
        "skerry-7-third-passband-1-6khz",
        "skerry-7-third-passband-3-2khz",
        "skerry-7-preselector-4-5",
        "skerry-7-preselector-6",
        "skerry-7-preselector-8-5",
        "skerry-7-preselector-12",
        "skerry-7-preselector-16",
        "skerry-7-preselector-19",
        "skerry-7-preselector-25-5",
    ]
    assert not any("520" in target.name or "second IF" in target.name for target in targets.values())


@pytest.mark.parametrize(("choice", "width_hz"), [("0.8 kHz", 800.0), ("1.6 kHz", 1600.0), ("3.2 kHz", 3200.0)])
def test_skerry_7_passband_is_scanned_at_the_third_mixer_with_agc_off(choice: str, width_hz: float) -> None:
    """85 kHz into the third mixer, the meter at the detector."""
    target = by_id("skerry-7")[f"skerry-7-third-passband-{choice.replace(' ', '').replace('.', '-').lower()}"]

    assert target.kind == "if passband"
    assert (target.hookup.source_to, target.hookup.meter_to) == ("third mixer", "detector")
    assert target.hookup.controls["selectivity"] == choice
    assert target.hookup.controls["agc"] == "off"
    assert target.hookup.controls["beat oscillator"] == "off"
    assert (target.nominal_centre_hz, target.nominal_width_hz) == (85_000.0, width_hz)
    assert target.start_hz < 85_000.0 - width_hz
    assert target.stop_hz > 85_000.0 + width_hz


# Two equal isolated circuits narrow to 0.6436 f/Q: Terman, Radio Engineers' Handbook (1943), section 3; the loaded Q
# falls from 80 at 4.5 MHz to 50 at 25.5 MHz.
@pytest.mark.parametrize(("band", "middle_hz", "quality"), [("4.5", 4.75e6, 80.0), ("25.5", 25.75e6, 50.0)])
def test_skerry_7_preselector_is_scanned_with_the_probe_and_the_knob_on_its_mark(
    band: str, middle_hz: float, quality: float
) -> None:
    """Half way along the band the knob stands half way."""
    target = by_id("skerry-7")[f"skerry-7-preselector-{band.replace('.', '-')}"]

    assert target.kind == "preselector"
    assert (target.hookup.source_to, target.hookup.meter_to) == ("antenna", "mixer probe")
    assert target.hookup.controls["band"] == band
    assert target.hookup.controls["dial"] == 250.0
    assert target.hookup.controls["preselector"] == 5.0
    assert target.nominal_centre_hz == middle_hz
    assert target.nominal_width_hz == pytest.approx(0.6436 * middle_hz / quality, rel=1e-4)


def test_millrace_5_offers_its_passband_and_its_antenna_circuit_at_three_marks() -> None:
    """455 kHz into the converter grid; the antenna circuit at 600, 1000 and 1400 kHz."""
    targets = by_id("millrace-5")

    assert list(targets) == [
        "millrace-5-main-passband",
        "millrace-5-preselector-600",
        "millrace-5-preselector-1000",
        "millrace-5-preselector-1400",
    ]
    passband = targets["millrace-5-main-passband"]
    assert (passband.hookup.source_to, passband.hookup.meter_to) == ("converter grid", "detector")
    assert (passband.nominal_centre_hz, passband.nominal_width_hz) == (455_000.0, 8000.0)
    antenna = targets["millrace-5-preselector-1000"]
    assert (antenna.hookup.source_to, antenna.hookup.meter_to) == ("antenna", "mixer probe")
    assert antenna.hookup.controls["dial"] == 1000.0
    assert antenna.nominal_centre_hz == 1e6


@pytest.mark.parametrize("receiver_id", ["skerry-7", "millrace-5"])
def test_every_target_says_through_what_how_strong_and_what_to_beware_of(receiver_id: str) -> None:
    """A person can hook it up from the target alone."""
    receiver = shipped(receiver_id)
    for target in scan_targets(receiver):
        assert target.receiver_id == receiver_id
        assert target.hookup.source_through
        assert target.hookup.meter_through
        assert target.level_dbm <= target.max_level_dbm
        assert target.settle_s > 0
        assert any("can kill" in caution for caution in target.cautions)
        assert set(target.hookup.controls) <= set(receiver.controls)


@given(made_up_receivers())
def test_a_scan_never_starts_below_zero_and_always_has_its_nominal_edges_inside(receiver: Receiver) -> None:
    """Whatever the receiver."""
    for target in scan_targets(receiver):
        assert 0 < target.start_hz < target.nominal_centre_hz - target.nominal_width_hz / 2
        assert target.stop_hz > target.nominal_centre_hz + target.nominal_width_hz / 2


@pytest.mark.parametrize(
    ("widths_khz", "shown"),
    [([9.0, 2.0], ("if1",)), ([2.0, 9.0], ("if0", "if1")), ([5.0, 5.0], ("if0", "if1"))],
)
def test_only_an_if_with_nothing_narrower_after_it_can_be_swept(
    widths_khz: list[float], shown: tuple[str, ...]
) -> None:
    """A sweep shows the narrowest thing between source and detector: common practice, no source."""
    receiver = Receiver.model_validate(made_up([700.0, 110.0], ["high", "low"], widths_khz=widths_khz))

    assert swept_ifs(receiver) == shown


def test_a_receiver_without_a_probe_point_offers_no_preselector_scan() -> None:
    """Nothing is offered that cannot be hooked up."""
    receiver = Receiver.model_validate(made_up([455.0], ["high"]))

    assert [target.kind for target in scan_targets(receiver)] == ["if passband"]
