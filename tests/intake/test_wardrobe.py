"""Garments and placements by name: the starter tables load, and what is wrong in a table is said with file, line and key."""

from importlib.resources import files
from pathlib import Path

import pytest

from filmhand.cli.new import make
from filmhand.errors import SettingsError
from filmhand.intake.wardrobe import Garment, Place, parse_named
from filmhand.shop import load_house, load_tables

STARTER = load_tables(Path(str(files("filmhand") / "templates")))


def test_a_new_shop_has_both_tables(tmp_path: Path) -> None:
    """With the words of the trade in them."""
    tables = load_house(make(tmp_path / "shop")).tables
    for word in (
        "left chest",
        "right chest",
        "full front",
        "full back",
        "sleeve",
        "neck label",
        "cap",
        "youth full front",
        "youth",
    ):
        assert tables.placements.find(word), word
    assert tables.garments.find("navy tee") == ("navy tee", Garment(**STARTER.garments.entries["navy tee"].model_dump()))


def test_no_other_word_hides_a_side() -> None:
    """ "Right chest" is never filed as "left chest": who presses it reads the shop's name."""
    for name, place in STARTER.placements.entries.items():
        for side, other in (("left", "right"), ("links", "rechts"), ("izquierd", "derech")):
            words = " ".join((name, *place.also)).casefold()
            assert not (side in words and other in words), name


def test_advice_defers_to_the_makers() -> None:
    """Synthetic cloth has advice, and none states a temperature: those are the makers' (docs/cautions.md)."""
    for garment in STARTER.garments.entries.values():
        assert not any(sign.isdigit() or sign == "°" for sign in garment.advice or "")
        assert garment.advice or "cotton" in str(garment.fabric)


def test_a_shop_does_without_tables(tmp_path: Path) -> None:
    """As shops made before there were any."""
    tables = load_tables(tmp_path)
    assert (tables.garments.entries, tables.placements.entries) == ({}, {})


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ('\n["navy tee"]\ncolour = "blue"', 3, "navy tee.colour"),
        ('["navy tee"]\nfabric = "cotton"', 1, "navy tee.colour: this key is missing"),
        ('["navy tee"]\ncolour = "#1d2a44"\nprice = 3', 3, "navy tee.price: no such key is known"),
        ('navy = "#1d2a44"', 1, "expected a table"),
        ('[navy]\ncolour = "#1d2a44"\n[blue]\ncolour = "#1d2a44"\nalso = ["NAVY"]', 3, "already a word for 'navy'"),
        ('[" "]\ncolour = "#1d2a44"', 1, "no word"),
        ("[navy", None, "not TOML"),
    ],
)
def test_what_is_wrong_with_garments(text: str, line: int | None, said: str) -> None:
    """File, line and key, and what was expected."""
    with pytest.raises(SettingsError) as refusal:
        parse_named(Garment, text, Path("garments.toml"))
    assert said in str(refusal.value)
    assert "garments.toml" in str(refusal.value)
    assert line is None or f"Line {line}," in str(refusal.value)


@pytest.mark.parametrize("text", ["[sleeve]", '[sleeve]\nwidth = "80"', '[sleeve]\nwidth = "0 mm"', "[sleeve]\nwidth = 80"])
def test_what_is_wrong_with_placements(text: str) -> None:
    """A length, with its unit."""
    with pytest.raises(SettingsError, match="sleeve"):
        parse_named(Place, text, Path("placements.toml"))


def test_names_are_folded_as_unicode_says() -> None:
    """Composed and decomposed accents, sharp s and full-width letters (Unicode NFKC and case folding)."""
    places = parse_named(Place, '["Rücken groß"]\nwidth = "300 mm"', Path("placements.toml"))
    for word in ("ru\u0308cken gross", "RÜCKEN GROSS", "Rücken\u00a0groß", "ｒücken groß"):
        assert places.find(word), word
    assert places.find("Rucken") is None
    assert places.near("Rucken gros") == ("Rücken groß",)
