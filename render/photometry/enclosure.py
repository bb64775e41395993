"""What the room gives back, from its surface and its mean reflectance alone."""

from __future__ import annotations

from render.photometry.number import Number


def mean_direct(luminous_energy_lm_s: Number, area_m2: float) -> Number:
    """Mean luminous exposure Q/S [lx·s] that the lights make on all surfaces, before any bounce.

    luminous_energy_lm_s : (...) float  Q that enters the room [lm·s];  area_m2 : S [m²]
    Source: conservation of flux.
    """
    return luminous_energy_lm_s / area_m2


def first_bounce(luminous_energy_lm_s: Number, area_m2: float, reflectance: float) -> Number:
    """Mean luminous exposure Q·rho/S [lx·s] that the first bounce adds.

    reflectance : float  area mean rho of all surfaces [-], 0 ... 1
    Source: second term of the integrating-sphere series.
    """
    return luminous_energy_lm_s * reflectance / area_m2


def all_bounces(luminous_energy_lm_s: Number, area_m2: float, reflectance: float) -> Number:
    """Mean luminous exposure Q·rho / (S·(1 - rho)) [lx·s] that all the bounces add.

    reflectance : float  area mean rho of all surfaces [-], 0 <= rho < 1
    raises      : ValueError for a reflectance outside that range
    Source: sum of the integrating-sphere series; exact as a mean in a closed room of one
    reflectance, pointwise only in a sphere.
    """
    if not 0.0 <= reflectance < 1.0:
        raise ValueError(f"reflectance must be in [0, 1), got {reflectance}")
    return luminous_energy_lm_s * reflectance / (area_m2 * (1.0 - reflectance))


def between_two_planes(exitance: float, rho_1: float, rho_2: float) -> tuple[float, float]:
    """Light (on plane 1, on plane 2) of two endless facing planes, plane 1 emitting.

    exitance : float  of plane 1, light per area [lx·s];  rho_1, rho_2 : reflectances [-]
    Source: geometric series, E2 = M / (1 - rho1·rho2), E1 = rho2·E2.
    """
    on_second = exitance / (1.0 - rho_1 * rho_2)
    return rho_2 * on_second, on_second


def black_share(reflectance: float, area_m2: float, black_m2: float) -> float:
    """Mean reflectance [-] of a room of one reflectance when part of its surface is black.

    Source: area mean, rho·(S - A)/S; a rough figure, the black part is not spread evenly.
    """
    return reflectance * (area_m2 - black_m2) / area_m2
