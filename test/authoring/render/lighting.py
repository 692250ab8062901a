"""Lights, sky and camera. Kelvin and watts stay apart: the black body colour has a luminance of about 1.

Every light is noted in RECORD, which becomes the `lights` of truth.json.
"""
import math
import bpy
from mathutils import Vector

RECORD = []


def _lamp(name, kind, kelvin, energy, unit, at, aim=None, shown=True, **settings):
    data = bpy.data.lights.new(name, kind)
    data.energy = energy
    data.use_nodes = True
    tree = data.node_tree
    body = tree.nodes.new('ShaderNodeBlackbody')
    body.inputs['Temperature'].default_value = kelvin
    tree.links.new(body.outputs[0], tree.nodes['Emission'].inputs['Color'])
    for key, value in settings.items():
        setattr(data, key, value)
    o = bpy.data.objects.new(name, data)
    o.location = at
    if aim is not None:
        # A lamp shines along its own -Z.
        o.rotation_euler = (Vector(aim) - Vector(at)).to_track_quat('-Z', 'Y').to_euler()
    o.visible_camera = shown
    bpy.context.collection.objects.link(o)
    RECORD.append({'name': name, 'kind': kind.lower(), 'kelvin': kelvin, 'energy': energy, 'unit': unit,
                   'at': [round(v, 3) for v in at]})
    return o


def panel(name, kelvin, watts, at, aim, size, shown=False):
    """Rectangular area light; hidden from the camera but left to reflections, which sell the glaze."""
    return _lamp(name, 'AREA', kelvin, watts, 'W', at, aim, shown, shape='RECTANGLE', size=size[0], size_y=size[1])


def point(name, kelvin, watts, at, radius=0.03):
    return _lamp(name, 'POINT', kelvin, watts, 'W', at, shadow_soft_size=radius)


def spot(name, kelvin, watts, at, angle=105, radius=0.03):
    return _lamp(name, 'SPOT', kelvin, watts, 'W', at, (at[0], at[1], 0), spot_size=math.radians(angle),
                 spot_blend=0.6, shadow_soft_size=radius)


def sun(kelvin, strength, direction, degrees=0.8):
    """`strength` in W/m2 across the beam; `direction` is the way the light travels."""
    at = Vector((0, 0, 5))
    return _lamp('sun', 'SUN', kelvin, strength, 'W/m2', tuple(at), tuple(at + Vector(direction)), angle=math.radians(degrees))


def portal(at, aim, size):
    """Guides the sky's light through a window; emits nothing."""
    o = panel('portal', 6500, 1, at, aim, size)
    o.data.cycles.is_portal = True
    RECORD.pop()


def sky(strength, elevation=42.0):
    """Clear sky without its sun."""
    world = bpy.context.scene.world or bpy.data.worlds.new('World')
    bpy.context.scene.world = world
    world.use_nodes = True
    n = world.node_tree.nodes.new('ShaderNodeTexSky')
    n.sky_type, n.sun_disc, n.sun_elevation = 'NISHITA', False, math.radians(elevation)
    background = world.node_tree.nodes['Background']
    world.node_tree.links.new(n.outputs[0], background.inputs['Color'])
    background.inputs['Strength'].default_value = strength
    RECORD.append({'name': 'sky', 'kind': 'nishita', 'strength': strength, 'elevation': elevation})


def night(strength=0.0004, colour=(0.35, 0.5, 1.0)):
    world = bpy.context.scene.world or bpy.data.worlds.new('World')
    bpy.context.scene.world = world
    world.use_nodes = True
    background = world.node_tree.nodes['Background']
    background.inputs['Color'].default_value = (*colour, 1)
    background.inputs['Strength'].default_value = strength
    RECORD.append({'name': 'night sky', 'kind': 'flat', 'strength': strength, 'colour': list(colour)})


def camera(at, turn=0.0, lens=21.5, shift=(0.0, 0.0), aim=None, roll=0.0):
    """Level camera, `turn` degrees to the right of +y, so that verticals stay vertical; or aimed at a point."""
    data = bpy.data.cameras.new('camera')
    data.lens, data.sensor_width, data.clip_start = lens, 36.0, 0.02
    data.shift_x, data.shift_y = shift
    o = bpy.data.objects.new('camera', data)
    o.location = at
    if aim is not None:
        q = (Vector(aim) - Vector(at)).to_track_quat('-Z', 'Y')
        o.rotation_euler = q.to_euler()
        o.rotation_euler.rotate_axis('Z', math.radians(roll))
    else:
        o.rotation_euler = (math.radians(90), 0, math.radians(-turn))
    bpy.context.collection.objects.link(o)
    bpy.context.scene.camera = o
    return o
