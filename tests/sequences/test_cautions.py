"""What to beware of: by voltage and supply, the worst first; a point that can kill needs a rated capacitor."""

import pytest

from sequences.receiver.cautions import cautions_for, general_dangers
from sequences.receiver.hookups import hook_up
from sequences.receiver.model import Receiver
from sequences.receiver.references import reference_faults
from tests.sequences.receiver_files import made_up, put, shipped, shipped_tables, without


def test_a_live_chassis_is_a_danger_at_every_hookup() -> None:
    """An isolating transformer before any earthed instrument: common practice, no source."""
    receiver = shipped("millrace-5")
    for source in receiver.source_points:
        cautions = cautions_for(receiver, hook_up(receiver, {}, source=source, meter="detector"))
        live = next(line for line in cautions if "The chassis can be live" in line)
        assert live.startswith("DANGER: ")
        assert "isolating transformer before any earthed instrument" in live


@pytest.mark.parametrize("receiver_id", ["skerry-7", "millrace-5"])
def test_high_voltage_and_stored_charge_stand_at_every_hookup(receiver_id: str) -> None:
    """With the blocking capacitor's rating wherever the source meets a grid."""
    receiver = shipped(receiver_id)
    for source, point in receiver.source_points.items():
        said = " ".join(cautions_for(receiver, hook_up(receiver, {}, source=source)))
        assert "can kill" in said
        assert "discharge and measure before you move a lead" in said
        assert "local codes" in said
        if point.voltage_v:
            assert f"DANGER: {source} can be at" in said
            assert "only through the 630 V capacitor" in said


def test_a_battery_set_has_no_high_voltage_to_beware_of() -> None:
    """A caution that does not apply teaches people not to read them."""
    receiver = Receiver.model_validate(made_up([455.0], ["high"]))
    said = " ".join(cautions_for(receiver, hook_up(receiver, {}, source="antenna")))

    assert "kill" not in said
    assert "DANGER" not in said


def test_a_battery_does_not_make_a_high_voltage_safe() -> None:
    """What kills is the voltage: IEC 61010-1, clause 6.3.1, calls more than 60 V hazardous live (from memory)."""
    tables = put(made_up([455.0], ["high"]), "supply/highest_voltage_v", 250.0)
    said = cautions_for(Receiver.model_validate(tables), hook_up(Receiver.model_validate(tables), {}, source="antenna"))

    assert said[0].startswith("DANGER: 250 V on this chassis can kill.")


def test_the_dangers_of_the_whole_job_stand_in_full_and_the_worst_first() -> None:
    """Unplug, discharge, one hand, tool: told once, before any lead is connected."""
    said = general_dangers(shipped("millrace-5"))
    words = [line.partition(":")[0] for line in said]

    assert words == sorted(words, key=["DANGER", "WARNING", "CAUTION", "NOTICE"].index)
    for told in ("isolating transformer", "earth", "Unplug", "one hand", "Discharge", "not metal", "codes"):
        assert any(told in line for line in said), told


def test_at_a_hookup_the_general_dangers_take_one_line() -> None:
    """Repeated sentences are not read: what is particular to the points stands out."""
    said = cautions_for(shipped("skerry-7"), hook_up(shipped("skerry-7"), {}, source="third mixer", meter="detector"))

    assert said[0].startswith("DANGER: third mixer can be at 210 V.")
    assert sum("on this chassis can kill" in line for line in said) == 1
    assert len(said) <= 4


HIGH_VOLTAGE_POINTS = [
    ("skerry-7", "meter_point/mixer probe/capacitor_rating_v", "210 V stand there, which can kill"),
    ("millrace-5", "source_point/antenna/capacitor_rating_v", "the source must never see"),
]


@pytest.mark.parametrize(("receiver_id", "key", "sentence"), HIGH_VOLTAGE_POINTS)
def test_a_point_that_can_kill_needs_a_rated_capacitor(receiver_id: str, key: str, sentence: str) -> None:
    tables = put(shipped_tables(receiver_id), key.replace("capacitor_rating_v", "coupling"), "direct")
    receiver = Receiver.model_validate(without(tables, key))

    assert any(sentence in fault for fault in reference_faults(receiver))


def test_on_a_live_chassis_the_source_is_never_coupled_directly() -> None:
    """No voltage named at the aerial, yet the whole chassis may stand at mains."""
    tables = put(shipped_tables("millrace-5"), "source_point/antenna/coupling", "direct")
    tables = put(without(tables, "source_point/antenna/capacitor_rating_v"), "source_point/antenna/voltage_v", 0.0)

    faults = reference_faults(Receiver.model_validate(tables))

    assert any("the chassis can be live" in fault for fault in faults)


def test_a_loose_pick_up_warns_of_pulling() -> None:
    """Counting must not move what is counted."""
    receiver = shipped("skerry-7")
    said = cautions_for(receiver, hook_up(receiver, {}, counter="third oscillator"))

    assert any("shifts its frequency" in caution for caution in said)
