"""The main job in a real browser: set up, scan, watch it come, read the result, stop."""

import re

from playwright.sync_api import Page, expect

from tests.page.conftest import PATIENCE_S, Fake
from tests.page.steps import containing, expect_readings_on_chart, result_row, start_scan, wait_for_result


def test_the_bench_is_told_by_role_and_state_before_anything_is_pressed(page: Page, fake: Fake) -> None:
    """Role and state of each instrument, and whether the output is on."""
    strip = page.get_by_role("banner")

    for instrument in fake.bench.instruments:
        told = strip.get_by_role("listitem").filter(has_text=re.compile(instrument["role"], re.IGNORECASE))
        expect(told).to_contain_text("ready")
    expect(strip.get_by_text("Output is off")).to_be_visible()
    expect(strip.get_by_text("Practice bench")).to_be_visible()


def test_cautions_come_before_the_leads_of_the_hookup(page: Page, fake: Fake) -> None:
    """Whoever reads from the top has read the danger before the lead is in the hand."""
    text = page.locator("#hookup").inner_text()

    order = [text.index(part) for part in (fake.bench.targets[0]["cautions"][0], "third mixer", "10 nF, 400 V")]
    assert order == sorted(order)
    for control in ("selectivity 2 kHz", "passband 0", "AGC off"):
        expect(page.locator("#hookup").get_by_text(control)).to_be_visible()


def test_choosing_a_receiver_offers_its_targets_and_fills_in_their_settings(page: Page) -> None:
    """The ranges follow the receiver; none is left over from another."""
    page.get_by_label("Receiver").select_option("Millrace 5")

    expect(page.get_by_label("What to scan")).to_contain_text("455 kHz passband")
    expect(page.get_by_label("Start", exact=True)).to_have_value("439")
    expect(page.get_by_label("Stop", exact=True)).to_have_value("471")


def test_a_scan_runs_from_start_to_result(page: Page, fake: Fake) -> None:
    """Every figure with its uncertainty, and the order that reached the service."""
    start_scan(page)
    wait_for_result(page)

    expect(page.get_by_role("heading", name="60 kHz passband, 2 kHz")).to_be_visible()
    expect(page.get_by_role("banner").get_by_text("Output is off")).to_be_visible()
    assert result_row(page, "Peak") == ["60.0214 kHz", "± 0.0061 kHz", ""]
    assert result_row(page, "Centre") == ["60.0237 kHz", "± 0.0086 kHz", "60 kHz"]
    assert result_row(page, "3 dB width") == ["2.021 kHz", "± 0.025 kHz", "2 kHz"]
    assert result_row(page, "6 dB width") == ["3.492 kHz", "± 0.055 kHz", ""]
    assert result_row(page, "Loaded Q") == ["29.70", "± 0.37", ""]
    assert result_row(page, "Model") == ["single circuit"]
    order = fake.bench.scans[0]["order"]
    assert order["target"] == "skerry-7-2"
    assert (order["start_hz"], order["stop_hz"]) == (56_000, 64_000)
    assert (order["level_dbm"], order["settle_s"], order["detector"]) == (-60, 0.02, "linear")
    assert (order["readings"], order["until_centre_percent"]) == (None, None)


def test_readings_and_the_fit_so_far_show_while_the_scan_runs(page: Page, fake: Fake) -> None:
    """Half way there are readings, a fit called so far, and the output said to be on."""
    fake.bench.hold_after(14)

    start_scan(page)

    expect(page.locator("#run-text")).to_have_text("Reading 14 a few seconds left")
    expect(page.get_by_role("progressbar")).to_have_js_property("value", 14 / 24)
    expect(page.get_by_text("Centre, so far")).to_be_visible()
    expect(page.get_by_role("banner").get_by_text("Output is on")).to_be_visible()
    expect_readings_on_chart(page, 14)
    fake.bench.release()
    wait_for_result(page)
    expect_readings_on_chart(page, 24)


def test_a_nominal_width_is_told_no_more_exactly_than_it_is_known(page: Page, fake: Fake) -> None:
    """It comes from a nominal Q: 62.2141 kHz would claim too much."""
    fake.bench.targets[0]["nominal_width_hz"] = 62_214.1
    page.reload()

    start_scan(page)
    wait_for_result(page)

    assert result_row(page, "3 dB width")[2] == "62.2 kHz"


def test_stop_half_way_ends_the_scan_and_says_so(page: Page, fake: Fake) -> None:
    """What was read is kept."""
    fake.bench.hold_after(7)
    start_scan(page)
    assert fake.bench.held.wait(PATIENCE_S)

    page.get_by_role("button", name="Stop", exact=True).click()

    expect(page.locator("#ending")).to_have_text("Stopped The scan was stopped.")
    expect(page.get_by_role("banner").get_by_text("Output is off")).to_be_visible()
    assert len(fake.bench.scans[0]["readings"]) == 7


def test_output_off_stops_the_scan_at_once(page: Page, fake: Fake) -> None:
    """The big button needs no other."""
    fake.bench.hold_after(5)
    start_scan(page)
    assert fake.bench.held.wait(PATIENCE_S)

    page.get_by_role("button", name="Output off").click()

    expect(page.locator("#ending")).to_contain_text("Stopped")
    assert fake.bench.output_on is False


def test_doubts_stand_in_plain_sentences_under_the_figures(page: Page, fake: Fake) -> None:
    """A result is never shown without them."""
    fake.bench.doubts = ("The lower 3 dB point lies outside the sweep.", "A second peak stands at 62.4 kHz.")

    start_scan(page)
    wait_for_result(page)

    doubts = page.get_by_role("region", name="Doubts")
    expect(doubts.get_by_role("heading")).to_have_text("2 doubts")
    expect(doubts.get_by_role("listitem")).to_have_text(list(fake.bench.doubts))


def test_a_reading_that_gave_no_level_is_counted_and_marked(page: Page, fake: Fake) -> None:
    """An overload is neither hidden nor drawn as a level."""
    fake.bench.spoil_reading = 3

    start_scan(page)
    wait_for_result(page)

    expect(page.locator("#chart-caption")).to_contain_text("not used (1)")
    page.get_by_text("Readings as a table").click()
    expect(page.locator("#readings-table tbody tr").nth(3)).to_contain_text("overload")


def test_a_scan_that_fails_says_why(page: Page, fake: Fake) -> None:
    """In the scan itself and for the bench as a whole."""
    fake.bench.fail_with = "The meter did not answer within 2 s; see that its lead and power are in."

    start_scan(page)

    expect(page.locator("#ending")).to_contain_text(f"Failed {fake.bench.fail_with}")
    expect(page.locator("#banners")).to_contain_text(fake.bench.fail_with)


def test_the_slider_tells_each_reading_in_words(page: Page) -> None:
    """Whoever cannot see the chart or use a mouse can still read it."""
    start_scan(page)
    wait_for_result(page)

    slider = page.get_by_role("slider", name="Look along the readings")
    slider.press("End")

    expect(page.locator("#chart-cursor-text")).to_have_text(
        re.compile("^Reading 21: 63[.]8297 kHz, \N{MINUS SIGN}23[.][0-9]{2} dB$")
    )
    expect(slider).to_have_attribute("aria-valuetext", re.compile("^Reading 21: "))


def test_the_whole_sweep_and_the_passband_can_be_shown_in_turn(page: Page) -> None:
    """Zooming changes the picture, and whole brings back the very same one."""
    start_scan(page)
    wait_for_result(page)
    page.locator("#chart-canvas .bk-Figure").wait_for()
    whole = page.locator("#chart-plot").screenshot()

    page.get_by_role("button", name="Passband").click()
    page.wait_for_timeout(300)
    passband = page.locator("#chart-plot").screenshot()
    page.get_by_role("button", name="Whole").click()
    page.wait_for_timeout(300)

    assert passband != whole
    assert page.locator("#chart-plot").screenshot() == whole


def test_the_rough_levels_of_a_first_look_give_way_to_the_true_ones(page: Page, fake: Fake) -> None:
    """They stand on another scale, so the chart never shows both."""
    fake.bench.looks = 6
    fake.bench.hold_after(6)
    start_scan(page)
    assert fake.bench.held.wait(PATIENCE_S)
    key = page.locator("#chart-caption")
    expect(key).to_contain_text("first look, level rough")
    expect(page.locator("#chart-plot")).to_have_attribute("aria-label", containing(": 6 rough readings."))

    fake.bench.release()
    wait_for_result(page)

    expect(key).not_to_contain_text("rough")
    expect(key).not_to_contain_text("not used")
    expect_readings_on_chart(page, 24)
