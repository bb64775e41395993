"""What a recipe of combined pictures may say: the look, and the elements laid over it in order.

Places and widths are shares of the look's frame, so that a recipe holds for a look of another size.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from render.errors import RecipeError
from render.scenefile.parse import as_part, read_tables
from render.studio.part import LINE_WORDS, PLACE_WORDS, Part

BLACK_CODE = 3.0  # what combines cleanly; common practice, no source
OPAQUE_CODE = 118.0  # an 18 % card in full light, so that paler grains count as opaque; by eye
FEATHER = 0.02
FADE = 0.05


def _tuple(found: Any) -> Any:
    return tuple(found) if isinstance(found, list) else found


Share = Annotated[float, Field(ge=-10, le=10)]
Place = Annotated[tuple[Share, Share], BeforeValidator(_tuple)]


class Region(Part):
    """Where an element shows, or does not."""

    points: tuple[Place, ...] = Field(min_length=3, max_length=10000, description=LINE_WORDS)
    line: Literal["straight", "curve"] = Field(
        "straight", description="from point to point, or one smooth closed line through all"
    )
    keep: Literal["inside", "outside"] = Field(
        "inside", description="the side of the line on which the element shows"
    )
    feather: float = Field(
        FEATHER,
        ge=0,
        le=1,
        description="width of the soft edge, half of it on either side of the line, as a share of "
        "the look's width",
    )


class Element(Part):
    """One picture on black and how it is laid over the look."""

    file: str = Field(min_length=1, description="PNG, JPEG, TIFF or EXR, its path from the recipe")
    plates: tuple[str, ...] = Field(
        (), max_length=64, description="pictures of the same black set without the element"
    )
    gain_stops: float = Field(0.0, ge=-20, le=20, description="light of the element, + brighter")
    way: Literal["add", "screen"] = Field(
        "add",
        description="add: sum of linear light, as light adds; screen: 1 - (1 - a)(1 - b) of the "
        "encoded values",
    )
    matte: Literal["none", "light", "alpha"] = Field(
        "none",
        description="what the element hides of the look: nothing, as much as it is bright, or what "
        "its file says",
    )
    opaque_code: float = Field(
        OPAQUE_CODE,
        gt=0,
        le=255,
        description='code in the element\'s own picture from which matte = "light" hides all',
    )
    at: Place = Field((0.5, 0.5), description=PLACE_WORDS)
    scale: float = Field(
        1.0,
        ge=1e-4,
        le=100,
        description="the element's width before turn, as a share of the look's",
    )
    turn_deg: float = Field(0.0, ge=-360, le=360, description="clockwise, about its middle")
    flip: Literal["none", "sideways", "upside down", "both"] = Field(
        "none", description="mirrored before it is turned"
    )
    fade: float | None = Field(
        None,
        ge=0,
        le=0.5,
        description="width of the fade to nothing along the element's own edge, as a share of its "
        f"shorter side; default: {FADE:g} where its edge lies inside the look, else 0",
    )
    region: tuple[Region, ...] = Field((), description="all of them limit it")


class Recipe(Part):
    """A look and its elements."""

    look: str = Field(min_length=1, description="the picture to add to, its path from the recipe")
    out: str = Field(
        min_length=1, description="result, its path from the recipe: .png, .tif (16 bits) or .exr"
    )
    black_code: float = Field(
        BLACK_CODE, gt=0, le=255, description="code up to which a black set combines cleanly"
    )
    element: tuple[Element, ...] = Field((), description="in order, later ones over earlier ones")


def read_recipe(file: Path) -> Recipe:
    """Read a recipe. Raises RecipeError with file, key, what was found and would be accepted."""
    recipe = as_part(file, read_tables(file, RecipeError), Recipe, RecipeError)
    if not recipe.element:
        raise RecipeError(file, "element", "found none", "one [[element]] table or more")
    return recipe
