"""The import arrows of DEVELOPERS.md hold in the source, and the tracer stays behind its door."""

import ast
import subprocess
import sys
from pathlib import Path

import render

PACKAGE = Path(render.__file__).parent

# Each folder may import itself, errors, folders, writing, and what stands here.
ARROWS = {
    "photometry": set(),
    "studio": {"photometry"},
    "emission": {"photometry", "studio"},
    "scenefile": {"photometry", "studio"},
    "sitter": {"photometry"},
    "layout": {"photometry", "studio", "emission", "scenefile", "sitter"},
    "predict": {"photometry", "emission", "layout", "sitter"},
    "trace": {"photometry", "emission", "layout", "sitter"},
    "workers": {"sitter", "trace"},
    "picture": {"photometry", "layout", "scenefile", "sitter", "studio", "trace"},
    "report": {"photometry", "layout", "scenefile", "sitter", "studio", "predict", "trace"},
    "setview": {
        "photometry",
        "studio",
        "emission",
        "scenefile",
        "sitter",
        "layout",
        "predict",
    },
    "plan": {
        "photometry",
        "studio",
        "emission",
        "scenefile",
        "sitter",
        "layout",
        "predict",
        "trace",
        "picture",
        "report",
        "setview",
    },
    "card": {
        "photometry",
        "studio",
        "emission",
        "scenefile",
        "layout",
        "predict",
        "report",
        "plan",
        "picture",
        "setview",
        "trace",
    },
    "series": {
        "photometry",
        "studio",
        "scenefile",
        "sitter",
        "layout",
        "predict",
        "trace",
        "picture",
        "report",
        "plan",
    },
    "page": {
        "photometry",
        "combine",
        "studio",
        "emission",
        "scenefile",
        "sitter",
        "layout",
        "predict",
        "trace",
        "picture",
        "report",
        "plan",
        "card",
        "series",
    },
    "quiz": {
        "photometry",
        "studio",
        "scenefile",
        "sitter",
        "layout",
        "predict",
        "trace",
        "picture",
        "report",
        "plan",
        "card",
        "series",
        "setview",
    },
    "combine": {"photometry", "studio", "scenefile", "picture"},
    "cli": {
        "card",
        "combine",
        "page",
        "photometry",
        "plan",
        "layout",
        "picture",
        "quiz",
        "report",
        "scenefile",
        "series",
        "setview",
        "studio",
        "trace",
        "workers",
    },
}
ANYWHERE = {"errors", "folders", "writing"}


def imports(file: Path) -> set[str]:
    """Dotted names that a source file imports, wherever in it."""
    found = set()
    for node in ast.walk(ast.parse(file.read_text())):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


def test_arrows_point_down() -> None:
    for folder, allowed in ARROWS.items():
        for file in (PACKAGE / folder).rglob("*.py"):
            parts = {name.split(".")[1] for name in imports(file) if name.startswith("render.")}
            assert parts <= allowed | ANYWHERE | {folder}, file


def test_every_folder_has_its_arrows() -> None:
    folders = {path.parent.name for path in PACKAGE.glob("*/__init__.py")}
    assert folders == set(ARROWS)


def test_only_trace_touches_the_tracer() -> None:
    users = {
        file.relative_to(PACKAGE).parts[0]
        for file in PACKAGE.rglob("*.py")
        if {"mitsuba", "drjit"} & {name.split(".")[0] for name in imports(file)}
    }
    assert users == {"trace"}


def test_only_setview_touches_the_drawing_library() -> None:
    users = {
        file.relative_to(PACKAGE).parts[0]
        for file in PACKAGE.rglob("*.py")
        if {"pyrender", "pyglet", "OpenGL"} & {name.split(".")[0] for name in imports(file)}
    }
    assert users == {"setview"}


def test_importing_render_loads_neither_the_tracer_nor_anything_heavy() -> None:
    heavy = "mitsuba drjit scipy trimesh pydantic rich typer"
    code = f"import sys, render;print([name for name in '{heavy}'.split() if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_everything_public_is_there_without_loading_the_tracer() -> None:
    code = (
        "import sys, render;"
        "[getattr(render, name) for name in render.__all__];"
        "print('mitsuba' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
