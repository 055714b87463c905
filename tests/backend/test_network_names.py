"""What the server is called in the building, and that the name tablets know never changes in silence."""

from __future__ import annotations

from datetime import UTC, datetime
from ipaddress import IPv4Address
from pathlib import Path

import pytest
from loupebook.network.building import Wanted, known_elsewhere, open_building, remember
from loupebook.network.names import addresses_of, checked_name, default_name, in_building
from loupebook.network.served import FILE, Served, kept
from loupebook.network.trouble import NetworkRefused

pytestmark = pytest.mark.breadth

NOW = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
HERE = (IPv4Address("10.20.0.7"),)


def opened(folder: Path, machine: str = "harrow.local", **given: object):  # type: ignore[no-untyped-def]
    """A start with `--lan` and these options, on a machine of that name."""
    wanted = Wanted(**{"lan": True, **given})  # type: ignore[arg-type]
    return open_building(folder, wanted, NOW, lambda: machine, lambda: HERE)


@pytest.mark.parametrize(
    ("host", "name"),
    [("Sink-PC", "sink-pc.local"), ("sink.harrow.example", "sink.harrow.example"), ("sink.local.", "sink.local")],
)
def test_a_machine_without_a_domain_is_found_in_local(host: str, name: str) -> None:
    """`.local` is looked up without a name server (RFC 6762)."""
    assert default_name(host) == name


@pytest.mark.parametrize("text", ["harrow", "Harrow.Local", "a-b.example", "10.20.0.7"])
def test_a_name_or_a_fixed_address_will_do(text: str) -> None:
    assert checked_name(text) == text.lower()


@pytest.mark.parametrize("text", ["", "https://x", "harrow:8643", "-a.example", "a..b", "a_b", "10.20.0", "a" * 64])
def test_what_cannot_stand_in_an_address_is_refused(text: str) -> None:
    with pytest.raises(NetworkRefused, match="is not a name a server can have"):
        checked_name(text)


def test_only_addresses_a_tablet_can_reach_are_counted() -> None:
    """Loopback and self-given (RFC 3927) addresses are this machine's own business."""
    found = ["127.0.1.1", "10.20.0.7", "169.254.3.4", "10.20.0.7", "0.0.0.0", "fd00::2"]
    assert in_building(found) == HERE
    assert addresses_of(" 10.20.0.7, 10.20.0.8 ,") == (IPv4Address("10.20.0.7"), IPv4Address("10.20.0.8"))
    with pytest.raises(NetworkRefused, match="'ten' is not an IPv4 address"):
        addresses_of("10.20.0.7,ten")


def test_nothing_is_served_to_the_building_unless_asked(tmp_path: Path) -> None:
    assert opened(tmp_path, lan=False) is None
    assert list(tmp_path.iterdir()) == []
    assert known_elsewhere(tmp_path) is None


@pytest.mark.parametrize("given", [{"certificate": Path("x")}, {"moved_from": "old"}])
def test_options_of_the_building_want_lan(tmp_path: Path, given: dict[str, object]) -> None:
    with pytest.raises(NetworkRefused, match="Add --lan"):
        opened(tmp_path, lan=False, **given)


def test_a_certificate_wants_its_key(tmp_path: Path) -> None:
    with pytest.raises(NetworkRefused, match="belong together"):
        opened(tmp_path, certificate=tmp_path / "x")


def test_the_server_goes_by_its_name_and_its_addresses(tmp_path: Path) -> None:
    building = opened(tmp_path)
    assert building.address == "https://harrow.local:8643"
    assert building.hosts == {"harrow.local", "10.20.0.7"}
    assert building.bind == ("0.0.0.0",)
    assert opened(tmp_path, addresses="10.20.0.7").bind == ("10.20.0.7",)


def test_a_proxy_before_the_loopback_address_needs_only_a_name(tmp_path: Path) -> None:
    building = opened(tmp_path, lan=False, name="loupebook.harrow.example")
    assert (building.address, building.tls, building.bind) == ("https://loupebook.harrow.example", None, ())


def test_the_record_remembers_where_tablets_know_it(tmp_path: Path) -> None:
    remember(tmp_path, opened(tmp_path, name="sink.example", port=9443))
    assert kept(tmp_path) == Served("sink.example", 9443)
    again = opened(tmp_path, machine="renamed.local")
    assert again.address == "https://sink.example:9443"
    assert any("renamed.local" in note for note in again.notes)
    assert "https://sink.example:9443" in (known_elsewhere(tmp_path) or "")


@pytest.mark.parametrize("given", [{"name": "new.example"}, {"port": 9999}])
def test_another_address_is_refused_in_words(tmp_path: Path, given: dict[str, object]) -> None:
    remember(tmp_path, opened(tmp_path, name="old.example", port=9443))
    with pytest.raises(NetworkRefused) as refusal:
        opened(tmp_path, **given)
    said = str(refusal.value)
    for words in ("https://old.example:9443", "have not sent", "Nothing was started.", "--name old.", "--moved-from"):
        assert words in said
    assert kept(tmp_path) == Served("old.example", 9443)


def test_a_move_answers_under_both_names_until_it_is_over(tmp_path: Path) -> None:
    remember(tmp_path, opened(tmp_path, name="old.example"))
    moving = opened(tmp_path, name="new.example", moved_from="old.example")
    assert moving.hosts >= {"old.example", "new.example"}
    assert moving.ports == (8643,)
    remember(tmp_path, moving)
    still = opened(tmp_path, moved_from="old.example")
    assert (still.address, still.old) == ("https://new.example:8643", Served("old.example", 8643))
    assert "old.example" not in opened(tmp_path).hosts


def test_a_moved_port_is_listened_on_too(tmp_path: Path) -> None:
    remember(tmp_path, opened(tmp_path, name="old.example", port=9443))
    moving = opened(tmp_path, name="old.example", port=8643, moved_from="old.example:9443")
    assert moving.ports == (8643, 9443)


def test_a_move_from_where_tablets_never_were_is_refused(tmp_path: Path) -> None:
    remember(tmp_path, opened(tmp_path, name="old.example"))
    with pytest.raises(NetworkRefused, match=r"not at https://older\.example:8643"):
        opened(tmp_path, name="new.example", moved_from="older.example")


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '{"v": 2}', '{"v": 1, "name": 3, "port": 1}'])
def test_a_memory_that_cannot_be_read_is_not_guessed_at(tmp_path: Path, text: str) -> None:
    (tmp_path / FILE).write_text(text)
    with pytest.raises(NetworkRefused, match="not known under which address"):
        opened(tmp_path)
