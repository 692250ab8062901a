"""The invented paints of the sample job, and CIELAB <-> linear sRGB.

Published values are CIELAB, D65, 10 degree observer. The renderer knows three bands only, so a paint
becomes linear sRGB by keeping its tristimulus values *relative to white*: X/Xn, Y/Yn, Z/Zn from the 10 degree
values, times the D65 white of sRGB. A neutral paint stays exactly neutral and Y (the LRV) is kept.
"""

WHITE = (0.95047, 1.0, 1.08883)
TO_RGB = ((3.2404542, -1.5371385, -0.4985314),
          (-0.9692660, 1.8760108, 0.0415560),
          (0.0556434, -0.2040259, 1.0572252))
TO_XYZ = ((0.4124564, 0.3575761, 0.1804375),
          (0.2126729, 0.7151522, 0.0721750),
          (0.0193339, 0.1191920, 0.9503041))

# (maker, code, name, (L*, a*, b*)); left to right as they lie on the sample board.
PAINTS = (
    ('Ternhollow', 'TH-12', 'Reed Hollow', (62, -9, 11)),
    ('Ternhollow', 'TH-15', 'Moss Ledger', (45, -12, 12)),
    ('Ternhollow', 'TH-19', 'Deep Lock', (28, -10, 4)),
    ('Ternhollow', 'TH-03', 'Wet Chalk', (80, -3, 2)),
    ('Oddmoor', 'OM-204', 'Kiln Dust', (70, 8, 17)),
    ('Oddmoor', 'OM-211', 'Raw Flowerpot', (50, 22, 26)),
    ('Oddmoor', 'OM-101', 'Sailcloth', (91, -0.5, 5)),
)
PAPER = 0.90  # albedo of the white paper and the white cards, all bands


def named(name):
    """CIELAB of an invented paint."""
    return next(lab for _, _, n, lab in PAINTS if n == name)


def _apply(matrix, v):
    return tuple(sum(m * x for m, x in zip(row, v)) for row in matrix)


def lab_to_linear(lab):
    """CIELAB (D65) -> linear sRGB 0-1. Raises where the paint lies outside sRGB: its truth would be lost."""
    L, a, b = lab
    fy = (L + 16) / 116
    xyz = [n * (t ** 3 if t > 6 / 29 else 3 * (6 / 29) ** 2 * (t - 4 / 29))
           for n, t in zip(WHITE, (fy + a / 500, fy, fy - b / 200))]
    rgb = _apply(TO_RGB, xyz)
    if min(rgb) < 0 or max(rgb) > 1:
        raise ValueError(f'Expected a paint inside sRGB, got {lab} -> {rgb}')
    return rgb


def linear_to_lab(rgb):
    """Linear sRGB 0-1 -> CIELAB (D65)."""
    f = [t ** (1 / 3) if t > (6 / 29) ** 3 else t / (3 * (6 / 29) ** 2) + 4 / 29
         for t in (x / n for x, n in zip(_apply(TO_XYZ, rgb), WHITE))]
    return (116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2]))
