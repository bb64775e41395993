"""New powers put into a scene file, everything else in it left as it was written."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from render.errors import OutputError, TenthstopError
from render.folders import data_folder
from render.scenefile.read import Setup, load_scene

OPTION = "--write"


def check_writable(setup: Setup) -> None:
    """Raise OutputError for a bundled scene, or a file that cannot be written."""
    file = setup.file.resolve()
    if file.parent == data_folder("scenes").resolve():
        raise OutputError(
            f"{OPTION}: {file.stem} is a bundled scene (accepted: a file of your own, such as a "
            f"copy of {setup.file})"
        )
    if not os.access(file, os.W_OK) or not os.access(file.parent, os.W_OK):
        raise OutputError(f"{OPTION}: {setup.file} cannot be written (accepted: a file that can)")


def write_powers(setup: Setup, powers: Mapping[str, str]) -> Path:
    """Put dial markings into a scene file, keeping its comments, order and layout.

    powers  : light's name -> marking, such as "1/8 +0.3"
    returns : the file, replaced as a whole or not at all
    Raises OutputError where it cannot be written.
    """
    check_writable(setup)
    file = setup.file.resolve()
    try:
        raw = file.read_bytes()
        marked = raw.startswith(b"\xef\xbb\xbf")  # by some editors; kept
        page = tomlkit.parse(raw.decode("utf-8-sig"))
        for name, marking in powers.items():
            page["light"][name]["power"] = marking
        text = tomlkit.dumps(page).encode("utf-8")
        _replace(file, b"\xef\xbb\xbf" + text if marked else text)
    except (OSError, TOMLKitError, TenthstopError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        raise OutputError(
            f"{OPTION}: {setup.file} stays as it was: {reason.lower()} (accepted: a scene file "
            "that can be written)"
        ) from None
    return setup.file


def _replace(file: Path, content: bytes) -> None:
    """Write beside the file, read it back as a scene, then take the file's place."""
    handle, name = tempfile.mkstemp(suffix=".toml", prefix=f".{file.stem}-", dir=file.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(content)
        shutil.copymode(file, part)
        load_scene(part)
        part.replace(file)
    finally:
        part.unlink(missing_ok=True)
