"""The key page and the JSON schema in docs/ are what the models say."""

import json
from pathlib import Path

from render.scenefile import document
from render.scenefile.fields import tables
from render.studio.kit import Kit
from render.studio.scene import Scene

DOCS = Path(__file__).resolve().parents[3] / "docs"


def test_the_page_in_docs_is_current() -> None:
    """Made anew by `python -m render.scenefile.document`."""
    assert (DOCS / "scene-file.md").read_text(encoding="utf-8") == document.page()


def test_the_schema_in_docs_is_current() -> None:
    assert json.loads((DOCS / "scene.schema.json").read_text()) == document.schema()


def test_the_page_lists_every_key() -> None:
    page = document.page()
    for root in (Scene, Kit):
        for _, model in tables(root):
            for key in model.model_fields:
                assert f"`{key}`" in page or f"[{key}" in page or f".{key}]" in page


def test_bundled_scenes_fit_the_schema_for_editors() -> None:
    """The schema accepts what the reader accepts; checked by an independent validator."""
    import tomllib

    import jsonschema

    from render.folders import data_folder

    for file in data_folder("scenes").glob("*.toml"):
        jsonschema.validate(tomllib.loads(file.read_text()), document.schema())
