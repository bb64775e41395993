"""The page that lists every key of scene and kit files, and the JSON schema for editors.

`python -m render.scenefile.document` writes both into docs/, straight from the models.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic.fields import FieldInfo

from render.scenefile.fields import accepted, part_of, tables
from render.studio.kit import Kit
from render.studio.lesson import Lesson
from render.studio.part import OWN_WORDS, Part
from render.studio.scene import Scene

AXES = """\
Lengths are metres from the origin: the floor under the midpoint of the sitter's eyes. x runs to
camera right, y up, z towards the camera. Azimuth 0 is towards the camera, negative is camera left.
An unknown or mistyped key is an error that names the nearest known one.
"""


def page() -> str:
    """The whole page in Markdown."""
    lines = ["# Keys of a scene file", "", AXES]
    for name, model in tables(Scene):
        lines += _table(name, model)
    lines += [
        "# Keys of a kit file",
        "",
        "Your own kit file overrides the bundled kit by name.",
        "",
    ]
    for name, model in tables(Kit):
        lines += _table(name, model)
    lines += [
        "# Keys of a lesson file",
        "",
        "`tenthstop lesson FILE` makes its sheet.",
        "",
    ]
    for name, model in tables(Lesson):
        lines += _table(name, model)
    return "\n".join(lines)


def _table(name: str, model: type[Part]) -> list[str]:
    about = (model.__doc__ or "").strip()
    rows = [
        _row(key, info)
        for key, info in model.model_fields.items()
        if part_of(info.annotation)[0] is None
    ]
    head = [f"## {name or 'At the top'}", "", about, ""]
    if not rows:
        return head
    return [*head, "| key | accepts | default | what it is |", "|---|---|---|---|", *rows, ""]


def _row(key: str, info: FieldInfo) -> str:
    described = "" if info.description in OWN_WORDS else info.description or ""
    words = accepted(key, info).replace("|", "\\|")
    return f"| `{key}` | {words} | {_default(key, info)} | {described} |"


def _default(key: str, info: FieldInfo) -> str:
    if info.is_required():
        return "**required**"
    if info.default is None or info.default == ():
        return ""
    if key == "shutter_s":
        return f'"1/{1 / info.default:.0f}"'
    value = list(info.default) if isinstance(info.default, tuple) else info.default
    return f"{value:g}" if isinstance(value, float) else json.dumps(value)


def schema() -> dict[str, Any]:
    """JSON schema of a scene file."""
    return Scene.model_json_schema()


if __name__ == "__main__":
    docs = Path(__file__).resolve().parents[2] / "docs"
    (docs / "scene-file.md").write_text(page(), encoding="utf-8")
    text = json.dumps(schema(), indent=1, ensure_ascii=False)
    (docs / "scene.schema.json").write_text(text + "\n", encoding="utf-8")
