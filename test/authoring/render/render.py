"""Render one scene to scene-linear passes. Run inside Blender:

    blender -b --factory-startup --python-exit-code 1 -P render.py -- scene=kitchen-day samples=32 round=1 scale=1 out=DIR

Writes DIR/<scene>/<round>/<pass>.exr (32 bit, Rec.709 primaries, D65 white) and DIR/<scene>/scene.json with materials,
lights and the projected corners of boards. Rounds differ in the seed only, so that a picture can be improved later by
one more round; develop.py averages them. `scale` shrinks the picture for look development.
"""
import json
import os
import sys
import time

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import bpy  # noqa: E402
import boards  # noqa: E402
import inspiration  # noqa: E402
import kitchen  # noqa: E402
import lighting  # noqa: E402
from bpy_extras.object_utils import world_to_camera_view  # noqa: E402
from materials import SURFACES, granite, marble  # noqa: E402
from mathutils import Vector  # noqa: E402
from paints import named  # noqa: E402

ROOM = (1600, 1067)
SCENES = {
    'kitchen-day': (ROOM, lambda: kitchen.build('day')),
    'kitchen-lamp': (ROOM, lambda: kitchen.build('lamp')),
    'kitchen-day-green': (ROOM, lambda: kitchen.build('day', named('Deep Lock'))),
    'kitchen-day-blue': (ROOM, lambda: kitchen.build('day', (27, 1, -21))),
    'kitchen-day-white': (ROOM, lambda: kitchen.build('day', (92, -0.5, 3))),
    'inspiration': (ROOM, inspiration.build),
    'board': ((1400, 950), boards.sample_board),
    'slab-busy': ((1200, 800), lambda: boards.slab(granite('stone', **kitchen.GRANITE, shift=2.0), veil=True)),
    'slab-calm': ((1200, 800), lambda: boards.slab(granite('stone', **kitchen.GRANITE_CALM, shift=2.0), veil=False)),
    'slab-veined': ((1200, 800), lambda: boards.slab(marble('stone', *kitchen.VEINED), veil=False)),
    'tile-ring': ((1200, 800), lambda: boards.patterned_tile(*kitchen.RING_TILE)),
}
PASSES = {  # render layer socket -> file
    'Image': 'image', 'Depth': 'depth', 'Normal': 'normal',
    'DiffCol': 'diff_col', 'DiffDir': 'diff_dir', 'DiffInd': 'diff_ind',
    'GlossCol': 'gloss_col', 'GlossDir': 'gloss_dir', 'GlossInd': 'gloss_ind',
    'TransCol': 'trans_col', 'TransDir': 'trans_dir', 'TransInd': 'trans_ind',
    'Emit': 'emit', 'Env': 'env',
}


def settings(size, scale, samples, seed):
    s = bpy.context.scene
    s.render.engine = 'CYCLES'
    s.render.resolution_x, s.render.resolution_y = (round(v * scale) for v in size)
    c = s.cycles
    c.samples, c.seed = samples, seed
    # This build has no denoiser; adaptive sampling gains nothing indoors and makes pairs differ.
    c.use_denoising = c.use_adaptive_sampling = False
    c.max_bounces, c.diffuse_bounces, c.glossy_bounces, c.transmission_bounces = 6, 4, 3, 4
    c.sample_clamp_direct, c.sample_clamp_indirect = 0, 4
    c.caustics_reflective = c.caustics_refractive = False
    c.blur_glossy = 1
    v = s.view_settings
    s.view_settings.view_transform, v.look, v.exposure, v.gamma = 'Standard', 'None', 0, 1


def outputs(folder):
    s, layer = bpy.context.scene, bpy.context.view_layer
    for name in ('z', 'normal', 'diffuse_color', 'diffuse_direct', 'diffuse_indirect', 'glossy_color', 'glossy_direct',
                 'glossy_indirect', 'transmission_color', 'transmission_direct', 'transmission_indirect', 'emit', 'environment'):
        setattr(layer, f'use_pass_{name}', True)
    for surface in SURFACES:
        aov = layer.aovs.add()
        aov.name, aov.type = surface, 'VALUE'
    s.use_nodes = True
    tree = s.node_tree
    tree.nodes.clear()
    layers = tree.nodes.new('CompositorNodeRLayers')
    file = tree.nodes.new('CompositorNodeOutputFile')
    file.base_path = folder
    file.format.file_format, file.format.color_depth, file.format.exr_codec = 'OPEN_EXR', '32', 'ZIP'
    file.file_slots.clear()
    for socket, name in [*PASSES.items(), *((surface, f'mask-{surface}') for surface in SURFACES)]:
        file.file_slots.new(name + '_')
        tree.links.new(layers.outputs[socket], file.inputs[-1])


def project(points):
    """World points (m) -> pixel coordinates, origin at the top left corner."""
    s = bpy.context.scene
    w, h = s.render.resolution_x, s.render.resolution_y
    uv = [world_to_camera_view(s, s.camera, Vector(p)) for p in points]
    return [[round(c.x * w, 2), round((1 - c.y) * h, 2)] for c in uv]


def main():
    a = dict(p.split('=', 1) for p in sys.argv[sys.argv.index('--') + 1:])
    name, folder = a['scene'], os.path.join(a['out'], a['scene'])
    size, build = SCENES[name]
    os.makedirs(folder, exist_ok=True)
    for o in list(bpy.data.objects):
        bpy.data.objects.remove(o)
    samples = int(a.get('samples', 32))
    number = a.get('round', '1')
    settings(size, float(a.get('scale', 1)), samples, 10 + int(number))
    marks = build() or {}
    outputs(os.path.join(folder, number))
    bpy.context.view_layer.update()
    start = time.time()
    bpy.ops.render.render()
    spent = round(time.time() - start, 1)
    # Blender appends the frame number to every slot.
    written = os.path.join(folder, number)
    for f in os.listdir(written):
        if f.endswith('_0001.exr'):
            os.replace(os.path.join(written, f), os.path.join(written, f.replace('_0001', '')))
    scene = {
        'samples per round': samples, 'seconds per round': spent, 'width': bpy.context.scene.render.resolution_x,
        'height': bpy.context.scene.render.resolution_y,
        'materials': [{'name': mat.name, 'surface': mat.get('surface'),
                       'tones': [list(mat['albedo'][i:i + 3]) for i in range(0, len(mat['albedo']), 3)],
                       'roughness': round(mat.node_tree.nodes['Principled BSDF'].inputs['Roughness'].default_value, 3),
                       'metallic': mat.node_tree.nodes['Principled BSDF'].inputs['Metallic'].default_value == 1}
                      for mat in bpy.data.materials if 'albedo' in mat.keys() and len(mat['albedo'])],
        'lights': lighting.RECORD,
        'marks': {key: project(points) for key, points in marks.items()},
    }
    with open(os.path.join(folder, 'scene.json'), 'w') as out:
        json.dump(scene, out, indent=1)
    print(f'RENDERED {name} {spent} s')


main()
