"""What a step came to, drawn and tabulated: a dial's errors over its scale, a crystal's bands, on a phone too."""

from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.page.conftest import Fake, OpenAt
from tests.page.fake_jobs import OFF, FakeJobs, finding
from tests.page.reach import no_sideways_scroll, serious_findings
from tests.page.sample_jobs import job_on_its_way

MINUS = "\N{MINUS SIGN}"
FOUND = {0: -10.05, 100: -9.26, 250: -8.5, 500: -7.21}
LEFT = {0: 0.012, 100: 0.177, 250: -0.052, 500: 1.3}
LIMIT_KHZ = 1.0
WIDTHS = (320, 390, 768, 1440)


def series(errors: dict[int, float]) -> list[dict[str, float]]:
    """Give errors as the API does."""
    return [{"mark_khz": mark, "error_khz": error, "sigma_khz": 0.0014} for mark, error in errors.items()]


def dial_job(jobs: FakeJobs) -> int:
    """Give a job whose dial was off all over, and is off at one end."""
    number = job_on_its_way(jobs)

    def listed(errors: dict[int, float]) -> list[Any]:
        return [
            finding("dial error", at, LIMIT_KHZ, "kHz", sigma=0.0014, where=f"{mark} kHz")
            for mark, at in errors.items()
        ]

    dial = {"limit_khz": LIMIT_KHZ, "found": series(FOUND), "left": series(LEFT)}
    jobs.end_step(number, "dial-second", OFF, as_found=listed(FOUND), as_left=listed(LEFT), dial=dial)
    return number


def bands_job(jobs: FakeJobs) -> int:
    """Give a job with three bands of a crystal oscillator: the reference, a weak one, a dead one."""
    number, name = job_on_its_way(jobs), "activity against band 16"
    volts = {
        band: finding("test point voltage", value, None, "V", where=band, sigma=0.0014)
        for band, value in (("16", -6.9224), ("25.5", -4.2358), ("19", -0.0001))
    }
    levels = {
        "16": finding(name, 0.0, -6.0, "dB", where="16", sigma=0.0),
        "25.5": finding(name, -4.266, -6.0, "dB", where="25.5", sigma=0.002),
        "19": finding(name, None, None, "dB", where="19", reason="The crystal of band 19 does not oscillate."),
    }
    rows = [
        {"band": band, "volts": {"found": volts[band], "left": None}, "activity": {"found": levels[band], "left": None}}
        for band in volts
    ]
    bands = {"against": name, "limit": f"at least {MINUS}6 dB", "limit_db": -6.0, "rows": rows}
    found = [*volts.values(), *levels.values(), finding("slope", 1.0, None, "dB", where="25.5")]
    jobs.end_step(number, "activity-first", OFF, as_found=found, bands=bands)
    return number


def heights(picture: Locator, selector: str) -> list[float]:
    """Give where marks stand, in pixels from the top of the window."""
    return [box["y"] + box["height"] / 2 for each in picture.locator(selector).all() if (box := each.bounding_box())]


def test_a_dials_errors_are_drawn_over_its_scale_with_the_limit(open_at: OpenAt, fake: Fake) -> None:
    """What is too high stands high, what is within the limit lies in its band, and the words say the same."""
    page = open_at(f"jobs/{dial_job(fake.jobs)}/dial-second")
    picture = page.get_by_role("img", name="Dial error over the scale")

    expect(picture.locator(".limit__left")).to_have_count(len(LEFT))
    found, left = heights(picture, ".limit__found"), heights(picture, ".limit__left")
    band = picture.locator(".limit__zone").bounding_box()
    assert band is not None
    assert found == sorted(found, reverse=True)
    assert [band["y"] < at < band["y"] + band["height"] for at in left] == [True, True, True, False]
    assert all(at > band["y"] + band["height"] for at in found)
    drawn_khz = [(band["y"] + band["height"] / 2 - at) / (band["height"] / 2) * LIMIT_KHZ for at in (*found, *left)]
    assert drawn_khz == pytest.approx([*FOUND.values(), *LEFT.values()], abs=0.1)
    expect(picture).to_have_attribute(
        "aria-label",
        f"""Dial error over the scale, limit 1 kHz either way. As found: \
{MINUS}10.0500 ± 0.0027 kHz at 0 kHz, {MINUS}9.2600 ± 0.0027 kHz at 100 kHz, {MINUS}8.5000 ± 0.0027 kHz at 250 kHz, \
{MINUS}7.2100 ± 0.0027 kHz at 500 kHz. As left: 0.0120 ± 0.0027 kHz at 0 kHz, 0.1770 ± 0.0027 kHz at 100 kHz, \
{MINUS}0.0520 ± 0.0027 kHz at 250 kHz, 1.3000 ± 0.0027 kHz at 500 kHz.""",
    )
    expect(page.get_by_role("table", name="Figures of this step").get_by_role("row", name="dial error")).to_have_count(
        4
    )


def test_the_bands_of_a_crystal_stand_in_one_table(open_at: OpenAt, fake: Fake) -> None:
    """Level and voltage of a band in one row, the dead band with its reason, and nothing twice."""
    page = open_at(f"jobs/{bands_job(fake.jobs)}/activity-first")
    result = page.get_by_role("region", name="Result")
    expect(result.get_by_role("table")).to_have_count(2)
    bands, others = result.get_by_role("table").all()

    expect(result).to_contain_text(f"Activity against band 16; the limit is at least {MINUS}6 dB.")
    expect(bands.get_by_role("rowheader")).to_have_text(["Band 16", "Band 25.5", "Band 19"])
    expect(bands.get_by_role("row", name="25.5")).to_contain_text(f"{MINUS}4.2660 ± 0.0039 dB")
    expect(bands.get_by_role("row", name="25.5")).to_contain_text(f"{MINUS}4.2358 ± 0.0027 V")
    expect(bands.get_by_role("row", name="19")).to_contain_text("The crystal of band 19 does not oscillate.")
    expect(others.get_by_role("rowheader")).to_have_text(["slope25.5"])


def test_the_weakest_band_stands_in_the_plan(open_at: OpenAt, fake: Fake) -> None:
    """A limit below nought is the least that a level may be; a band that is dead is worse than any."""
    number = bands_job(fake.jobs)
    row = open_at(f"jobs/{number}").locator(".plan-row[data-step=activity-first]")
    expect(row).to_contain_text(f"{MINUS}4.2660 ± 0.0039 dB")
    expect(row).to_contain_text("worst of 2")

    found = fake.jobs.step(number, "activity-first")["state"]["as_found"]
    dead = {"limit": -6.0, "standing": "beyond its limit", "verdict": "adjust"}
    next(one for one in found if one["where"] == "19" and one["unit"] == "dB").update(dead)
    row = open_at(f"jobs/{number}").locator(".plan-row[data-step=activity-first]")
    expect(row).to_contain_text("not measured")
    expect(row).to_contain_text("worst of 3")


def test_a_step_that_is_not_there_leads_back_to_the_plan(open_at: OpenAt, fake: Fake) -> None:
    number = job_on_its_way(fake.jobs)
    page = open_at(f"jobs/{number}/sharpening")

    expect(page.get_by_text("This job has no step “sharpening”")).to_be_visible()
    page.get_by_role("link", name="its plan").click()

    expect(page.get_by_role("heading", name="Skerry 7", level=1)).to_be_visible()


def _sideways(page: Page) -> list[str]:
    """List what in the page's main part is wider than its place."""
    listed = """() => [...document.querySelectorAll("main *")]
        .filter((each) => /auto|scroll/.test(getComputedStyle(each).overflowX))
        .filter((each) => each.scrollWidth > each.clientWidth + 1)
        .map((each) => each.className)"""
    return list(page.evaluate(listed))


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_figures_need_no_scrolling_to_the_side(open_at: OpenAt, fake: Fake, scheme: str) -> None:
    """WCAG 2.2, 1.4.10: at 320 pixels all is read in one direction; each figure still says of when it is."""
    dial, bands = dial_job(fake.jobs), bands_job(fake.jobs)
    for place in (f"{dial}/dial-second", f"{dial}/passband-third", f"{bands}/activity-first"):
        page = open_at(f"jobs/{place}", color_scheme=scheme)
        expect(page.get_by_role("region", name="Result")).to_be_visible()
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 800})
            assert no_sideways_scroll(page), (place, width)
            assert _sideways(page) == [], (place, width)
        page.set_viewport_size({"width": 390, "height": 800})
        figure = page.locator(".findings__figure").first
        head = figure.evaluate("(each) => getComputedStyle(each, '::before').content")
        assert head == '"As found"'
        assert serious_findings(page) == []
        page.close()
