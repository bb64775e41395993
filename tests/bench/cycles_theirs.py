"""The outside reference: Blender's Cycles on an exported set; run by an interpreter with bpy.

`PYTHON -P cycles_theirs.py SET.npz OUT.npz WIDTH HEIGHT SAMPLES` renders once for every seed, a
line of its input, and answers each with a line: one thread, no clamping, no denoising, no adaptive
sampling. OUT holds `pictures` (renders, h, w, 3) and processor times [s].
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from pathlib import Path

import bpy
import mathutils
import numpy as np

WARMING = 100_000  # a seed of none of the renders that count


def mesh_object(name, data, k, told):
    """A mesh with its smooth normals, paint and colours of either side."""
    vertices, triangles = data[f"{k}_vertices"], data[f"{k}_triangles"]
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(vertices.tolist(), [], triangles.tolist())
    if f"{k}_uv" in data:
        layer = mesh.uv_layers.new(name="uv")
        layer.data.foreach_set("uv", data[f"{k}_uv"][triangles.ravel()].ravel())
    if f"{k}_normals" in data:
        mesh.shade_smooth()
        mesh.normals_split_custom_set_from_vertices(data[f"{k}_normals"].tolist())
    paint = data.get(f"{k}_paint")
    gloss = told.get("gloss")
    if f"{k}_roughness" in data:
        gloss = gloss | {"roughness": data[f"{k}_roughness"]}
    mesh.materials.append(material(name, told, paint, gloss))
    thing = bpy.data.objects.new(name, mesh)
    # Shadows fall where the triangles are, as with us.
    thing.shadow_terminator_geometry_offset = thing.shadow_terminator_shading_offset = 0.0
    bpy.context.scene.collection.objects.link(thing)


def material(name, told, paint, gloss):
    """Each side in its colour, the front with gloss where it has one."""
    made = bpy.data.materials.new(name)
    made.use_nodes = True
    tree = made.node_tree
    tree.nodes.clear()
    out = tree.nodes.new("ShaderNodeOutputMaterial")
    mix = tree.nodes.new("ShaderNodeMixShader")
    side = tree.nodes.new("ShaderNodeNewGeometry")
    front, colour = glossy(tree, name, gloss) if gloss else lambert(tree)
    back, other = lambert(tree)
    colour.default_value, other.default_value = (*told["front"], 1.0), (*told["back"], 1.0)
    if paint is not None:
        painted(tree, image(name, paint), told["repeats"], colour)
    tree.links.new(side.outputs["Backfacing"], mix.inputs[0])
    tree.links.new(front, mix.inputs[1])
    tree.links.new(back, mix.inputs[2])
    tree.links.new(mix.outputs[0], out.inputs["Surface"])
    return made


def lambert(tree):
    """A matte surface: what it gives, and where its colour goes."""
    node = tree.nodes.new("ShaderNodeBsdfDiffuse")
    node.inputs["Roughness"].default_value = 0.0
    return node.outputs["BSDF"], node.inputs["Color"]


def glossy(tree, name, gloss):
    """A body under a rough boundary: near our skin, eyes and cloth, not the same."""
    node = tree.nodes.new("ShaderNodeBsdfPrincipled")
    node.distribution = "GGX"
    node.inputs["IOR"].default_value = gloss["ior"]
    if isinstance(gloss["roughness"], float):
        node.inputs["Roughness"].default_value = gloss["roughness"]
    else:
        rough = image(f"{name}_roughness", np.repeat(gloss["roughness"][..., None], 3, -1))
        painted(tree, rough, True, node.inputs["Roughness"])
    return node.outputs["BSDF"], node.inputs["Base Color"]


def painted(tree, picture, repeats, socket):
    """A map on the surface's own uv."""
    texture = tree.nodes.new("ShaderNodeTexImage")
    texture.image = picture
    texture.interpolation = "Linear"
    texture.extension = "REPEAT" if repeats else "EXTEND"
    tree.links.new(texture.outputs["Color"], socket)


def image(name, paint):
    """Linear reflectances as they are."""
    height, width, _ = paint.shape
    made = bpy.data.images.new(name, width, height, alpha=False, float_buffer=True)
    made.colorspace_settings.name = "Non-Color"
    made.pixels.foreach_set(np.dstack([paint, np.ones((height, width), np.float32)]).ravel())
    made.update()
    made.pack()
    return made


def light_object(name, told):
    """A rectangle that obeys the cosine law."""
    lamp = bpy.data.lights.new(name, "AREA")
    lamp.shape = "RECTANGLE"
    lamp.size, lamp.size_y = told["size_m"]
    lamp.energy = told["energy"]
    lamp.spread = np.pi
    thing = bpy.data.objects.new(name, lamp)
    thing.matrix_world = mathutils.Matrix(told["matrix"])
    bpy.context.scene.collection.objects.link(thing)


def camera_object(told):
    """The same thin lens."""
    camera = bpy.data.cameras.new("camera")
    camera.sensor_fit = "HORIZONTAL"
    camera.lens, camera.sensor_width = 1e3 * told["focal_m"], 1e3 * told["film_m"]
    camera.dof.use_dof = True
    camera.dof.focus_distance = told["focus_m"]
    camera.dof.aperture_fstop = told["f_number"]
    camera.clip_start = 0.01
    thing = bpy.data.objects.new("camera", camera)
    thing.matrix_world = mathutils.Matrix(told["matrix"])
    bpy.context.scene.collection.objects.link(thing)
    bpy.context.scene.camera = thing


def settings(size_px, bounces):
    """As for truth: nothing that bends the mean; all else as it comes (light tree on)."""
    scene = bpy.context.scene
    scene.render.engine = "CYCLES"
    scene.render.resolution_x, scene.render.resolution_y = size_px
    scene.render.resolution_percentage = 100
    scene.render.threads_mode, scene.render.threads = "FIXED", 1
    scene.render.use_persistent_data = True  # so that later renders build nothing again
    scene.render.image_settings.file_format = "OPEN_EXR"
    scene.render.image_settings.color_depth = "32"
    scene.render.use_compositing = scene.render.use_sequencer = False
    cycles = scene.cycles
    cycles.device = "CPU"
    cycles.use_adaptive_sampling = cycles.use_denoising = False
    cycles.sample_clamp_direct = cycles.sample_clamp_indirect = 0.0
    cycles.blur_glossy = 0.0
    cycles.use_fast_gi = False
    cycles.pixel_filter_type = "BOX"
    for kind in ("max", "diffuse", "glossy", "transmission"):
        setattr(cycles, f"{kind}_bounces", bounces)
    scene.world = bpy.data.worlds.new("black")
    scene.world.use_nodes = True
    scene.world.node_tree.nodes["Background"].inputs["Strength"].default_value = 0.0


def render(samples, seed, folder):
    """One picture (h, w, 3), row 0 on top, and the processor time of its render [s]."""
    scene = bpy.context.scene
    scene.cycles.samples, scene.cycles.seed = samples, seed
    start = time.process_time()
    bpy.ops.render.render(write_still=False)
    spent = time.process_time() - start
    file = str(Path(folder) / "picture.exr")
    bpy.data.images["Render Result"].save_render(file)
    read = bpy.data.images.load(file)
    width, height = read.size
    pixels = np.empty(width * height * read.channels, np.float32)
    read.pixels.foreach_get(pixels)
    bpy.data.images.remove(read)
    return pixels.reshape(height, width, -1)[::-1, :, :3].copy(), spent


def built(about, data, size_px):
    """The whole set."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    for k, told in enumerate(about["parts"]):
        mesh_object(f"part_{k}", data, k, told)
    for k, told in enumerate(about["lights"]):
        light_object(f"light_{k}", told)
    camera_object(about["camera"])
    settings(size_px, about["bounces"])


def main():
    """Build the set, render it again and again, write pictures and times."""
    source, target, *numbers = sys.argv[1:6]
    width, height, samples = map(int, numbers)
    with np.load(source) as file:
        data = dict(file)
    built(json.loads(str(data["about"])), data, (width, height))
    made = []
    with tempfile.TemporaryDirectory() as folder:
        render(1, WARMING, folder)  # builds what later ones keep
        start_s = min(render(1, WARMING + k, folder)[1] for k in range(1, 4))
        for seed in sys.stdin:
            made.append(render(samples, int(seed), folder))
            print("rendered", int(seed), flush=True)
    np.savez(
        target,
        pictures=np.array([picture for picture, _ in made]),
        processor_s=np.array([spent for _, spent in made]),
        start_s=start_s,  # of a picture of one sample: what a render costs beyond its samples
        version=bpy.app.version_string,
        light_tree=bpy.context.scene.cycles.use_light_tree,
    )


if __name__ == "__main__":
    main()
