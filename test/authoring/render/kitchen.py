"""The sample job's room: the kitchen of a small canal-side flat, before the repaint. Metres."""
import cabinetry
import furnishings as life
import lighting
import materials as m
from cabinetry import COUNTER, Style
from paints import PAPER
from parts import Model, planks, room, tiles, window

WIDTH, DEPTH, HEIGHT = 4.7, 5.4, 2.62
WINDOW = (3.02, 4.38, 1.10, 2.28)  # y low, y high, z low, z high in the right wall
TIRED_BEIGE = (76, 3, 20)

GRANITE = dict(tones=((80, 0, 5), (70, 2, 9), (58, 4, 13), (46, 3, 9), (33, 2, 4), (74, 1, 6)), fleck=(17, 0.3, 1))
GRANITE_CALM = dict(tones=((63, -1, -2), (59, -1, -3), (57, -1, -2), (61, -1, -3), (55, -1, -3), (60, -1, -1)),
                    fleck=(50, -1, -3), grain=420.0, drift=0.12, fine=(0.93, 1.05), flecks=0.93)
VEINED = ((87, 0.5, 5), (79, 0.5, 5), (52, 2, 8))
RING_TILE = ((86, -1, 5), (47, -6, -8))
OAK = ((46, 8, 20), (57, 7, 21), (66, 5, 20))
WALNUT = ((26, 7, 12), (34, 9, 16), (43, 10, 19))


def palette(cabinets):
    """Materials by use. `cabinets` is CIELAB of the cabinet paint: the only thing the second render changes."""
    return dict(
        paint=m.paint('cabinet paint', cabinets, 'cabinets', 0.42, 0.5, 0.07),
        wall=m.paint('wall paint', (88, 0, 6), 'walls', 0.62, 0.3),
        ceiling=m.paint('ceiling paint', (94, 0, 2), 'ceiling', 0.8, 0.2),
        trim=m.paint('trim paint', (92, -0.3, 2.5), 'trim', 0.4, 0.5),
        stone=m.granite('busy granite', **GRANITE),
        glaze=m.tile('off-white glaze', (89, -0.4, 5), spread=0.12),
        grout=m.paint('grout', (78, 0.3, 5), 'backsplash', 0.9, 0.1),
        floor=m.wood('oak planks', OAK, 'floor', axis=1, roughness=0.40, fineness=1.6),
        brass=m.metal('brass', (0.78, 0.55, 0.26), 0.27),
        steel=m.metal('steel', (0.56, 0.56, 0.55), 0.26, None),
        oak=m.wood('oak board', OAK, 'wood', axis=2),
        walnut=m.wood('walnut', WALNUT, 'wood', axis=2),
        paper=m.neutral('white paper', PAPER),
        dark=m.paint('toe kick', (18, 0, 1), None, 0.6, 0.3),
        glass=m.paint('oven glass', (5, 0, 0), None, 0.06, 0.6),
        soot=m.paint('black iron', (16, 0, 0), None, 0.45, 0.4),
        white=m.paint('white glaze', (90, 0, 3), None, 0.18, 0.5),
        clay=m.paint('speckled clay', (63, 5, 14), None, 0.55, 0.3),
        blue=m.paint('blue clay', (44, -5, -14), None, 0.3, 0.5),
        peel=m.paint('lemon peel', (79, 4, 72), None, 0.38, 0.5),
        leaf=m.paint('leaf', (42, -16, 22), None, 0.45, 0.4),
        twig=m.paint('twig', (33, 7, 14), None, 0.8, 0.2),
        linen=m.paint('linen', (72, 2, 9), None, 0.95, 0.1),
        red=m.paint('book cloth', (38, 26, 20), None, 0.8, 0.2),
    )


def build(light='day', cabinets=TIRED_BEIGE):
    """`light` is 'day' or 'lamp'."""
    p = palette(cabinets)
    model = Model(1207)
    shell(model, p)
    back_run(model, p)
    pendants = island(model, p)
    window_run(model, p)
    left_wall(model, p)
    spots = ceiling_lights(model, p, light)
    model.build()
    lighting.camera((1.26, 0.30, 1.40), 16.5, 21.5, (0, -0.105))
    if light == 'day':
        daylight()
    else:
        lamplight(pendants, spots)


def shell(model, p):
    room(model, p['wall'], p['ceiling'], WIDTH, DEPTH, HEIGHT, opening=WINDOW)
    planks(model.frame(), p['floor'], (0, WIDTH), (0, DEPTH))
    f = model.frame((0, DEPTH, 0))
    b = model.frame((WIDTH, DEPTH, 0), -90)
    left = model.frame((0, 0, 0), 90)
    for g, x in ((left, (0, 4.77)), (b, (3.92, DEPTH))):
        g.box(p['trim'], x, (-0.018, 0), (0, 0.11), 0.004)
    for g, x in ((f, (0, WIDTH)), (b, (0, DEPTH)), (left, (0, DEPTH))):
        g.box(p['trim'], x, (-0.05, 0), (HEIGHT - 0.05, HEIGHT), 0.006)
        g.box(p['trim'], x, (-0.022, 0), (HEIGHT - 0.085, HEIGHT - 0.05), 0.006)


def back_run(model, p):
    f = model.frame((0, DEPTH, 0))
    s = Style(p['paint'], p['brass'], p['dark'])
    cabinetry.tall(f, s, (0.0, 0.64))
    cabinetry.base_run(f, s, [(0.62, 'drawers'), (0.74, 'drawer+doors'), (0.64, 'oven'), (0.74, 'drawers'), (0.70, 'left')],
                       0.64, p['steel'], p['glass'])
    cabinetry.counter(f, p['stone'], (0.64, WIDTH))
    hob = 2.32
    f.box(p['glass'], (hob - 0.30, hob + 0.30), (-0.56, -0.06), (COUNTER, COUNTER + 0.005), 0.002)
    cabinetry.uppers(f, s, [(0.60, 'right'), (0.60, 'left')], 0.64)
    cabinetry.uppers(f, s, [(0.45, 'right'), (0.45, 'left'), (0.90, 'pair')], 2.80)
    cabinetry.hood(f, p['wall'], p['oak'], (1.87, 2.77), 1.56, HEIGHT)
    tiles(f, p['glaze'], p['grout'], (0.64, WIDTH), (COUNTER, 1.42))
    tiles(f, p['glaze'], p['grout'], (1.84, 2.80), (1.423, 1.60))
    for x in (1.30, 3.55):
        life.socket(f, p['white'], x, 1.16)
    life.chopping_board(f, p['oak'], 3.05, COUNTER, 0.28, 0.40, 10)
    life.chopping_board(f, p['walnut'], 3.24, COUNTER, 0.22, 0.31, 15, -0.035)
    for k, (x, r, h) in enumerate(((0.86, 0.055, 0.19), (1.00, 0.05, 0.15), (1.125, 0.043, 0.115))):
        life.jar(f, p['white'], p['oak'], x, -0.16, COUNTER, r, h)
    life.jar(f, p['blue'], p['oak'], 1.62, -0.22, COUNTER, 0.06, 0.14)
    # Cooking pot with two ears on the hob.
    f.lathe(p['steel'], [(0, 0), (0.105, 0), (0.11, 0.01), (0.11, 0.13), (0.113, 0.133), (0.10, 0.14), (0.0, 0.155)],
            (2.44, -0.22, COUNTER + 0.005), 48)
    f.lathe(p['soot'], [(0.006, 0.15), (0.006, 0.165), (0.018, 0.172), (0.014, 0.185), (0, 0.187)], (2.44, -0.22, COUNTER + 0.005), 20)
    for side in (-1, 1):
        f.tube(p['steel'], [(2.44 + side * 0.108, -0.26, COUNTER + 0.11), (2.44 + side * 0.145, -0.22, COUNTER + 0.115),
                            (2.44 + side * 0.108, -0.18, COUNTER + 0.11)], 0.005)


def window_run(model, p):
    b = model.frame((WIDTH, DEPTH, 0), -90)
    s = Style(p['paint'], p['brass'], p['dark'])
    cabinetry.base_run(b, s, [(0.62, 'right'), (0.92, 'doors'), (0.60, 'panel'), (0.62, 'drawers'), (0.52, 'left')], 0.62)
    end = 0.62 + 0.62 + 0.92 + 0.60 + 0.62 + 0.52
    b.box(p['paint'], (end, end + 0.02), (-0.62, 0), (0, cabinetry.BASE), 0.002)
    cabinetry.counter(b, p['stone'], (0.632, end + 0.04), sink=(1.32, 2.06), steel=p['steel'])
    x0, x1 = DEPTH - WINDOW[1], DEPTH - WINDOW[0]
    window(b, p['trim'], (x0, x1), WINDOW[2:])
    tiles(b, p['glaze'], p['grout'], (0.008, x0 - 0.09), (COUNTER, 1.42))
    tiles(b, p['glaze'], p['grout'], (x0 - 0.087, x1 + 0.087), (COUNTER, WINDOW[2] - 0.032))
    tiles(b, p['glaze'], p['grout'], (x1 + 0.09, end + 0.03), (COUNTER, 1.42))
    life.faucet(b, p['brass'], 1.69, -0.075, COUNTER)
    life.vase(b, p['clay'], p['twig'], p['leaf'], 0.60, -0.26, COUNTER, 0.25, 8, 0.26)
    life.jar(b, p['soot'], p['brass'], 2.25, -0.12, COUNTER, 0.035, 0.15)
    life.bowls(b, p['white'], 2.62, -0.25, COUNTER)
    # Herbs on the sill.
    for x in (1.20, 1.42):
        b.lathe(p['clay'], [(0, 0), (0.04, 0), (0.055, 0.09), (0.058, 0.10), (0.05, 0.10), (0, 0.085)], (x, 0.03, WINDOW[2]), 32)
        for _ in range(34):
            r = b.random
            life.foliage(b, p['leaf'], (x + r.uniform(-.03, .03), 0.03 + r.uniform(-.03, .03), WINDOW[2] + r.uniform(.09, .2)),
                         r.uniform(0, 360), r.uniform(-50, 60), r.uniform(.03, .05))


def island(model, p):
    f = model.frame((0.80, 3.62, 0))
    s = Style(p['paint'], p['brass'], p['dark'])
    cabinetry.island(f, s, p['stone'], 1.80, 0.62)
    top = COUNTER + 0.004
    for x, turn in ((0.42, 10), (1.36, 32)):
        life.stool(f, p['walnut'], p['soot'], x, -0.98, 0.64, turn)
    # The white reference: copy paper leaning on a board, turned towards the window, and a second sheet lying flat.
    g = f.at(1.28, -0.40, top, 14)
    lean = g.leaning(0, 0, 0, 14)
    lean.prism(p['oak'], [(-0.17, 0), (0.17, 0), (0.17, 0.33), (-0.17, 0.33)], (0, 0.02), 0.003)
    g.box(p['red'], (-0.12, 0.10), (0.11, 0.15), (0, 0.24), 0.002)
    g.box(p['linen'], (-0.10, 0.12), (0.155, 0.185), (0, 0.21), 0.002)
    life.sheet(g, p['paper'], 0.01, -0.012, 0.002, tilt=14, turn=-1, bow=0.004)
    life.sheet(f, p['paper'], 0.80, -0.80, top + 0.0012, tilt=90, turn=12, bow=0.002)
    f.rod(p['soot'], (0.70, -0.70, top + 0.007), (0.84, -0.63, top + 0.007), 0.0038, 6)
    life.lemons(f, p['clay'], p['peel'], 0.42, -0.30, top)
    life.jar(f, p['white'], p['oak'], 1.62, -0.24, top, 0.045, 0.12)
    spots = [(1.28, 3.18), (2.12, 3.18)]
    q = model.frame()
    for x, y in spots:
        life.pendant(q, p['soot'], p['white'], p['soot'], bulb(), x, y, 1.72, HEIGHT)
    return [(x, y, 1.745) for x, y in spots]


_bulbs = {}


def bulb():
    """One visible bulb material; its glow follows the light of the picture."""
    if 'bulb' not in _bulbs:
        _bulbs['bulb'] = m.glow('bulb', 2700, 0.0)
    return _bulbs['bulb']


def left_wall(model, p):
    f = model.frame((0, 0, 0), 90)
    green, rust, sand = (m.paint(n, lab, None, 0.9, 0.1) for n, lab in
                         (('print green', (50, -14, 10)), ('print rust', (52, 26, 30)), ('print sand', (80, 3, 14))))
    art = [(sand, [(.16, .16), (.84, .16), (.84, .84), (.16, .84)]),
           (green, [(.16, .16), (.84, .16), (.84, .36), (.6, .46), (.4, .34), (.16, .42)]),
           (rust, [(.55, .62), (.62, .56), (.70, .62), (.70, .70), (.62, .76), (.55, .70)])]
    life.framed(f, p['walnut'], p['white'], art, 4.20, 1.55, (0.5, 0.66))


def ceiling_lights(model, p, light):
    f = model.frame()
    lamp = m.glow('downlight', 2700, 0.0 if light == 'day' else 60.0)
    places = [(x, y, HEIGHT - 0.012) for y in (1.2, 2.9, 4.45) for x in (0.95, 3.45)]
    for x, y, _ in places:
        life.downlight(f, p['trim'], lamp, x, y, HEIGHT)
    return places


def outside(strength):
    f = Model(5)
    g = f.frame((WIDTH + 5.0, 3.7, 0))
    g.box(m.outdoors('outdoors', strength), (0, 0.02), (-8, 8), (-3, 7), None)
    f.build()


def daylight():
    outside(1.5)
    lighting.sky(0.3)
    y, z = (WINDOW[0] + WINDOW[1]) / 2, (WINDOW[2] + WINDOW[3]) / 2
    size = (WINDOW[1] - WINDOW[0], WINDOW[3] - WINDOW[2])
    lighting.portal((WIDTH + 0.19, y, z), (0, y, z), size)
    lighting.panel('window panel', 6200, 1100, (WIDTH + 1.3, y, z + 1.5), (WIDTH - 1.2, y, 0.9), (2.4, 1.9))
    lighting.panel('second window', 6000, 52, (2.3, 0.06, 1.5), (2.3, 5, 1.2), (1.9, 2.0))
    lighting.sun(5200, 16.0, (-1.45, -1.15, -1.70))


def lamplight(pendants, spots):
    lighting.night()
    outside(0.003)
    bulb().node_tree.nodes['Principled BSDF'].inputs['Emission Strength'].default_value = 120.0
    for k, at in enumerate(pendants):
        lighting.point(f'pendant {k + 1}', 2700, 22, at)
    for k, at in enumerate(spots):
        lighting.spot(f'recessed {k + 1}', 2700, 20, at)
    for name, x0, x1 in (('left', 0.66, 1.82), ('right', 2.84, 4.55)):
        at = ((x0 + x1) / 2, DEPTH - 0.28, 1.385)
        o = lighting.panel(f'under cabinets {name}', 2700, 3, at, (at[0], at[1] + 0.02, 0), (x1 - x0, 0.012))
        o.rotation_euler = (0, 0, 0)
    # Strips on top of the wall cabinets light the ceiling; without them the room is a cave.
    for name, x0, x1 in (('left', 0.05, 1.80), ('right', 2.86, 4.60)):
        at = ((x0 + x1) / 2, DEPTH - 0.24, 2.39)
        lighting.panel(f'above cabinets {name}', 2700, 4.5, at, (at[0], at[1] - 0.3, 3), (x1 - x0, 0.03))
