"""Without reception: what is written down stays on the phone, and is sent once."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from sqlalchemy import select

from service.collection.tables import Collection
from service.lib.codes import group_code, make_code
from tests.builders.provenance import Yard
from tests.conftest import TODAY
from tests.infra.browser_checks import PHONE
from tests.pages.out import (
    blanks,
    cut,
    cuts,
    entries,
    kept_phone,
    online,
    open_form,
    open_out,
    sign_in,
    sticks_cut,
    take_along,
    waits,
)

pytestmark = pytest.mark.databases("sqlite")


# -- kept, and sent once ---------------------------------------------------------------------------------------------


def test_the_page_opens_without_reception_and_a_cut_is_sent_once(out: Page, yard: Yard) -> None:
    take_along(out)
    online(out, reception=False)
    out.reload()
    cut(out, 7, clicks=2)
    waits(out, 1)
    out.wait_for_timeout(300)
    assert cuts(yard) == 0

    online(out)

    expect(out.locator("#sent li")).to_have_count(1)
    expect(out.locator("#waiting")).to_be_hidden()
    assert sticks_cut(yard) == [7]
    assert entries(out) == []


def test_what_waits_survives_a_browser_that_is_closed(
    chromium: Browser, live_server: str, yard: Yard, tmp_path: Path
) -> None:
    with kept_phone(chromium, tmp_path) as context:
        context.clock.set_system_time(TODAY)
        sign_in(context, yard, "collector", live_server)
        page = open_out(context.pages[0], live_server)
        take_along(page)
        online(page, reception=False)
        cut(page, 3)
        waits(page, 1)
        page.locator("form[data-deed=cut] [name=note]").fill("the lowest branch")
        page.wait_for_timeout(200)

    with kept_phone(chromium, tmp_path) as context:
        context.clock.set_system_time(TODAY + timedelta(hours=5))
        context.set_offline(True)
        page = context.pages[0]
        page.goto(f"{live_server}/out")
        waits(page, 1)
        open_form(page, "cut")
        expect(page.locator("form[data-deed=cut] [name=note]")).to_have_value("the lowest branch")
        expect(page.locator("#waiting")).to_contain_text("14 February 2026")
        context.set_offline(False)
        sign_in(context, yard, "collector", live_server)
        page.evaluate("() => Out.sending.send()")
        expect(page.locator("#sent li")).to_have_count(1)

    assert sticks_cut(yard) == [3]


def test_two_tabs_send_an_entry_once(out: Page, yard: Yard, live_server: str) -> None:
    take_along(out)
    sent = []
    out.context.on("request", lambda asked: sent.append(asked.url) if asked.method == "POST" else None)
    online(out, reception=False)
    second = out.context.new_page()
    second.goto(f"{live_server}/out")
    cut(out, 2)
    cut(second, 4)
    waits(out, 2)
    waits(second, 2)

    online(out)

    expect(out.locator("#sent li")).to_have_count(2)
    expect(second.locator("#sent li")).to_have_count(2)
    assert sorted(sticks_cut(yard)) == [2, 4]
    assert len(sent) == 2


def test_what_a_busy_service_does_not_take_is_sent_again(out: Page, yard: Yard) -> None:
    take_along(out)
    busy = [503, 429, 408]
    out.route(
        "**/api/labelled-cuts",
        lambda route: (
            route.fulfill(status=busy.pop(), content_type="application/problem+json", body="{}")
            if busy
            else route.continue_()
        ),
    )
    cut(out, 5)
    waits(out, 1)
    expect(out.locator("#standing")).to_contain_text("tried again by itself")

    for _ in range(3):
        out.evaluate("() => Out.sending.send()")
        out.wait_for_timeout(100)

    expect(out.locator("#sent li")).to_have_count(1)
    assert (busy, sticks_cut(yard)) == ([], [5])


def test_an_answer_that_is_not_the_services_counts_for_nothing(out: Page, yard: Yard) -> None:
    take_along(out)
    door = "<h1>Welcome to the hall’s network</h1>"
    out.route(
        "**/api/labelled-cuts", lambda route: route.fulfill(status=200, content_type="text/html", body=door)
    )
    cut(out, 5)
    out.wait_for_timeout(400)
    waits(out, 1)

    out.unroute("**/api/labelled-cuts")
    out.evaluate("() => Out.sending.send()")

    expect(out.locator("#sent li")).to_have_count(1)
    assert sticks_cut(yard) == [5]


def test_when_it_was_cut_is_when_it_was_written_down(out: Page, yard: Yard, clock) -> None:
    take_along(out)
    online(out, reception=False)
    cut(out, 5)
    waits(out, 1)
    clock.move(timedelta(days=2))

    online(out)

    expect(out.locator("#sent li")).to_have_count(1)
    with yard.database.reading() as session:
        row = session.execute(select(Collection.done_at, Collection.recorded_at)).one()
    assert (row.done_at - TODAY).total_seconds() < 60
    assert row.recorded_at == TODAY + timedelta(days=2)


def test_a_phone_whose_clock_is_wrong_writes_by_the_clubs(out: Page, yard: Yard) -> None:
    out.context.clock.set_system_time(TODAY + timedelta(days=287))
    take_along(out)
    expect(out.locator("[data-age]")).to_contain_text("This phone’s clock is 287 days ahead of the club’s")

    cut(out, 5)

    expect(out.locator("#sent li")).to_have_count(1)
    assert sticks_cut(yard) == [5]


# -- refused, and whose it is ----------------------------------------------------------------------------------------


def test_what_is_refused_stays_with_its_data_and_is_mended(out: Page, yard: Yard) -> None:
    take_along(out)
    online(out, reception=False)
    code = make_code()
    cut(out, 6, code=code, note="by the gate")
    waits(out, 1)
    online(out)

    refused = out.locator("#waiting li.refused")
    expect(refused).to_contain_text(f"No tag carries the code {group_code(code)}")
    expect(refused).to_contain_text("6 sticks cut from tree 1, ‘Gala’, apple")
    expect(refused).to_contain_text("by the gate")
    assert cuts(yard) == 0
    refused.get_by_role("button", name="Mend it").click()
    form = out.locator("form[data-deed=cut]")
    expect(form.locator("[name=note]")).to_have_value("by the gate")
    form.locator("[name=code]").fill("")
    form.get_by_role("button", name="Keep it").click()

    expect(out.locator("#sent li")).to_have_count(1)
    assert sticks_cut(yard) == [6]


def test_what_is_refused_goes_only_when_asked_twice(out: Page, yard: Yard) -> None:
    take_along(out)
    cut(out, 6, code=make_code())
    refused = out.locator("#waiting li.refused")
    expect(refused).to_have_count(1)

    refused.get_by_role("button", name="Throw it away").click()
    refused.get_by_role("button", name="Keep it").click()
    expect(refused).to_have_count(1)
    refused.get_by_role("button", name="Throw it away").click()
    refused.get_by_role("button", name="Throw it away for good").click()

    expect(out.locator("#waiting")).to_be_hidden()
    assert (entries(out), cuts(yard)) == ([], 0)


def test_entries_are_never_sent_under_another_persons_sign_in(
    out: Page, yard: Yard, live_server: str
) -> None:
    take_along(out)
    online(out, reception=False)
    cut(out, 6)
    waits(out, 1)
    sign_in(out.context, yard, "steward", live_server)
    online(out)
    expect(out.locator("#standing")).to_contain_text("is sent when")
    out.wait_for_timeout(300)

    assert cuts(yard) == 0
    expect(out.locator("#standing")).to_contain_text("1 entry of")
    expect(out.locator("[data-age]")).to_contain_text("None yet")
    assert out.evaluate("() => Out.kept.fact('pack').then((pack) => pack === undefined)")
    sign_in(out.context, yard, "collector", live_server)
    out.evaluate("() => Out.sending.send()")

    expect(out.locator("#sent li")).to_have_count(1)
    with yard.database.reading() as session:
        assert session.execute(select(Collection.by_party_id)).scalars().all() == [
            yard.cast.collector.party_id
        ]


def test_another_sign_in_between_asking_who_and_sending_is_refused(
    out: Page, yard: Yard, live_server: str
) -> None:
    take_along(out)
    online(out, reception=False)
    cut(out, 6)
    waits(out, 1)
    own = out.context.request.get(f"{live_server}/api/session").text()
    sign_in(out.context, yard, "steward", live_server)
    out.route(
        "**/api/session", lambda route: route.fulfill(content_type="application/json", body=own, status=200)
    )
    with out.expect_response("**/api/labelled-cuts") as heard:
        online(out)
    expect(out.locator("#told")).to_contain_text("What waits is sent when")

    assert (heard.value.status, heard.value.json()["type"]) == (403, "/problems/form-not-ours")
    assert cuts(yard) == 0
    assert [(one["state"], one["tries"]) for one in entries(out)] == [("waiting", 1)]


def test_who_is_signed_out_is_asked_to_sign_in_and_nothing_is_lost(out: Page, yard: Yard) -> None:
    take_along(out)
    online(out, reception=False)
    cut(out, 6)
    waits(out, 1)
    out.context.clear_cookies()
    online(out)

    expect(out.locator("#told")).to_contain_text("What waits is sent when")
    assert out.locator("#told a").get_attribute("href") == "/sign-in?then=/out"
    waits(out, 1)
    assert cuts(yard) == 0


def test_a_tag_tied_on_by_two_phones_is_told_to_the_second_plainly(
    out: Page, chromium: Browser, yard: Yard, live_server: str
) -> None:
    (code,) = blanks(yard, 1)
    other = open_out(chromium.new_context(**PHONE).new_page(), live_server)
    other.context.clock.set_system_time(TODAY)
    sign_in(other.context, yard, "steward", live_server)
    other.reload()
    for page, sticks in ((out, 4), (other, 9)):
        take_along(page)
        online(page, reception=False)
        cut(page, sticks, code=group_code(code).lower())
        waits(page, 1)

    online(out)
    expect(out.locator("#sent li")).to_have_count(1)
    online(other)

    refused = other.locator("#waiting li.refused")
    expect(refused).to_contain_text("This tag hangs on something already")
    expect(refused).to_contain_text("9 sticks cut from tree 1")
    assert sticks_cut(yard) == [4]
    other.context.close()


def test_entries_of_the_two_versions_before_are_sent_and_others_are_told(out: Page, yard: Yard) -> None:
    take_along(out)
    online(out, reception=False)
    for sticks in (1, 2, 3, 4):
        cut(out, sticks)
        waits(out, sticks)
    out.evaluate(
        """async () => {
            const all = (await Out.kept.all("entries")).sort((a, b) => a.made_at - b.made_at);
            const versions = [Out.SCHEMA - 3, Out.SCHEMA - 2, Out.SCHEMA - 1, Out.SCHEMA + 1];
            for (const [place, entry] of all.entries()) await Out.kept.put("entries", { ...entry, schema: versions[place] });
        }"""
    )

    online(out)

    expect(out.locator("#sent li")).to_have_count(2)
    assert sorted(sticks_cut(yard)) == [2, 3]
    expect(out.locator("#waiting")).to_contain_text("too old to be sent")
    expect(out.locator("#waiting")).to_contain_text("A newer version of this page wrote it")


# What a browser does on a full phone: the transaction is taken back with this error (Indexed Database API 3.0, 2.7.1).
FULL = """() => {
    self.full = true;
    for (const deed of ["add", "put"]) {
        const done = IDBObjectStore.prototype[deed];
        IDBObjectStore.prototype[deed] = function (...given) {
            const asked = done.apply(this, given);
            if (self.full) {
                Object.defineProperty(this.transaction, "error", { value: new DOMException("full", "QuotaExceededError") });
                this.transaction.abort();
            }
            return asked;
        };
    }
}"""


def test_full_storage_is_told_and_the_form_stays_filled(out: Page, yard: Yard) -> None:
    take_along(out)
    out.evaluate(FULL)

    cut(out, 8, note="by the gate")

    form = out.locator("form[data-deed=cut]")
    expect(form.locator("[data-wrong]")).to_contain_text("storage is full")
    expect(form.locator("[name=sticks]")).to_have_value("8")
    expect(form.locator("[name=note]")).to_have_value("by the gate")
    assert entries(out) == []
    out.evaluate("() => { self.full = false; }")
    form.get_by_role("button", name="Keep it").click()
    expect(out.locator("#sent li")).to_have_count(1)
    assert sticks_cut(yard) == [8]


def test_a_full_phone_sends_what_waits(out: Page, yard: Yard) -> None:
    take_along(out)
    online(out, reception=False)
    cut(out, 8)
    waits(out, 1)
    out.evaluate(FULL)

    online(out)

    expect(out.locator("#waiting")).to_be_hidden()
    assert (sticks_cut(yard), entries(out)) == ([8], [])
