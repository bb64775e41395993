"""Draws scattered directions from a fibre of ours; prints albedo, mean exit angle and spread."""

from __future__ import annotations

import json
import sys
from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np

SAMPLES = 1 << 17

if __name__ == "__main__":
    mi.set_variant(sys.argv[1])
    from render.sitter.body import Fibre
    from render.trace.materials import fibre

    out = []
    for case, angle_deg in json.loads(sys.argv[2]):
        bsdf: Any = mi.load_dict(fibre(Fibre(**case)))
        rng = np.random.default_rng(5)
        u = rng.random((4, SAMPLES)).astype(np.float32)
        # Light falls evenly over the fibre's breadth; y is the way from root to tip.
        across = np.arccos(1 - 2 * u[0])
        tilt = np.full(SAMPLES, np.radians(angle_deg), np.float32)
        at = dr.zeros(mi.SurfaceInteraction3f, SAMPLES)
        at.wi = mi.Vector3f(
            mi.Float(np.cos(tilt) * np.cos(across)),
            mi.Float(np.sin(tilt)),
            mi.Float(np.cos(tilt) * np.sin(across)),
        )
        sample, weight = bsdf.sample(
            mi.BSDFContext(), at, mi.Float(u[1]), mi.Point2f(mi.Float(u[2]), mi.Float(u[3]))
        )
        share = np.array(weight).reshape(-1, SAMPLES)[0].astype(float)
        share = np.where(np.isfinite(share), share, 0.0)
        away = np.degrees(np.arcsin(np.clip(np.array(sample.wo.y).astype(float), -1, 1)))
        away = np.where(share > 0, away, 0.0)
        mean = (share * away).sum() / share.sum()
        spread = np.sqrt((share * (away - mean) ** 2).sum() / share.sum())
        error = share.std() / SAMPLES**0.5
        out.append([share.mean(), error, mean, spread])
    print(json.dumps(out))
