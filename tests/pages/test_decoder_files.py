"""The decoder that browsers are given: the published file, from our own address, allowed to compile in its worker alone."""

from __future__ import annotations

import hashlib
import re

import pytest

from service.pages.render import STATIC, static
from tests.bad_input.desk import PAGE

DECODER = STATIC / "decoder"


def test_the_wasm_is_as_published_and_the_notice_says_of_what_version():
    notice = (DECODER / "README.md").read_text()
    told = dict(re.findall(r"`(dist/\S+)` \| `([0-9a-f]{64})`", notice))

    assert (
        hashlib.sha256((DECODER / "zxing_reader.wasm").read_bytes()).hexdigest()
        == told["dist/reader/zxing_reader.wasm"]
    )
    assert "zxing-wasm 3.1.4" in notice and "MIT License" in (DECODER / "LICENSE").read_text()


def test_no_script_of_ours_names_a_server_of_others():
    for script in (*STATIC.glob("*.js"), *DECODER.glob("*.js")):
        assert set(re.findall(r"https?://([\w.-]+)", script.read_text())) <= {"www.w3.org"}, script


@pytest.mark.databases("sqlite")
def test_only_the_worker_may_compile(client):
    worker = client().get(static("decoder/worker.js"))
    wasm = client().get("/static/decoder/zxing_reader.wasm")
    page = client().get("/scan", headers=PAGE)

    assert "'wasm-unsafe-eval'" in worker.headers["content-security-policy"]
    assert "unsafe" not in page.headers["content-security-policy"]
    assert wasm.headers["content-type"] == "application/wasm"
    assert "immutable" in wasm.headers["cache-control"]


def test_the_scanning_page_loads_little_before_the_decoder():
    """Asked of it: under 120 KB compressed. gzip at its usual strength, as the proxy sends it."""
    import gzip

    sent = [
        STATIC / name for name in ("style.css", "scan.css", "page.js", "scan.js", "mark.svg", "manifest.json")
    ]

    assert sum(len(gzip.compress(file.read_bytes(), 6)) for file in sent) < 40_000
