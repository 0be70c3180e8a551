"""docs/reference.md is what the code says."""

from pathlib import Path

from filmhand.errors import ExitCode
from filmhand.printer import Printer
from filmhand.reference import reference
from filmhand.rule_values import Settings
from filmhand.rules import Case, Rule
from filmhand.shop import ShopSettings

PAGE = Path(__file__).parents[1] / "docs" / "reference.md"


def test_the_page_is_made_from_the_code() -> None:
    """Where this fails: python -m filmhand.reference > docs/reference.md."""
    assert PAGE.read_text("utf-8") == reference()


def test_every_key_stands_in_the_reference() -> None:
    """Found by walking the models here, not by the generator's own walk."""
    page = reference()
    for model in (Rule, Case, Printer, ShopSettings):
        for name, field in model.model_fields.items():
            inner = field.annotation
            if isinstance(inner, type) and issubclass(inner, Settings):
                assert f"### `[{name}]`" in page
                section = page.split(f"### `[{name}]`")[1].split("\n##")[0]
                for key in inner.model_fields:
                    assert f"| `{key}" in section, f"{name}.{key}"
            else:
                assert f"`{name}`" in page or f"`[{name}]`" in page


def test_every_exit_code_and_command_stands_in_the_reference() -> None:
    """The commands of design and code, the numbers that scripts rely on."""
    page = reference()
    for code in ExitCode:
        assert f"| {code.value} |" in page
    for command in ("new", "run", "batch", "check", "status", "release", "refuse", "close", "chart", "fit", "drift", "demo"):
        assert f"### `filmhand {command}" in page
