"""The life in the rooms: everything on, above and beside the cabinets. Metres, in the frame given."""
import math


def stool(f, wood, metal, x, y, height=0.65, turn=0.0):
    g = f.at(x, y, 0, turn)
    g.lathe(wood, [(0.0, height - 0.034), (0.15, height - 0.034), (0.172, height - 0.026), (0.176, height - 0.012),
                   (0.168, height), (0.12, height - 0.004), (0.0, height - 0.008)], segments=48)
    feet = [(math.cos(a), math.sin(a)) for a in (math.pi / 4 + k * math.pi / 2 for k in range(4))]
    for cx, cy in feet:
        g.rod(metal, (cx * 0.20, cy * 0.20, 0), (cx * 0.115, cy * 0.115, height - 0.03), 0.011)
    ring = [(cx * 0.178, cy * 0.178, 0.2) for cx, cy in feet]
    for a, b in zip(ring, ring[1:] + ring[:1]):
        g.rod(metal, a, b, 0.007, 12)


def pendant(f, shade, inner, cord, bulb, x, y, rim, ceiling):
    """Cone shade 0.30 m wide, rim at height `rim`; inner face is its own material."""
    outside = [(0.150, 0), (0.146, 0.03), (0.115, 0.085), (0.062, 0.135), (0.034, 0.165), (0.028, 0.20), (0.018, 0.21)]
    f.lathe(shade, outside, (x, y, rim), 56)
    f.lathe(inner, [(r - 0.003, h + 0.0005) for r, h in outside], (x, y, rim), 56)
    f.lathe(shade, [(0.147, 0.0005), (0.150, 0)], (x, y, rim), 56)
    f.rod(cord, (x, y, rim + 0.20), (x, y, ceiling), 0.004, 10)
    f.lathe(shade, [(0.055, -0.022), (0.055, -0.004), (0.05, 0)], (x, y, ceiling), 32)
    globe(f, bulb, (x, y, rim + 0.055), 0.03)


def globe(f, material, at, radius, squash=1.0, segments=32):
    f.lathe(material, [(radius * math.sin(math.pi * k / 14), -radius * squash * math.cos(math.pi * k / 14))
                       for k in range(15)], at, segments)


def downlight(f, trim, lamp, x, y, ceiling):
    f.lathe(trim, [(0.030, -0.002), (0.042, -0.005), (0.045, 0.0)], (x, y, ceiling), 32)
    f.lathe(lamp, [(0.0, -0.001), (0.031, -0.0011)], (x, y, ceiling), 32)


def jar(f, body, lid, x, y, z, radius=0.05, height=0.15):
    r, h = radius, height
    f.lathe(body, [(0, 0), (r * 0.9, 0), (r, 0.012), (r, h * 0.86), (r * 0.84, h * 0.97), (r * 0.80, h), (r * 0.7, h)],
            (x, y, z))
    f.lathe(lid, [(r * 0.86, h - 0.004), (r * 0.88, h + 0.018), (r * 0.8, h + 0.022), (0, h + 0.024)], (x, y, z))


def vase(f, clay, twig, leaf, x, y, z, height=0.24, branches=7, reach=0.30):
    """Bellied vase with bare twigs and leaves."""
    h = height
    f.lathe(clay, [(0, 0), (0.045, 0), (0.07, h * 0.18), (0.082, h * 0.38), (0.066, h * 0.64), (0.034, h * 0.84),
                   (0.030, h * 0.93), (0.038, h), (0.032, h - 0.002), (0.024, h * 0.9)], (x, y, z), 48)
    r = f.random
    for k in range(branches):
        a, out, up = 2 * math.pi * k / branches + r.uniform(-.4, .4), r.uniform(0.3, 1) * reach, r.uniform(0.18, 0.42)
        tip = (x + out * math.cos(a), y + out * math.sin(a), z + h + up)
        bend = (x + out * 0.3 * math.cos(a), y + out * 0.3 * math.sin(a), z + h + up * 0.6)
        base = (x, y, z + h * 0.75)
        f.tube(twig, [base, bend, tip], 0.0022)
        for i in range(9):
            s = 0.25 + 0.75 * i / 8
            p = [(1 - s) ** 2 * b + 2 * s * (1 - s) * m + s * s * t for b, m, t in zip(base, bend, tip)]
            foliage(f, leaf, p, r.uniform(0, 360), r.uniform(15, 65), r.uniform(0.035, 0.06))


def foliage(f, leaf, at, turn, droop, length):
    """One folded leaf of six corners."""
    t, d, w = math.radians(turn), math.radians(droop), length * 0.2
    ax = (math.cos(t) * math.cos(d), math.sin(t) * math.cos(d), math.sin(d) * 0.4)
    side = (-math.sin(t), math.cos(t), 0)

    def point(along, out, lift):
        return [p + a * along * length + s * out * w + (lift * length if i == 2 else 0)
                for i, (p, a, s) in enumerate(zip(at, ax, side))]
    v = [point(0, 0, 0), point(.35, 1, .06), point(.75, .7, .03), point(1, 0, -.06), point(.75, -.7, .03), point(.35, -1, .06)]
    f.add(leaf, v, [(0, 1, 2, 3), (0, 3, 4, 5)])


def lemons(f, clay, peel, x, y, z, radius=0.15, count=7):
    """Shallow bowl with fruit."""
    R = radius
    f.lathe(clay, [(0, 0), (R * .4, 0), (R * .72, 0.022), (R * .95, 0.055), (R, 0.075), (R * .96, 0.074), (R * .68, 0.03),
                   (R * .38, 0.012), (0, 0.010)], (x, y, z), 48)
    for k in range(count):
        ring = k < count - 2
        a = 2 * math.pi * k / (count - 2) if ring else math.pi * k
        d, h = (R * 0.56, 0.056) if ring else (0.026, 0.095)
        n = 12
        profile = [((0.031 * math.sin(math.pi * i / n)) ** 1.0, -0.042 * math.cos(math.pi * i / n)) for i in range(n + 1)]
        profile[0], profile[-1] = (0.004, -0.045), (0.003, 0.046)
        f.lathe(peel, [(0, -0.0455), *profile, (0, 0.0465)], (x + d * math.cos(a), y + d * math.sin(a), z + h), 24,
                tilt=(78 + f.random.uniform(-9, 9), 0, f.random.uniform(0, 360)))


def chopping_board(f, wood, x, z, width=0.26, height=0.38, tilt=9, y=-0.01, turn=0):
    """Board with rounded shoulders and a hole-less grip, leaning back on the wall behind y."""
    lean = math.sin(math.radians(tilt)) * height
    g = f.leaning(x, y - lean - 0.02, z, tilt, turn)
    w, r = width / 2, 0.03
    arc = [(w - r + r * math.cos(a), height - r + r * math.sin(a)) for a in (math.pi / 2 * k / 6 for k in range(7))]
    outline = [(-w, 0), (w, 0), *arc, *[(-px, pz) for px, pz in reversed(arc)]]
    g.prism(wood, outline, (-0.018, 0), 0.003)


def sheet(f, paper, x, y, z, size=(0.210, 0.297), tilt=0.0, turn=0.0, bow=0.006):
    """Sheet of paper: flat for tilt 90, leaning for small tilt, bowed by `bow` metres so that it is not a card."""
    g = f.leaning(x, y, z, tilt, turn)
    n, m = 8, 8
    v = [(size[0] * (i / n - .5), -bow * math.sin(math.pi * j / m) * (0.6 + 0.4 * i / n), size[1] * j / m)
         for j in range(m + 1) for i in range(n + 1)]
    g.add(paper, v, [(j * (n + 1) + i, j * (n + 1) + i + 1, (j + 1) * (n + 1) + i + 1, (j + 1) * (n + 1) + i)
                     for j in range(m) for i in range(n)])


def faucet(f, metal, x, y, z):
    f.rod(metal, (x, y, z), (x, y, z + 0.06), 0.022, 24)
    f.tube(metal, [(x, y, z + 0.05), (x, y, z + 0.26), (x, y - 0.05, z + 0.36), (x, y - 0.15, z + 0.36), (x, y - 0.19, z + 0.27)], 0.011)
    f.rod(metal, (x + 0.02, y, z + 0.045), (x + 0.075, y - 0.01, z + 0.075), 0.006)


def framed(f, wood, mount, art, x, z, size=(0.5, 0.65)):
    """Print in a thin frame on the wall plane y=0; `art` is a list of (material, outline in 0-1 coordinates)."""
    w, h, b = size[0] / 2, size[1] / 2, 0.018
    for a, c in (((x - w, x - w + b), (z - h, z + h)), ((x + w - b, x + w), (z - h, z + h)),
                 ((x - w + b, x + w - b), (z - h, z - h + b)), ((x - w + b, x + w - b), (z + h - b, z + h))):
        f.box(wood, a, (-0.022, 0), c, 0.002)
    f.box(mount, (x - w + b, x + w - b), (-0.010, 0), (z - h + b, z + h - b), None)
    for k, (material, outline) in enumerate(art):
        f.prism(material, [(x - w + size[0] * px, z - h + size[1] * pz) for px, pz in outline],
                (-0.0112 - 0.0004 * k, -0.009))


def socket(f, plate, x, z):
    f.box(plate, (x - 0.043, x + 0.043), (-0.018, -0.007), (z - 0.043, z + 0.043), 0.003)
    f.rod(plate, (x, -0.02, z), (x, -0.0185, z), 0.02, 24)


def crockery(f, clay, x, y, z, plates=5, radius=0.12):
    """Stack of plates."""
    for k in range(plates):
        h = z + k * 0.011
        f.lathe(clay, [(0, h), (radius * .6, h), (radius, h + 0.016), (radius * 0.99, h + 0.018), (radius * .6, h + 0.004),
                       (0, h + 0.004)], (x, y, 0), 48)


def bowls(f, clay, x, y, z, count=3, radius=0.075):
    for k in range(count):
        h, r = z + k * 0.024, radius
        f.lathe(clay, [(0, h), (r * .45, h), (r * .8, h + 0.03), (r, h + 0.062), (r * .97, h + 0.062), (r * .75, h + 0.03),
                       (r * .4, h + 0.006), (0, h + 0.005)], (x, y, 0), 40)


def books(f, covers, paper, x, y, z, widths=(0.03, 0.022, 0.036, 0.026), height=0.24, depth=0.17):
    """Standing books with their spines towards -y."""
    for k, w in enumerate(widths):
        h = height * f.random.uniform(0.82, 1.0)
        f.box(covers[k % len(covers)], (x, x + w), (y - depth, y), (z, z + h), 0.002)
        f.box(paper, (x + 0.003, x + w - 0.003), (y - depth + 0.004, y - 0.004), (z + 0.003, z + h + 0.0005), None)
        x += w + 0.001
