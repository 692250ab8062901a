"""Close-ups: the painted sample board, stone slabs and a patterned tile. Metres; the subject lies on z 0 seen from above."""
import math
import bpy
import furnishings as life
import lighting
import materials as m
from paints import PAINTS, PAPER, lab_to_linear
from mathutils import Matrix, Vector
from parts import Model

BIRCH = ((73, 5, 17), (78, 4, 17), (82, 3, 16))


def brushed(name, lab):
    """Paint laid on with a brush along local y."""
    g = m.Graph(name, 'cabinets', [lab], Base_Color=lab_to_linear(lab), Roughness=0.45, Specular=0.4)
    streaks = g.noise(g.coordinates((420, 9, 1), vary=3), 1, 2)
    g.bump(streaks, 0.0009, 0.8)
    return g.material


def strip(f, paint, x, y, z=0.0004, rough=0.0008):
    """Painted rectangle with brush-rough long edges (sd `rough`) and ragged ends."""
    r, n = f.random, 60
    left, right, drift_l, drift_r = [], [], 0.0, 0.0
    for k in range(n + 1):
        at = y[0] + (y[1] - y[0]) * k / n
        drift_l, drift_r = (0.8 * d + r.gauss(0, rough * 0.6) for d in (drift_l, drift_r))
        left.append((x[0] + drift_l, at, z))
        right.append((x[1] + drift_r, at, z))
    m_, long_b, long_t = 64, r.uniform(0, 6), r.uniform(0, 6)

    def ragged(s, phase):
        return rough * (1.6 * math.sin(9 * s + phase) + 1.2 * math.sin(23 * s + 2 * phase)) + r.gauss(0, rough * 1.1)
    bottom = [(x[0] + (x[1] - x[0]) * k / m_, y[0] + ragged(k / m_, long_b), z) for k in range(1, m_)]
    top = [(x[1] - (x[1] - x[0]) * k / m_, y[1] + ragged(k / m_, long_t), z) for k in range(1, m_)]
    outline = [left[0], *bottom, *right, *top, *reversed(left[1:])]
    f.add(paint, outline, [tuple(range(len(outline)))])


def text(f, material, words, at, size, turn=0.0):
    curve = bpy.data.curves.new('note', 'FONT')
    curve.body, curve.size, curve.align_x = words, size, 'CENTER'
    curve.materials.append(material)
    o = bpy.data.objects.new('note', curve)
    o.matrix_world = f.matrix @ Matrix.Translation(at) @ Matrix.Rotation(math.radians(turn), 4, 'Z')
    bpy.context.collection.objects.link(o)


def brush(f, hair, iron, lacquer):
    """Flat brush 45 mm wide lying along local x, bristles towards -x."""
    r = f.random
    for _ in range(420):
        y, z = r.uniform(-0.0205, 0.0205), r.uniform(0.002, 0.0125)
        f.rod(hair, (-0.034, y, z), (-0.088 + abs(y) * 0.25 + r.gauss(0, 0.0015), y * 0.93, 0.004 + z * 0.3), 0.0006, 5, 0.0003)
    f.box(iron, (-0.037, 0.008), (-0.022, 0.022), (0.001, 0.0145), 0.003)
    plan = [(0.008, 0.020), (0.030, 0.019), (0.048, 0.010), (0.075, 0.0075), (0.115, 0.010), (0.150, 0.0115), (0.162, 0.007)]
    lying = f.leaning(0, 0, 0, 90)
    lying.prism(lacquer, [*((x, -y) for x, y in plan), *((x, y) for x, y in reversed(plan))], (-0.0135, -0.002), 0.004)


def corners(x, y, z=0.0005):
    """Clockwise from the top left as the camera sees them."""
    return [(x[0], y[1], z), (x[1], y[1], z), (x[1], y[0], z), (x[0], y[0], z)]


def sample_board():
    """Seven strips on plywood and a white card, window light from the left, a lamp at the right."""
    model = Model(77)
    f = model.frame()
    ply = m.wood('plywood', BIRCH, 'wood', axis=0, roughness=0.55, spread=0.03, fineness=1.8)
    edge = m.wood('plywood edge', ((45, 10, 24), (58, 9, 25), (70, 7, 23)), None, axis=0, fineness=4)
    table = m.wood('work table', ((28, 6, 12), (36, 7, 15), (43, 7, 17)), None, axis=0, roughness=0.5, fineness=3.0)
    pencil = m.paint('pencil', (30, 0, 1), None, 0.6, 0.3)
    tape = m.paint('masking tape', (78, 2, 24), None, 0.7, 0.2)
    iron = m.metal('ferrule', (0.6, 0.6, 0.58), 0.3, None)
    lacquer = m.paint('brush handle', (36, 30, 22), None, 0.25, 0.5)
    hair = m.paint('bristles', (24, 4, 9), None, 0.8, 0.2)
    card = m.neutral('white card', PAPER)

    w, h = 0.73, 0.45
    f.box(edge, (-w / 2, w / 2), (-h / 2, h / 2), (-0.012, -0.0008), None)
    f.box(ply, (-w / 2, w / 2), (-h / 2, h / 2), (-0.0009, 0), 0.0004)
    for k in range(-4, 5):
        f.box(table, (-1.2, 1.2), (k * 0.19 - 0.095, k * 0.19 + 0.0935), (-0.03, -0.0121), 0.002)
    marks = {}
    wide, gap, y = 0.084, 0.0155, (-0.118, 0.172)
    x = -(7 * wide + 6 * gap) / 2
    for maker, code, name, lab in PAINTS:
        strip(f, brushed(name, lab), (x, x + wide), y)
        marks[code] = corners((x, x + wide), y)
        text(f, pencil, code, (x + wide / 2, y[1] + 0.014, 0.0004), 0.0165, f.random.uniform(-1.5, 1.5))
        x += wide + gap
    cx, cy = (0.135, 0.275), (-0.212, -0.134)
    f.box(card, cx, cy, (0.0, 0.0008), 0.0003)
    marks['card'] = corners(cx, cy, 0.0008)
    # Tape, brush and pencil say that someone works here.
    f.box(tape, (-0.325, -0.20), (-0.196, -0.171), (0.0, 0.0004), None, (0, 0, 4))
    text(f, pencil, 'canal flat, kitchen', (-0.262, -0.188, 0.0006), 0.0135, 4)
    brush(f.at(-0.085, -0.172, 0.0, 8), hair, iron, lacquer)
    model.build()
    lighting.camera((0.0, -0.10, 0.86), aim=(0, -0.012, 0), lens=37, roll=1.2)
    lighting.panel('window', 5600, 28, (-1.3, 0.85, 1.35), (0.1, 0, 0), (1.3, 1.2))
    lighting.point('lamp', 2900, 2.2, (0.75, -0.15, 0.62), 0.06)
    lighting.night(0.05, (0.9, 1.0, 1.1))
    return marks


def close_up(model, f):
    """A white card at the lower right and the camera 0.6 m above; gives the card's corners."""
    card, x, y = m.neutral('white card', PAPER), (0.215, 0.305), (-0.165, -0.108)
    g = f.at((x[0] + x[1]) / 2, (y[0] + y[1]) / 2, 0, 5)
    w, h = (x[1] - x[0]) / 2, (y[1] - y[0]) / 2
    g.box(card, (-w, w), (-h, h), (0, 0.0009), 0.0003)
    model.build()
    lighting.camera((0.0, -0.12, 0.60), aim=(0, 0, 0), lens=31)
    return {'card': [tuple(g.matrix @ Vector(c)) for c in corners((-w, w), (-h, h), 0.0009)]}


def soft_window():
    lighting.panel('window', 6300, 15, (-1.35, -0.35, 0.95), (0, 0, 0), (0.9, 0.8))


def slab(stone, veil):
    """A slab of `stone` with a white card. `veil` lays the window's reflection over part of the picture."""
    model = Model(31)
    f = model.frame()
    f.box(stone, (-0.6, 0.6), (-0.4, 0.4), (-0.03, 0), 0.003)
    marks = close_up(model, f)
    if veil:
        # Two sashes with a bar between them, so that the veil is seen to be a window.
        for k, (x, y) in enumerate(((-1.02, 0.50), (-0.52, 0.98))):
            lighting.panel(f'window sash {k + 1}', 5800, 9, (x, y, 1.05), (x + 0.75, y - 0.75, 0.0), (0.62, 1.15))
    else:
        soft_window()
    lighting.night(0.10, (0.95, 1.0, 1.05))
    return marks


def patterned_tile(ground, figure):
    """Square tiles of 100 mm with a quarter ring in two corners, turned in fours so that the rings close."""
    model = Model(53)
    f = model.frame()
    side, joint, rise = 0.1, 0.0025, 0.0002
    base = m.tile('tile ground', ground, spread=0.03, roughness=0.3)
    ring = m.tile('tile figure', figure, spread=0.03, roughness=0.3)
    f.box(m.paint('grout', (78, 0.3, 5), 'backsplash', 0.9, 0.1), (-0.6, 0.6), (-0.4, 0.4), (-0.03, -0.001), None)
    half = (side - joint) / 2

    def arc(radius, from_x, from_y, signs):
        return [(from_x + signs[0] * radius * math.cos(t), from_y + signs[1] * radius * math.sin(t))
                for t in (math.pi / 2 * k / 24 for k in range(25))]
    for i in range(-6, 6):
        for k in range(-4, 4):
            x, y = (i + 0.5) * side, (k + 0.5) * side
            f.box(base, (x - half, x + half), (y - half, y + half), (-0.006, 0), 0.0006)
            turned = 1 if (i + k) % 2 else -1
            for at in (1, -1):
                corner, signs = (x - at * half, y - at * turned * half), (at, at * turned)
                outer, inner = arc(0.062, *corner, signs), arc(0.034, *corner, signs)
                loop = [*outer, *reversed(inner)]
                if signs[0] * signs[1] < 0:
                    loop.reverse()
                f.add(ring, [(px, py, rise) for px, py in loop], [tuple(range(len(loop)))])
    marks = close_up(model, f)
    soft_window()
    lighting.night(0.10, (0.95, 1.0, 1.05))
    return marks
