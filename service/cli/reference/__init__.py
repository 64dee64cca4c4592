"""The reference pages that are written from the code itself, so that they cannot age."""

from __future__ import annotations

from collections.abc import Callable

from service.cli.reference.plain import commands_page, roles_page, settings_page
from service.cli.reference.problems import errors_page
from service.cli.reference.routes import pages_page, routes_page
from service.cli.reference.states import CYCLES, states_page
from service.cli.reference.steps import draw_steps
from service.lib.settings import CHECKOUT

FOLDER = CHECKOUT / "docs"

PAGES: dict[str, Callable[[], str]] = {
    "reference/settings.md": settings_page,
    "reference/commands.md": commands_page,
    "reference/roles.md": roles_page,
    "reference/routes.md": routes_page,
    "reference/pages.md": pages_page,
    "reference/states.md": states_page,
    "reference/errors.md": errors_page,
    **{
        f"pictures/states-{cycle.slug}.svg": (lambda drawn=cycle: draw_steps(drawn.name, drawn.steps()))  # type: ignore[misc]
        for cycle in CYCLES
    },
}


def write_reference() -> int:
    for name, page in PAGES.items():
        path = FOLDER / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(page(), encoding="utf-8")
        print(f"docs/{name}")
    return 0
