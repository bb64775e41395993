"""Reads pickled fronts by rays drawn on them alone, and by rays drawn at the receptor alone."""

from __future__ import annotations

import json
import pickle
import sys
from pathlib import Path
from typing import Any

import mitsuba as mi
import numpy as np

SAMPLES = 1 << 18

if __name__ == "__main__":
    mi.set_variant(sys.argv[1])
    import drjit as dr

    from render.trace import jobs
    from render.trace.layers import shadow_ray
    from render.trace.stage import stage_of
    from tests.sets import layout

    def mean(values: Any) -> tuple[float, float]:
        found = np.array(values, float)
        return float(found.mean()), float(found.std() / np.sqrt(len(found)))

    def read(front: Any, place: Any, axis: Any) -> dict[str, tuple[float, float]]:
        """The reading found either way, and the whole of the chance to be drawn."""
        stage = stage_of(layout(front), "plain")
        scene = jobs.scene_of(stage, stage.key)
        emitter = scene.emitters()[0]
        sampler: Any = mi.load_dict({"type": "independent"})
        sampler.seed(3, SAMPLES)
        it: Any = dr.zeros(mi.Interaction3f, SAMPLES)
        it.p = mi.Point3f(*map(float, place))
        facing = mi.Vector3f(*map(float, axis))

        ds, light = emitter.sample_direction(it, sampler.next_2d(), True)
        seen = (ds.pdf > 0) & ~scene.ray_test(shadow_ray(it, ds.p), ds.pdf > 0)
        drawn = dr.select(seen, light.x * dr.maximum(dr.dot(ds.d, facing), 0), 0)

        # From the receptor, only into the cone that the front lies in.
        way = np.asarray(front.centre_m) - place
        reach = 0.5 * np.hypot(front.width_m, front.height_m) + 0.1
        edge = float(np.sqrt(max(1 - (reach / np.linalg.norm(way)) ** 2, 0)))
        cone = mi.warp.square_to_uniform_cone(sampler.next_2d(), edge)
        towards = mi.Frame3f(dr.normalize(mi.Vector3f(*map(float, way)))).to_world(cone)
        inverse = 2 * np.pi * (1 - edge)
        si = scene.ray_intersect(it.spawn_ray(towards))
        hit = si.emitter(scene)
        lit = hit != None  # noqa: E711 - compares many pointers at once
        met = mi.DirectionSample3f(scene, si, it)
        shine = dr.select(lit, hit.eval(si, lit).x, 0)
        found = inverse * shine * dr.maximum(dr.dot(towards, facing), 0)
        chance = dr.select(lit, inverse * hit.pdf_direction(it, met, lit), 0)
        return {"drawn": mean(drawn), "met": mean(found), "chance": mean(chance)}

    cases = pickle.loads(Path(sys.argv[2]).read_bytes())
    print(json.dumps([read(*case) for case in cases]))
