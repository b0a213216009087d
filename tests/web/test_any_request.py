"""Whatever is asked for, the answer is one of five and never a traceback; validators are read as the grammar says."""

from __future__ import annotations

import socket

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.web.validators import is_unchanged

TAGS = st.text("abcXYZ019!#,*/ W".replace(" ", "") + "é", max_size=8).map(lambda text: f'"{text}"')
ANSWERS = {200, 304, 400, 404, 405}


@given(TAGS, st.lists(st.tuples(TAGS, st.booleans()), max_size=4), st.sampled_from([",", ", ", " ,\t"]))
@settings(deadline=None, max_examples=200)
def test_a_tag_matches_exactly_when_it_is_in_the_list(etag, others, comma):
    """RFC 9110, 8.8.3: a tag may hold commas, stars and strokes of its own."""
    field = comma.join(f"{'W/' if weak else ''}{tag}" for tag, weak in others)
    assert is_unchanged(etag, [field]) == (etag in [tag for tag, _ in others])
    assert is_unchanged(etag, [field, f"W/{etag}"])


@pytest.fixture(scope="module")
def path(shared_site) -> str:
    return shared_site.share("fleet", subscriber="any request")


def raw(port: int, request: bytes) -> int:
    """The status of the answer to bytes sent as they are."""
    with socket.create_connection(("127.0.0.1", port), timeout=30) as connection:
        connection.sendall(request)
        answer = b""
        while b"\r\n" not in answer:
            more = connection.recv(65536)
            if not more:
                break
            answer += more
    assert answer.startswith(b"HTTP/1.1 "), answer
    return int(answer.split()[1])


SEGMENT = st.one_of(
    st.sampled_from(
        ["c", "s", "..", "", "%00", "%ff", "a~2.ics", "x.ics", "~99.ics", "index.html", "%2f", "%", "~0.ics"]
    ),
    st.text(st.characters(min_codepoint=0x21, max_codepoint=0x7E, exclude_characters=" "), max_size=20),
)
HEADER = st.tuples(
    st.sampled_from([b"Accept", b"If-None-Match", b"Range", b"Cookie", b"Accept-Encoding", b"Expect", b"X-A"]),
    st.binary(max_size=30).map(lambda text: bytes(octet for octet in text if octet >= 0x20 and octet != 0x7F)),
)
METHOD = st.sampled_from([b"GET", b"HEAD", b"POST", b"OPTIONS", b"FOO"])


@given(METHOD, st.lists(SEGMENT, max_size=5), st.lists(HEADER, max_size=4))
@settings(deadline=None, max_examples=150)
def test_no_path_and_no_header_is_a_fault(shared_site, method, segments, headers):
    lines = [method + b" /" + "/".join(segments).encode() + b" HTTP/1.1", b"Host: h", b"Connection: close"]
    lines += [name + b": " + value for name, value in headers]
    before = len(shared_site.log)
    assert raw(shared_site.port, b"\r\n".join(lines) + b"\r\n\r\n") in ANSWERS
    assert not [line for line in shared_site.log[before:] if "should not happen" in line]


@given(st.binary(max_size=200))
@settings(deadline=None, max_examples=60)
def test_what_is_no_request_at_all_leaves_the_server_running(shared_site, octets):
    with socket.create_connection(("127.0.0.1", shared_site.port), timeout=30) as connection:
        connection.sendall(octets + b"\r\n\r\n")
        connection.shutdown(socket.SHUT_WR)
        while connection.recv(65536):
            pass
    assert shared_site.ask("/").status == 404


@given(st.lists(HEADER, max_size=4))
@settings(deadline=None, max_examples=60)
def test_a_feed_goes_out_whatever_headers_come_with_the_request(shared_site, path, headers):
    lines = [b"GET " + path.encode() + b" HTTP/1.1", b"Host: h", b"Connection: close"]
    lines += [name + b": " + value for name, value in headers]
    assert raw(shared_site.port, b"\r\n".join(lines) + b"\r\n\r\n") in {200, 304}
