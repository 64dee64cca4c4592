"""Host names that can be printed, and scanned texts read back."""

import pytest

from service.lib.qr import CAPACITY, SIGNS
from service.tags.rules.addresses import (
    MOST_SIGNS,
    AddressCannotBePrinted,
    check_host,
    split_scanned,
    tag_address,
)


@pytest.mark.parametrize(("typed", "host"), [
    ("tags.example.org", "TAGS.EXAMPLE.ORG"),
    ("  Tags.Example.ORG ", "TAGS.EXAMPLE.ORG"),
    ("a-b.example", "A-B.EXAMPLE"),
    ("tags.example.org:8443", "TAGS.EXAMPLE.ORG:8443"),
    ("xn--obstbume-5za.example", "XN--OBSTBUME-5ZA.EXAMPLE"),
    ("a" * 20 + ".example", "A" * 20 + ".EXAMPLE"),
])  # fmt: skip
def test_a_full_host_name_can_be_printed(typed: str, host: str) -> None:
    assert check_host(typed) == host


@pytest.mark.parametrize(("typed", "why"), [
    ("", "letters, figures and hyphens"),
    ("https://tags.example.org", "without https://"),
    ("tags.example.org/club", "without a path"),
    ("me@example.org", "without a path"),
    ("obstbäume.example", "xn--"),
    ("a" * 21 + ".example", "29 signs"),
    ("-tags.example.org", "hyphens between dots"),
    ("tags..example", "hyphens between dots"),
    ("tags_1.example", "hyphens between dots"),
    ("tags example.org", "hyphens between dots"),
    ("laptop", "could not find it"),
    ("localhost", "could not find it"),
    ("club.local", "could not find it"),
    ("192.168.1.7", "could not find it"),
    ("999.1", "could not find it"),
    ("tags.example.org:0", "port"),
    ("tags.example.org:99999", "port"),
    ("tags.example.org:", "port"),
    ("[::1]:80", "port"),
])  # fmt: skip
def test_what_cannot_be_printed_is_refused_with_the_reason(typed: str, why: str) -> None:
    with pytest.raises(AddressCannotBePrinted, match=why) as caught:
        check_host(typed)

    assert caught.value.field == "host"
    assert caught.value.todo


def test_the_longest_host_still_fits_the_symbol() -> None:
    address = tag_address("A" * 20 + ".EXAMPLE", "7K3P9M2A")

    assert len(check_host("a" * 20 + ".example")) == MOST_SIGNS
    assert len(address) == CAPACITY
    assert set(address) <= SIGNS


@pytest.mark.parametrize(("text", "host", "signs"), [
    ("HTTPS://TAGS.EXAMPLE.ORG/T/7K3P9M2A", "TAGS.EXAMPLE.ORG", "7K3P9M2A"),
    ("https://tags.example.org/t/7k3p9m2a", "TAGS.EXAMPLE.ORG", "7k3p9m2a"),
    (" http://tags.example.org:8443/T/7K3P9M2A/?from=camera ", "TAGS.EXAMPLE.ORG:8443", "7K3P9M2A"),
    ("tags.example.org/T/7K3P9M2A", "TAGS.EXAMPLE.ORG", "7K3P9M2A"),
    ("7K3P 9M2A", "", "7K3P 9M2A"),
    ("https://elsewhere.example/menu", "", "https://elsewhere.example/menu"),
])  # fmt: skip
def test_a_scanned_address_is_split_into_host_and_code(text: str, host: str, signs: str) -> None:
    assert split_scanned(text) == (host, signs)
