"""Geometry in metres, z up. A Frame is a local place: origin on a wall, x along it, fronts towards -y.

Everything made in one frame of one material and bevel becomes one mesh, so that a room is a few dozen objects.
Every part carries three random numbers in the colour attribute `vary`; they come from our own generator and
vertex order, because Blender's "Random Per Island" changes from run to run.
"""
import math
import random
import bpy
from mathutils import Euler, Matrix, Vector


class Model:
    """Collects parts; `build` turns them into objects."""

    def __init__(self, seed):
        self.random = random.Random(seed)
        self.frames = []

    def frame(self, origin=(0, 0, 0), turn=0.0):
        """A place at `origin` (m), turned `turn` degrees about z."""
        f = Frame(self, Matrix.Translation(origin) @ Matrix.Rotation(math.radians(turn), 4, 'Z'))
        self.frames.append(f)
        return f

    def build(self):
        for f in self.frames:
            f.build()


class Frame:
    def __init__(self, model, matrix):
        self.model, self.matrix, self.random = model, matrix, model.random
        self.batches = {}

    def at(self, x, y, z=0.0, turn=0.0):
        """A frame inside this one."""
        f = Frame(self.model, self.matrix @ Matrix.Translation((x, y, z)) @ Matrix.Rotation(math.radians(turn), 4, 'Z'))
        self.model.frames.append(f)
        return f

    def leaning(self, x, y, z, tilt, turn=0.0):
        """A frame tipped back by `tilt` degrees about its own x: for boards and sheets that lean."""
        f = self.at(x, y, z, turn)
        f.matrix = f.matrix @ Matrix.Rotation(math.radians(-tilt), 4, 'X')
        return f

    def add(self, material, vertices, faces, bevel=None):
        batch = self.batches.setdefault((material.name, bevel), (material, [], [], []))
        start = len(batch[1])
        batch[1].extend(vertices)
        batch[2].extend([tuple(start + i for i in face) for face in faces])
        vary = (self.random.random(), self.random.random(), self.random.random(), 1.0)
        batch[3].extend([vary] * sum(len(face) for face in faces))

    def box(self, material, x, y, z, bevel=0.0015, spin=(0, 0, 0)):
        """Box from (low, high) ranges; `spin` is a small turn about its centre, degrees."""
        c = Vector(((x[0] + x[1]) / 2, (y[0] + y[1]) / 2, (z[0] + z[1]) / 2))
        turn = Euler([math.radians(s) for s in spin]).to_matrix()
        corners = [c + turn @ (Vector((a, b, d)) - c) for d in z for b in y for a in x]
        faces = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
        self.add(material, corners, faces, bevel)

    def lathe(self, material, profile, at=(0, 0, 0), segments=40, tilt=None):
        """Spin a list of (radius, height) about the vertical through `at`; `tilt` is an Euler in degrees."""
        turn = Euler([math.radians(t) for t in tilt]).to_matrix() if tilt else Matrix.Identity(3)
        vertices = [Vector(at) + turn @ Vector((r * math.cos(2 * math.pi * k / segments),
                                                r * math.sin(2 * math.pi * k / segments), h))
                    for r, h in profile for k in range(segments)]
        faces = [(j * segments + k, j * segments + (k + 1) % segments,
                  (j + 1) * segments + (k + 1) % segments, (j + 1) * segments + k)
                 for j in range(len(profile) - 1) for k in range(segments)]
        self.add(material, vertices, faces)

    def rod(self, material, a, b, radius, segments=16, end=None):
        """Capped cylinder from a to b; `end` is the radius at b for tapered legs."""
        a, b = Vector(a), Vector(b)
        turn = (b - a).to_track_quat('Z', 'Y').to_matrix()
        ring = [Vector((math.cos(2 * math.pi * k / segments), math.sin(2 * math.pi * k / segments), 0))
                for k in range(segments)]
        vertices = [a + turn @ (r * radius) for r in ring] + [b + turn @ (r * (end or radius)) for r in ring]
        n = segments
        faces = [(k, (k + 1) % n, n + (k + 1) % n, n + k) for k in range(n)]
        faces += [tuple(reversed(range(n))), tuple(range(n, 2 * n))]
        self.add(material, vertices, faces)

    def tube(self, material, points, radius):
        """Bent pipe through `points`, as a bevelled curve."""
        curve = bpy.data.curves.new('tube', 'CURVE')
        curve.dimensions, curve.bevel_depth, curve.bevel_resolution = '3D', radius, 4
        curve.use_fill_caps = True
        spline = curve.splines.new('BEZIER')
        spline.bezier_points.add(len(points) - 1)
        for p, co in zip(spline.bezier_points, points):
            p.co, p.handle_left_type, p.handle_right_type = co, 'AUTO', 'AUTO'
        curve.materials.append(material)
        o = bpy.data.objects.new('tube', curve)
        o.matrix_world = self.matrix
        bpy.context.collection.objects.link(o)

    def prism(self, material, outline, y, bevel=None):
        """Extrude a closed outline of (x, z) points, anticlockwise seen from -y, over the range y."""
        n = len(outline)
        vertices = [(px, d, pz) for d in y for px, pz in outline]
        faces = [tuple(range(n)), tuple(reversed(range(n, 2 * n)))]
        faces += [((k + 1) % n, k, n + k, n + (k + 1) % n) for k in range(n)]
        self.add(material, vertices, faces, bevel)

    def build(self):
        for (name, bevel), (material, vertices, faces, vary) in self.batches.items():
            mesh = bpy.data.meshes.new(name)
            mesh.from_pydata([tuple(v) for v in vertices], [], faces)
            mesh.materials.append(material)
            layer = mesh.color_attributes.new('vary', 'FLOAT_COLOR', 'CORNER')
            layer.data.foreach_set('color', [c for v in vary for c in v])
            mesh.polygons.foreach_set('use_smooth', [True] * len(faces))
            # Bevels harden normals, and spun profiles keep their rims, only with auto smooth on.
            mesh.use_auto_smooth, mesh.auto_smooth_angle = True, math.radians(40)
            o = bpy.data.objects.new(name, mesh)
            o.matrix_world = self.matrix
            bpy.context.collection.objects.link(o)
            if material.get('unlit'):
                o.visible_diffuse = o.visible_shadow = False
            if bevel:
                m = o.modifiers.new('edges', 'BEVEL')
                m.width, m.segments, m.limit_method = bevel, 2, 'ANGLE'
                m.angle_limit, m.harden_normals = math.radians(40), True


def room(model, wall, ceiling, width, depth, height, opening=None, arch=None):
    """Walls 0.2 m thick round (0..width, 0..depth), inner faces on the numbers, and a ceiling.

    `opening` is a window in the right wall as (y low, y high, z low, z high); `arch` a doorway in the far wall as
    (x low, x high, springing height). Both in metres.
    """
    f, t = model.frame(), 0.2
    f.box(ceiling, (-t, width + t), (-t, depth + t), (height, height + t), None)
    f.box(wall, (-t, 0), (-t, depth + t), (0, height), None)
    f.box(wall, (0, width), (-t, 0), (0, height), None)
    if arch:
        x0, x1, spring = arch
        r, c = (x1 - x0) / 2, (x0 + x1) / 2
        bow = [(c - r * math.cos(a), spring + r * math.sin(a)) for a in (math.pi * k / 24 for k in range(25))]
        f.prism(wall, [(0, height), (0, 0), (x0, 0), *bow, (x1, 0), (width, 0), (width, height)],
                (depth, depth + t), 0.006)
    else:
        f.box(wall, (0, width), (depth, depth + t), (0, height), None)
    if opening:
        y0, y1, z0, z1 = opening
        for y, z in (((-t, y0), (0, height)), ((y1, depth + t), (0, height)), ((y0, y1), (0, z0)), ((y0, y1), (z1, height))):
            f.box(wall, (width, width + t), y, z, None)
    else:
        f.box(wall, (width, width + t), (-t, depth + t), (0, height), None)


def tiles(f, glaze, grout, x, z, size=(0.20, 0.075), joint=0.003, bond=0.5, upright=False, y=0.0, thick=0.008):
    """Single tiles on the wall plane y, cut at the ends of the ranges x and z; each a little out of true."""
    f.box(grout, x, (y - thick * 0.7, y), z, None)
    w, h = reversed(size) if upright else size
    # Courses run along z for lying tiles and along x for upright ones; `bond` shifts every other course.
    long, across = (w, h) if not upright else (h, w)
    lanes, run = (z, x) if not upright else (x, z)
    lane, k = lanes[0], 0
    while lane < lanes[1] - 0.012:
        start = run[0] - (bond * (long + joint) if k % 2 else 0)
        while start < run[1] - 0.012:
            a, b = max(start, run[0]), min(start + long, run[1])
            c, d = lane, min(lane + across, lanes[1])
            if b - a > 0.012:
                out = y - thick - f.random.uniform(0, 0.0006)
                xs, zs = ((a, b), (c, d)) if not upright else ((c, d), (a, b))
                f.box(glaze, xs, (out, y), zs, 0.0015,
                      (f.random.gauss(0, 0.22), 0, f.random.gauss(0, 0.22)))
            start += long + joint
        lane += across + joint
        k += 1


def planks(f, material, x, y, width=0.14, lengths=(1.1, 2.1), gap=0.0018):
    """Floor boards along local y, random joints, top at z 0."""
    at = x[0]
    while at < x[1]:
        start = y[0] - f.random.uniform(0, lengths[1])
        while start < y[1]:
            end = start + f.random.uniform(*lengths)
            f.box(material, (at, at + width - gap), (start, end - gap), (-0.02, f.random.uniform(-0.0004, 0)), 0.0016)
            start = end
        at += width


def window(f, trim, x, z, wall=0.2, bars=(2, 2)):
    """Casing, sill, two sashes with thin bars in the opening x, z of the wall plane y=0. No glass: it only adds noise."""
    c = 0.085
    f.box(trim, (x[0] - c, x[0]), (-0.02, 0), (z[0], z[1] + c), 0.003)
    f.box(trim, (x[1], x[1] + c), (-0.02, 0), (z[0], z[1] + c), 0.003)
    f.box(trim, (x[0], x[1]), (-0.021, 0), (z[1], z[1] + c), 0.003)
    f.box(trim, (x[0] - c - 0.03, x[1] + c + 0.03), (-0.055, 0.02), (z[0] - 0.03, z[0]), 0.004)
    for a, b in ((x[0], x[0] + 0.012), (x[1] - 0.012, x[1])):
        f.box(trim, (a, b), (0.0, wall), z, 0.001)
    f.box(trim, x, (0.001, wall), (z[1] - 0.012, z[1]), 0.001)
    f.box(trim, x, (0.021, wall), (z[0], z[0] + 0.012), 0.001)
    middle = (x[0] + x[1]) / 2
    for a, b in ((x[0] + 0.012, middle - 0.002), (middle + 0.002, x[1] - 0.012)):
        w, lo, hi, y = 0.052, z[0] + 0.013, z[1] - 0.013, (0.07, 0.115)
        f.box(trim, (a, a + w), y, (lo, hi), 0.003)
        f.box(trim, (b - w, b), y, (lo, hi), 0.003)
        f.box(trim, (a + w, b - w), y, (lo, lo + w), 0.003)
        f.box(trim, (a + w, b - w), y, (hi - w, hi), 0.003)
        for k in range(1, bars[1] + 1):
            at = lo + w + (hi - lo - 2 * w) * k / (bars[1] + 1)
            f.box(trim, (a + w, b - w), (0.082, 0.106), (at - 0.009, at + 0.009), 0.002)
