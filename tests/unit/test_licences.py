"""What tenthstop stands on is pinned for the tests, and its licences stand in one file."""

import re
import tomllib
from importlib.metadata import distribution
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[2]
# As copyleft licences name themselves; MPL-2.0 (file by file) is fine for what tests and pip use.
COPYLEFT = re.compile(r"\bA?GPL|\bLGPL")


def _name(written: str) -> str:
    return re.sub(r"[-_.]+", "-", written).lower()


def _pinned() -> dict[str, str]:
    lines = (ROOT / ".ci/lock.txt").read_text().splitlines()
    pairs = (line.split("==") for line in lines if not line.startswith("#"))
    return {_name(name): version for name, version in pairs}


def _listed() -> dict[str, str]:
    rows = re.findall(r"^\| (\S+) \| ([^|]+) \|", (ROOT / "LICENCES.md").read_text(), re.MULTILINE)
    return {_name(name): licence.strip() for name, licence in rows}


def _asked() -> list[Requirement]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    lists = [project["dependencies"], *project["optional-dependencies"].values()]
    return [Requirement(each) for some in lists for each in some]


def test_every_package_that_is_asked_for_is_pinned_within_its_range() -> None:
    pinned = _pinned()
    for asked in _asked():
        assert pinned[_name(asked.name)] in asked.specifier, asked


def test_every_pinned_package_has_its_licence_listed_and_none_is_copyleft() -> None:
    listed = _listed()
    for name in _pinned():
        assert listed[name], name
        assert not COPYLEFT.search(listed[name]), name


@pytest.mark.parametrize("name", ["numpy", "click", "playwright", "pydantic", "typing-extensions"])
def test_the_list_says_what_the_package_says(name: str) -> None:
    assert _listed()[name] == distribution(name).metadata["License-Expression"]
