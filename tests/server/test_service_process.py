"""The service as a process on a loopback port: its stream, its endings, and what they leave behind."""

import signal
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from itertools import islice
from pathlib import Path
from typing import Any

import httpx2
import pytest

from server.api.listen import LEFT_IN_DOUBT
from server.api.seat import CLIENT_HEADER
from server.records.runs import INTERRUPTED
from tests.server.benches import PATIENCE_S, eventually
from tests.server.processes import FakeService

Start = Callable[..., FakeService]


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    """Start services that end with the test."""
    with ExitStack() as started:

        def start_one(reading_s: float = 0.0, patience_s: float = 60.0, **more: Any) -> FakeService:  # noqa: ANN401
            return started.enter_context(FakeService(tmp_path, reading_s, patience_s, **more))

        yield start_one


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FakeService]:
    """One service for the tests that leave it as it was."""
    with FakeService(tmp_path_factory.mktemp("shared"), reading_s=0.001) as shared:
        yield shared


def test_a_stream_tells_a_scan_from_its_first_event_to_its_last(service: FakeService) -> None:
    """In order, without a gap, in few messages; and how the bench stands before and after."""
    with service.stream() as stream:
        messages = stream.messages()
        (greeting,) = next(messages)
        run_id = service.order(readings=300)
        received = []
        for message in messages:
            received.append(message)
            if any(item.get("event", {}).get("kind") == "RunEnded" for item in message):
                break

    assert greeting["bench"]["mode"] == "bench"
    items = [item for message in received for item in message]
    events = [item for item in items if "event" in item]
    assert {item["run"] for item in events} == {run_id}
    assert [item["seq"] for item in events] == list(range(len(events)))
    assert events[0]["event"]["kind"] == "RunStarted"
    taken = [item["event"] for item in events if item["event"]["kind"] == "ReadingTaken"]
    readings = [event["index"] for event in taken if event["purpose"] == "scan"]
    assert readings == list(range(300))
    assert len(received) < len(items)
    busy = [item["bench"]["busy_run"] for item in items if "bench" in item]
    assert busy[0] == run_id
    assert next(item["bench"]["operator"] for item in items if "bench" in item) == {"present": True, "you": True}


def test_a_page_that_comes_back_misses_nothing(service: FakeService) -> None:
    """It names the last message it had; the two streams together hold each event once."""
    seen = []
    with service.stream() as stream:
        messages = stream.messages()
        next(messages)
        service.order(readings=300)
        for message in islice(messages, 3):
            seen += [item["seq"] for item in message if "event" in item]
    eventually(lambda: service.bench()["busy_run"] is None)
    with service.stream(last_event_id=stream.last_id) as second:
        for item in second.events():
            seen.append(item["seq"])
            if item["event"]["kind"] == "RunEnded":
                break

    assert seen == list(range(len(seen)))


@pytest.mark.parametrize("number", ["7", "99999999999999999999", "0"])
def test_a_number_of_an_earlier_life_is_told_to_read_again(service: FakeService, number: str) -> None:
    """The service was started anew while the page was open."""
    with service.stream(last_event_id=number) as stream:
        first, second = next(stream.messages())

    assert first == {"missed": True}
    assert "bench" in second


def test_a_number_that_is_none_begins_from_now(service: FakeService) -> None:
    """Whatever a script sends."""
    with service.stream(last_event_id="yesterday") as stream:
        (greeting,) = next(stream.messages())

    assert "bench" in greeting


def test_an_operator_whose_stream_is_gone_stops_the_run(start: Start) -> None:
    """The page was closed in the middle of a scan; an onlooker hears of it, and the source is off."""
    service = start(reading_s=0.005, patience_s=0.3)
    with service.stream("onlooker") as stream:
        with service.stream("one"):
            service.order("one")
            next(stream.events("ReadingTaken"))
        ended = next(stream.events("RunEnded"))

    assert (ended["event"]["ending"], ended["event"]["output_off"]) == ("stopped", True)
    assert service.source_output() == "off"
    eventually(lambda: not service.bench()["operator"]["present"])


def test_the_run_goes_on_while_the_operators_stream_is_open(start: Start) -> None:
    """Many times the patience long."""
    service = start(reading_s=0.005, patience_s=0.02)
    with service.stream("one") as stream:
        service.order("one", readings=200)
        ended = next(stream.events("RunEnded"))

    assert ended["event"]["ending"] == "completed"


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP, signal.SIGQUIT])
def test_a_signal_ends_the_scan_with_the_source_off(start: Start, number: signal.Signals) -> None:
    """Streams hear of the end of the run, then end; the process ends in order."""
    service = start(reading_s=0.005)
    with service.stream() as stream, service.stream("onlooker"):
        run_id = service.order()
        events = stream.events()
        next(item for item in events if item["event"]["kind"] == "ReadingTaken")
        status = service.end(number)
        last = list(events)[-1]

    assert status == 0
    assert (last["event"]["kind"], last["event"]["ending"]) == ("RunEnded", "stopped")
    assert service.source_output() == "off"
    assert service.read_record(run_id)["ending"] == "stopped"


def test_an_impatient_second_ctrl_c_leaves_the_source_off_too(start: Start) -> None:
    """While a reading of two seconds is under way."""
    service = start(reading_s=2.0)
    run_id = service.order()
    eventually(lambda: service.source_output() == "on")
    service.process.send_signal(signal.SIGINT)
    service.process.send_signal(signal.SIGINT)

    assert service.process.wait(PATIENCE_S) == 0
    assert service.source_output() == "off"
    assert service.read_record(run_id)["ending"] == "stopped"


def test_an_end_without_the_sources_word_is_no_good_end(start: Start) -> None:
    """The exit status says so, and one sentence what to do."""
    service = start(reading_s=0.005, confirms=False)
    eventually(lambda: service.bench()["output_alarm"])

    assert service.end(signal.SIGINT) == 1
    assert service.said().strip().endswith(LEFT_IN_DOUBT)


def test_a_program_that_stood_still_goes_on_with_nothing(start: Start) -> None:
    """Stopped for longer than it may stand still, as by a suspend; afterwards the source is off and the reason told."""
    service = start(reading_s=0.005, gap_s=1.0)
    run_id = service.order()
    eventually(lambda: service.source_output() == "on")
    service.process.send_signal(signal.SIGSTOP)
    time.sleep(1.5)
    service.process.send_signal(signal.SIGCONT)
    eventually(lambda: service.bench()["busy_run"] is None)

    assert service.source_output() == "off"
    assert "stood still for" in service.bench()["last_error"]
    run = service.http.get(f"/api/scans/{run_id}").json()
    assert (run["ending"], "stood still for" in run["ending_text"]) == ("stopped", True)


def test_a_killed_service_loses_no_reading_that_it_published(start: Start) -> None:
    """Killed outright; the next start finds the run and says that it was interrupted."""
    service = start()
    published = []
    with service.stream() as stream:
        run_id = service.order()
        for item in stream.events("ReadingTaken"):
            published.append(item["event"])
            if len(published) == 200:
                service.process.kill()
                break
        with suppress(httpx2.TransportError):  # the stream is cut
            published += [item["event"] for item in stream.events("ReadingTaken")]
    service.process.wait(PATIENCE_S)

    run = service.read_record(run_id)
    kept = {reading["index"]: reading for reading in run["readings"]}
    assert len(published) >= 200
    for event in published:
        reading = kept[event["index"]]
        assert (reading["frequency_hz"], reading["value"]) == (event["frequency_hz"], event["value"])
    assert run["ending"] == INTERRUPTED


def test_switching_off_from_another_page_reaches_the_source(service: FakeService) -> None:
    """And the operator's page hears of it."""
    with service.stream() as stream:
        service.order()
        next(stream.events("ReadingTaken"))
        state = service.http.post("/api/output-off", headers={CLIENT_HEADER: "bystander"}).json()
        ended = next(stream.events("RunEnded"))

    assert state["output_on"] is False
    assert ended["event"]["ending"] == "stopped"
    assert service.source_output() == "off"
