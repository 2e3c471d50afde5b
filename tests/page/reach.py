"""What everybody needs of a page: the Tab key reaches all, nothing scrolls sideways, the checker is content."""

import pytest
from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]
from playwright.sync_api import Page

PHONE = {"viewport": {"width": 360, "height": 740}, "is_mobile": True, "has_touch": True, "device_scale_factor": 2}
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def tab_to(page: Page, wanted: str, most: int = 60) -> None:
    """Press Tab until the element that matches a selector has the focus."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate("selector => document.activeElement.matches(selector)", wanted):
            return
    pytest.fail(f"{wanted} cannot be reached with the Tab key")


def no_sideways_scroll(page: Page) -> bool:
    """Tell whether the page is no wider than its window."""
    return bool(page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"))


def serious_findings(page: Page) -> list[str]:
    """List what the accessibility checker holds against the page, the trifling left out."""
    found = Axe().run(page, options={"runOnly": RULES, "resultTypes": ["violations"]}).response["violations"]
    return [
        f"{each['id']}: {each['help']} ({each['nodes'][0]['html'][:120]})"
        for each in found
        if each["impact"] in {"serious", "critical", "moderate"}
    ]
