"""Who sits: which head, skin, hair, face and clothes, turned which way, looking where."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from render.studio.part import Part, Reflectance, Vector

Colour = tuple[Reflectance, Reflectance, Reflectance]
Undertone = Annotated[float, Field(ge=-6, le=6)]
Clothed = Annotated[float, Field(ge=0.01, le=0.9)]
Coordinate = Annotated[float, Field(ge=-1e6, le=1e6)]  # a kilometre in millimetres; no overflow
Place = tuple[Coordinate, Coordinate, Coordinate]

Axis = Literal["x", "-x", "y", "-y", "z", "-z"]


class Places(Part):
    """Places on the mesh, in its own unit and axes, for when its face is not found without them."""

    nose_tip: Place | None = Field(None, description="the foremost point of the nose")
    chin: Place | None = Field(None, description="the foremost point of the chin")
    forehead: Place | None = Field(
        None, description="in the middle, 45 mm above the line of the eyes"
    )
    eye_sitter_left: Place | None = Field(
        None, description="on the middle of the sitter's own left eye"
    )
    eye_sitter_right: Place | None = Field(
        None, description="on the middle of the sitter's own right eye"
    )


class Sitter(Part):
    """The person in front of the camera. What is left out is the sitter's own."""

    model: str = Field(
        "alma",
        description="bundled sitter: alma, bram, chidi, dalia, emi, florin, gerda, haru, "
        "ines, juma, kavi or lotte",
    )
    mesh: str | None = Field(
        None,
        description="instead of a model: your own head as .obj, .ply, .stl, .glb or .gltf, its "
        "path from the scene file",
    )
    mesh_unit: Literal["m", "dm", "cm", "mm", "in"] | None = Field(
        None, description="unit of the mesh; glTF is in metres where it is left out"
    )
    mesh_up: Axis = Field("y", description="axis of the mesh that points to the crown")
    mesh_faces: Axis = Field("z", description="axis of the mesh that the face looks along")
    landmarks: Places | None = None
    skin_reflectance: float | None = Field(
        None,
        ge=0.05,
        le=0.6,
        description="luminous reflectance of plain facial skin, its gloss left out",
    )
    skin_redness: float | None = Field(
        None, ge=0.15, le=4, description="blood in the skin, 1 is average"
    )
    skin_undertone: tuple[Undertone, Undertone] | None = Field(
        None, description="added to the skin's CIELAB a* and b*"
    )
    hair: str | None = Field(
        None, description="bald, close crop, crop, fringe, bob, long, curls, tied back or receding"
    )
    hair_colour: str | None = Field(
        None, description="black, dark brown, brown, red, dark blond, blond, grey or white"
    )
    greying: float | None = Field(None, ge=0, le=1, description="share of white hairs")
    beard: str | None = Field(None, description="none, stubble, short or full")
    eye_colour: str | None = Field(
        None, description="dark brown, brown, hazel, green, blue or grey"
    )
    expression: str | None = Field(None, description="neutral, slight smile, laugh or eyes closed")
    glasses: str | None = Field(None, description="none, round or square")
    top: str | None = Field(None, description="crew neck, shirt, jacket or wrap")
    top_colour: Colour | None = Field(
        None, description="colour of the top: red, green, blue as linear reflectances"
    )
    top_reflectance: Clothed | None = Field(
        None, description="luminous reflectance of the top; scales its colour"
    )
    headwear: str | None = Field(None, description="none, hat or headscarf")
    headwear_colour: Colour | None = Field(
        None, description="its colour: red, green, blue as linear reflectances"
    )
    eyes_height_m: float = Field(1.2, ge=0.4, le=2.2, description="floor to eyes")
    turn_deg: float = Field(
        0, ge=-180, le=180, description="where the body faces: 0 camera, negative camera left"
    )
    head_turn_deg: float = Field(
        0, ge=-60, le=60, description="head against the body, negative camera left"
    )
    head_nod_deg: float = Field(0, ge=-30, le=30, description="chin, positive is down")
    head_tilt_deg: float = Field(
        0, ge=-30, le=30, description="head towards a shoulder, positive to camera right"
    )
    gaze: str | Vector = Field(
        "camera",
        description='what the eyes look at: "camera", "ahead" or a place x, y, z in metres; they '
        "turn at most 35 degrees in the head",
    )
