"""What every page must pass in a browser: no accessibility fault, nothing wider than the phone."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

# A phone of common size, held upright.
PHONE = {
    "viewport": {"width": 412, "height": 839},
    "device_scale_factor": 2.625,
    "is_mobile": True,
    "has_touch": True,
}


def accessibility_faults(page: Page) -> list[str]:
    """What axe-core finds wrong on the page, one line each: the rule, why, and where. None found is not proof of none."""
    found = Axe().run(page).response["violations"]
    return [
        f"{fault['id']}: {fault['help']}: "
        + "; ".join(" ".join(map(str, node["target"])) for node in fault["nodes"])
        for fault in found
    ]


def check_page(page: Page) -> None:
    """Fail where the page has a fault axe-core knows, or must be pushed sideways on a phone."""
    faults = accessibility_faults(page)
    assert not faults, f"{page.url}:\n" + "\n".join(faults)
    # A phone's own innerWidth grows with what is too wide for it.
    wide = page.evaluate("() => document.documentElement.scrollWidth")
    window = page.viewport_size["width"] if page.viewport_size else wide
    assert wide <= window, f"{page.url} is {wide} px wide in a window of {window} px"
