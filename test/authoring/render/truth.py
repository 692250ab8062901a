"""Write the truth behind the pictures: masks and truth.json. Run inside Blender after develop.py:

    blender -b --factory-startup --python-exit-code 1 -P truth.py -- in=DIR pictures=DIR out=DIR

`in` holds the rounds of render.py, `pictures` the .ppm of develop.py. Writes out/truth.json and out/masks/*.pgm.
"""
import json
import os
import sys

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import numpy as np  # noqa: E402
from denoise import box  # noqa: E402
from develop import PICTURES, averaged, rounds, write_ppm  # noqa: E402
from materials import SURFACES  # noqa: E402
from paints import PAINTS, PAPER, lab_to_linear, linear_to_lab  # noqa: E402

ABOUT = {
    'colour': 'lab is CIELAB, D65, 10 degree observer. linear is linear sRGB 0-1 with the same tristimulus values '
              'relative to white (X/Xn, Y/Yn, Z/Zn); paints.py does both conversions.',
    'albedo': 'materials.tones are what the renderer was given: one for paint, three browns for wood, six minerals and '
              'a fleck for granite (further multiplied by a fine powder). mean is the diffuse albedo really met, over '
              'the pixels wholly inside the surface. Metals have no diffuse albedo; their tone is the reflectance at '
              'normal incidence.',
    'points': 'x, y in pixels from the top left corner, at the centre of a square of side 2 r + 1 that lies wholly on '
              'the surface; linear is the mean albedo there, shown the mean of the developed 8-bit sRGB there.',
    'masks': 'coverage of the kitchen pictures, 8-bit, no gamma: share of the pixel, to be composited in linear light. '
             'The four kitchen pictures share them.',
    'development': [
        'x = linear * gains * 2^ev',
        'x = x * (1 - falloff * (r / corner)^2), r from the centre of the picture, corner = half its diagonal, pixel centres at .5',
        'x = x + grain * sqrt(x) * n, n standard normal',
        'x = shoulder + (1 - shoulder) * (1 - exp(-(x - shoulder) / (1 - shoulder))) where x > shoulder',
        'v = round(255 * sRGB(x)), then JPEG',
    ],
    'limits': 'Three-band rendering: right for cast, exposure, masks and mixed light, no evidence about metamerism. '
              'Light is sampled, so two renders of the same room differ by noise.',
}


def read_ppm(path):
    with open(path, 'rb') as f:
        f.readline()
        w, h = map(int, f.readline().split())
        f.readline()
        return np.frombuffer(f.read(), np.uint8).reshape(h, w, 3)


def tone(lab):
    lab = [round(v, 3) for v in lab]
    return {'lab': lab, 'linear': [round(v, 5) for v in lab_to_linear(lab)]}


def measured(linear):
    linear = [float(v) for v in linear]
    return {'linear': [round(v, 5) for v in linear], 'lab': [round(v, 2) for v in linear_to_lab(linear)]}


def points(mask, shown, albedo, count=5):
    """Up to `count` spots well inside the mask and well apart, neither clipped nor black in this picture."""
    usable = (mask > 0.999) & (shown.max(-1) < 250) & (shown.max(-1) > 24)
    usable[:20] = usable[-20:] = usable[:, :20] = usable[:, -20:] = False
    # A small surface gets small squares, so that its lesser parts (the second sheet of paper) have one too.
    for r in (r for r in (12, 8, 5, 3, 2) if r <= max(2, usable.sum() ** 0.5 / 12)):
        inside = box(usable.astype(np.float32), r) > 0.9999
        ys, xs = np.nonzero(inside)
        if len(xs) >= 40 or r == 2:
            break
    if not len(xs):
        return []
    rng = np.random.default_rng(5)
    pick = rng.choice(len(xs), min(600, len(xs)), replace=False)
    xy = np.stack([xs[pick], ys[pick]], 1).astype(float)
    chosen = [int(np.argmin(((xy - xy.mean(0)) ** 2).sum(1)))]
    while len(chosen) < min(count, len(xy)):
        gap = np.min([((xy - xy[c]) ** 2).sum(1) for c in chosen], axis=0)
        if gap.max() < (2 * r + 1) ** 2:
            break
        chosen.append(int(np.argmax(gap)))
    result = []
    for x, y in (map(int, xy[c]) for c in chosen):
        at = (slice(y - r, y + r + 1), slice(x - r, x + r + 1))
        result.append({'x': x, 'y': y, 'r': r, 'linear': [round(float(v), 5) for v in albedo[at].mean((0, 1))],
                       'shown': [round(float(v), 1) for v in shown[at].mean((0, 1))]})
    return result


def inside_box(quad, margin=0.12):
    """Upright box inside a nearly upright quadrilateral, away from its rough edges."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = quad
    x0, x1, y0, y1 = max(ax, dx), min(bx, cx), max(ay, by), min(cy, dy)
    mx, my = margin * (x1 - x0), 0.06 * (y1 - y0)
    return [round(v, 1) for v in (x0 + mx, y0 + my, x1 - mx, y1 - my)]


def picture(name, source, pictures):
    sources, camera = PICTURES[name]
    main = next(iter(sources))
    folder = os.path.join(source, main)
    with open(os.path.join(folder, 'scene.json')) as f:
        scene = json.load(f)
    shown = read_ppm(os.path.join(pictures, name + '.ppm'))
    albedo = averaged(folder, 'diff_col')
    lights = {}
    for s in sources:
        with open(os.path.join(source, s, 'scene.json')) as f:
            lights[s] = json.load(f)['lights']
    entry = {
        'file': name + '.jpg', 'width': shown.shape[1], 'height': shown.shape[0],
        'samples': scene['samples per round'] * len(rounds(folder)),
        'sources': sources, 'development': camera, 'lights': lights, 'surfaces': {},
    }
    for surface in SURFACES:
        mask = averaged(folder, 'mask-' + surface)[..., 0]
        whole = mask > 0.999
        # On the sample board the strips use the cabinets' mask; they are listed one by one below.
        if whole.sum() < 60 or (name == 'board' and surface == 'cabinets'):
            continue
        mats = [{'name': mat['name'], 'roughness': mat['roughness'], 'metallic': mat['metallic'],
                 'tones': [tone(t) for t in mat['tones']]}
                for mat in scene['materials'] if mat['surface'] == surface]
        entry['surfaces'][surface] = {'materials': mats, 'mean': measured(albedo[whole].mean(0, dtype=np.float64)),
                                      'share': round(float(mask.mean()), 5), 'points': points(mask, shown, albedo)}
    by_code = {code: {'maker': maker, 'code': code, 'name': n, **tone(lab)} for maker, code, n, lab in PAINTS}
    card = {'name': 'white card', **measured((PAPER,) * 3)}
    marks = {key: {**by_code.get(key, card), 'quad': quad, 'box': inside_box(quad)} for key, quad in scene['marks'].items()}
    if marks:
        entry['samples on board' if name == 'board' else 'marks'] = marks
    return entry


def main():
    a = dict(p.split('=', 1) for p in sys.argv[sys.argv.index('--') + 1:])
    os.makedirs(os.path.join(a['out'], 'masks'), exist_ok=True)
    for surface in SURFACES:
        mask = averaged(os.path.join(a['in'], 'kitchen-day'), 'mask-' + surface)[..., 0]
        write_ppm(os.path.join(a['out'], 'masks', surface + '.pgm'), np.round(255 * np.clip(mask, 0, 1)).astype(np.uint8))
    truth = {'about': ABOUT,
             'paints': [{'maker': maker, 'code': code, 'name': n, **tone(lab)} for maker, code, n, lab in PAINTS],
             'paper': measured((PAPER,) * 3),
             'pictures': {name: picture(name, a['in'], a['pictures']) for name in PICTURES
                          if os.path.exists(os.path.join(a['pictures'], name + '.ppm'))}}
    text = json.dumps(truth, indent=1)
    with open(os.path.join(a['out'], 'truth.json'), 'w') as f:
        f.write(compact(text) + '\n')


def compact(text):
    """Number lists on one line: people read this file."""
    import re
    return re.sub(r'\[\s+([^\[\]{}"]+?)\s+\]', lambda m: '[' + re.sub(r'\s+', ' ', m.group(1)) + ']', text)


if __name__ == '__main__':
    main()
