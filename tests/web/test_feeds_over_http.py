"""What a calendar program meets at a feed's address.

RFC 9110 for HTTP, RFC 5545, 8.1 for the media type; the rest is what subscribing programs were seen to need.
"""

from __future__ import annotations

import http.client
import re
import threading
import urllib.robotparser
from datetime import UTC, date, datetime

import icalendar
import pytest

from fleet.db.repository import Register
from fleet.services.feeds import feed_files_in_force
from fleet.services.plan import plan_and_save
from fleet.services.publish import planned
from fleet.services.record import WorkDone, record_work
from fleet.services.share import revoke

from .conftest import NOW, TODAY, filled, running

WRONG = "/c/00000000000000000000000000000000.ics"


@pytest.fixture(scope="module")
def path(shared_site) -> str:
    return shared_site.share("fleet", subscriber="reader")


def test_a_feed_is_calendar_text_of_known_length_and_the_bytes_that_feeds_writes(site):
    path = site.share("fleet")
    reply = site.ask(path)
    assert reply.status == 200
    assert reply.headers["content-type"] == "text/calendar; charset=utf-8"
    assert int(reply.headers["content-length"]) == len(reply.body)
    outlook, edition = planned(site.url, today=TODAY, now=NOW)
    written = dict(feed_files_in_force(site.url, outlook, edition, today=TODAY, now=datetime.now(UTC)))
    assert reply.body == written["fleet.ics"]
    assert icalendar.Calendar.from_ical(reply.body).events


@pytest.mark.parametrize(("kind", "code"), [("site", "PIER-Q"), ("client", "PIER"), ("technician", "DOT")])
def test_each_address_opens_its_own_feed(site, kind, code):
    reply = site.ask(site.share(kind, code))
    assert reply.status == 200
    outlook, edition = planned(site.url, today=TODAY, now=NOW)
    written = dict(feed_files_in_force(site.url, outlook, edition, today=TODAY, now=datetime.now(UTC)))
    assert reply.body == written[f"{kind}-{code}.ics"]


@pytest.mark.parametrize("accept", [None, "*/*", "text/html", "application/json", "image/png;q=0.1", "nonsense"])
def test_any_accept_header_or_none_is_served(shared_site, path, accept):
    headers = {} if accept is None else {"Accept": accept}
    assert shared_site.ask(path, headers=headers).status == 200


def test_head_tells_the_same_headers_and_no_body(shared_site, path):
    full, head = shared_site.ask(path), shared_site.ask(path, "HEAD")
    assert head.status == 200
    assert head.lasting == full.lasting
    assert head.body == b""


def test_no_cookie_redirect_compression_or_download_name(shared_site, path):
    reply = shared_site.ask(path, headers={"Accept-Encoding": "gzip, br"})
    absent = {"set-cookie", "location", "content-encoding", "content-disposition", "last-modified", "www-authenticate"}
    assert reply.status == 200
    assert absent.isdisjoint(reply.headers)
    assert reply.headers["cache-control"] == "private, no-cache"


def test_search_engines_may_look_and_are_told_not_to_index(shared_site, path):
    """A page that robots.txt keeps a crawler from is indexed without being read: noindex must be reachable."""
    assert shared_site.ask(path).headers["x-robots-tag"] == "noindex"
    rules = urllib.robotparser.RobotFileParser(f"http://127.0.0.1:{shared_site.port}/robots.txt")
    rules.read()
    assert rules.can_fetch("anybody", path)


@pytest.mark.parametrize(
    ("form", "status"),
    [
        ("{}", 304),
        ("W/{}", 304),
        ('"other", {}', 304),
        ('"a,b" ,W/"x",W/{}', 304),
        ("*", 304),
        (" * ", 304),
        ('"other"', 200),
        ('W/"other", "more"', 200),
        ("", 200),
        ("nonsense", 200),
        ('"*"', 200),
    ],
)
def test_if_none_match_is_compared_weakly_over_the_whole_list(shared_site, path, form, status):
    """RFC 9110, 13.1.2 and 8.8.3.2; 15.4.5 for what a 304 must carry."""
    full = shared_site.ask(path)
    etag = full.headers["etag"]
    assert re.fullmatch(r'"[\x21\x23-\x7e]+"', etag)
    for method in ("GET", "HEAD"):
        reply = shared_site.ask(path, method, {"If-None-Match": form.format(etag)})
        assert reply.status == status
        assert reply.headers["etag"] == etag
        assert reply.headers["cache-control"] == full.headers["cache-control"]
        if status == 304:
            assert reply.body == b""
            assert "content-type" not in reply.headers


def test_a_bare_tag_without_quotes_matches_nothing(shared_site, path):
    etag = shared_site.ask(path).headers["etag"].strip('"')
    assert shared_site.ask(path, headers={"If-None-Match": etag}).status == 200


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "PROPFIND", "TRACE"])
def test_nothing_can_be_written_and_a_wrong_method_says_which_are_right(shared_site, path, method):
    for asked in (path, WRONG, "/"):
        reply = shared_site.ask(asked, method)
        assert reply.status == 405
        assert sorted(reply.headers["allow"].split(", ")) == ["GET", "HEAD"]
        assert reply.body == b"Only GET and HEAD.\n"


def test_a_revoked_a_wrong_and_a_malformed_address_get_the_same_answer(shared_site):
    path = shared_site.share("fleet", subscriber="lost phone")
    assert shared_site.ask(path).status == 200
    revoke(shared_site.url, f"http://h{path}", who="ada", now=NOW)
    asked = [
        path, WRONG, path.upper(), path.removesuffix(".ics"), f"{path}/", path.replace(".ics", "~2.ics"), "/", "/c/",
        "/c/.ics", "/s/", "/s/x/", f"/c/{'a' * 5000}.ics", "/c/%00.ics", "/c/%ff%fe.ics", "/robots.txt", "/docs",
        "/openapi.json", "/c/../etc/passwd", "//",
    ]  # fmt: skip
    first = shared_site.ask(path)
    assert first.status == 404
    assert b"VCALENDAR" not in first.body
    for other in asked:
        reply = shared_site.ask(other)
        assert (reply.status, reply.lasting, reply.body) == (404, first.lasting, first.body), other


def test_the_address_of_a_feed_opens_no_sheets_and_that_of_sheets_no_feed(shared_site):
    feed, sheets = shared_site.share("fleet", subscriber="a"), shared_site.share("sheets", subscriber="a")
    assert shared_site.ask(feed.replace("/c/", "/s/").replace(".ics", "/")).status == 404
    assert shared_site.ask(sheets.replace("/s/", "/c/").rstrip("/") + ".ics").status == 404


def test_a_client_that_asks_again_sees_200_then_304_then_the_change_and_304_again(site):
    """One subscription over days: unchanged, a task reported done, the next day."""
    path = site.share("fleet")
    first = site.ask(path)
    assert site.ask(path, headers={"If-None-Match": first.headers["etag"]}).status == 304
    with Register.open(site.url, read_only=True) as register:
        plan = register.saved_plan()
    work = WorkDone((plan.visits[0].tasks[0],), None, TODAY, "dot")
    record_work(site.url, work, today=TODAY, now=datetime.now(UTC))
    second = site.ask(path, headers={"If-None-Match": first.headers["etag"]})
    assert second.status == 200
    assert second.body != first.body
    assert site.ask(path, headers={"If-None-Match": second.headers["etag"]}).status == 304


def test_a_plan_saved_again_without_news_keeps_the_validator(site):
    path = site.share("fleet")
    first = site.ask(path)
    plan_and_save(site.url, today=TODAY, through=None, now=datetime.now(UTC))
    assert site.ask(path, headers={"If-None-Match": first.headers["etag"]}).status == 304


def test_a_new_day_moves_the_states_without_anybody_planning(site):
    path = site.share("fleet")
    first = site.ask(path)
    site.days.append(date(2026, 7, 1))
    assert site.ask(path, headers={"If-None-Match": first.headers["etag"]}).status == 200


def test_the_log_names_the_number_of_an_address_and_never_the_address(site):
    path = site.share("fleet")
    token = re.search(r"[0-9a-f]{32}", path).group()
    site.ask(path)
    site.ask(path.replace(".ics", "x.ics"))
    site.ask(path, "PUT")
    assert [re.sub(r"^\S+ | \d+ octets.*", "", line) for line in site.log] == [
        "GET address 1 200", "GET - 404", "other - 405",
    ]  # fmt: skip
    assert token not in "".join(site.log)


def test_without_a_plan_or_a_database_the_answer_is_an_error_that_is_no_calendar(template, tmp_path):
    database = tmp_path / "fleet.db"
    with Register.open(str(database), create=True):
        pass
    with running(str(database)) as site:
        path = site.share("fleet")
        for _ in range(2):
            reply = site.ask(path)
            assert (reply.status, reply.headers["content-type"]) == (503, "text/plain; charset=utf-8")
            assert b"BEGIN" not in reply.body
            assert "fleet plan" in site.log[-1]
        database.write_bytes(b"no database any more" * 500)
        assert site.ask(path).status == 503
        assert site.ask(WRONG).status == 503


def test_a_feed_too_large_for_one_file_goes_on_beside_it(site, monkeypatch):
    """A widespread web calendar takes about 1000 entries of a feed; here five."""
    path = site.share("fleet")
    whole = icalendar.Calendar.from_ical(site.ask(path).body).events
    site.days.append(date(2026, 5, 21))
    monkeypatch.setattr("fleet.outputs.feeds.MOST_ENTRIES", 5)
    found, number = [], 1
    while (reply := site.ask(path if number == 1 else path.replace(".ics", f"~{number}.ics"))).status == 200:
        found += icalendar.Calendar.from_ical(reply.body).events
        number += 1
    assert number > 2
    assert {str(event["UID"]) for event in found} == {str(event["UID"]) for event in whole}
    for other in ("~0", "~01", f"~{number}", "~99", "~100", "~"):
        assert site.ask(path.replace(".ics", f"{other}.ics")).status == 404


def test_a_fault_of_the_program_is_a_500_that_shows_nothing_of_it(site, monkeypatch):
    path = site.share("fleet")
    monkeypatch.setattr("fleet.services.serving.feeds_in_force", lambda *_, **__: 1 / 0)
    reply = site.ask(path)
    assert (reply.status, reply.body) == (500, b"A fault in the server; ask again later.\n")
    monkeypatch.undo()
    assert site.ask(path).status == 200


def test_a_proxy_may_leave_its_path_on_or_take_it_off(template, tmp_path, site):
    path = site.share("fleet")
    with running(site.url, prefix="/tanks") as behind:
        assert behind.ask(f"/tanks{path}").body == behind.ask(path).body
        assert behind.ask(f"/tanksx{path}").status == 404


@pytest.mark.slow
def test_subscribers_lose_no_request_while_others_write(site):
    """Twenty subscribers over connections of their own, and a writer beside them."""
    paths = [site.share("fleet", subscriber=f"reader {number}") for number in range(20)]
    seen: list[int] = []

    def poll(path: str) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", site.port, timeout=60)
        for _ in range(10):
            connection.request("GET", path)
            reply = connection.getresponse()
            body = reply.read()
            seen.append(reply.status if body.endswith(b"END:VCALENDAR\r\n") else 0)
        connection.close()

    readers = [threading.Thread(target=poll, args=(path,)) for path in paths]
    for reader in readers:
        reader.start()
    for number in range(3):
        site.share("fleet", subscriber=f"late {number}")
        plan_and_save(site.url, today=TODAY, through=None, now=datetime.now(UTC))
    for reader in readers:
        reader.join()
    assert seen == [200] * 200


def test_the_same_from_a_database_on_a_server(postgres_database):
    with postgres_database() as url, running(filled(url)) as site:
        path = site.share("fleet")
        first = site.ask(path)
        assert first.status == 200
        assert site.ask(path, headers={"If-None-Match": first.headers["etag"]}).status == 304
        revoke(url, "1", who="ada", now=NOW)
        assert site.ask(path).status == 404
