"""What Radiance reads from an LM-63 file, through pyradiance: `ies2rad`, `oconv`, `rtrace`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

LM_PER_W = 179.0  # Radiance's luminous efficacy of white light
FAR_M = 100.0  # the lamps are 0.3 m wide: a point to 1e-5


def radiance_intensity(
    file: Path, folder: Path, gamma_deg: NDArray[np.float64], plane_deg: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Intensities (n,) [cd] of the lamp in an LM-63 file in n directions.

    Radiance hangs the lamp at the origin with its light towards -z and the 0 degree plane along +x.
    A receptor far away faces it, so E · d² is the intensity.
    """
    import pyradiance

    lamp = pyradiance.ies2rad(file, outname=str(folder / "lamp"))
    assert lamp is not None
    octree = folder / "lamp.oct"
    octree.write_bytes(pyradiance.oconv(folder / "lamp.rad"))
    gamma, plane = np.radians(gamma_deg), np.radians(plane_deg)
    sine = np.sin(gamma)
    out = np.stack([sine * np.cos(plane), sine * np.sin(plane), -np.cos(gamma)], -1)
    rays = np.concatenate([FAR_M * out, -out], axis=-1)
    text = "\n".join(" ".join(f"{x:.9g}" for x in ray) for ray in rays)
    answer = pyradiance.rtrace(
        text.encode(), octree, header=False, irradiance=True, params=["-ab", "0", "-dj", "0"]
    )
    watts = np.array([line.split() for line in answer.decode().splitlines()], float)[:, :3]
    return watts.mean(axis=1) * LM_PER_W * FAR_M**2
