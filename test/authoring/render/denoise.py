"""Edge-stopping a-trous wavelet filter on the passes of one render (this Blender has no denoiser). Plain numpy.

Only light is filtered. Paint, grain and glaze live in the colour passes, which are nearly free of noise, so they
stay as sharp as they were rendered:
    image = DiffCol (DiffDir + DiffInd) + GlossCol (GlossDir + GlossInd) + TransCol (...) + Emit + Env
"""
import numpy as np

KERNEL = np.array([1, 4, 6, 4, 1], np.float32) / 16


def shift(a, dy, dx):
    """a moved so that result[y, x] = a[y + dy, x + dx], edges repeated."""
    h, w = a.shape[:2]
    y, x = np.clip(np.arange(h) + dy, 0, h - 1), np.clip(np.arange(w) + dx, 0, w - 1)
    return a[y][:, x]


def luminance(a):
    return a @ np.array([0.2126, 0.7152, 0.0722], np.float32)


def box(a, r):
    """Mean over (2r+1)^2, edges repeated."""
    for axis in (0, 1):
        p = np.pad(a, [(r + 1, r) if k == axis else (0, 0) for k in range(a.ndim)], mode='edge')
        c = np.cumsum(p, axis=axis, dtype=np.float64)
        n = 2 * r + 1
        hi, lo = (np.take(c, range(n, c.shape[axis]), axis), np.take(c, range(0, c.shape[axis] - n), axis))
        a = ((hi - lo) / n).astype(np.float32)
    return a


def tame(a):
    """No pixel above three times the third-brightest of its eight neighbours."""
    lum = luminance(a)
    near = np.sort(np.stack([shift(lum, dy, dx) for dy in (-1, 0, 1) for dx in (-1, 0, 1) if dy or dx]), axis=0)
    limit = 3 * near[5] + 1e-6
    return a * np.minimum(1, limit / np.maximum(lum, 1e-9))[..., None]


def lone(a):
    """Tame only pixels that stand alone: a thin highlight always has two bright neighbours and stays."""
    lum = luminance(a)
    near = np.sort(np.stack([shift(lum, dy, dx) for dy in (-1, 0, 1) for dx in (-1, 0, 1) if dy or dx]), axis=0)
    return a * np.minimum(1, (1.4 * near[6] + 1e-6) / np.maximum(lum, 1e-9))[..., None]


def noise_level(lum, reach):
    """Local sd of the noise. Geometric mean of the residuals, so that one true edge does not raise it."""
    smooth = sum(KERNEL[i] * KERNEL[j] * shift(lum, i - 2, j - 2) for i in range(5) for j in range(5))
    return np.exp(box(np.log(np.abs(lum - smooth) + 1e-5), reach)) * 2.0


def wavelet(a, normal, depth, colour, levels, sigma, colour_sigma, reach):
    """Filter a (h, w, 3). `sigma`: luminance tolerance in sds of the noise, which is judged over `reach` pixels."""
    h, w = depth.shape
    slope = np.maximum(np.abs(shift(depth, 0, 1) - depth), np.abs(depth - shift(depth, 0, -1)))
    rise = np.maximum(np.abs(shift(depth, 1, 0) - depth), np.abs(depth - shift(depth, -1, 0)))
    grade = np.minimum(slope + rise, 0.05 * depth) + 1e-4 * depth
    variance = noise_level(luminance(a), reach) ** 2
    # Bevels and mouldings thinner than a pixel have a normal of their own and would never be smoothed.
    mean = box(normal, 1)
    spread = 0.2 ** 2 + 0.3 * np.maximum(box((normal ** 2).sum(-1), 1) - (mean ** 2).sum(-1), 0)
    for level in range(levels):
        step = 2 ** level
        total, weight, var = np.zeros_like(a), np.zeros((h, w), np.float32), np.zeros((h, w), np.float32)
        lum = luminance(a)
        sd = np.sqrt(box(variance, 1)) * sigma + 1e-4
        for i in range(-2, 3):
            for j in range(-2, 3):
                k = KERNEL[i + 2] * KERNEL[j + 2]
                if i == 0 and j == 0:
                    wt = np.full((h, w), k, np.float32)
                    total += a * wt[..., None]
                    weight += wt
                    var += wt * wt * variance
                    continue
                dy, dx = i * step, j * step
                dn = ((shift(normal, dy, dx) - normal) ** 2).sum(-1) / (2 * spread)
                dz = np.abs(shift(depth, dy, dx) - depth) / (grade * (abs(dy) + abs(dx)))
                dc = ((shift(colour, dy, dx) - colour) ** 2).sum(-1) / (2 * colour_sigma ** 2)
                dl = np.abs(shift(lum, dy, dx) - lum) / sd
                wt = k * np.exp(-dn - 0.5 * dz - dc - dl)
                total += shift(a, dy, dx) * wt[..., None]
                weight += wt
                var += wt * wt * shift(variance, dy, dx)
        a, variance = total / weight[..., None], var / weight ** 2
    return a


def denoised(p):
    """`p` maps the pass names of render.py to float32 arrays; gives the filtered linear picture (h, w, 3)."""
    depth = np.minimum(p['depth'][..., 0], 50.0)
    light = tame(p['diff_dir'] + p['diff_ind'])
    gloss = tame(p['gloss_dir'] + p['gloss_ind'])
    # Where nothing diffuse was hit the light pass holds no information; the colour pass keeps it apart.
    light = wavelet(light, p['normal'], depth, np.minimum(p['diff_col'] * 8, 1), 6, 8.0, 0.6, 4)
    # Handles are a few pixels wide: their noise is judged on themselves, not on the calm door behind.
    gloss = wavelet(gloss, p['normal'], depth, p['gloss_col'], 4, 4.0, 0.3, 1)
    light, gloss = lone(light), lone(gloss)
    rest = tame(p['trans_col'] * (p['trans_dir'] + p['trans_ind']))
    return p['diff_col'] * light + p['gloss_col'] * gloss + rest + p['emit'] + p['env']
