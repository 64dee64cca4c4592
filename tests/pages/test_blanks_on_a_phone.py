"""The pages of blank tags on a phone, by light and by dark, with batches and a blank to tie on."""

from __future__ import annotations

import pytest

from service.members.signin import SESSION_COOKIE
from service.tags import actions as tags
from service.tags import queries
from service.tags.schemas import BlankBatchCreate, PublicAddressCreate
from tests.builders.provenance import make_yard
from tests.infra.browser_checks import check_page


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pages_of_blank_tags_have_no_known_fault(live_server, database, writer, cast, phone, scheme):
    make_yard(writer, cast)
    proposed = writer.write_now(
        tags.propose_address, cast.administrator, PublicAddressCreate(host="TAGS.CLUB.EXAMPLE")
    )
    writer.write_now(tags.confirm_address, cast.administrator, proposed.id)
    batch = writer.write_now(tags.print_blanks, cast.host, BlankBatchCreate(blanks=2))
    with database.reading() as session:
        code = queries.list_blanks_left(session, batch.id)[0]
    phone.context.add_cookies(
        [{"name": SESSION_COOKIE, "value": cast.token("administrator"), "url": live_server}]
    )
    phone.emulate_media(color_scheme=scheme)

    for path in (
        "/labels/blank",
        f"/T/{code}",
        f"/cut?tag={code}",
        f"/labels/tie/{code}",
        f"/receive?tag={code}",
    ):
        answer = phone.goto(f"{live_server}{path}")
        assert answer.status == 200, path
        check_page(phone)
