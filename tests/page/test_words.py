"""Figures, units and times as the page writes and reads them."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page

from tests.page.conftest import Fake, serving
from tests.page.fake_service import PAGE, FakeBench

THIN = "\N{NARROW NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"


@pytest.fixture(scope="module")
def fake() -> Iterator[Fake]:
    """One service for all of these: nothing here changes it."""
    with serving(FakeBench()) as running:
        yield running


@pytest.fixture(scope="module")
def page(browser: Browser, fake: Fake) -> Iterator[Page]:
    """One page for all of these."""
    opened = browser.new_page()
    opened.goto(f"{fake.address}#/scan")
    yield opened
    opened.close()


def call(page: Page, module: str, function: str, *arguments: object) -> object:
    """Call a function of one of the page's modules, in the browser."""
    script = "async ([module, name, given]) => (await import(`/page/modules/${module}.js`))[name](...given)"
    return page.evaluate(script, [module, function, list(arguments)])


@pytest.mark.parametrize(
    ("value", "sigma", "told"),
    [
        # JCGM 100:2008 (GUM), 7.2.4: m = 100.021 47 g, 0.35 mg and Student's t of 2.26 make 0.79 mg.
        (100.02147, 0.00035 * 2.26 / 1.96, {"value": f"100.021{THIN}47", "spread": f"0.000{THIN}79"}),
        # JCGM 100:2008, 7.2.6: 10.057 62 ohm with 27 milliohm is rounded to 10.058 ohm.
        (10.05762, 0.027 / 1.96, {"value": "10.058", "spread": "0.027"}),
        # The half interval itself rounds up a decade and still has two digits.
        (5.0, 0.0996 / 1.96, {"value": "5.00", "spread": "0.10"}),
        # Two digits of it end left of the point, and so does the value.
        (62_548.0, 537.4 / 1.96, {"value": f"62{THIN}550", "spread": "540"}),
    ],
)
def test_a_value_is_rounded_to_the_second_digit_of_its_uncertainty(
    page: Page, value: float, sigma: float, told: dict[str, str]
) -> None:
    """As the guide to the expression of uncertainty has it."""
    assert call(page, "shared/units", "withUncertainty", value, sigma) == told


@pytest.mark.parametrize(
    ("value", "text"),
    [
        # SI brochure (9th edition), 5.4.4: 43 279.168 29, and four digits need no space: 3279.1683.
        (43279.16829, f"43{THIN}279.168{THIN}29"),
        (3279.1683, "3279.1683"),
        (-60, f"{MINUS}60"),
        (0.1 + 0.2, "0.3"),
    ],
)
def test_digits_stand_in_threes_where_there_are_more_than_four(page: Page, value: float, text: str) -> None:
    """And no digit is shown that binary arithmetic made up."""
    assert call(page, "shared/units", "trimmed", value) == text


@pytest.mark.parametrize(
    ("hz", "sigma_hz", "text"),
    [
        (455_012.3, 23.4, "455.012 ± 0.046 kHz"),
        (7_100_123.4, 45.0, f"7.100{THIN}123 ± 0.000{THIN}088 MHz"),
        (812.34, 1.5, "812.3 ± 2.9 Hz"),
        (455_012.3, None, "455.012 kHz"),
        (None, None, "\N{EN DASH}"),
    ],
)
def test_a_frequency_is_told_in_the_unit_of_its_band(
    page: Page, hz: float | None, sigma_hz: float | None, text: str
) -> None:
    """Kilohertz up to the broadcast band, megahertz on short wave: common practice, no source."""
    assert call(page, "shared/units", "frequencyText", hz, sigma_hz) == text


@pytest.mark.parametrize(
    ("typed", "hz"),
    [
        ("455", 455_000),
        ("455 kHz", 455_000),
        ("455khz", 455_000),
        ("7.1MHz", 7_100_000),
        ("7,1 MHz", 7_100_000),
        ("1.005 MHz", 1_005_000),
        (f"43{THIN}279", 43_279_000),
        ("60 000 Hz", 60_000),
        ("", None),
        ("kHz", None),
        ("1.2.3", None),
        ("4e3", None),
        ("455 meters", None),
        ("1,234.5", None),
    ],
)
def test_a_typed_frequency_is_read_exactly_or_not_at_all(page: Page, typed: str, hz: float | None) -> None:
    """A text that could mean two things is no frequency."""
    assert call(page, "shared/quantity", "parseFrequency", typed) == hz


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (None, "time left not known yet"),
        (0.4, "about a second left"),
        (7, "a few seconds left"),
        (22, "about 20 seconds left"),
        (60, "about a minute left"),
        (150, "about 3 minutes left"),
        (3600, "about an hour left"),
        (5400, "about 1.5 hours left"),
    ],
)
def test_the_time_left_is_told_in_words(page: Page, seconds: float | None, words: str) -> None:
    """No more exact than it is known."""
    assert call(page, "shared/words", "timeLeft", seconds) == words


def test_the_charts_library_waits_until_the_page_can_be_read(page: Page, fake: Fake) -> None:
    """Its megabyte is fetched after the first paint, from the service and from nowhere else."""
    page.locator(".bk-Figure").wait_for()

    painted, fetched, hosts = page.evaluate(
        """() => [
            performance.getEntriesByName("first-contentful-paint")[0].startTime,
            performance.getEntriesByType("resource").find(each => each.name.includes("bokeh.min.js")).startTime,
            [...new Set(performance.getEntriesByType("resource").map(each => new URL(each.name).origin + "/"))],
        ]"""
    )

    assert painted < fetched
    assert hosts == [fake.address]


def test_every_module_is_fetched_at_once(page: Page) -> None:
    """Each is named in the page's head, so that none waits until another that needs it has been read."""
    named = page.locator('link[rel="modulepreload"], script[type="module"]').evaluate_all(
        "all => all.map(each => (each.href ?? each.src).split('/page/modules/').pop())"
    )

    modules = {path.relative_to(PAGE / "modules").as_posix() for path in (PAGE / "modules").rglob("*.js")}
    assert set(named) == {name for name in modules if not name.endswith("types.js")}  # nothing of a type is run
