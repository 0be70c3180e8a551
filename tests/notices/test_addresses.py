"""Addresses for notices: where they come from, who may read them, and that nothing shows what is in them."""

import os
from pathlib import Path

import pytest
from apprise.manager_plugins import NotificationManager
from hypothesis import example, given
from hypothesis import strategies as st

from filmhand.errors import SettingsError
from filmhand.notices.addresses import HOST_SCHEMES, Address, read_file, take_from_environment

POSIX = pytest.mark.skipif(os.name == "nt", reason="modes are those of POSIX")


def _file(folder: Path, text: str, mode: int = 0o600) -> Path:
    path = folder / "notify.txt"
    path.write_text(text, "utf-8")
    path.chmod(mode)
    return path


def test_the_environment_is_read_once_and_emptied() -> None:
    """Parted by blanks; processes that are started later do not inherit them."""
    environment = {"FILMHAND_NOTIFY": " json://a/x \n mailto://u:p@b ", "PATH": "/bin"}
    assert [address.url for address in take_from_environment(environment)] == ["json://a/x", "mailto://u:p@b"]
    assert environment == {"PATH": "/bin"}
    assert take_from_environment(environment) == ()


def test_a_file_of_addresses(tmp_path: Path) -> None:
    """One a line or several, with remarks."""
    _file(tmp_path, "# of the shop\njson://a/x\n\n  # mail\nmailto://u:p#q@b jsons://c\n")
    assert [address.url for address in read_file(tmp_path)] == ["json://a/x", "mailto://u:p#q@b", "jsons://c"]


@POSIX
@pytest.mark.parametrize("mode", [0o640, 0o604, 0o644, 0o660, 0o602])
def test_a_file_that_others_may_read_is_refused(tmp_path: Path, mode: int) -> None:
    """With what to do, and not a word of what is in it."""
    _file(tmp_path, "json://user:hush@a/x", mode)
    with pytest.raises(SettingsError, match=r"notify\.txt.*chmod 600") as refused:
        read_file(tmp_path)
    assert "hush" not in str(refused.value)
    _file(tmp_path, "json://user:hush@a/x", 0o400)
    assert len(read_file(tmp_path)) == 1


@pytest.mark.parametrize("text", [None, "", "# nothing\n"])
def test_no_file_or_an_empty_one_is_refused(tmp_path: Path, text: str | None) -> None:
    """It was asked for in shop.toml, so somebody believes that notices are sent."""
    if text is not None:
        _file(tmp_path, text)
    with pytest.raises(SettingsError, match="nowhere"):
        read_file(tmp_path)


@example("json", "a@hush/x", "{scheme}://user:{secret}@mail.example/path")
@example("json", "hush/x", "{scheme}://{secret}@mail.example/path")
@example("mailto", "a@hush#x", "{scheme}://user:{secret}@mail.example/path")
@given(
    st.sampled_from([*sorted(HOST_SCHEMES), "slack", "tgram", "discord", "ntfy", "pover"]),
    st.lists(st.sampled_from(["hush", *"@/?#:%[];,&=+"]), min_size=1, max_size=8).map(lambda parts: f"hush{''.join(parts)}hush"),
    st.sampled_from(
        ["{scheme}://{secret}@mail.example/path", "{scheme}://user:{secret}@mail.example?to=x@y", "{scheme}://{secret}/x"]
    ),
)
def test_what_is_shown_holds_no_secret(scheme: str, secret: str, form: str) -> None:
    """Whatever signs a password has, escaped or not: at most the host is shown, and only where the address is plain."""
    if scheme in HOST_SCHEMES and "@" not in form:
        return  # an address that names a host has no secret in its place
    address = Address(form.format(scheme=scheme, secret=secret))
    for shown in (address.shown, str(address), repr(address), f"{[address]}"):
        assert "hush" not in shown.lower()


def test_what_is_shown_says_which_it_is() -> None:
    """Kind and host of a plain address; the kind where a token stands in the host's place."""
    assert Address("jsons://u:p@shop.example:8443/x").shown == "jsons://shop.example"
    assert Address("json://127.0.0.1:1/x").shown == "json://127.0.0.1"
    assert Address("slack://T1JJ3T3L2/A1BRTD4JD/TIiajkdnlazkcOXrIdevi7F").shown == "slack://…"
    assert Address("not an address").shown == "an address that cannot be read"


@pytest.mark.parametrize("scheme", sorted(HOST_SCHEMES))
def test_these_kinds_name_a_host(scheme: str) -> None:
    """apprise's own templates: of every form of such an address the host is a part, so no token is taken for it."""
    plugin = NotificationManager()[scheme]
    assert all("{host}" in template for template in plugin.templates)
