"""Without reception: what is written down stays on the phone, and is sent once."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.builders.provenance import Yard, make_yard
from tests.conftest import TODAY
from tests.pages.out import cut, cuts, entries, online, open_out, sign_in, sticks_cut, take_along

pytestmark = pytest.mark.databases("sqlite")


@pytest.fixture
def yard(writer, cast) -> Yard:
    return make_yard(writer, cast)


@pytest.fixture
def out(phone: Page, live_server: str, yard: Yard) -> Iterator[Page]:
    """The collector's phone, with today's tags."""
    phone.context.clock.set_system_time(TODAY)
    sign_in(phone.context, yard, "collector", live_server)
    open_out(phone, live_server)
    take_along(phone)
    return phone


def test_the_page_opens_without_reception_and_a_cut_is_sent_once(out: Page, yard: Yard) -> None:
    online(out, reception=False)
    out.reload()
    cut(out, 7, clicks=2)
    expect(out.locator("#waiting li")).to_have_count(1)
    out.wait_for_timeout(300)
    assert cuts(yard) == 0

    online(out)
    expect(out.locator("#sent li")).to_have_count(1)
    expect(out.locator("#waiting")).to_be_hidden()
    assert sticks_cut(yard) == [7]
    assert entries(out) == []
