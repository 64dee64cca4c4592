"""The address for the club's letters on one's own page, and when the weekly one is written."""

from __future__ import annotations

from service.members.rules import Role
from tests.pages.desk import fresh


def test_ones_address_for_letters_is_told_switched_off_and_left_by_an_older_form(as_):
    member = as_(Role.MEMBER)
    assert "letters stand on your pages alone" in member.get("/account").text
    page = member.get("/account/contact")
    assert 'name="mail_wanted" value="true" checked' in page.text
    typed = {**fresh(page), "name": "Łucja", "email": "lucja@wrobel.example"}  # the tick taken out

    member.post("/account/contact", data=typed)
    off = member.get("/account").text
    older = {**fresh(member.get("/account/contact")), "name": "Łucja", "contact": "0191 555"}
    member.post("/account/contact", data=older)
    kept = member.get("/account").text
    wrong = member.post(
        "/account/contact", data={**fresh(member.get("/account/contact")), "name": "Ł", "email": "lucja"}
    )

    assert "lucja@wrobel.example (switched off)" in off
    assert "lucja@wrobel.example (switched off)" in kept
    assert wrong.status_code == 422


def test_the_day_and_hour_of_the_weekly_letter_are_the_clubs(as_):
    office = as_(Role.ADMINISTRATOR)
    page = office.get("/club")
    assert '<option value="6" selected>Sunday</option>' in page.text
    typed = {
        **fresh(page),
        "name": "Otterlea",
        "short_name": "OTT",
        "zone": "Europe/London",
        "recall_look_back_winters": "3",
    }

    office.post("/club", data={**typed, "weekly_on": "2", "weekly_hour": "7"})
    again = office.get("/club").text
    wrong = office.post(
        "/club",
        data={
            **fresh(office.get("/club")),
            **{k: typed[k] for k in ("name", "short_name", "zone")},
            "recall_look_back_winters": "3",
            "weekly_on": "7",
            "weekly_hour": "24",
        },
    )

    assert '<option value="2" selected>Wednesday</option>' in again
    assert wrong.status_code == 422
