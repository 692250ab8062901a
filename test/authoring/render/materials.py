"""Procedural materials. Base colours are linear sRGB; CIELAB arguments are D65/10 degrees (see paints.py).

Each material names the surface it belongs to and writes 1 into that surface's AOV, which is how the masks come
out of the same render. What the base colour is made of is kept on the material as the custom property
`albedo` (a list of CIELAB tones), so that truth.json never repeats a number by hand.
"""
import bpy
from paints import lab_to_linear, linear_to_lab

SURFACES = ('cabinets', 'walls', 'ceiling', 'trim', 'counter', 'backsplash', 'floor', 'hardware', 'wood', 'paper')


class Graph:
    """A Principled material under construction; `node` makes, sets and links in one line."""

    def __init__(self, name, surface=None, tones=(), **inputs):
        self.material = bpy.data.materials.new(name)
        self.material.use_nodes = True
        self.tree = self.material.node_tree
        self.bsdf = self.tree.nodes['Principled BSDF']
        if surface:
            if surface not in SURFACES:
                raise ValueError(f'Expected one of {SURFACES}, got {surface}')
            self.node('ShaderNodeOutputAOV', {'Value': 1.0}, name=surface)
            self.material['surface'] = surface
        self.material['albedo'] = [v for tone in tones for v in tone]
        self.set(**inputs)

    def set(self, **inputs):
        for name, value in inputs.items():
            self._input(self.bsdf.inputs[name.replace('_', ' ')], value)

    def _input(self, socket, value):
        if isinstance(value, bpy.types.NodeSocket):
            self.tree.links.new(value, socket)
        elif isinstance(value, (tuple, list)) and socket.type == 'RGBA':
            socket.default_value = (*value[:3], 1)
        else:
            socket.default_value = value

    def node(self, kind, inputs=None, **properties):
        n = self.tree.nodes.new(kind)
        for key, value in properties.items():
            setattr(n, key, value)
        for key, value in (inputs or {}).items():
            self._input(n.inputs[key], value)
        return n

    def coordinates(self, scale=(1, 1, 1), vary=0.0):
        """Object coordinates in metres times `scale`, shifted per part by up to `vary` metres."""
        vector = self.node('ShaderNodeTexCoord').outputs['Object']
        if vary:
            shift = self.node('ShaderNodeVectorMath', {0: self.vary().outputs['Vector'], 1: (vary,) * 3},
                              operation='MULTIPLY')
            vector = self.node('ShaderNodeVectorMath', {0: vector, 1: shift.outputs[0]}).outputs[0]
        return self.node('ShaderNodeMapping', {'Vector': vector, 'Scale': scale}).outputs[0]

    def vary(self):
        """Three random numbers 0-1 that are the same all over one part (see parts.py)."""
        return self.node('ShaderNodeAttribute', attribute_name='vary')

    def noise(self, vector, scale, detail=3.0, roughness=0.5, output='Fac'):
        return self.node('ShaderNodeTexNoise', {'Vector': vector, 'Scale': scale, 'Detail': detail,
                                                'Roughness': roughness}).outputs[output]

    def range(self, value, low, high, start=0.0, end=1.0):
        return self.node('ShaderNodeMapRange', {'Value': value, 'From Min': start, 'From Max': end,
                                                'To Min': low, 'To Max': high}).outputs[0]

    def maths(self, operation, a, b):
        return self.node('ShaderNodeMath', {0: a, 1: b}, operation=operation).outputs[0]

    def ramp(self, value, stops, interpolation='LINEAR'):
        n = self.node('ShaderNodeValToRGB', {'Fac': value})
        n.color_ramp.interpolation = interpolation
        elements = n.color_ramp.elements
        while len(elements) < len(stops):
            elements.new(0.5)
        for element, (at, colour) in zip(elements, stops):
            element.position = at
            element.color = (*colour, 1)
        return n.outputs['Color']

    def mix(self, a, b, amount, blend='MIX'):
        return self.node('ShaderNodeMixRGB', {'Fac': amount, 'Color1': a, 'Color2': b}, blend_type=blend).outputs[0]

    def bump(self, height, distance, strength=1.0):
        n = self.node('ShaderNodeBump', {'Height': height, 'Distance': distance, 'Strength': strength})
        self.set(Normal=n.outputs[0])


def paint(name, lab, surface=None, roughness=0.5, specular=0.5, wobble=0.0):
    """One flat colour. `wobble` is the spread of the roughness a roller leaves; no bump (it blocks the filter)."""
    g = Graph(name, surface, [lab], Base_Color=lab_to_linear(lab), Roughness=roughness, Specular=specular)
    if wobble:
        g.set(Roughness=g.range(g.noise(g.coordinates(), 9), roughness - wobble, roughness + wobble, 0.3, 0.7))
    return g.material


def neutral(name, albedo, surface='paper', roughness=0.8):
    """Paper and cards: the same albedo in all three bands, next to no gloss."""
    rgb = (albedo,) * 3
    return Graph(name, surface, [linear_to_lab(rgb)], Base_Color=rgb, Roughness=roughness, Specular=0.1).material


def tile(name, lab, surface='backsplash', spread=0.10, roughness=0.12):
    """Glaze: each tile up to `spread` darker than the named colour, slightly uneven across its face."""
    g = Graph(name, surface, [lab], Roughness=roughness, Specular=0.5)
    x = g.node('ShaderNodeSeparateXYZ', {0: g.vary().outputs['Vector']}).outputs['X']
    tone = g.range(x, 1 - spread, 1.0)
    cloud = g.range(g.noise(g.coordinates(vary=3), 14), 0.96, 1.04, 0.3, 0.7)
    g.set(Base_Color=g.mix(lab_to_linear(lab), g.maths('MULTIPLY', tone, cloud), 1.0, 'MULTIPLY'))
    return g.material


def wood(name, tones, surface='wood', axis=0, roughness=0.42, spread=0.16, fineness=1.0):
    """Three browns (CIELAB, dark to light), grain along local `axis`, tone and figure shifted for each part."""
    g = Graph(name, surface, tones, Roughness=roughness, Specular=0.35)
    dark, middle, light = (lab_to_linear(t) for t in tones)

    def stretched(ratio, scale):
        s = [scale * fineness] * 3
        s[axis] = scale * fineness / ratio
        return g.coordinates(s, vary=4)
    broad = g.noise(stretched(16, 9), 1, 4, 0.62)
    fine = g.noise(stretched(30, 70), 1, 2)
    rings = g.node('ShaderNodeTexWave', {'Vector': stretched(10, 7), 'Scale': 1.2, 'Distortion': 9, 'Detail': 2},
                   bands_direction='DIAGONAL').outputs['Fac']
    figure = g.node('ShaderNodeMixRGB', {'Fac': 0.16, 'Color1': broad, 'Color2': rings}).outputs[0]
    colour = g.ramp(figure, [(0.28, dark), (0.5, middle), (0.72, light)])
    x = g.node('ShaderNodeSeparateXYZ', {0: g.vary().outputs['Vector']}).outputs['X']
    shade = g.maths('MULTIPLY', g.range(fine, 0.80, 1.12, 0.3, 0.7), g.range(x, 1 - spread, 1 + spread / 2))
    g.set(Base_Color=g.mix(colour, shade, 1.0, 'MULTIPLY'), Roughness=g.range(fine, roughness + 0.1, roughness - 0.05))
    return g.material


def granite(name, tones, fleck, surface='counter', grain=230.0, drift=0.35, fine=(0.72, 1.15), flecks=0.86, shift=0.0):
    """Mineral grains: Voronoi cells pick one of six `tones` (CIELAB); `fleck` is the mineral of the small flecks.

    `grain` is cells per metre, `drift` how far a slow cloud pushes the choice, `fine` the powder that multiplies it.
    """
    g = Graph(name, surface, [*tones, fleck], Roughness=0.12, Specular=0.5)
    place = g.node('ShaderNodeMapping', {'Vector': g.coordinates(), 'Location': (shift, 0.7 * shift, 0)}).outputs[0]
    warp = g.node('ShaderNodeVectorMath', {0: g.noise(place, 55, output='Color'), 1: (0.01,) * 3},
                  operation='MULTIPLY').outputs[0]
    place = g.node('ShaderNodeVectorMath', {0: place, 1: warp}).outputs[0]

    def cells(scale):
        colour = g.node('ShaderNodeTexVoronoi', {'Vector': place, 'Scale': scale}).outputs['Color']
        return g.node('ShaderNodeSeparateRGB', {0: colour}).outputs[0]
    cloud = g.range(g.noise(place, 3.2, 4), -drift, drift, 0.3, 0.7)
    pick = g.maths('ADD', cells(grain), cloud)
    steps = (0.0, 0.2, 0.38, 0.55, 0.72, 0.86)
    colour = g.ramp(pick, [(s, lab_to_linear(t)) for s, t in zip(steps, tones)], 'CONSTANT')
    speck = g.maths('GREATER_THAN', cells(grain * 1.3), flecks)
    colour = g.mix(colour, lab_to_linear(fleck), speck)
    g.set(Base_Color=g.mix(colour, g.range(g.noise(place, 160), *fine, 0.3, 0.7), 1.0, 'MULTIPLY'))
    return g.material


def marble(name, ground, cloud, vein, surface='counter'):
    """Pale stone with narrow veins; three CIELAB tones."""
    g = Graph(name, surface, [ground, cloud, vein], Roughness=0.15, Specular=0.5)
    place = g.coordinates((1.0, 1.35, 1.0))
    warp = g.node('ShaderNodeVectorMath', {0: g.noise(place, 2.2, 5, 0.6, 'Color'), 1: (0.55,) * 3},
                  operation='MULTIPLY').outputs[0]
    place = g.node('ShaderNodeVectorMath', {0: place, 1: warp}).outputs[0]
    ground, cloud, vein = (lab_to_linear(t) for t in (ground, cloud, vein))
    base = g.mix(ground, cloud, g.range(g.noise(place, 2.5, 5), 0, 1, 0.42, 0.75))
    lines = g.ramp(g.noise(place, 1.7, 8, 0.55), [(0.455, (0, 0, 0)), (0.494, (1, 1, 1)), (0.504, (1, 1, 1)),
                                                  (0.53, (0, 0, 0))])
    where = g.range(g.noise(place, 1.1, 2), 0.0, 0.9, 0.42, 0.66)
    g.set(Base_Color=g.mix(base, vein, g.mix((0, 0, 0), lines, where)))
    return g.material


def metal(name, colour, roughness=0.28, surface='hardware'):
    """`colour` is the linear reflectance at normal incidence; metals have no diffuse albedo."""
    return Graph(name, surface, [linear_to_lab(colour)], Base_Color=colour, Metallic=1.0, Roughness=roughness).material


def unlit(material):
    """Seen and mirrored but not sampled as a light: the lamps beside it do that work, and half of all light samples
    would go to glowing faces by their area. parts.py hides such parts from diffuse and shadow rays as well."""
    material.cycles.sample_as_light = False
    material['unlit'] = True


def glow(name, kelvin, strength, limb=1.0):
    """Visible lamp body; strength in W/m2/sr for a luminance of about 1, falling to `limb` of it at the rim of a globe."""
    g = Graph(name, Base_Color=(0.8, 0.8, 0.8), Roughness=0.4)
    g.set(Emission=g.node('ShaderNodeBlackbody', {'Temperature': kelvin}).outputs[0], Emission_Strength=strength)
    unlit(g.material)
    if limb < 1:
        facing = g.node('ShaderNodeLayerWeight', {'Blend': 0.35}).outputs['Facing']
        g.set(Emission_Strength=g.range(facing, strength, strength * limb))
    return g.material


def outdoors(name, strength):
    """What a phone sees through the window: far trees and sky, out of focus and overexposed."""
    g = Graph(name, Base_Color=(0, 0, 0), Specular=0.0)
    place = g.node('ShaderNodeTexCoord').outputs['Object']
    leaves = g.ramp(g.noise(place, 0.9, 3), [(0.38, (0.10, 0.20, 0.06)), (0.52, (0.42, 0.55, 0.30)),
                                             (0.62, (0.95, 1.0, 1.02))])
    z = g.node('ShaderNodeSeparateXYZ', {0: place}).outputs['Z']
    sky = g.range(g.maths('ADD', z, g.noise(place, 0.8)), 0, 1, 1.4, 3.2)
    g.set(Emission=g.mix(leaves, (0.92, 1.0, 1.08), sky), Emission_Strength=strength)
    unlit(g.material)
    return g.material
