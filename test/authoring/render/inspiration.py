"""The inspiration picture: another house by another designer. One long wall, a block of oak, an arch; no window in view."""
import math
import cabinetry
import furnishings as life
import lighting
import materials as m
from cabinetry import COUNTER, Style
from parts import Model, room, tiles

WIDTH, DEPTH, HEIGHT = 5.6, 4.6, 2.75
DEEP_GREEN, CLAY, BRICK = (30, -13, 5), (70, 10, 16), (40, 27, 24)
SMOKED_OAK = ((40, 9, 21), (50, 10, 24), (58, 9, 25))


def build():
    p = dict(
        green=m.paint('deep green paint', DEEP_GREEN, 'cabinets', 0.38, 0.5, 0.06),
        wall=m.paint('clay wall paint', CLAY, 'walls', 0.75, 0.2),
        ceiling=m.paint('clay ceiling paint', (90, 2, 6), 'ceiling', 0.85, 0.2),
        marble=m.marble('veined marble', (90, 0, 2), (80, -0.5, 1), (48, 0, 3)),
        brick=m.tile('brick-red glaze', BRICK, spread=0.30, roughness=0.16),
        grout=m.paint('red grout', (55, 12, 14), 'backsplash', 0.9, 0.1),
        slate=m.tile('dark slate', (27, 0, -1), 'floor', spread=0.30, roughness=0.42),
        joint=m.paint('floor joint', (17, 0, 0), 'floor', 0.9, 0.1),
        oak=m.wood('smoked oak', SMOKED_OAK, 'wood', axis=2, spread=0.10, fineness=2.0),
        shelf=m.wood('smoked oak shelf', SMOKED_OAK, 'wood', axis=0, spread=0.06),
        iron=m.metal('burnished iron', (0.10, 0.095, 0.09), 0.38),
        copper=m.metal('copper', (0.80, 0.42, 0.26), 0.25),
        dark=m.paint('plinth', (12, 0, 0), None, 0.6, 0.3),
        glass=m.paint('hob glass', (5, 0, 0), None, 0.06, 0.6),
        opal=m.glow('opal globe', 3400, 1.25, 0.42),
        cream=m.paint('cream stoneware', (85, 1, 9), None, 0.35, 0.5),
        umber=m.paint('umber stoneware', (34, 9, 13), None, 0.45, 0.4),
        leaf=m.paint('olive leaf', (46, -10, 16), None, 0.5, 0.4),
        twig=m.paint('olive twig', (33, 6, 13), None, 0.8, 0.2),
        pear=m.paint('pear', (66, -9, 45), None, 0.45, 0.4),
        linen=m.paint('raw linen', (72, 3, 12), None, 0.95, 0.1),
        hall=m.paint('hall wall', (88, 1, 6), None, 0.8, 0.2),
        book=m.paint('ochre cloth', (60, 12, 45), None, 0.8, 0.2),
    )
    model = Model(4180)
    arch = (4.30, 5.22, 1.68)
    room(model, p['wall'], p['ceiling'], WIDTH, DEPTH, HEIGHT, arch=arch)
    floor(model, p)
    hall(model, p, arch)
    long_wall(model, p)
    block(model, p)
    model.build()
    lighting.camera((3.62, 0.34, 1.28), -19.0, 24.0, (0, -0.075))
    lights(arch)


def floor(model, p):
    f = model.frame()
    f.box(p['joint'], (0, WIDTH), (0, DEPTH + 2.4), (-0.03, -0.004), None)
    size = 0.6
    for i in range(math.ceil(WIDTH / size)):
        for j in range(math.ceil((DEPTH + 2.4) / size)):
            y = j * size + (size / 2 if i % 2 else 0) - 0.3
            f.box(p['slate'], (i * size + 0.002, (i + 1) * size - 0.002), (y + 0.002, y + size - 0.002),
                  (-0.02, f.random.uniform(-0.0006, 0)), 0.0016)


def hall(model, p, arch):
    f = model.frame((0, DEPTH + 0.2, 0))
    x0, x1 = arch[0] - 0.9, arch[1] + 0.9
    f.box(p['hall'], (x0, x1), (2.0, 2.1), (0, HEIGHT), None)
    f.box(p['hall'], (x0 - 0.1, x0), (0, 2.1), (0, HEIGHT), None)
    f.box(p['hall'], (x1, x1 + 0.1), (0, 2.1), (0, HEIGHT), None)
    f.box(p['ceiling'], (x0, x1), (0, 2.1), (HEIGHT, HEIGHT + 0.1), None)
    # A console with a vase gives the passage an end.
    f.box(p['shelf'], (4.25, 5.35), (1.66, 1.98), (0.76, 0.80), 0.003)
    for x in (4.30, 5.28):
        f.box(p['shelf'], (x, x + 0.04), (1.68, 1.96), (0, 0.76), 0.003)
    life.vase(f, p['umber'], p['twig'], p['leaf'], 4.72, 1.82, 0.80, 0.30, 8, 0.28)


def long_wall(model, p):
    f = model.frame((0, DEPTH, 0))
    s = Style(p['green'], p['iron'], p['dark'], door='slab', pull='knob')
    oak = Style(p['oak'], p['iron'], p['dark'], door='slab', pull='knob')
    end = 3.98
    # Tall oak block at the left: the fridge hides in it.
    f.box(p['oak'], (0, 1.26), (-0.62, 0), (cabinetry.TOE, 2.36), None)
    f.box(p['dark'], (0, 1.26), (-0.55, 0), (0, cabinetry.TOE), None)
    for x, pull in (((0.0, 0.63), 'right'), ((0.63, 1.26), 'left')):
        cabinetry.door(f, oak, x, (cabinetry.TOE, 1.66), -0.62, None)
        cabinetry.door(f, oak, x, (1.66, 2.36), -0.62, None)
        px = x[1] - 0.05 if pull == 'right' else x[0] + 0.05
        cabinetry.bar(f, p['iron'], px, 1.08, -0.64, True, 0.5)
    cabinetry.base_run(f, s, [(0.62, 'drawers'), (0.86, 'drawers'), (0.62, 'drawer+doors'), (0.62, 'drawers')], 1.26)
    f.box(p['green'], (end, end + 0.022), (-0.622, 0), (0, cabinetry.BASE), 0.002)
    cabinetry.counter(f, p['marble'], (1.262, end + 0.05), front=0.026)
    tiles(f, p['brick'], p['grout'], (1.264, end + 0.022), (COUNTER, 1.515), (0.24, 0.062), 0.004, 0.0, upright=True)
    cabinetry.uppers(f, oak, [(0.46, 'right'), (0.46, 'left')], 1.264, (1.52, 2.36), cornice=0)
    # Open shelf on iron brackets over the rest of the run.
    f.box(p['shelf'], (2.22, end + 0.02), (-0.27, 0), (1.52, 1.56), 0.003)
    f.box(p['shelf'], (2.22, end + 0.02), (-0.23, 0), (1.93, 1.965), 0.003)
    for x in (2.5, 3.1, 3.7):
        f.box(p['iron'], (x, x + 0.02), (-0.25, 0), (1.512, 1.519), 0.001)
        f.box(p['iron'], (x, x + 0.02), (-0.21, 0), (1.922, 1.929), 0.001)
    life.crockery(f, p['cream'], 2.44, -0.13, 1.561, 6, 0.115)
    life.bowls(f, p['umber'], 2.72, -0.13, 1.561, 3, 0.078)
    life.jar(f, p['cream'], p['shelf'], 2.96, -0.12, 1.561, 0.05, 0.14)
    life.jar(f, p['umber'], p['shelf'], 3.10, -0.12, 1.561, 0.055, 0.18)
    life.crockery(f, p['umber'], 3.38, -0.13, 1.561, 4, 0.10)
    life.bowls(f, p['cream'], 3.66, -0.13, 1.561, 4, 0.07)
    life.books(f, (p['book'], p['linen'], p['green']), p['cream'], 2.36, -0.02, 1.966, (0.035, 0.028, 0.04, 0.022, 0.03))
    life.vase(f, p['cream'], p['twig'], p['leaf'], 3.62, -0.12, 1.966, 0.17, 6, 0.18)
    life.jar(f, p['copper'], p['copper'], 2.86, -0.11, 1.966, 0.06, 0.13)
    hob = 2.32
    f.box(p['glass'], (hob - 0.29, hob + 0.29), (-0.55, -0.07), (COUNTER, COUNTER + 0.005), 0.002)
    f.lathe(p['copper'], [(0, 0), (0.10, 0), (0.104, 0.008), (0.104, 0.10), (0.107, 0.103), (0.098, 0.10), (0.096, 0.02)],
            (2.42, -0.22, COUNTER + 0.005), 48)
    f.rod(p['iron'], (2.50, -0.28, COUNTER + 0.095), (2.62, -0.40, COUNTER + 0.115), 0.008)
    life.chopping_board(f, p['oak'], 3.22, COUNTER, 0.24, 0.36, 10)
    life.jar(f, p['umber'], p['shelf'], 3.62, -0.2, COUNTER, 0.06, 0.20)
    life.jar(f, p['cream'], p['shelf'], 3.78, -0.24, COUNTER, 0.045, 0.12)
    life.jar(f, p['cream'], p['shelf'], 1.48, -0.2, COUNTER, 0.05, 0.17)
    f.box(p['cream'], (5.33, 5.41), (-0.012, 0), (1.08, 1.16), 0.002)


def block(model, p):
    """Island: a block of oak slats with a marble waterfall end, turned the long way to the camera."""
    f = model.frame((1.25, 2.98, 0))
    w, d = 1.95, 0.80
    f.box(p['oak'], (0.0, w), (-d, 0), (0.06, cabinetry.BASE), None)
    f.box(p['dark'], (0.04, w - 0.04), (-d + 0.04, -0.04), (0, 0.06), None)
    n = 39
    for k in range(n):
        x = w * (k + 0.5) / n
        f.box(p['oak'], (x - 0.018, x + 0.018), (-d - 0.020, -d), (0.06, cabinetry.BASE), 0.002)
    top = COUNTER + 0.012
    f.box(p['marble'], (-0.045, w + 0.045), (-d - 0.07, 0.05), (cabinetry.BASE, top), 0.003)
    for x in ((-0.045, -0.004), (w + 0.004, w + 0.045)):
        f.box(p['marble'], x, (-d - 0.07, 0.05), (0, cabinetry.BASE - 0.0005), 0.003)
    g = f.at(0.52, -0.42, top)
    life.lemons(g, p['umber'], p['pear'], 0, 0, 0, 0.17, 7)
    life.sheet(f, p['linen'], 1.30, -0.66, top + 0.001, (0.34, 0.46), 90, -24, 0.004)
    life.bowls(f, p['cream'], 1.32, -0.42, top + 0.006, 2, 0.085)
    life.jar(f, p['umber'], p['shelf'], 1.66, -0.34, top, 0.05, 0.17)
    q = model.frame()
    for k, drop in enumerate((1.82, 1.70, 1.94)):
        x, y = 1.72 + k * 0.5, 2.56
        life.globe(q, p['opal'], (x, y, drop), 0.095)
        q.rod(p['iron'], (x, y, drop + 0.09), (x, y, drop + 0.13), 0.022, 20)
        q.rod(p['iron'], (x, y, drop + 0.12), (x, y, HEIGHT), 0.0035, 10)
    q.box(p['iron'], (1.55, 2.9), (2.53, 2.59), (HEIGHT - 0.025, HEIGHT), 0.003)


def lights(arch):
    lighting.night(0.02, (0.9, 0.95, 1.0))
    lighting.panel('tall window left of the picture', 5900, 210, (0.08, 1.35, 1.55), (3.2, 2.6, 0.8), (1.5, 2.1))
    lighting.panel('second window behind the camera', 6100, 60, (3.4, 0.06, 1.6), (3.0, 5, 1.1), (2.4, 1.8))
    lighting.panel('hall daylight', 5600, 70, ((arch[0] + arch[1]) / 2 - 0.6, DEPTH + 0.5, 2.65), (4.9, DEPTH + 1.6, 0.3), (1.0, 0.5))
    lighting.panel('shelf strip', 2900, 5, (3.1, DEPTH - 0.2, 1.508), (3.1, DEPTH - 0.16, 0), (1.7, 0.012)).rotation_euler = (0, 0, 0)
