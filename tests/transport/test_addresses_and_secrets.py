from __future__ import annotations

from pathlib import Path

import pytest

from stream.access.address import AddressError, check_listen, parse_address
from stream.access.broker import Broker
from stream.access.options import ConnectionOptions, OptionsError, options_from_mapping
from stream.access.secrets import PASSWORD_VARIABLE, SecretError, password


@pytest.mark.parametrize(
    ("text", "shown", "user"),
    [
        ("tcp://127.0.0.1:5600", "tcp://127.0.0.1:5600", None),
        ("tcp://[::1]:5600", "tcp://[::1]:5600", None),
        ("mqtt://broker", "mqtt://broker:1883", None),
        ("mqtts://monitor@broker", "mqtts://broker:8883", "monitor"),
        ("MQTT://x@10.0.0.2:1999", "mqtt://10.0.0.2:1999", "x"),
        ("ipc:///tmp/feed", "ipc:///tmp/feed", None),
    ],
)
def test_addresses_are_read(text: str, shown: str, user: str | None) -> None:
    address = parse_address(text)
    assert (str(address), address.user) == (shown, user)


@pytest.mark.parametrize(
    "text",
    ["", "host:1", "http://x:1", "tcp://127.0.0.1", "tcp://:5", "tcp://u@h:5", "mqtt://h:99999",
     "mqtt://h/path", "mqtt://h:1?x=1", "ipc://", "tcp://[::1:5"],
)  # fmt: skip
def test_bad_addresses_are_refused(text: str) -> None:
    with pytest.raises(AddressError):
        parse_address(text)


@pytest.mark.parametrize(
    "text", ["mqtt://me:hunter2@h", "mqtts://:hunter2@h", "tcp://a:hunter2@h:5"]
)
def test_a_password_in_an_address_is_refused_and_not_repeated(text: str) -> None:
    with pytest.raises(AddressError) as caught:
        parse_address(text)
    assert "password" in str(caught.value)
    assert "hunter2" not in str(caught.value)


def test_only_the_loopback_is_listened_on_unless_told_otherwise() -> None:
    for text in ("tcp://127.0.0.1:5", "tcp://[::1]:5", "tcp://localhost:5", "ipc:///tmp/x"):
        check_listen(parse_address(text), open_to_network=False)
    for text in ("tcp://0.0.0.0:5", "tcp://*:5", "tcp://192.168.1.5:5", "tcp://[::]:5"):
        with pytest.raises(AddressError, match="--open-to-network"):
            check_listen(parse_address(text), open_to_network=False)
        check_listen(parse_address(text), open_to_network=True)


def test_a_password_file_must_be_its_owners_alone(tmp_path: Path) -> None:
    file = tmp_path / "pw"
    file.write_text("sixty-feet-six\n")
    for mode in (0o644, 0o640, 0o604, 0o660):
        file.chmod(mode)
        with pytest.raises(SecretError, match="chmod 600") as caught:
            password(file)
        assert "sixty-feet-six" not in str(caught.value)
    file.chmod(0o600)
    assert password(file) == "sixty-feet-six"
    with pytest.raises(SecretError, match="No such file"):
        password(tmp_path / "none")


def test_the_password_comes_from_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(PASSWORD_VARIABLE, raising=False)
    assert password(None) is None
    monkeypatch.setenv(PASSWORD_VARIABLE, "sixty-feet-six")
    assert password(None) == "sixty-feet-six"


async def test_a_password_never_crosses_a_network_in_clear(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(PASSWORD_VARIABLE, "sixty-feet-six")
    with pytest.raises(AddressError, match="mqtts://"):
        Broker(parse_address("mqtt://monitor@192.168.1.5"), ConnectionOptions())
    Broker(parse_address("mqtts://monitor@192.168.1.5"), ConnectionOptions())
    Broker(parse_address("mqtt://monitor@127.0.0.1"), ConnectionOptions())
    monkeypatch.delenv(PASSWORD_VARIABLE)
    with pytest.raises(AddressError, match=PASSWORD_VARIABLE):
        Broker(parse_address("mqtts://monitor@192.168.1.5"), ConnectionOptions())


def test_connection_options_name_what_is_wrong() -> None:
    assert options_from_mapping({"qos": 2}).qos == 2
    for table in ({"qos": 3}, {"password": "x"}, {"verify": "no"}, {"queue": 0}):
        with pytest.raises(OptionsError, match=next(iter(table))):
            options_from_mapping(table)


def test_options_hold_no_secret() -> None:
    """What a plan carries to another process or a log can only name files."""
    names = set(ConnectionOptions.__struct_fields__)
    assert names == {"qos", "ca_file", "verify", "password_file", "keys", "source", "queue"}
