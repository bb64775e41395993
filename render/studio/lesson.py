"""A lesson: one thing changed step by step in a scene, and what a student is to look for."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from render.studio.part import Part

SHOWN = (  # figures that a caption can have
    "face",
    "key",
    "shadow_side",
    "key_to_fill",
    "lighting_ratio",
    "shadow_edge",
    "falloff",
    "backdrop",
    "pattern",
)


class Lesson(Part):
    """What a lesson shows."""

    title: str = Field(min_length=1, description="heading of its sheets and table")
    scene: str = Field(
        min_length=1, description="scene file, its path from the lesson, or a bundled scene's name"
    )
    vary: tuple[str, ...] = Field(
        min_length=1,
        max_length=2,
        description='one or two keys of the scene with their values, as "light.key.distance_m=0.7, '
        '1, 1.4"; the first runs along the rows of the sheet, the second down its columns',
    )
    exposure: Literal["kept", "re-metered", "both"] = Field(
        "kept", description="kept as set, or the key turned for the first picture's face reading"
    )
    quality: Literal["draft", "proof", "final"] = Field("proof", description="of the pictures")
    size_px: int = Field(480, ge=16, le=8192, description="longer side of each picture [px]")
    look_for: tuple[str, ...] = Field(
        min_length=2,
        max_length=2,
        description="the two sentences under the title: what to look for",
    )
    question: str = Field("", description="for the class; stands below them")
    show: tuple[str, ...] = Field(
        (),
        description=f"figures under the pictures, of {', '.join(SHOWN)}, and wanted readings of "
        "one light alone by their names; default: all but those",
    )
