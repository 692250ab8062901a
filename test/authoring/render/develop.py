"""Develop linear passes as a phone camera would. Run inside Blender (for its EXR reader and numpy):

    blender -b --factory-startup --python-exit-code 1 -P develop.py -- in=DIR out=DIR [only=kitchen-day,board] [filter=0]

Writes out/<picture>.ppm and in/<scene>/clean.npy, the filtered linear picture. Steps, each undone exactly in reverse:
    x = linear * gain * 2^EV                      white balance and exposure
    x = x * (1 - falloff * (r / corner)^2)        r from the centre of the picture, corner = half its diagonal
    x = x + grain * sqrt(x) * n                   n standard normal
    x = s + (1 - s) * (1 - exp(-(x - s) / (1 - s)))   for x > s = shoulder
    v = round(255 * sRGB(x))
"""
import os
import sys

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import numpy as np  # noqa: E402
from denoise import denoised  # noqa: E402

PHONE = dict(shoulder=0.72, falloff=0.16, grain=0.004)
DAY = dict(ev=0.65, gains=(0.94, 1.0, 1.12), **PHONE)
# picture -> (linear sources with their weights, development)
PICTURES = {
    'kitchen-day': ({'kitchen-day': 1.0}, DAY),
    'kitchen-lamp': ({'kitchen-lamp': 1.0}, dict(ev=0.85, gains=(0.57, 1.0, 2.8), **PHONE)),
    'kitchen-mixed': ({'kitchen-day': 0.35, 'kitchen-lamp': 1.0}, dict(ev=0.25, gains=(0.74, 1.0, 1.5), **PHONE)),
    'kitchen-day-green': ({'kitchen-day-green': 1.0}, DAY),
    'kitchen-day-blue': ({'kitchen-day-blue': 1.0}, DAY),
    'kitchen-day-white': ({'kitchen-day-white': 1.0}, DAY),
    'inspiration': ({'inspiration': 1.0}, dict(ev=0.3, gains=(0.98, 1.0, 1.06), **PHONE)),
    'board': ({'board': 1.0}, dict(ev=1.2, gains=(0.94, 1.0, 1.10), **PHONE)),
    'slab-busy': ({'slab-busy': 1.0}, dict(ev=1.2, gains=(1.0, 1.0, 1.0), **PHONE)),
    'slab-calm': ({'slab-calm': 1.0}, dict(ev=1.9, gains=(1.0, 1.0, 1.0), **PHONE)),
    'slab-veined': ({'slab-veined': 1.0}, dict(ev=1.3, gains=(0.97, 1.0, 1.05), **PHONE)),
    'tile-ring': ({'tile-ring': 1.0}, dict(ev=1.4, gains=(0.97, 1.0, 1.05), **PHONE)),
}


def read_exr(path):
    """Float32 (h, w, 3), first row at the top, no colour conversion."""
    import bpy
    image = bpy.data.images.load(path)
    image.colorspace_settings.name = 'Non-Color'
    w, h = image.size
    flat = np.empty(w * h * 4, np.float32)
    image.pixels.foreach_get(flat)
    bpy.data.images.remove(image)
    return np.ascontiguousarray(flat.reshape(h, w, 4)[::-1, :, :3])


def rounds(folder):
    """Folders of the finished rounds of one render."""
    found = [os.path.join(folder, r) for r in sorted(os.listdir(folder)) if r.isdigit()] if os.path.isdir(folder) else []
    return [r for r in found if os.path.exists(os.path.join(r, 'image.exr'))]


def averaged(folder, name):
    """One pass, mean over the rounds (all have the same number of samples)."""
    return np.mean([read_exr(os.path.join(r, name + '.exr')) for r in rounds(folder)], axis=0, dtype=np.float32)


def passes(folder):
    return {f[:-4]: averaged(folder, f[:-4]) for f in sorted(os.listdir(rounds(folder)[0])) if not f.startswith('mask-')}


def clean(folder, filtering=True):
    """The filtered linear picture of one render, kept beside its passes."""
    saved, image = os.path.join(folder, 'clean.npy'), os.path.join(rounds(folder)[-1], 'image.exr')
    if not filtering:
        return averaged(folder, 'image')
    if os.path.exists(saved) and os.path.getmtime(saved) > os.path.getmtime(image):
        return np.load(saved)
    result = denoised(passes(folder)).astype(np.float32)
    np.save(saved, result)
    return result


def encode(x):
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.power(np.maximum(x, 0.0031308), 1 / 2.4) - 0.055)


def developed(linear, ev, gains, shoulder, falloff, grain, seed):
    """8-bit sRGB (h, w, 3) of a linear picture."""
    h, w = linear.shape[:2]
    x = linear * np.array(gains, np.float32) * 2.0 ** ev
    y0, x0 = np.mgrid[0:h, 0:w].astype(np.float32)
    r2 = ((x0 + .5 - w / 2) ** 2 + (y0 + .5 - h / 2) ** 2) / (w * w / 4 + h * h / 4)
    x = x * (1 - falloff * r2)[..., None]
    x = x + grain * np.sqrt(np.maximum(x, 0)) * np.random.default_rng(seed).standard_normal(x.shape)
    over = x > shoulder
    x = np.where(over, shoulder + (1 - shoulder) * (1 - np.exp(-(np.maximum(x, shoulder) - shoulder) / (1 - shoulder))), x)
    return np.round(255 * encode(np.clip(x, 0, 1))).astype(np.uint8)


def write_ppm(path, pixels):
    kind = b'P6' if pixels.ndim == 3 else b'P5'
    with open(path, 'wb') as out:
        out.write(kind + b'\n%d %d\n255\n' % (pixels.shape[1], pixels.shape[0]) + pixels.tobytes())


def main():
    a = dict(p.split('=', 1) for p in sys.argv[sys.argv.index('--') + 1:])
    os.makedirs(a['out'], exist_ok=True)
    for k, (name, (sources, camera)) in enumerate(PICTURES.items()):
        if 'only' in a and name not in a['only'].split(','):
            continue
        if not all(rounds(os.path.join(a['in'], s)) for s in sources):
            continue
        linear = sum(weight * clean(os.path.join(a['in'], s), a.get('filter', '1') == '1') for s, weight in sources.items())
        write_ppm(os.path.join(a['out'], name + '.ppm'), developed(linear, seed=100 + k, **camera))
        print('DEVELOPED', name)


if __name__ == '__main__':
    main()
