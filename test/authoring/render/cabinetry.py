"""Cabinets, counters and hoods in a wall's frame. Metres; fronts towards -y."""
from dataclasses import dataclass
import bpy

TOE, BASE, SLAB, OVERHANG = 0.10, 0.88, 0.034, 0.032
COUNTER = BASE + SLAB


@dataclass
class Style:
    """What one kitchen's cabinets are made of; `door` is 'shaker' or 'slab', `pull` 'bar' or 'knob'."""
    paint: bpy.types.Material
    metal: bpy.types.Material
    dark: bpy.types.Material
    door: str = 'shaker'
    pull: str = 'bar'
    base_depth: float = 0.60
    upper_depth: float = 0.34


def bar(f, metal, x, z, y, upright, length=0.19):
    """Bar handle centred on (x, z), standing 32 mm off the door face y."""
    half, out = length / 2, y - 0.032
    ends = [(x, z - half), (x, z + half)] if upright else [(x - half, z), (x + half, z)]
    f.rod(metal, (ends[0][0], out, ends[0][1]), (ends[1][0], out, ends[1][1]), 0.0055)
    for s in (0.16, 0.84):
        px, pz = (a + (b - a) * s for a, b in zip(*ends))
        f.rod(metal, (px, y + 0.001, pz), (px, out, pz), 0.0045, 12)


def knob(f, metal, x, z, y):
    f.lathe(metal, [(0.006, 0), (0.006, 0.012), (0.016, 0.016), (0.017, 0.024), (0.012, 0.028), (0.0, 0.029)],
            (x, y, z), 20, tilt=(90, 0, 0))


def door(f, style, x, z, y, pull=None, material=None):
    """One front over the ranges x, z standing on the carcass plane y. `pull` is 'left', 'right', 'top', 'low' or None."""
    gap, thick = 0.002, 0.022
    y = y + f.random.uniform(-0.0006, 0.0006)
    (x0, x1), (z0, z1) = (x[0] + gap, x[1] - gap), (z[0] + gap, z[1] - gap)
    m = material or style.paint
    rail = 0.062 if z1 - z0 > 0.24 else 0.045
    if style.door == 'slab':
        f.box(m, (x0, x1), (y - thick, y), (z0, z1), 0.002)
    else:
        face = (y - thick, y)
        f.box(m, (x0, x0 + rail), face, (z0, z1), 0.0018)
        f.box(m, (x1 - rail, x1), face, (z0, z1), 0.0018)
        f.box(m, (x0 + rail, x1 - rail), face, (z0, z0 + rail), 0.0018)
        f.box(m, (x0 + rail, x1 - rail), face, (z1 - rail, z1), 0.0018)
        f.box(m, (x0 + rail - 0.002, x1 - rail + 0.002), (y - thick + 0.014, y), (z0 + rail - 0.002, z1 - rail + 0.002), None)
    if pull in ('left', 'right'):
        px = x0 + 0.035 if pull == 'left' else x1 - 0.035
        pz = z0 + 0.035 + 0.095 if z0 > 1.2 else z1 - 0.035 - 0.095
        if style.pull == 'bar':
            bar(f, style.metal, px, pz, y - thick, True)
        else:
            knob(f, style.metal, px, pz + (-0.08 if z0 > 1.2 else 0.08), y - thick)
    elif pull == 'top':
        pz = (z0 + z1) / 2 if z1 - z0 < 0.24 else z1 - rail / 2 if style.door == 'shaker' else z1 - 0.05
        if style.pull == 'bar':
            bar(f, style.metal, (x0 + x1) / 2, pz, y - thick, False)
        else:
            knob(f, style.metal, (x0 + x1) / 2, pz, y - thick)


def pair(f, style, x, z, y):
    middle = (x[0] + x[1]) / 2
    door(f, style, (x[0], middle), z, y, 'right')
    door(f, style, (middle, x[1]), z, y, 'left')


def oven(f, style, x, y, steel, glass):
    """Built-in oven below the counter: glass door, steel strip with two knobs, bar."""
    z0, z1 = TOE + 0.02, BASE - 0.02
    f.box(steel, (x[0] + 0.004, x[1] - 0.004), (y - 0.02, y), (z1 - 0.11, z1), 0.002)
    f.box(glass, (x[0] + 0.004, x[1] - 0.004), (y - 0.024, y), (z0, z1 - 0.115), 0.003)
    f.rod(steel, (x[0] + 0.05, y - 0.062, z1 - 0.17), (x[1] - 0.05, y - 0.062, z1 - 0.17), 0.009)
    for px in (x[0] + 0.09, x[1] - 0.09):
        f.rod(steel, (px, y - 0.02, z1 - 0.17), (px, y - 0.062, z1 - 0.17), 0.007)
        f.rod(steel, (px, y - 0.02, z1 - 0.055), (px, y - 0.045, z1 - 0.055), 0.018)


def base_run(f, style, units, start=0.0, steel=None, glass=None):
    """Base cabinets from x `start`: `units` is a list of (width, kind). Returns the end x."""
    y, x = -style.base_depth, start
    for width, kind in units:
        span = (x, x + width)
        f.box(style.paint, span, (y, 0), (TOE, BASE), None)
        f.box(style.dark, span, (y + 0.07, 0), (0, TOE), None)
        if kind == 'drawers':
            for z0, z1 in ((TOE, 0.40), (0.40, 0.70), (0.70, BASE)):
                door(f, style, span, (z0, z1), y, 'top')
        elif kind == 'doors':
            pair(f, style, span, (TOE, BASE), y)
        elif kind == 'drawer+doors':
            pair(f, style, span, (TOE, 0.70), y)
            middle = x + width / 2
            door(f, style, (x, middle), (0.70, BASE), y, 'top')
            door(f, style, (middle, x + width), (0.70, BASE), y, 'top')
        elif kind in ('left', 'right'):
            door(f, style, span, (TOE, 0.70), y, kind)
            door(f, style, span, (0.70, BASE), y, 'top')
        elif kind == 'oven':
            oven(f, style, span, y, steel, glass)
        elif kind == 'panel':
            door(f, style, span, (TOE, BASE), y, 'top')
        x += width
    return x


def counter(f, stone, x, depth=0.60, sink=None, steel=None, upstand=0.0, front=OVERHANG, thick=SLAB):
    """Stone over the range x; `sink` is the (x low, x high) of an undermounted bowl."""
    z, y0 = (BASE, BASE + thick), -depth - front
    if sink:
        a, b, back, lip = sink[0], sink[1], -0.12, -depth + 0.09
        f.box(stone, (x[0], a), (y0, 0), z, 0.003)
        f.box(stone, (b, x[1]), (y0, 0), z, 0.003)
        f.box(stone, (a, b), (y0, lip), z, 0.003)
        f.box(stone, (a, b), (back, 0), z, 0.003)
        bottom = BASE - 0.20
        f.box(steel, (a - 0.01, b + 0.01), (lip - 0.01, back + 0.01), (bottom - 0.004, bottom), None)
        for px in ((a - 0.012, a - 0.002), (b + 0.002, b + 0.012)):
            f.box(steel, px, (lip - 0.01, back + 0.01), (bottom, BASE), None)
        for py in ((lip - 0.012, lip - 0.002), (back + 0.002, back + 0.012)):
            f.box(steel, (a, b), py, (bottom, BASE), None)
    else:
        f.box(stone, x, (y0, 0), z, 0.003)
    if upstand:
        f.box(stone, x, (-0.02, 0), (COUNTER, COUNTER + upstand), 0.002)


def uppers(f, style, units, start, z=(1.42, 2.30), cornice=0.06, cornice_material=None):
    """Wall cabinets from x `start`; `units` is a list of (width, handle side or 'pair')."""
    y, x = -style.upper_depth, start
    total = sum(w for w, _ in units)
    f.box(style.paint, (x, x + total), (y, 0), z, None)
    for width, side in units:
        if side == 'pair':
            pair(f, style, (x, x + width), z, y)
        else:
            door(f, style, (x, x + width), z, y, side)
        x += width
    if cornice:
        m = cornice_material or style.paint
        f.box(m, (start, start + total), (y - 0.045, 0.0), (z[1], z[1] + cornice * 0.45), 0.004)
        f.box(m, (start, start + total), (y - 0.07, 0.0), (z[1] + cornice * 0.45, z[1] + cornice), 0.006)
    f.box(style.paint, (start, start + total), (y - 0.018, y + 0.004), (z[0] - 0.028, z[0] + 0.0), 0.002)


def tall(f, style, x, top=2.30, split=1.42, cornice=0.06, sides=('right', 'right')):
    """Pantry: two doors, one above the other."""
    y = -style.base_depth
    f.box(style.paint, x, (y, 0), (TOE, top), None)
    f.box(style.dark, x, (y + 0.07, 0), (0, TOE), None)
    door(f, style, x, (TOE, split), y, sides[0])
    door(f, style, x, (split, top), y, sides[1])
    if cornice:
        f.box(style.paint, (x[0], x[1] + 0.0), (y - 0.045, 0), (top, top + cornice * 0.45), 0.004)
        f.box(style.paint, (x[0], x[1] + 0.0), (y - 0.07, 0), (top + cornice * 0.45, top + cornice), 0.006)


def hood(f, plaster, band, x, z0, top, depth=0.48, neck=0.30):
    """Plastered hood narrowing upwards, with a straight band along its lower edge."""
    c, w = (x[0] + x[1]) / 2, (x[1] - x[0]) / 2
    f.box(band, x, (-depth, 0), (z0, z0 + 0.10), 0.003)
    low, high = z0 + 0.10, top
    in0, in1 = w - 0.012, neck
    d0, d1 = -depth + 0.012, -0.30
    v = [(c - in0, d0, low), (c + in0, d0, low), (c + in0, 0, low), (c - in0, 0, low),
         (c - in1, d1, high), (c + in1, d1, high), (c + in1, 0, high), (c - in1, 0, high)]
    f.add(plaster, v, [(0, 1, 5, 4), (1, 2, 6, 5), (3, 0, 4, 7), (3, 2, 1, 0), (4, 5, 6, 7)], 0.006)


def island(f, style, stone, width, depth, panels=3, overhang=0.26, front=None, waterfall=False):
    """Island from x 0..width, y -depth..0 (m); panels face -y under a counter that overhangs for stools."""
    m = front or style.paint
    f.box(m, (0, width), (-depth, 0), (TOE, BASE), None)
    f.box(style.dark, (0.05, width - 0.05), (-depth + 0.06, -0.06), (0, TOE), None)
    for k in range(panels):
        door(f, style, (width * k / panels, width * (k + 1) / panels), (TOE, BASE), -depth, None, m)
    # End panels turn the corner: a frame of their own, so that the shaker rails are real there too.
    door(f.at(width, -depth, 0, 90), style, (0.0, depth), (TOE, BASE), 0.0, None, m)
    door(f.at(0, 0, 0, -90), style, (0.0, depth), (TOE, BASE), 0.0, None, m)
    f.box(stone, (-0.05, width + 0.05), (-depth - overhang, 0.04), (BASE, COUNTER + 0.004), 0.003)
    if waterfall:
        for px in ((-0.05, -0.012), (width + 0.012, width + 0.05)):
            f.box(stone, px, (-depth - overhang, 0.04), (0, BASE), 0.003)
