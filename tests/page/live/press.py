"""Pressing the step key as a foot does."""

from playwright.sync_api import Page

BOUNCE_MS = 450
"""Longer than a bouncing pedal bounces."""


def press(page: Page, key: str = "Space") -> None:
    """Press the step key, once the last press has died away."""
    page.wait_for_timeout(BOUNCE_MS)
    page.keyboard.press(key)
