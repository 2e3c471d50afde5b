"""The traps of the wire, each on real loopback sockets with a server that misbehaves in that one way."""

import contextlib
import gc
import os
import resource
import select
import socket
import struct
import threading
import time

import psutil
import pytest
import pyvisa
from pyvisa_py.tcpip import TCPIPSocketSession

from drivers.carriers import SocketCarrier
from drivers.errors import (
    BadAddressError,
    GarbledReplyError,
    LinkLostError,
    NotConnectedError,
    ReplyTimeoutError,
    ReplyTooLongError,
)
from drivers.transport import VisaTransport
from tests.drivers.peers import Connection, Peer, answering, client_sockets, saying, wait_until

SHORT_S = 0.05
LONG_S = 60.0  # longer than any test may take: whatever ends earlier did not end by this deadline


def opened(peer: Peer) -> VisaTransport:
    """A transport that is connected."""
    transport = VisaTransport(peer.address)
    transport.open(5.0)
    return transport


def echo(message: str) -> str:
    """Answer with the question."""
    return message


# Opening


def test_the_second_of_two_writes_does_not_wait_for_the_peers_acknowledgement() -> None:
    """TCP_NODELAY is set: Nagle's algorithm would hold the second message back for 40 ms."""
    with Peer(answering(echo)) as peer:
        transport = opened(peer)
        (raw,) = client_sockets(peer.port)
        with raw:
            assert raw.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) == 1
        transport.close()


def test_a_cable_that_was_pulled_is_noticed_in_the_end() -> None:
    """Keep-alive probes, and a limit on writes that nobody acknowledges."""
    with Peer(answering(echo)) as peer:
        transport = opened(peer)
        (raw,) = client_sockets(peer.port)
        with raw:
            assert raw.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE) == 1
            assert raw.getsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT) == 3000
        transport.close()


def test_a_refused_port_is_not_taken_for_an_open_one() -> None:
    """The backend says that it is open."""
    with socket.socket() as deaf:  # it has the port, so that nobody else can, and does not listen
        deaf.bind(("127.0.0.1", 0))
        transport = VisaTransport(f"TCPIP::127.0.0.1::{deaf.getsockname()[1]}::SOCKET")

        with pytest.raises(NotConnectedError, match="connection refused"):
            transport.open(5.0)
        assert not transport.is_ready()


@pytest.mark.timeout(9)  # the backend's own limit is 10 s
def test_a_host_that_does_not_take_the_connection_is_given_up_in_time() -> None:
    """Here its backlog is full, so the kernel drops what knocks."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen(0)
        waiting = [socket.socket() for _ in range(4)]
        for caller in waiting:
            caller.setblocking(False)
            caller.connect_ex(listener.getsockname())
        transport = VisaTransport(f"TCPIP::127.0.0.1::{listener.getsockname()[1]}::SOCKET")

        with pytest.raises(NotConnectedError):
            transport.open(0.3)
        for caller in waiting:
            caller.close()


@pytest.mark.parametrize(
    ("address", "reason"),
    [
        ("the generator", "it is not a VISA address"),
        ("", "it is not a VISA address"),
        ("TCPIP::127.0.0.1::5O25::SOCKET", "the port must be a number"),
        ("VXI::1::INSTR", "not supported"),
    ],
)
def test_what_is_no_address_is_told_as_one_sentence(address: str, reason: str) -> None:
    """With the address, so that the bench file can be mended."""
    with pytest.raises(BadAddressError, match=reason) as caught:
        VisaTransport(address).open(1.0)

    assert repr(address) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_host_without_an_address_is_told_as_one_sentence() -> None:
    """RFC 6761: names under .invalid never resolve."""
    with pytest.raises(NotConnectedError) as caught:
        VisaTransport("TCPIP::generator.invalid::5025::SOCKET").open(1.0)

    assert "generator.invalid" in str(caught.value)
    assert "Errno" not in str(caught.value)


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # the backend loses its socket here
def test_too_many_open_files_are_not_blamed_on_the_address() -> None:
    """The backend waits by `select`, which knows only the first 1024."""
    limits = resource.getrlimit(resource.RLIMIT_NOFILE)
    if limits[1] < 1200:
        pytest.skip("this system does not allow as many files")
    resource.setrlimit(resource.RLIMIT_NOFILE, (max(limits[0], 1200), limits[1]))
    with Peer(answering(echo)) as peer, contextlib.ExitStack() as held:
        while (copy := os.dup(0)) < 1024:
            held.callback(os.close, copy)
        held.callback(os.close, copy)
        with pytest.raises(NotConnectedError, match="too many files"):
            VisaTransport(peer.address).open(1.0)
    resource.setrlimit(resource.RLIMIT_NOFILE, limits)
    gc.collect()


def test_opening_and_closing_leaves_nothing_behind() -> None:
    """Neither in the backend's table of sessions nor in the kernel's of files."""
    with Peer(answering(echo)) as peer:
        opened(peer).close()
        sessions = pyvisa.ResourceManager("@py").visalib.sessions  # type: ignore[attr-defined] # of this backend only
        before = (len(sessions), psutil.Process().num_fds())
        transport = VisaTransport(peer.address)
        for _ in range(20):
            transport.open(5.0)
            transport.exchange("*IDN?", 5.0)
            transport.close()
        wait_until(lambda: psutil.Process().num_fds() <= before[1])

        assert len(sessions) == before[0]


def test_closing_one_instrument_leaves_the_others_open() -> None:
    """There is one resource manager for all of them, and it stays."""
    with Peer(answering(echo)) as first, Peer(answering(echo)) as second:
        one, other = opened(first), opened(second)
        one.close()

        assert other.exchange("still there?", 5.0) == "still there?"
        other.close()


# Messages


def test_a_message_ends_in_one_line_feed() -> None:
    """IEEE 488.2 section 7.5 (from memory): the program message terminator; the backend's own choice is CR LF."""
    with Peer(answering(lambda message: message if "?" in message else None)) as peer:
        transport = opened(peer)
        transport.exchange("*IDN?", 5.0)
        transport.send("*CLS", 5.0)
        transport.exchange(":READ?", 5.0)
        transport.close()

    assert peer.received == [b"*IDN?\n", b"*CLS\n", b":READ?\n"]


@pytest.mark.parametrize("ending", [b"\n", b"\r\n", b" \r\n"])
def test_a_reply_comes_without_its_terminator(ending: bytes) -> None:
    """Whichever the instrument uses."""
    with Peer(saying(b"0.5" + ending)) as peer:
        transport = opened(peer)

        assert transport.exchange(":READ?", 5.0) == "0.5"
        assert transport.is_ready()
        transport.close()


def test_a_reply_in_pieces_is_joined() -> None:
    """The network may cut anywhere, and the pieces may take their time."""

    def behave(connection: Connection) -> None:
        while connection.line() is not None:
            for piece in (b"1.2", b"34", b"5E-0", b"1\n"):
                connection.say(piece)
                time.sleep(0.01)

    with Peer(behave) as peer:
        transport = opened(peer)

        assert transport.exchange(":READ?", 5.0) == "1.2345E-01"
        assert transport.exchange(":READ?", 5.0) == "1.2345E-01"
        transport.close()


def test_a_reply_longer_than_one_read_is_joined() -> None:
    """The backend hands it over in parts."""
    with Peer(saying(b"x" * 50_000 + b"\n")) as peer:
        transport = opened(peer)

        assert transport.exchange("*LRN?", 5.0) == "x" * 50_000
        transport.close()


def test_what_is_not_ascii_is_not_sent() -> None:
    """SCPI has no other letters."""
    with Peer(answering(echo)) as peer:
        transport = opened(peer)
        with pytest.raises(UnicodeEncodeError):
            transport.exchange("*IDN?é", 5.0)
        transport.close()

    assert peer.received == []


# Replies that do not come


def test_a_late_reply_is_never_handed_to_the_next_question() -> None:
    """The backend would hand it over, and shift every later answer by one."""
    release, said = threading.Event(), threading.Event()

    def behave(connection: Connection) -> None:
        while (message := connection.line()) is not None:
            if message == "slow?":
                release.wait()
            connection.say(f"answer to {message}\n".encode())
            said.set()

    with Peer(behave) as peer:
        transport = opened(peer)
        with pytest.raises(ReplyTimeoutError):
            transport.exchange("slow?", SHORT_S)
        release.set()
        said.wait()
        assert not transport.is_ready()

        transport.open(5.0)
        assert [transport.exchange(f"{n}?", 5.0) for n in range(3)] == [f"answer to {n}?" for n in range(3)]
        transport.close()


def test_an_unasked_line_behind_a_reply_makes_the_link_unready() -> None:
    """It would pass for the answer to the next question; here both come in one packet."""
    with Peer(saying(b"1\n2\n")) as peer:
        transport = opened(peer)
        assert transport.exchange(":READ?", 5.0) == "1"

        assert not transport.is_ready()
        transport.close()


def test_an_unasked_line_that_comes_later_makes_the_link_unready() -> None:
    """Here on its own."""
    release = threading.Event()

    def behave(connection: Connection) -> None:
        while connection.line() is not None:
            connection.say(b"1\n")
            release.wait()
            connection.say(b"2\n")

    with Peer(behave) as peer:
        transport = opened(peer)
        assert transport.exchange(":READ?", 5.0) == "1"
        assert transport.is_ready()
        release.set()

        wait_until(lambda: not transport.is_ready())
        transport.close()


def test_a_peer_that_hung_up_is_noticed_before_the_next_message() -> None:
    """The backend's write would succeed."""
    with Peer(lambda connection: connection.hang_up()) as peer:
        transport = opened(peer)

        wait_until(lambda: not transport.is_ready())
        transport.close()


def test_a_peer_that_hangs_up_instead_of_answering_is_noticed_at_once() -> None:
    """The backend would spin at full speed until the deadline and call it a timeout."""

    def behave(connection: Connection) -> None:
        connection.line()

    with Peer(behave) as peer:
        transport = opened(peer)
        with pytest.raises(LinkLostError, match="hung up"):
            transport.exchange(":READ?", LONG_S)

        assert not transport.is_ready()


def test_a_peer_that_hangs_up_in_the_middle_of_a_reply_is_noticed_at_once() -> None:
    """Half a number is no number."""

    def behave(connection: Connection) -> None:
        connection.line()
        connection.say(b"1.23")

    with Peer(behave) as peer, pytest.raises(LinkLostError, match="hung up"):
        opened(peer).exchange(":READ?", LONG_S)


def reset(connection: Connection) -> None:
    """Close the link the hard way, as an instrument that restarts does."""
    raw = connection._raw  # noqa: SLF001 - not a polite thing to offer
    raw.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    os.close(raw.detach())


def test_a_peer_that_resets_the_link_instead_of_answering_is_noticed_at_once() -> None:
    """Without a goodbye."""

    def behave(connection: Connection) -> None:
        connection.line()
        reset(connection)

    with Peer(behave) as peer, pytest.raises(LinkLostError):
        opened(peer).exchange(":READ?", LONG_S)


def test_a_peer_that_reset_the_link_is_noticed_before_the_next_message() -> None:
    """As if it had hung up."""
    is_open = threading.Event()

    def behave(connection: Connection) -> None:
        is_open.wait(LONG_S)
        reset(connection)

    with Peer(behave) as peer:
        transport = opened(peer)
        is_open.set()

        wait_until(lambda: not transport.is_ready())
        transport.close()


def test_a_reply_that_is_cut_short_is_a_timeout() -> None:
    """And the rest of it does not wait for the next question."""
    with Peer(saying(b"1.23")) as peer:
        transport = opened(peer)
        with pytest.raises(ReplyTimeoutError) as caught:
            transport.exchange(":READ?", SHORT_S)

    assert not transport.is_ready()
    assert str(caught.value) == f"The instrument at {peer.address} did not answer ':READ?' within 0.05 s."


def test_a_reply_without_an_end_is_given_up_at_its_limit() -> None:
    """However fast it comes."""

    def behave(connection: Connection) -> None:
        connection.line()
        while True:
            connection.say(b"0123456789" * 1000)

    with Peer(behave) as peer, pytest.raises(ReplyTooLongError, match="65536 bytes"):
        opened(peer).exchange(":READ?", LONG_S)


def test_a_reply_that_drips_for_ever_is_given_up_at_its_deadline() -> None:
    """The backend starts its wait anew with every byte."""

    def behave(connection: Connection) -> None:
        connection.line()
        while True:
            connection.say(b"1")
            time.sleep(0.005)

    with Peer(behave) as peer, pytest.raises(ReplyTimeoutError):
        opened(peer).exchange(":READ?", 0.2)


def test_a_reply_that_is_not_text_is_refused() -> None:
    """Noise on the line."""
    with Peer(saying(b"\xff\xfe1.5\n")) as peer:
        transport = opened(peer)
        with pytest.raises(GarbledReplyError, match=r"ÿþ1\.5.*not readable text"):
            transport.exchange(":READ?", 5.0)

        assert not transport.is_ready()


def test_a_peer_that_stops_reading_ends_the_write() -> None:
    """The backend would wait for ever; the kernel gives up after three seconds."""
    ended = threading.Event()

    def behave(connection: Connection) -> None:
        connection.line()
        ended.wait()

    with Peer(behave) as peer:
        transport = opened(peer)
        with pytest.raises(LinkLostError):
            transport.exchange("\n" + "x" * 20_000_000, LONG_S)
        ended.set()


def test_a_peer_that_has_not_read_what_was_sent_is_not_ready_for_more() -> None:
    """Nothing should be on its way between two exchanges."""
    ended = threading.Event()

    def behave(connection: Connection) -> None:
        connection.line()
        ended.wait()

    with Peer(behave) as peer:
        transport = opened(peer)
        transport.send("first", 5.0)
        (raw,) = client_sockets(peer.port)
        with raw:
            raw.setblocking(False)
            while select.select([], [raw], [], 0.2)[1]:
                raw.send(b"x" * 65_536)
            raw.setblocking(True)

        assert not transport.is_ready()
        transport.close()
        ended.set()


def test_the_backends_clear_is_never_called(monkeypatch: pytest.MonkeyPatch) -> None:
    """It sends nothing, waits 0.1 s, and after the peer has hung up never comes back."""
    calls = []
    monkeypatch.setattr(TCPIPSocketSession, "clear", lambda _: calls.append("clear"))
    monkeypatch.setattr(TCPIPSocketSession, "flush", lambda *_: calls.append("flush"))
    with Peer(saying(b"1\n2\n")) as peer:
        transport = opened(peer)
        transport.exchange(":READ?", 5.0)
        transport.close()
    with Peer(saying()) as peer:
        transport = opened(peer)
        with pytest.raises(ReplyTimeoutError):
            transport.exchange(":READ?", SHORT_S)

    assert calls == []


def test_a_ctrl_c_between_question_and_answer_drops_the_link(monkeypatch: pytest.MonkeyPatch) -> None:
    """The answer must not wait for the next question."""

    def interrupt(*_: object) -> bytes:
        raise KeyboardInterrupt

    monkeypatch.setattr(SocketCarrier, "read_line", interrupt)
    with Peer(saying()) as peer:
        transport = VisaTransport(peer.address)
        transport.open(5.0)
        with pytest.raises(KeyboardInterrupt):
            transport.exchange(":READ?", 5.0)

        assert not transport.is_ready()


def test_a_message_over_a_link_that_was_never_opened_is_refused() -> None:
    """Opening is its own step."""
    with pytest.raises(LinkLostError, match="not open"):
        VisaTransport("TCPIP::127.0.0.1::5025::SOCKET").exchange("*IDN?", 1.0)
