"""`gladebook serve` as a process: a new file, a taken port, a file that is none; killed between any two edits."""

import socket
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import httpx2
import pytest
import shapely

from gladebook.jobs.adding import Adding, add_to
from gladebook.jobs.property import check_file, make_property
from tests.cli.command import gladebook
from tests.cli.fields import FIELD, middles, to_and_fro, write_plots, write_track
from tests.web.conftest import parts_of
from tests.web.serving import served, start


def asked(address: str, where: str, body: Any = None, *, method: str = "GET") -> Any:
    answer = httpx2.request(method, f"{address}api/{where}", json=body, timeout=20)
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_a_new_file_is_made_and_served(tmp_path: Path):
    """Where there is no file, one is made, and the page shows an empty property."""
    home = tmp_path / "new place.gpkg"
    with served(home) as address:
        assert address.startswith("http://127.0.0.1:")
        told = asked(address, "property")
        assert (told["name"], told["shapes"]) == ("new place", [])
        assert "What to do" in httpx2.get(address, timeout=20).text
    assert home.exists()


def test_what_is_asked_first_is_answered_as_later_and_to_nobody_else(tmp_path: Path):
    """Before all is loaded and after: the same property, photo, page and policy; foreign hosts and origins get 403."""
    home = tmp_path / "home.gpkg"
    make_property(home, name="Alder Place")
    add_to(home, Adding(plots=write_plots(tmp_path / "field.geojson", {"Alder Glade": FIELD})))
    foreign = ({"host": "evil.example"}, {"origin": "https://evil.example"}, {"sec-fetch-site": "cross-site"})
    asked_first = (
        "",
        "own/page.js",
        "own/ground.js",
        "leaflet.js",
        "leaflet.css",
        "own/nothing.js",
        "api/property",
        "api/photo",
    )
    with served(home) as address:
        for headers in foreign:
            for path in asked_first:
                assert httpx2.get(address + path, headers=headers, timeout=20).status_code == 403
        early = [httpx2.get(address + path, timeout=20) for path in asked_first]
        asked(address, "forages")
        late = [httpx2.get(address + path, timeout=20) for path in asked_first]
        for headers in foreign:
            for path in asked_first:
                assert httpx2.get(address + path, headers=headers, timeout=20).status_code == 403
    assert [a.status_code for a in early] == [200, 200, 200, 200, 200, 404, 200, 200]
    for before, after in zip(early, late, strict=True):
        assert (before.status_code, before.text) == (after.status_code, after.text)
        for header in ("content-type", "content-security-policy"):
            assert before.headers.get(header) == after.headers.get(header)


def test_a_port_can_be_chosen_and_a_taken_one_is_told(tmp_path: Path):
    """The page is at the port that was asked for; where another program has it, one sentence says so."""
    home = tmp_path / "home.gpkg"
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        said = gladebook("serve", home, "--port", str(port), "--no-browser")
        assert said.code == 2
        assert f"--port: {port} is taken" in said.err
    with served(home, "--port", str(port)) as address:
        assert address == f"http://127.0.0.1:{port}/"
    assert gladebook("serve", home, "--port", "80").code == 2


def test_what_is_no_property_or_photo_is_told(tmp_path: Path):
    """A file of another kind, and a photo that is none: one sentence, no page, no traceback."""
    other = tmp_path / "notes.gpkg"
    other.write_text("notes")
    for arguments in (
        (other,),
        (tmp_path / "home.gpkg", "--photo", other),
        (tmp_path / "h.gpkg", "--photo", tmp_path / "no.tif"),
    ):
        said = gladebook("serve", *arguments, "--no-browser")
        assert said.code == 3
        assert "Traceback" not in said.err
        assert said.err.count("\n") == 1


def test_tracks_that_were_dropped_in_are_gone_with_the_server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """While it runs they lie in a folder of their own; when it ends, nothing is left of them."""
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setenv("TMPDIR", str(scratch))
    track = write_track(tmp_path / "drive.csv", to_and_fro(middles()))
    with served(tmp_path / "home.gpkg") as address:
        where = f"{address}api/tracks?name=drive.csv"
        assert httpx2.post(where, content=track.read_bytes(), timeout=30).status_code == 200
        assert [file.name for file in scratch.rglob("*.csv")] == ["drive.csv"]
    assert list(scratch.rglob("*.csv")) == []


def test_ctrl_c_ends_it_quietly(tmp_path: Path):
    """An interrupt ends the server within seconds and without a traceback."""
    serving = start(tmp_path / "home.gpkg")
    serving.process.send_signal(2)
    _, err = serving.process.communicate(timeout=20)
    assert "Traceback" not in err


def edits_of(name: str) -> Any:
    number = int(name.split()[1])
    x, y = 100.0 * (number % 20), 100.0 * (number // 20)
    return {"name": name, "parts": parts_of(shapely.box(x, y, x + 60, y + 60))}


@pytest.mark.parametrize("seed", range(6))
def test_a_server_that_is_killed_loses_nothing_that_it_acknowledged(tmp_path: Path, seed: int):
    """Killed at any moment of a run of edits, the file opens, is sound, and holds every edit that was answered."""
    home = tmp_path / "home.gpkg"
    make_property(home, name="Alder Place")
    serving = start(home)
    kept: set[str] = set()
    gone: set[str] = set()
    pending: list[str] = []
    asked(serving.address, "forages")  # all is loaded by then
    wait = (0.02, 0.1, 0.3, 0.6, 0.9, 1.3)[seed]
    killer = threading.Timer(wait, serving.kill)
    killer.start()
    try:
        for number in range(400):
            pending = [f"Glade {number}"]
            told = asked(serving.address, "shapes", edits_of(f"Glade {number}"), method="POST")
            kept.add(f"Glade {number}")
            if number % 5 == 4:
                one = told["shapes"][0]
                pending = [one["name"]]
                asked(serving.address, f"shapes/{one['uid']}?mark={one['mark']}", method="DELETE")
                kept.discard(one["name"])
                gone.add(one["name"])
    except httpx2.TransportError:
        pass  # killed
    killer.join()
    assert serving.process.poll() is not None
    assert kept or wait < 0.2
    with sqlite3.connect(f"file:{home}?mode=rw", uri=True) as base:
        assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        there = {name for (name,) in base.execute("SELECT name FROM plots")}
    # The one that was on its way may be there or not; no other may be missing, nor come back.
    assert kept - set(pending) <= there
    assert not (gone - set(pending)) & there
    assert there <= kept | set(pending)
    assert check_file(home)[0] == []
    with served(home) as address:
        assert {s["name"] for s in asked(address, "property")["shapes"]} == there


def test_without_the_extra_the_command_says_what_to_install(tmp_path: Path):
    """Where FastAPI is not installed, one sentence names the extra."""
    script = (
        "import sys, importlib.util as u; real = u.find_spec\n"
        "u.find_spec = lambda name, *a: None if name in ('fastapi', 'uvicorn') else real(name, *a)\n"
        "from gladebook.cli import main; sys.argv = ['gladebook', 'serve', 'x.gpkg']; main()"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False, cwd=tmp_path)
    assert done.returncode == 2
    assert 'pip install "gladebook[web]"' in done.stderr
    assert not (tmp_path / "x.gpkg").exists()


def test_the_command_starts_without_the_web_libraries():
    """`gladebook --help` loads neither FastAPI nor uvicorn."""
    script = (
        "import sys; from gladebook.cli import app; print(sorted({'fastapi','uvicorn','pydantic'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
