"""Setting a scan up: what the form sends, and what it refuses and where."""

import pytest
from playwright.sync_api import Page, expect

from tests.page.conftest import Fake
from tests.page.steps import containing, start_scan, wait_for_result


def test_centre_and_span_keep_the_range_and_are_sent_as_such(page: Page, fake: Fake) -> None:
    """Switching the way of giving it changes no frequency."""
    page.get_by_label("Centre and span").check()

    expect(page.get_by_label("Centre", exact=True)).to_have_value("60")
    expect(page.get_by_label("Span", exact=True)).to_have_value("8")
    page.get_by_label("Span", exact=True).fill("6 kHz")
    start_scan(page)
    wait_for_result(page)
    order = fake.bench.scans[0]["order"]
    assert (order["centre_hz"], order["span_hz"]) == (60_000, 6_000)


def test_an_even_sweep_sends_its_number_of_readings(page: Page, fake: Fake) -> None:
    """And then asks for no uncertainty: the service takes one or the other."""
    page.get_by_label("Even sweep over the range").check()
    page.get_by_label("Number of readings").fill("15")

    start_scan(page)
    wait_for_result(page)

    order = fake.bench.scans[0]["order"]
    assert (order["readings"], order["until_centre_percent"]) == (15, None)


def test_a_scan_may_stop_at_an_uncertainty_of_the_centre(page: Page, fake: Fake) -> None:
    """A decimal comma is a decimal point."""
    page.get_by_label("Stop when the centre is known to").fill("0,5 %")
    page.get_by_label("Source level").fill("-55.5 dBm")

    start_scan(page)
    wait_for_result(page)

    assert fake.bench.scans[0]["order"]["until_centre_percent"] == 0.5
    assert fake.bench.scans[0]["order"]["level_dbm"] == -55.5


@pytest.mark.parametrize(
    ("typed", "sent_hz"),
    [("56", 56_000), ("56000 Hz", 56_000), ("0.056 MHz", 56_000), ("56.0004kHz", 56_000.4), ("56,5", 56_500)],
)
def test_frequencies_are_taken_as_people_type_them(page: Page, fake: Fake, typed: str, sent_hz: float) -> None:
    """With or without a unit; a bare number is in kilohertz."""
    page.get_by_label("Start", exact=True).fill(typed)

    start_scan(page)
    wait_for_result(page)

    assert fake.bench.scans[0]["order"]["start_hz"] == sent_hz


@pytest.mark.parametrize(
    ("label", "typed", "sentence"),
    [
        ("Start", "soon", "Start must be a frequency such as 455, 455 kHz or 7.1 MHz."),
        ("Stop", "55", "Stop must be above start."),
        ("Source level", "-19", "Source level must be at most \N{MINUS SIGN}20 dBm for this hookup."),
        ("Source level", "loud", "Source level must be a number of dBm such as \N{MINUS SIGN}60 dBm."),
        ("Settle", "-1", "Settle must be from 0 to 60 000 ms."),
        ("Stop when the centre is known to", "0", "The share of the width must be from 0.01 to 50 %, or left empty."),
    ],
)
def test_what_cannot_be_scanned_is_refused_beside_its_field(
    page: Page, fake: Fake, label: str, typed: str, sentence: str
) -> None:
    """The field takes the focus, and its sentence is its description."""
    field = page.get_by_label(label, exact=True)
    field.fill(typed)

    start_scan(page)

    expect(field).to_be_focused()
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_have_accessible_description(containing(sentence))
    assert fake.bench.scans == []


def test_the_service_has_the_last_word_and_its_sentence_stands_under_the_button(page: Page, fake: Fake) -> None:
    """What only the service can know is said where the person pressed."""
    scan = page.get_by_role("button", name="Scan", exact=True)
    expect(scan).to_have_attribute("aria-disabled", "false")
    fake.bench.busy = 41

    scan.click()

    expect(page.locator("#scan-error")).to_have_text("Scan 41 is still on; wait for it or stop it first.")
