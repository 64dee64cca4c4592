"""Labels wait with what was tied last in front, and a scanned bundle is drawn, for a stranger too."""

from __future__ import annotations

import re
from datetime import timedelta

from service.members.rules import Role
from service.tags import actions as tags
from service.tags.schemas import PublicAddressCreate
from tests.builders.provenance import make_yard
from tests.pages.desk import read


def test_what_was_tied_last_is_ticked_first(as_, writer, cast, clock):
    yard = make_yard(writer, cast)
    proposed = writer.write_now(
        tags.propose_address, cast.administrator, PublicAddressCreate(host="TAGS.CLUB.EXAMPLE")
    )
    writer.write_now(tags.confirm_address, cast.administrator, proposed.id)
    codes = []
    for _ in range(3):
        clock.move(timedelta(hours=1))
        codes.append(yard.cut(4)[0].code)

    page = read(as_(Role.COLLECTOR), "/labels").text

    found = [code for code in re.findall(r'name="codes" value="([^"]+)"', page) if code in codes]
    assert found == codes[::-1]


def test_a_scanned_bundle_shows_its_line_with_what_is_left(as_, writer, cast, client):
    yard = make_yard(writer, cast)
    (bundle,) = yard.cut(8)
    yard.hand_over(bundle.id, 3, yard.cast.guest_id)

    page = read(client("stranger"), f"/T/{bundle.code}").text

    assert page.count("<svg xmlns") >= 2  # for a desk and for a phone
    assert ">5 sticks<" in re.sub(r"<tspan[^>]*>|</tspan>", "", page)
