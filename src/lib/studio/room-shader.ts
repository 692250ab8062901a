import {
  BURNING,
  DITHER,
  FAINT,
  KNEE,
  LUMINANCE,
  MOST_BENT,
  MOST_BOUNCED,
  type LightApart,
  type PaintParameters,
} from '#lib/photo/index.ts';

/**
 * The formula of `paintOver` for the graphics processor, in three passes: each surface's change of the picture, their sum
 * on the picture as device values in a light, and the view of that on a canvas. GLSL ES 3.00.
 */

/** One triangle that covers the viewport. */
const VERTEX = `#version 300 es
void main() {
  vec2 corner = vec2(gl_VertexID == 1 ? 3.0 : -1.0, gl_VertexID == 2 ? 3.0 : -1.0);
  gl_Position = vec4(corner, 0.0, 1.0);
}`;

// The transfer function of sRGB, IEC 61966-2-1.
const TRANSFER = `
vec3 linear(vec3 v) {
  return mix(pow((v + 0.055) / 1.055, vec3(2.4)), v / 12.92, lessThanEqual(v, vec3(0.04045)));
}
vec3 device(vec3 v) {
  return mix(1.055 * pow(v, vec3(1.0 / 2.4)) - 0.055, 12.92 * v, lessThanEqual(v, vec3(0.0031308)));
}`;

/**
 * What one surface adds to the sum. Where it covers a pixel wholly the old value goes out exactly (it is counted in the
 * fourth channel and not subtracted), so that half precision is enough where light becomes dark.
 */
export const SURFACE = `#version 300 es
precision highp float;
precision highp int;
uniform highp sampler2D picture;
uniform highp sampler2D light;
uniform highp sampler2D glow;
uniform highp sampler2D coverage;
uniform highp sampler2D rest;
uniform highp sampler2D pattern;
uniform ivec2 corner;
uniform vec4 parameters[3];
out vec4 change;
${TRANSFER}
void main() {
  ivec2 at = ivec2(gl_FragCoord.xy);
  ivec2 place = at - corner;
  float share = texelFetch(coverage, place, 0).r;
  if (share == 0.0) discard;
  vec3 bounce = parameters[1].rgb;
  float gloss = parameters[1].a;
  vec3 ambient = parameters[2].rgb;
  float face = parameters[2].a;
  vec4 fall = texelFetch(light, place, 0);
  float wide = texelFetch(glow, place, 0).r;
  float mirror = max(0.0, face + wide + gloss * (fall.a - wide));
  vec3 bounced = min(fall.rgb * ${MOST_BOUNCED}, ambient / max(fall.rgb, vec3(1e-6)));
  vec3 body = parameters[0].a > 0.5 ? linear(texelFetch(pattern, place, 0).rgb) : parameters[0].rgb;
  vec3 now = (fall.rgb + bounced * (bounce - 1.0)) * (body + mirror);
  if (share == 1.0) {
    change = vec4(now, 1.0);
    return;
  }
  vec3 pixel = linear(texelFetch(picture, at, 0).rgb);
  vec3 left = linear(texelFetch(rest, place, 0).rgb);
  change = vec4(left - pixel + share * now, 0.0);
}`;

/**
 * Picture and sum as device values, dithered like those of `paintOver`, in a light where there is one. Pixels that nothing
 * touches stay bit by bit.
 */
export const SUM = `#version 300 es
precision highp float;
precision highp int;
uniform highp sampler2D picture;
uniform highp sampler2D changes;
uniform highp sampler3D table;
uniform highp sampler3D lampTable;
uniform highp sampler2D shares;
uniform highp sampler2D around;
uniform bool dressed;
uniform int relit;
uniform vec4 apart[3];
out vec4 shown;
${TRANSFER}
float shoulder(float value, float pixel) {
  float knee = max(pixel, ${KNEE});
  if (value <= knee || knee > 0.999) return value;
  return knee + (1.0 - knee) * (1.0 - exp((knee - value) / (1.0 - knee)));
}
vec3 read(highp sampler3D nodes, vec3 value) {
  float side = float(textureSize(nodes, 0).x);
  return texture(nodes, (value.bgr * (side - 1.0) + 0.5) / side).rgb;
}
vec3 inLight(highp sampler3D nodes, vec3 colour) {
  float most = max(1.0, max(colour.r, max(colour.g, colour.b)));
  return most * linear(read(nodes, device(colour / most)));
}
float straightened(float v) {
  if (v <= ${KNEE}) return v;
  float over = (min(${MOST_BENT}, v) - ${KNEE}) / ${(1 - KNEE).toFixed(6)};
  return ${KNEE} - ${(1 - KNEE).toFixed(6)} * log(1.0 - over);
}
/** The formula of relightApart. */
vec3 byBothLights(vec3 value, vec2 at, bool painted) {
  float share = texture(shares, at / (apart[2].x * vec2(textureSize(shares, 0)))).r;
  vec3 pixel = linear(value);
  if (painted) pixel = vec3(straightened(pixel.r), straightened(pixel.g), straightened(pixel.b));
  vec3 tint = mix(apart[1].rgb, apart[0].rgb, share);
  float brightest = max(pixel.r, max(pixel.g, pixel.b));
  float grey = painted ? 0.0 : max(0.0, (brightest - ${BURNING}) / ${(1 - BURNING).toFixed(6)});
  float faint = max(grey, min(1.0, (max(share, 1.0 - share) - ${FAINT[0]}) / ${FAINT[1]}));
  vec4 beside = texture(around, at / (apart[2].y * vec2(textureSize(around, 0))));
  float known = painted ? 0.0 : beside.a;
  vec3 plain = pixel / tint;
  vec3 burning = pixel / dot(tint, vec3(${LUMINANCE.join(', ')}));
  plain = mix(plain, mix(burning, vec3(plain.g), known), grey);
  vec3 weaker = plain;
  if (beside.g > 0.0) weaker = mix(plain, plain.g * beside.rgb / beside.g, faint * known);
  bool mostlyWindow = share > 0.5;
  vec3 sum = share * apart[0].a * inLight(table, mostlyWindow ? plain : weaker) +
    (1.0 - share) * apart[1].a * inLight(lampTable, mostlyWindow ? weaker : plain);
  vec3 over = ${KNEE} + ${(1 - KNEE).toFixed(6)} * (1.0 - exp((${KNEE} - sum) / ${(1 - KNEE).toFixed(6)}));
  return device(mix(over, sum, lessThanEqual(sum, vec3(${KNEE}))));
}
float dither(vec2 at) {
  return fract(${DITHER[2]} * fract(dot(at, vec2(${DITHER[0]}, ${DITHER[1]}))));
}
void main() {
  ivec2 at = ivec2(gl_FragCoord.xy);
  vec3 value = texelFetch(picture, at, 0).rgb;
  bool painted = false;
  if (dressed) {
    vec4 sum = texelFetch(changes, at, 0);
    if (sum != vec4(0.0)) {
      painted = true;
      vec3 pixel = linear(value);
      vec3 v = pixel * (1.0 - sum.a) + sum.rgb;
      v = vec3(shoulder(v.r, pixel.r), shoulder(v.g, pixel.g), shoulder(v.b, pixel.b));
      value = floor(255.0 * device(clamp(v, 0.0, 1.0)) + dither(vec2(at))) / 255.0;
    }
  }
  if (relit == 1) value = read(table, value);
  else if (relit == 2) value = byBothLights(value, gl_FragCoord.xy, painted);
  shown = vec4(value, 1.0);
}`;

/**
 * The view on the canvas. At 1:1 and from twice that each picture pixel is a square; in between, where squares would come
 * out uneven, it is interpolated; below, four taps of the level that is finer than the footprint stand for its mean.
 */
export const VIEW = `#version 300 es
precision highp float;
precision highp int;
uniform highp sampler2D before;
uniform highp sampler2D after;
uniform vec3 view;
uniform vec2 canvas;
uniform float edge;
out vec4 shown;
vec3 sampled(highp sampler2D side, vec2 at) {
  if (view.x == 1.0 || view.x >= 2.0) return texelFetch(side, ivec2(floor(at)), 0).rgb;
  float level = max(0.0, -log2(view.x) - 1.0);
  vec2 size = vec2(textureSize(side, 0));
  vec2 step = 0.25 / (view.x * size);
  vec2 uv = at / size;
  if (view.x > 1.0) return textureLod(side, uv, 0.0).rgb;
  return 0.25 * (textureLod(side, uv - step, level).rgb + textureLod(side, uv + step, level).rgb +
    textureLod(side, uv + vec2(step.x, -step.y), level).rgb +
    textureLod(side, uv + vec2(-step.x, step.y), level).rgb);
}
void main() {
  vec2 place = vec2(gl_FragCoord.x, canvas.y - gl_FragCoord.y);
  vec2 at = (place - view.yz) / view.x;
  vec2 size = vec2(textureSize(before, 0));
  if (at.x < 0.0 || at.y < 0.0 || at.x >= size.x || at.y >= size.y) {
    shown = vec4(0.0);
    return;
  }
  shown = vec4(place.x < edge ? sampled(before, at) : sampled(after, at), 1.0);
}`;

/** The numbers of two lights as `apart`. */
export function packedLight({ shares, window, lamps }: LightApart): Float32Array {
  return Float32Array.of(
    ...shares.window,
    window.amount,
    ...shares.lamps,
    lamps.amount,
    shares.cell,
    shares.around.cell,
    0,
    0,
  );
}

/** The numbers of one surface as the three `parameters` of its pass. */
export function packedParameters(parameters: PaintParameters): Float32Array {
  const { albedo, face, gloss, bounce, ambient } = parameters;
  return Float32Array.of(...(albedo ?? [0, 0, 0]), albedo ? 0 : 1, ...bounce, gloss, ...ambient, face);
}

/** Each texture has its unit; the tables are three-dimensional and must not share one. */
export const UNITS = [
  'picture',
  'light',
  'glow',
  'coverage',
  'rest',
  'pattern',
  'changes',
  'table',
  'lampTable',
  'shares',
  'around',
  'before',
  'after',
];

/** A program, and where its numbers go. */
export interface Pass {
  readonly program: WebGLProgram;
  readonly place: (name: string) => WebGLUniformLocation | null;
}

/** A program with its textures on their units; null where it does not compile here. */
export function pass(gl: WebGL2RenderingContext, fragment: string): Pass | null {
  const program = gl.createProgram();
  for (const [kind, text] of [
    [gl.VERTEX_SHADER, VERTEX],
    [gl.FRAGMENT_SHADER, fragment],
  ] as const) {
    const shader = gl.createShader(kind);
    if (!shader) return null;
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    gl.attachShader(program, shader);
  }
  gl.linkProgram(program);
  if (!gl.getProgramParameter(program, gl.LINK_STATUS)) return null;
  const places = new Map<string, WebGLUniformLocation | null>();
  const place = (name: string) => {
    const known = places.get(name) ?? gl.getUniformLocation(program, name);
    places.set(name, known);
    return known;
  };
  gl.useProgram(program);
  UNITS.forEach((name, unit) => gl.uniform1i(place(name), unit));
  return { program, place };
}
