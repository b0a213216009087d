"""Service sheets at an address: the pages themselves, and what a browser is told about them."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from urllib.parse import unquote, urljoin

import pytest

from fleet.services.share import revoke

from .conftest import NOW


@pytest.fixture(scope="module")
def path(shared_site) -> str:
    return shared_site.share("sheets", subscriber="browser")


class Links(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.found += [value for name, value in attrs if name in ("href", "src") and value]


def test_the_address_is_where_the_pages_begin(shared_site, path):
    begin, index = shared_site.ask(path), shared_site.ask(f"{path}index.html")
    assert begin.status == 200
    assert begin.headers["content-type"] == "text/html; charset=utf-8"
    assert begin.body == index.body
    assert b"Tank upkeep" in begin.body


def test_every_link_leads_to_a_page_under_the_same_address(shared_site, path):
    waiting, seen = [path], set()
    while waiting:
        page = waiting.pop()
        seen.add(page)
        reply = shared_site.ask(page)
        assert reply.status == 200, page
        if not reply.headers["content-type"].startswith("text/html"):
            continue
        links = Links()
        links.feed(reply.body.decode())
        targets = {urljoin(page, link.partition("#")[0]) for link in links.found if not link.startswith(("#", "tel:"))}
        assert all(target.startswith(path) for target in targets), targets
        waiting += sorted(targets - seen - set(waiting))
    names = {unquote(page.rpartition("/")[2]) for page in seen}
    assert any(name.startswith("visit-") for name in names)
    assert {"tank-REEF.html", "today.html"} <= names


def test_a_browser_may_load_and_run_nothing_and_passes_the_address_to_nobody(shared_site, path):
    """Content Security Policy Level 3, and Referrer Policy: the address of the page is its key."""
    headers = shared_site.ask(path).headers
    policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["style-src"] == "'unsafe-inline'"
    assert policy["img-src"] == "data:"
    assert "script-src" not in policy
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == "private, no-cache"
    assert headers["x-robots-tag"] == "noindex"


def test_pages_have_validators_too(shared_site, path):
    etag = shared_site.ask(path).headers["etag"]
    assert shared_site.ask(path, headers={"If-None-Match": etag}).status == 304
    head = shared_site.ask(path, "HEAD")
    assert (head.status, head.body, head.headers["etag"]) == (200, b"", etag)


def test_the_return_sheet_of_a_visit_lies_beside_its_page(shared_site, path):
    index = shared_site.ask(path).body.decode()
    key = re.search(r'href="visit-([^"]+)\.html"', index).group(1)
    assert f"returns-{key}.csv" in shared_site.ask(f"{path}visit-{key}.html").body.decode()
    reply = shared_site.ask(f"{path}returns-{key}.csv")
    assert (reply.status, reply.headers["content-type"]) == (200, "text/csv; charset=utf-8")


def test_no_page_and_no_address_are_the_same_to_who_asks(shared_site, path):
    revoked = shared_site.share("sheets", subscriber="lost tablet")
    revoke(shared_site.url, f"http://h{revoked}", who="ada", now=NOW)
    first = shared_site.ask(revoked)
    assert first.status == 404
    for other in (
        f"{path}none.html", path.rstrip("/"), f"{path}../{path[3:]}index.html/", f"/s/{'0' * 32}/index.html",
        f"{path}../../etc/passwd", f"{path}%2e%2e%2fetc%2fpasswd", f"{path}index.html/",
    ):  # fmt: skip
        reply = shared_site.ask(other)
        assert (reply.status, reply.lasting, reply.body) == (404, first.lasting, first.body), other
