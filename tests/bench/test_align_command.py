"""`peakwright align` at a terminal, over real sockets, on the practice receivers."""

import re
import signal
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from sequences.engine.events import Asked
from server.records.store import Store
from tests.bench.practice import Practice, practice
from tests.bench.robot import Robot
from tests.bench.talk import Talk
from tests.sequences.receiver_files import edited, step_count

STEP, TITLE = "filter-tunable-if-circuit", "Tunable IF circuit"
TURN = "Turn tunable IF trimmer"
SETTLED = ["--instant", "--seed", "4"]


@pytest.fixture
def bench() -> Iterator[Practice]:
    """A Skerry 7 without delays."""
    with practice("--receiver", "skerry-7", *SETTLED) as started:
        yield started


@pytest.fixture
def bench_file(bench: Practice, tmp_path: Path) -> str:
    """The bench file that names its instruments."""
    return write_bench_file(bench, tmp_path)


def write_bench_file(bench: Practice, folder: Path) -> str:
    """Name the instruments of a bench in a file, and give its path."""
    path = folder / "bench.toml"
    tables = [f'[{role}]\naddress = "{getattr(bench, role)}"\n' for role in ("source", "meter", "counter")]
    path.write_text("".join(tables), encoding="utf-8")
    return str(path)


def walk(talk: Talk, robot: Robot, until: str | None = None) -> list[Asked]:
    """Answer as a person with hands would, till the end or till a question's text holds `until`; give the questions.

    Every step but one is left as it is. Enter takes what is proposed. What is to be done with hands is read from the
    record, where it is already.
    """
    questions = []
    while (said := talk.listen()) is not None:
        if until is not None and until in said:
            break
        if "\nChoose" in f"\n{said}":
            talk.type(answer_at_once(said))
            continue
        asked = talk.asked()
        assert asked.text in re.sub(r"\s+", " ", said)
        questions.append(asked)
        talk.type(robot.answer(asked))
    return questions


def answer_at_once(said: str) -> str:
    """Leave every step but one, and else take what is proposed; the practice bench has hands of its own."""
    return "" if "Begin '" not in said or f"Begin '{TITLE}" in said else "leave"


def output_of(bench: Practice) -> str:
    """Ask the source whether its output is on."""
    return bench.ask(bench.source, "OUTP?")


@dataclass(frozen=True)
class Walked:
    """A walk from end to end: what was asked and printed, the job in the record, and how far the trimmer was off."""

    questions: list[Asked]
    heard: str
    job: dict[str, Any]
    off_before: float
    off_after: float
    output: str


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> Walked:
    """Walk the plan with a robot for a person."""
    folder = tmp_path_factory.mktemp("walk")
    with practice("--receiver", "skerry-7", *SETTLED) as bench:
        before = turns_off(bench)
        with Talk("skerry-7", "--bench", write_bench_file(bench, folder), store=folder / "record.sqlite") as talk:
            questions = walk(talk, Robot(bench, coarse_turns=0.02))
            assert talk.end() == (0, "")
        return Walked(questions, talk.heard, talk.job(), before, turns_off(bench), output_of(bench))


def test_the_receiver_is_better_for_the_walk(walked: Walked) -> None:
    """How far the trimmer is off is the simulator's own truth; the robot only did what it was asked."""
    assert walked.off_after < walked.off_before / 3
    assert {asked.action for asked in walked.questions} >= {"connect", "turn"}
    assert walked.output == "0"


def test_adjusting_out_of_order_is_warned_of(walked: Walked) -> None:
    """Every step before this one was left unmeasured."""
    said = re.sub(r"\s+", " ", walked.heard)
    assert f"{TITLE}, tunable IF rests on 'Warm-up', 'Dial'," in said


def test_cautions_come_first(walked: Walked) -> None:
    assert walked.heard.index("Danger") < walked.heard.index("Leads") < walked.heard.index("Good is:")


def turns_off(bench: Practice) -> float:
    """Give how far the trimmer is from its best place, in turns."""
    return abs(float(bench.do(do="truth")["truth"]["adjusters"]["tunable IF trimmer"]["off_turns"]))


def test_nothing_is_asked_twice_on_one_hookup(walked: Walked) -> None:
    """As found, adjusting and as left share their leads and controls."""
    hookups = [asked for asked in walked.questions if asked.action in {"connect", "set"}]

    assert len(hookups) == len({(asked.subject, asked.text) for asked in hookups})


def test_stopped_in_the_middle_it_goes_on_where_it_stopped_and_asks_nothing_again(
    bench: Practice, bench_file: str, tmp_path: Path
) -> None:
    store, robot = tmp_path / "record.sqlite", Robot(bench)
    with Talk("skerry-7", "--bench", bench_file, store=store) as talk:
        first = walk(talk, robot, until=TURN)
        talk.type("stop")
        status, err = talk.end()
        assert (status, err) == (0, "")
        assert "go on from there" in talk.heard
        assert output_of(bench) == "0"
    with Talk("skerry-7", "--bench", bench_file, store=store) as talk:
        said = talk.listen()
        assert said is not None
        assert f"stopped after 8 of {step_count('skerry-7')} steps" in said
        talk.type("resume")
        assert "still stand" in (talk.listen() or "")
        talk.type("yes")
        second = walk(talk, robot, until=TURN)

    assert {asked.action for asked in first} == {"connect"}
    assert second == []
    assert "Begin 'Tunable" not in talk.heard
    assert "measuring as found" not in talk.heard


def test_leads_that_no_longer_stand_are_asked_for_again(bench: Practice, bench_file: str, tmp_path: Path) -> None:
    """Here after a kill, which leaves no time for a farewell."""
    store, robot = tmp_path / "record.sqlite", Robot(bench)
    with Talk("skerry-7", "--bench", bench_file, store=store) as talk:
        walk(talk, robot, until=TURN)
        talk.send(signal.SIGKILL)
        talk.process.wait()
    with Talk("skerry-7", "--bench", bench_file, store=store) as talk:
        talk.listen()
        talk.type("resume")
        talk.listen()
        talk.type("no")
        assert "Connect the source to first mixer" in (talk.listen() or "")
        talk.type("stop")
        assert talk.end() == (0, "")
    assert output_of(bench) == "0"


def test_leave_goes_on_to_the_next_step_and_again_measures_once_more(
    bench: Practice, bench_file: str, tmp_path: Path
) -> None:
    store = tmp_path / "record.sqlite"
    with Talk("skerry-7", "--bench", bench_file, store=store) as talk:
        walk(talk, Robot(bench), until=TURN)
        talk.type("again")
        said = talk.listen() or ""
        assert "adjusting" in said
        talk.type("fly")
        assert "'fly' is no answer here" in (talk.listen() or "")
        talk.type("leave")
        walk(talk, Robot(bench))
        assert talk.end() == (0, "")

    left = [note["body"] for note in talk.job()["notes"] if note["kind"] == "StepLeft"]
    assert (STEP, "The person left it as it is.") in {(each["step_id"], each["reason"]) for each in left}


def test_ctrl_c_at_a_prompt_of_a_real_terminal_stops_with_the_source_off(
    bench: Practice, bench_file: str, tmp_path: Path
) -> None:
    store = tmp_path / "record.sqlite"
    with Talk("skerry-7", "--bench", bench_file, store=store, terminal=True) as talk:
        walk(talk, Robot(bench), until=TURN)
        talk.press(b"\x03")
        status, err = talk.end()

    assert status == 1
    assert len(err.strip().splitlines()) == 1
    assert "stopped" in err
    assert output_of(bench) == "0"


def test_a_signal_during_readings_stops_with_the_source_off(tmp_path: Path) -> None:
    """Within one reading; what was read until then is on disk."""
    store = tmp_path / "record.sqlite"
    with practice("--receiver", "skerry-7", "--delays", "meter=0.2") as slow:
        with Talk("skerry-7", "--bench", write_bench_file(slow, tmp_path), store=store) as talk:
            walk(talk, Robot(slow), until="Then power on")
            talk.type("done")
            slow.wait_until_on()
            talk.send(signal.SIGINT)
            status, err = talk.end()
        assert output_of(slow) == "0"

    assert status == 1
    assert "stopped" in err
    job = talk.job()
    assert (job["state"], job["runs"][-1]["ending"]) == ("paused", "stopped")


def test_every_reading_and_outcome_is_in_the_record(walked: Walked) -> None:
    runs = [run for run in walked.job["runs"] if run["step_id"] == STEP]
    measured = [note for note in walked.job["notes"] if note["kind"] == "StepMeasured"]

    assert walked.job["state"] == "done"
    assert [run["phase"] for run in runs] == ["as found", "adjust", "as left"]
    assert [note["body"]["outcome"]["phase"] for note in measured] == ["as found", "adjust", "as left"]
    assert [note["run_id"] for note in measured] == [run["id"] for run in runs]
    assert all(run["ending"] == "completed" and run["readings"] for run in runs)
    assert all(reading["unit"] == "V" for run in runs for reading in run["readings"])


@pytest.mark.timeout(400)  # a whole alignment, and a busy machine takes its time
def test_practice_starts_its_own_bench_and_its_hands_can_do_it_all(tmp_path: Path) -> None:
    with Talk(
        "skerry-7", "--practice", "--seed", "6", "--unattended", "--speed", "100", store=tmp_path / "practice.sqlite"
    ) as talk:
        assert talk.end() == (0, "")

    assert "Tunable IF circuit, tunable IF: within its limits." in talk.heard


def test_a_practice_receiver_is_brought_back_to_where_the_person_left_it(tmp_path: Path) -> None:
    """Its process ended with the program; its leads, controls and slugs are set again before it goes on."""
    arguments = ("skerry-7", "--practice", "--speed", "100")
    store = tmp_path / "practice.sqlite"
    with Talk(*arguments, store=store) as talk:
        while TURN not in (said := talk.listen() or ""):
            talk.type(answer_at_once(said))
        talk.type("stop")
        assert talk.end() == (0, "")
    with Talk(*arguments, store=store) as talk:
        assert f"stopped after 8 of {step_count('skerry-7')} steps" in (talk.listen() or "")
        talk.type("resume")
        said = talk.listen() or ""

    assert "Connect the" not in said
    assert TURN in said


def test_a_step_out_of_order_is_refused_with_the_reason(bench_file: str, tmp_path: Path) -> None:
    with Talk("skerry-7", "--bench", bench_file, "--step", STEP, store=tmp_path / "record.sqlite") as talk:
        status, err = talk.end()

    assert status == 1
    assert "waits for 'Warm-up'" in err
    assert "turn has not come yet" in err
    store = Store(tmp_path / "record.sqlite")
    assert store.jobs() == []
    store.close()


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (("no-such.toml", "--practice"), "There is no receiver file no-such.toml"),
        (("skerry-7", "--bench", "no-such.toml"), "the bench file cannot be read"),
        (("skerry-7",), "--bench FILE"),
        (("skerry-7", "--practice", "--bench", "x.toml"), "--bench FILE"),
        (("skerry-7", "--bench", "x.toml", "--unattended"), "--practice"),
        (("skerry-7", "--practice", "--step", "polish"), "its steps are warm-up, beat-oscillator"),
    ],
)
def test_a_wrong_file_or_option_is_one_sentence(arguments: tuple[str, ...], word: str, tmp_path: Path) -> None:
    with Talk(*arguments, store=tmp_path / "record.sqlite") as talk:
        status, err = talk.end()

    assert status == 1
    assert talk.heard == ""
    assert len(err.strip().splitlines()) == 1
    assert word in err


def test_a_receiver_the_practice_bench_does_not_have_is_one_sentence(tmp_path: Path) -> None:
    file = edited("skerry-7", [('id = "skerry-7"', 'id = "skerry-8"')], tmp_path)
    with Talk(str(file), "--practice", store=tmp_path / "record.sqlite") as talk:
        status, err = talk.end()

    assert status == 1
    assert len(err.strip().splitlines()) == 1
    assert "skerry-8" in err


def test_a_job_in_other_hands_is_refused(bench_file: str, tmp_path: Path) -> None:
    """Two programs must not work on one receiver."""
    path = tmp_path / "record.sqlite"
    with Talk("skerry-7", "--bench", bench_file, store=path) as first:
        first.listen()
        with Talk("skerry-7", "--bench", bench_file, store=path) as second:
            assert f"stopped after 0 of {step_count('skerry-7')} steps" in (second.listen() or "")
            second.type("resume")
            status, err = second.end()

    assert status == 1
    assert f"Job 1 is in the hands of another program (process {first.process.pid} on " in err


def test_a_bench_where_nothing_answers_is_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "bench.toml"
    path.write_text('[source]\naddress = "TCPIP::127.0.0.1::9::SOCKET"\n', encoding="utf-8")
    with Talk("skerry-7", "--bench", str(path), store=tmp_path / "record.sqlite") as talk:
        status, err = talk.end()

    assert status == 1
    assert "No instrument answers" in err
