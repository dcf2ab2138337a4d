"""Who may ask: this machine's own page alone. Foreign hosts and pages are refused on every method, large things too."""

import socket
from pathlib import Path

import pytest
from httpx2 import Response

from gladebook.web.guard import allowed_hosts
from tests.cli.fields import FIELD
from tests.web.conftest import PORT, Page, good, page_of, parts_of
from tests.web.serving import served

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "PROPFIND")
PATHS = ("/", "/api/property", "/api/shapes", "/own/page.js", "/openapi.json", "/nowhere")
FOREIGN = {
    "DNS rebinding": {"host": f"evil.example:{PORT}"},
    "another port": {"host": "127.0.0.1:9"},
    "no port": {"host": "127.0.0.1"},
    "the network's address": {"host": f"192.168.1.20:{PORT}"},
    "another site's page": {"origin": "https://evil.example"},
    "another program on this machine": {"origin": "http://127.0.0.1:9"},
    "a file": {"origin": "null"},
    "https in place of http": {"origin": f"https://127.0.0.1:{PORT}"},
    "a cross-site picture or form": {"sec-fetch-site": "cross-site"},
    "a sibling site": {"sec-fetch-site": "same-site"},
}


def sent(page: Page, method: str, path: str, headers: dict[str, str]) -> Response:
    return page.client.request(method, path, headers=headers)


@pytest.mark.parametrize("headers", FOREIGN.values(), ids=FOREIGN)
def test_foreign_hosts_and_origins_are_refused_on_every_method(page: Page, headers: dict[str, str]):
    """Whatever the method and the path, it is 403 with one sentence, and the property is as it was."""
    before = page.ask("property")
    for method in METHODS:
        for path in PATHS:
            answer = sent(page, method, path, headers)
            assert answer.status_code == 403, (method, path)
            assert "Alder" not in answer.text
    assert page.ask("property") == before


def test_its_own_page_is_let_in_under_each_of_its_addresses(page: Page):
    """127.0.0.1, localhost and ::1 with the port, with the Origin that the page itself has."""
    for host in allowed_hosts(PORT):
        headers = {"host": host, "origin": f"http://{host}", "sec-fetch-site": "same-origin"}
        assert sent(page, "GET", "/api/property", headers).status_code == 200


def test_a_method_that_is_not_served_changes_nothing(page: Page):
    """Its own page too gets 404 or 405 for methods that are not there."""
    for method in ("PUT", "PATCH", "DELETE", "OPTIONS", "TRACE"):
        assert sent(page, method, "/api/property", {}).status_code in (404, 405)


def test_every_answer_carries_the_policy(page: Page):
    """Scripts and styles from the page's own files alone, no frames, no sniffing: on pages, errors and refusals."""
    answers = [
        page.client.get("/"),
        page.client.get("/api/property"),
        page.client.get("/nowhere"),
        page.client.get("/", headers={"host": "evil.example"}),
        page.send("shapes", {"name": 3}),
    ]
    for answer in answers:
        policy = dict(part.strip().split(" ", 1) for part in answer.headers["content-security-policy"].split(";"))
        assert policy["default-src"] == "'none'"
        assert policy["script-src"] == "'self'"
        assert policy["style-src"] == "'self'"
        assert policy["frame-ancestors"] == "'none'"
        assert "unsafe" not in answer.headers["content-security-policy"]
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert "access-control-allow-origin" not in answer.headers


ESCAPES = (
    "/own/../app.py",
    "/own/..%2fapp.py",
    "/own/%2e%2e%2f%2e%2e%2ferrors.py",
    "/own/..%5capp.py",
    "/own//etc/passwd",
    "/own/%2fetc%2fpasswd",
    "/own/page.js%00.css",
    "/own/page.html",
    "/static/page.js",
    "/api/photo/1/..%2f..%2f/0",
    "/api/plots/..%2f..%2fhome.gpkg",
    "/home.gpkg",
)


@pytest.mark.parametrize("path", ESCAPES)
def test_no_path_leads_out_of_its_folder(page: Page, path: str):
    """Nothing but the page's own named files is given out."""
    answer = page.client.get(path)
    assert answer.status_code in (400, 404, 409)
    assert "import" not in answer.text
    assert "SQLite" not in answer.text


NAMES = ("../../evil.gpx", "..\\..\\evil.gpx", "/etc/evil.gpx", "C:\\evil.gpx", "evil\x00.gpx", "é" * 190 + ".gpx")


@pytest.mark.parametrize("name", NAMES, ids=repr)
def test_a_dropped_file_stays_in_its_folder_whatever_its_name(page: Page, name: str, tmp_path: Path):
    """Its name is cut to the last part; nothing is written beside the property."""
    before = sorted(p.name for p in tmp_path.iterdir())
    answer = page.client.post("/api/tracks", params={"name": name}, content=b"no track")
    assert answer.status_code == 422
    answer = page.client.post("/api/file", params={"name": name}, content=b"no plots")
    assert answer.status_code == 422
    assert [n for n in sorted(p.name for p in tmp_path.iterdir()) if not n.endswith(("-wal", "-shm"))] == [
        n for n in before if not n.endswith(("-wal", "-shm"))
    ]


@pytest.mark.parametrize("name", ["", "..", "/", " . ", "\x00"])
def test_a_file_without_a_name_is_refused(page: Page, name: str):
    """A name of which nothing is left is told."""
    assert page.client.post("/api/file", params={"name": name}, content=b"x").status_code == 400


def test_too_much_is_refused_whether_the_request_says_so_or_not(page: Page):
    """Over the limit: 413 by its length; in pieces without a length it is cut off, and nothing comes in."""
    small = page_of(page.path, most_bytes=1000)
    assert small.client.post("/api/file", params={"name": "a.gpx"}, content=b"x" * 1001).status_code == 413
    pieces = (b"x" * 400 for _ in range(9))
    answer = small.client.post("/api/file", params={"name": "a.gpx"}, content=pieces)
    assert answer.status_code == 400
    assert "did not arrive" in answer.json()["error"]
    assert page.client.post("/api/shapes", content=b"[" * 4_000_001).status_code == 413


@pytest.mark.parametrize(
    "body", [b"", b"{", b"[]", b"null", b"[" * 100_000, b"\xff\xfe", b'{"parts": NaN}', b'{"parts": [[[[1e999, 2]]]]}']
)
def test_a_body_that_is_no_question_is_refused(page: Page, body: bytes):
    """Broken, deep, or not what was asked for: 400 with a sentence."""
    for where in ("outline", "shapes", "mix", "check", "undo"):
        answer = page.client.post(f"/api/{where}", content=body, headers={"content-type": "application/json"})
        assert answer.status_code == 400, (where, answer.text)


def test_the_server_listens_on_this_machine_alone(page: Page):
    """The socket is bound to 127.0.0.1 alone: where a server listens on every address, Linux answers on 127.0.0.2."""
    with served(page.path) as address:
        port = int(address.rsplit(":", 1)[1].strip("/"))
        answers = {}
        for host in ("127.0.0.1", "127.0.0.2"):
            with socket.socket() as one:
                one.settimeout(2)
                answers[host] = one.connect_ex((host, port))
        assert answers["127.0.0.1"] == 0
        assert answers["127.0.0.2"] != 0


def test_names_with_markup_come_back_as_they_were_typed(page: Page):
    """The server never makes markup of a name: it is JSON text, and the page sets it as text."""
    name = '<img src=x onerror="alert(1)">'
    told = good(page.send("shapes", {"name": name, "parts": parts_of(FIELD)}))
    assert told["shapes"][-1]["name"] == name
    assert page.client.get("/api/property").headers["content-type"] == "application/json"
