"""The running server: its one address, its data folder, its headers, its screens."""

from __future__ import annotations

import gzip
import json
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import httpx
import pytest
from live_server import LiveServer
from loupebook.folder import MARKER, FolderRefused, open_folder
from loupebook.headers import HEADERS
from loupebook.screens import TYPES, build_id, read_build
from loupebook.serve import PortRefused, open_port

pytestmark = pytest.mark.sink

FIRST_SCREEN_BYTES = 50_000
"""The most page, JS and CSS, pressed, that the first screen may fetch."""
IMPORTED_AT_ONCE = re.compile(r'(?:from|import)\s*["`\']\./([\w.-]+\.js)["`\']')
QUOTED_KEY = re.compile(r'["`\']([a-z]\w*(?:\.\w+)+)["`\'](?!:)')
BUILT_KEY = re.compile(r"`([a-z]\w*\.[\w.]*\$\{[^`]*)`")


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    """One server for what only reads."""
    live = LiveServer(tmp_path_factory.mktemp("serving") / "record").start()
    yield live
    live.close()


@pytest.fixture
def client(server: LiveServer) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=server.url, trust_env=False, timeout=60) as one:
        yield one


def test_the_start_says_version_folder_address_stop_and_backup(server: LiveServer) -> None:
    said = "\n".join(server.printed)
    for words in ("Loupebook 0.", str(server.data), server.url, "Ctrl+C", "Back up"):
        assert words in said
    assert len(re.findall(r"https?://", said)) == 1


def test_a_demo_start_says_how_to_get_in(tmp_path: Path) -> None:
    live = LiveServer(tmp_path / "record", {"LOUPEBOOK_DEMO": "yes"}).start()
    live.said("Demo labels")
    live.stop()
    said = "\n".join(live.printed)
    assert re.search(r"PIN is \d{6}", said)
    assert re.search(r"Demo code +\S+  makes this browser", said)
    assert re.search(r"Demo labels +.+\.html", said)


def test_stopping_ends_in_peace(tmp_path: Path) -> None:
    live = LiveServer(tmp_path / "record").start()
    assert live.stop() == 0
    assert live.printed[-1].startswith("Stopped.")


@pytest.mark.parametrize("path", ["/", "/health", "/nothing", "/sw.js", "/%2e%2e/%2e%2e/etc/passwd"])
def test_every_reply_carries_the_security_headers(client: httpx.Client, path: str) -> None:
    reply = client.get(path)
    assert {name: reply.headers.get(name) for name in HEADERS} == HEADERS
    assert "server" not in reply.headers


def test_a_refused_method_is_answered_in_three_parts(client: httpx.Client) -> None:
    """The door answers before the routes do: a method nobody has a role for is not there at all."""
    reply = client.delete("/health")
    assert reply.status_code == 404
    assert reply.json()["trouble"].keys() == {"code", "so", "safe", "next"}
    assert {name: reply.headers.get(name) for name in HEADERS} == HEADERS


@pytest.mark.parametrize("path", ["/nothing", "/docs", "/redoc", "/openapi.json", "/.git/config", "/assets/"])
def test_an_unknown_path_is_answered_in_three_parts(client: httpx.Client, path: str) -> None:
    reply = client.get(path)
    assert reply.status_code == 404
    assert reply.json()["trouble"]["code"] == "not_here"


def test_health_tells_version_and_the_build_of_the_screens(client: httpx.Client, root: Path) -> None:
    built = json.loads((root / "frontend" / "dist" / "build.json").read_text())
    assert client.get("/health").json() | {"build": built["build"]} == client.get("/health").json()
    assert built["build"] in (root / "frontend" / "dist" / "sw.js").read_text()


def test_every_built_file_has_its_type(client: httpx.Client, root: Path) -> None:
    pages = read_build(root / "frontend" / "dist")
    suffixes = {Path(path).suffix for path in pages if path != "/"}
    assert suffixes <= set(TYPES), "name the new type in screens.TYPES"
    for path in pages:
        reply = client.get(path)
        assert reply.headers["content-type"] == TYPES[Path(path).suffix or ".html"], path


def test_pressed_files_are_sent_to_those_who_take_them(client: httpx.Client) -> None:
    pressed = client.get("/sw.js", headers={"accept-encoding": "br, gzip"})
    plain = client.get("/sw.js", headers={"accept-encoding": "identity"})
    refused = client.get("/sw.js", headers={"accept-encoding": "gzip;q=0"})
    assert pressed.headers["content-encoding"] == "gzip"
    assert "content-encoding" not in plain.headers
    assert "content-encoding" not in refused.headers
    assert pressed.content == plain.content
    assert int(pressed.headers["content-length"]) < int(plain.headers["content-length"])


def test_a_file_that_did_not_change_is_not_sent_again(client: httpx.Client) -> None:
    first = client.get("/")
    again = client.get("/", headers={"if-none-match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_only_files_named_by_their_bytes_are_kept_by_browsers(client: httpx.Client, root: Path) -> None:
    for path in read_build(root / "frontend" / "dist"):
        for_ever = "immutable" in client.get(path).headers["cache-control"]
        assert for_ever == path.startswith("/assets/"), path


class Fetched(HTMLParser):
    """The scripts and styles that a page fetches before it shows anything."""

    def __init__(self) -> None:
        super().__init__()
        self.paths: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "script":
            self.paths.append(given.get("src") or "inline")
        if tag == "link" and given.get("rel") in ("stylesheet", "modulepreload"):
            self.paths.append(given.get("href") or "")


def first_load(dist: Path) -> dict[str, str]:
    """What a browser loads before the first screen can be used: the page, its scripts with all that they import
    at once, its styles. Path -> text. What a script imports later, `import(...)`, is no part of it."""
    page = Fetched()
    page.feed((dist / "index.html").read_text("utf-8"))
    assert "inline" not in page.paths
    wanted, loaded = ["/index.html", *page.paths], dict[str, str]()
    while wanted:
        path = wanted.pop()
        if path in loaded:
            continue
        loaded[path] = (dist / path.lstrip("/")).read_text("utf-8")
        wanted += ["/assets/" + name for name in IMPORTED_AT_ONCE.findall(loaded[path])]
    return loaded


def test_the_first_screen_is_small_and_has_no_code_reader(root: Path) -> None:
    """At most 50,000 bytes pressed, counted from the build; fonts and the code reader's wasm stand outside."""
    dist = root / "frontend" / "dist"
    loaded = first_load(dist)
    pressed = {path: len(gzip.compress((dist / path.lstrip("/")).read_bytes(), 9)) for path in loaded}
    print(f"first screen: {sum(pressed.values())} bytes pressed, {pressed}")
    assert any(path.endswith(".js") for path in loaded)
    assert any(path.endswith(".css") for path in loaded)
    assert sum(pressed.values()) <= FIRST_SCREEN_BYTES, pressed
    assert not any(path.endswith(".wasm") for path in loaded)


def test_the_first_screen_carries_every_word_it_says(root: Path) -> None:
    """Read from the built scripts, not from the sources the words were split by: each key of the words that stands
    there as a text, and each that a template of theirs can make, stands in the table of words beside them."""
    every = set(json.loads((root / "shared" / "words" / "en.json").read_text("utf-8")))
    scripts = "".join(text for path, text in first_load(root / "frontend" / "dist").items() if path.endswith(".js"))
    carried = {key for key in every if f'"{key}":' in scripts}
    said = {key for key in QUOTED_KEY.findall(scripts) if key in every}
    for template in BUILT_KEY.findall(scripts):
        pattern = re.compile(r"[\w.]+".join(map(re.escape, re.split(r"\$\{[^}]*\}", template))))
        said |= {key for key in every if pattern.fullmatch(key)}
    assert {"bar.brand", "scan.waiting", "pin.badge", "side.clean"} <= said, "the reader of scripts finds what is said"
    assert not said - carried, "these words would come after the screen that says them"
    assert len(carried) < len(every) / 2, "the first screen carries words of the later ones"


def test_a_server_without_screens_says_how_to_build_them(tmp_path: Path) -> None:
    live = LiveServer(tmp_path / "record", {"LOUPEBOOK_DIST": str(tmp_path / "none")}).start()
    try:
        reply = httpx.get(live.url + "/", trust_env=False, timeout=60)
    finally:
        live.close()
    assert (reply.status_code, reply.json()["trouble"]["code"]) == (503, "not_built")
    assert build_id({}) == "none"


def test_a_taken_port_gives_the_next_free_one() -> None:
    with open_port(0) as first:
        first.listen()
        port = first.getsockname()[1]
        with open_port(port) as second:
            assert second.getsockname()[1] > port


def test_no_port_at_all_is_said() -> None:
    with open_port(65535) as last:
        last.listen()
        with pytest.raises(PortRefused, match="Nothing was started"):
            open_port(65535)


def test_a_second_server_on_one_folder_is_refused(tmp_path: Path) -> None:
    live = LiveServer(tmp_path / "record").start()
    try:
        with pytest.raises(AssertionError, match=r"is running with .* already, at " + re.escape(live.url)):
            LiveServer(tmp_path / "record").start()
    finally:
        live.close()


def test_a_folder_is_ours_for_good(tmp_path: Path) -> None:
    made = open_folder(tmp_path / "record", "own", "0.1.0")
    assert open_folder(tmp_path / "record", "own", "0.2.0") == made


def test_a_foreign_folder_is_refused_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("mine")
    with pytest.raises(FolderRefused, match=r"no Loupebook record\. Nothing in it was touched"):
        open_folder(tmp_path, "own", "0.1.0")
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


@pytest.mark.parametrize(("first", "then"), [("own", "demo"), ("demo", "own")])
def test_demo_and_real_record_never_share_a_folder(tmp_path: Path, first: str, then: str) -> None:
    open_folder(tmp_path / "record", first, "0.1.0")  # type: ignore[arg-type]
    with pytest.raises(FolderRefused, match="Nothing was touched"):
        open_folder(tmp_path / "record", then, "0.1.0")  # type: ignore[arg-type]


@pytest.mark.parametrize("text", ["", "{", "[]", '{"v": 1}', "null"])
def test_a_marker_that_cannot_be_read_is_not_guessed_at(tmp_path: Path, text: str) -> None:
    (tmp_path / MARKER).write_text(text)
    with pytest.raises(FolderRefused, match="not known whose record"):
        open_folder(tmp_path, "own", "0.1.0")
