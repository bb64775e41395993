"""From light to f-number and back: meters, guide numbers, ISO speed and linear values."""

from __future__ import annotations

import math

import numpy as np

from render.photometry.number import Number

# Meter constants; ISO 2720:1974 as quoted by secondary sources: C 240-400 lx·s flat,
# 320-540 lx·s dome, K 10.6-13.4 cd·s/m². These are the usual ones.
C_FLAT = 250.0  # [lx·s] flat receptor, cosine response
C_DOME = 340.0  # [lx·s] dome, cardioid response
K_REFLECTED = 12.5  # [cd·s/m²] reflected-light (spot) meter

EXIF_SPEED_OFFSET = 3.125  # Sv = log2(S / 3.125), so ISO 100 is 5; Exif 2.3, from memory
SATURATION_CONSTANT = 78.0  # [lx·s] H_sat = 78 / S; ISO 12232:2006
SOS_CONSTANT = 10.0  # [lx·s] H_sos = 10 / S; ISO 12232, from memory
METRES_PER_FOOT = 0.3048  # exact, international foot


def aperture_value(f_number: Number) -> Number:
    """Av = log2 N² [stops], f/1 is 0. Source: APEX, ASA PH2.5-1960."""
    value: Number = 2.0 * np.log2(f_number)
    return value


def time_value(shutter_s: Number) -> Number:
    """Tv = log2(1/t) [stops], 1 s is 0. Source: APEX, ASA PH2.5-1960."""
    value: Number = -np.log2(shutter_s)
    return value


def speed_value(iso_speed: Number) -> Number:
    """Sv = log2(S / 3.125) [stops], ISO 100 is 5. Source: Exif form of APEX, from memory.

    The exact ASA form lies 0.106 stop lower; the two must not be mixed.
    """
    value: Number = np.log2(iso_speed / EXIF_SPEED_OFFSET)
    return value


def exposure_value(f_number: Number, shutter_s: Number) -> Number:
    """Ev = Av + Tv [stops]. Source: APEX, ASA PH2.5-1960."""
    return aperture_value(f_number) + time_value(shutter_s)


def brightness_value(f_number: Number, shutter_s: Number, iso_speed: Number) -> Number:
    """Bv = Ev - Sv [stops], brightness that the setting expects. Source: APEX."""
    return exposure_value(f_number, shutter_s) - speed_value(iso_speed)


def f_number(luminous_exposure: Number, iso_speed: float, c: float = C_FLAT) -> Number:
    """f-number that an incident meter shows for one flash.

    luminous_exposure : (...) float  H on the receptor [lx·s], >= 0
    iso_speed         : float        S [-]
    c                 : float        receptor constant [lx·s]: C_FLAT or C_DOME
    returns           : (...) float  N = sqrt(H · S / C) [-]
    Source: ISO 2720:1974, N²/t = E·S/C, with H = E·t.
    """
    shown: Number = np.sqrt(luminous_exposure * iso_speed / c)
    return shown


def luminous_exposure_for(f_number: Number, iso_speed: float, c: float = C_FLAT) -> Number:
    """Luminous exposure H = C · N² / S [lx·s] that makes a meter show an f-number.

    f_number : (...) float [-];  iso_speed : float [-];  c : float, receptor constant [lx·s]
    Source: ISO 2720:1974, solved for E·t.
    """
    return c * f_number * f_number / iso_speed


def incident_illuminance(
    f_number: Number, shutter_s: float, iso_speed: float, c: float = C_FLAT
) -> Number:
    """Illuminance E = C · N² / (t · S) [lx] that asks for a setting. Source: ISO 2720:1974."""
    return c * f_number * f_number / (shutter_s * iso_speed)


def reflected_luminance(
    f_number: Number, shutter_s: float, iso_speed: float, k: float = K_REFLECTED
) -> Number:
    """Luminance L = K · N² / (t · S) [cd/m²] that asks for a setting. Source: ISO 2720:1974."""
    return k * f_number * f_number / (shutter_s * iso_speed)


def implied_reflectance(k: float = K_REFLECTED, c: float = C_FLAT) -> float:
    """Reflectance pi·K/C [-] of the card on which incident and reflected meters agree.

    0.157 for the usual constants, not 0.18. Source: both equations of ISO 2720:1974.
    """
    return math.pi * k / c


def intensity_time(guide_number_m: Number, iso_speed: float, c: float = C_FLAT) -> Number:
    """Candela seconds behind a guide number, GN²·C/S [cd·s].

    guide_number_m : (...) float  f-number times metres [m];  iso_speed : float [-]
    Source: H = I·t / d² in N² = H·S/C (derived).
    """
    return guide_number_m * guide_number_m * c / iso_speed


def guide_number(intensity_time_cd_s: Number, iso_speed: float, c: float = C_FLAT) -> Number:
    """Guide number sqrt(I·t·S/C) [m] of a flash of so many candela seconds (derived)."""
    metres: Number = np.sqrt(intensity_time_cd_s * iso_speed / c)
    return metres


def feet(metres: Number) -> Number:
    """Metres in feet. Source: the international foot."""
    return metres / METRES_PER_FOOT


def add_f_numbers(first: Number, second: Number) -> Number:
    """f-number of two flashes together at one receptor, sqrt(N1² + N2²) [-].

    Source: luminous exposures add. True only while the meter is not moved or turned.
    """
    both: Number = np.sqrt(first * first + second * second)
    return both


def saturation_exposure(iso_speed: Number) -> Number:
    """Focal-plane exposure 78/S [lx·s] that saturates a sensor. Source: ISO 12232:2006."""
    return SATURATION_CONSTANT / iso_speed


def sos_exposure(iso_speed: Number) -> Number:
    """Focal-plane exposure 10/S [lx·s] for the standard output. Source: ISO 12232, memory."""
    return SOS_CONSTANT / iso_speed


def q_factor(transmission: float = 0.9, vignetting: float = 0.98, angle_deg: float = 10.0) -> float:
    """Share q [-] in H_focal = q·L·t/N²: (pi/4)·T·f_v·cos⁴(angle). Source: ISO 12232:2006."""
    return math.pi / 4 * transmission * vignetting * math.cos(math.radians(angle_deg)) ** 4


def focal_exposure(luminance_time: Number, f_number: float, q: float) -> Number:
    """Luminous exposure on the sensor q·L·t/N² [lx·s]. Source: ISO 12232:2006.

    luminance_time : (...) float  [cd·s/m²];  f_number : float [-];  q : float, see `q_factor`
    """
    return q * luminance_time / (f_number * f_number)


def linear_value(
    luminance_time: Number, iso_speed: float, f_number: float, c: float = C_FLAT
) -> Number:
    """Linear picture value of a surface; an 18 % card at the metered f-number is 0.18.

    luminance_time : (...) float  time integral of luminance L·t [cd·s/m²]
    c              : float        constant of the meter's flat receptor [lx·s]
    returns        : (...) float  pi·L·t·S / (C·N²) [-]
    Source: a matte card has L = rho·E/pi and the meter E·t = C·N²/S (derived). The
    ISO 12232 output sensitivity lands 0.1 stop lower.
    """
    return math.pi * luminance_time * iso_speed / (c * f_number * f_number)
