"""From an instrument's reply to what the person sees and hears, measured in the browser, everything on loopback.

The service works on simulated instruments through relays that note when each reply passes. The page notes when the
figure and the needle it leads to have been painted, and when the audio graph has another pitch. Instruments are at
their own pace, so that one reading is on the screen before the next is taken.
"""

import shutil
import socket
import tempfile
import threading
import time
from bisect import bisect_right
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from itertools import pairwise
from pathlib import Path
from statistics import median, quantiles
from typing import Any

from playwright.sync_api import Page, sync_playwright

from tests.bench.practice import Practice, practice
from tests.page.conftest import CHROMIUM_SWITCHES
from tests.page.live_hands import KEEP_SOUND, open_step
from tests.server.processes import ServiceProcess

READINGS = 100
LONGEST_S = 240.0
AIM_MS = 50.0

FLANK_TURNS = -0.4

LEAST = 20
"""Fewer changes than this say nothing."""

STEPS = (("meter", "activity-first", "1"), ("counter", "beat-oscillator", "6"))
"""An instrument, a step that is adjusted live by it, and a unit of the Skerry 7 that needs it."""

DELAYS = "meter=0.15"
"""Slow enough that one reading has long been seen when the next is replied."""

WATCH = """() => {
    const wall = () => performance.timeOrigin + performance.now();
    window.painted = [];
    window.pitched = [];
    let due = false;
    const channel = new MessageChannel();
    // A message sent while a frame is made is delivered once that frame has been painted.
    channel.port1.onmessage = () => { due = false; painted.push(wall()); };
    new MutationObserver(() => {
        if (due) return;
        due = true;
        channel.port2.postMessage(0);
    }).observe(document.querySelector(".now__body"), {
        subtree: true, childList: true, characterData: true, attributes: true, attributeFilter: ["style"],
    });
    let last = 0, since = 0;
    setInterval(() => {
        const tone = oscillators.at(-1);
        if (tone === undefined) return;
        const pitch = tone.frequency.value;
        // A pitch glides for some ten milliseconds: its first move counts.
        if (Math.abs(pitch - last) > 1e-3) { if (wall() - since > 80) pitched.push(wall()); since = wall(); }
        last = pitch;
    }, 1);
}"""


class Relay:
    """Passes bytes between the service and one instrument, and notes the wall clock's time of each reply."""

    def __init__(self, address: str) -> None:
        """Listen for the service on a port of its own."""
        _, host, port, _ = address.split("::")
        self._far = (host, int(port))
        self._door = socket.create_server(("127.0.0.1", 0))
        self.address = f"TCPIP::127.0.0.1::{self._door.getsockname()[1]}::SOCKET"
        self.replies_ms: list[float] = []
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        while True:
            near, _ = self._door.accept()
            far = socket.create_connection(self._far)
            for link in (near, far):
                link.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            threading.Thread(target=self._pass, args=(near, far, None), daemon=True).start()
            threading.Thread(target=self._pass, args=(far, near, self.replies_ms), daemon=True).start()

    def _pass(self, origin: socket.socket, target: socket.socket, times_ms: list[float] | None) -> None:
        with suppress(OSError):  # either end may be gone first
            while said := origin.recv(65536):
                if times_ms is not None:
                    times_ms.append(time.time() * 1e3)
                target.sendall(said)
        target.close()


@contextmanager
def service_on(bench: Practice, relays: dict[str, Relay]) -> Iterator[ServiceProcess]:
    """Serve a bench file that names the relays."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "bench.toml"
        addresses = {"source": bench.source, **{role: relay.address for role, relay in relays.items()}}
        file.write_text("".join(f'[{role}]\naddress = "{each}"\n' for role, each in addresses.items()))
        record = Path(folder) / "record.sqlite"
        with ServiceProcess(
            "server", "serve", "--bench", str(file), "--port", "0", "--store", str(record), record=record
        ) as service:
            yield service


def do_what_is_asked(page: Page, bench: Practice, address: str) -> None:
    """Be the hands of the step until an adjuster is turned live."""
    client = page.evaluate("sessionStorage.getItem('peakwright client')")
    began_s = time.monotonic()
    answered = None
    while time.monotonic() - began_s < LONGEST_S and not page.locator(".now__body").is_visible():
        session = page.request.get(f"{address}/api/bench").json()["session"]
        asked = None if session is None else session["asked"]
        if asked is None or asked["number"] == answered:
            page.wait_for_timeout(50)
            continue
        answered = asked["number"]
        _do(bench, asked)
        told = {"number": answered, "answer": asked["answers"][0]}
        page.request.post(f"{address}/api/answer", data=told, headers={"X-Peakwright-Client": client})


def _do(bench: Practice, asked: dict[str, Any]) -> None:
    if asked["action"] == "connect":
        for role in ("source", "meter", "counter"):
            bench.do(do="connect", role=role, **asked["detail"][role])
        for control, to in asked["detail"].get("controls", {}).items():
            bench.do(do="set", control=control, to=to)
    elif asked["action"] == "set":
        bench.do(do="set", control=asked["subject"], to=asked["detail"]["to"])


def latencies_ms(replies_ms: list[float], seen_ms: list[float]) -> list[float]:
    """Give the time from the last reply before each thing seen."""
    return [each - replies_ms[bisect_right(replies_ms, each) - 1] for each in seen_ms if replies_ms[0] < each]


def measure(page: Page, bench: Practice, relay: Relay, service: ServiceProcess, step: str) -> None:
    """Turn an adjuster to and fro and print how soon that is seen and heard."""
    address = str(service.http.base_url).rstrip("/")
    open_step(page, f"{address}/", "Skerry 7", step)
    page.get_by_role("button", name="Start", exact=True).click()
    page.get_by_role("button", name="Sound is off").click()
    do_what_is_asked(page, bench, address)
    adjuster = page.locator(".now__adjuster").first.text_content()
    # On its flank an adjuster does something; a crystal that is far off does not oscillate at all.
    off_turns = bench.do(do="truth")["truth"]["adjusters"][adjuster]["off_turns"]
    bench.do(do="turn", adjuster=adjuster, turns=FLANK_TURNS - off_turns)
    page.wait_for_timeout(2000)
    page.evaluate(WATCH)
    begin = len(relay.replies_ms)
    began_s = time.monotonic()
    while len(relay.replies_ms) - begin < READINGS and time.monotonic() - began_s < LONGEST_S:
        bench.do(do="turn", adjuster=adjuster, turns=0.03 if len(relay.replies_ms) // 5 % 2 else -0.03)
        page.wait_for_timeout(100)
    replies_ms = relay.replies_ms[begin:]
    apart_ms = median(b - a for a, b in pairwise(replies_ms))
    device_ms = 1e3 * page.evaluate("oscillators.at(-1).context.baseLatency")
    for what, seen in (("pixels", "painted"), ("sound", "pitched")):
        late_ms = latencies_ms(replies_ms, page.evaluate(seen))
        if len(late_ms) < LEAST:
            raise SystemExit(f"{step}: only {len(late_ms)} changes of {what} were seen, too few for a median.")
        print(  # noqa: T201 - a benchmark prints
            f"{step}, replies {apart_ms:.0f} ms apart: {what} after {median(late_ms):.1f} ms median, "
            f"{quantiles(late_ms, n=20)[-1]:.1f} ms at 95 % (aim {AIM_MS:.0f} ms median), {len(late_ms)} seen"
            + (f"; the sound device adds {device_ms:.0f} ms of its own" if what == "sound" else "")
        )


def main() -> None:
    """Print the latencies by counter and by meter."""
    for role, step, seed in STEPS:
        with ExitStack() as stack:
            bench = stack.enter_context(practice("--seed", seed, "--delays", DELAYS))
            relays = {each: Relay(getattr(bench, each)) for each in ("meter", "counter")}
            service = stack.enter_context(service_on(bench, relays))
            browser = stack.enter_context(sync_playwright()).chromium.launch(
                executable_path=shutil.which("chromium"), args=list(CHROMIUM_SWITCHES)
            )
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            page.add_init_script(KEEP_SOUND)
            measure(page, bench, relays[role], service, step)
            browser.close()


if __name__ == "__main__":
    main()
