import {
  BURNING,
  DITHER,
  ENCODE_STEPS,
  FAINT,
  KNEE,
  LUMINANCE,
  MOST_BENT,
  MOST_BOUNCED,
  encodingTable,
  type LightApart,
  type PaintParameters,
} from '#lib/photo/index.ts';
import { LINEAR } from './room-stage.ts';

/**
 * The formula of `paintOver` for the graphics processor: what a surface changes of the picture, as a change to be added up
 * or painted at once as device values in a light; the bare picture in that light; and the view of it on a canvas. Single
 * precision and the worker's own tables throughout, so that both come to the same device values. GLSL ES 3.00.
 */

/** A light of `paintOver`'s picture: none, one table, or window and lamps apart. */
export type Relit = 0 | 1 | 2;

/** Rectangles, in pixels of what is drawn into; `apart` leads from a pixel of the picture to its slot. */
const VERTEX = `#version 300 es
layout(location = 0) in vec4 rect;
layout(location = 1) in vec2 toSlot;
uniform vec2 size;
uniform bool inSlots;
flat out highp ivec2 slot;
void main() {
  vec2 at = rect.xy + rect.zw * vec2(gl_VertexID & 1, gl_VertexID >> 1);
  slot = ivec2(toSlot);
  gl_Position = vec4(2.0 * (inSlots ? at + toSlot : at) / size - 1.0, 0.0, 1.0);
}`;

/** Texels in a row of the table for square roots of linear light. */
const ROW = 128;

// Device values count from 0 to 255.
const VALUES = `#version 300 es
precision highp float;
precision highp int;
uniform highp sampler2D picture;
uniform highp sampler2D lights;
uniform highp sampler2D devices;
flat in highp ivec2 slot;
float light1(float v) { return texelFetch(lights, ivec2(v, 0), 0).r; }
float device1(float v) {
  int at = int(sqrt(clamp(v, 0.0, 1.0)) * ${ENCODE_STEPS}.0);
  return texelFetch(devices, ivec2(at & ${ROW - 1}, at / ${ROW}), 0).r;
}
vec3 linear(vec3 v) { return vec3(light1(v.r), light1(v.g), light1(v.b)); }
vec3 device(vec3 v) { return vec3(device1(v.r), device1(v.g), device1(v.b)); }
vec3 values(highp sampler2D of, ivec2 at) { return floor(255.0 * texelFetch(of, at, 0).rgb + 0.5); }`;

/**
 * Light that a surface sends out with its finish, and what that adds to the picture: see `changes`. Whole cells have
 * nothing but the surface; elsewhere it may cover a part of a pixel, or others came before it.
 */
const CHANGE = (whole: boolean) => `
uniform highp sampler2D light;
uniform highp sampler2D glow;
uniform highp sampler2D coverage;
uniform highp sampler2D rest;
uniform highp sampler2D pattern;
uniform highp sampler2D sums;
uniform ivec2 corner;
uniform vec4 parameters[3];
uniform bool patterned;
uniform bool later;
vec3 now(ivec2 place) {
  vec3 bounce = parameters[1].rgb;
  float gloss = parameters[1].a;
  vec3 ambient = parameters[2].rgb;
  float face = parameters[2].a;
  vec4 fall = texelFetch(light, place, 0);
  float mirror = face + fall.a;
  if (gloss != 1.0) {
    float wide = texelFetch(glow, place, 0).r;
    mirror = face + wide + gloss * (fall.a - wide);
  }
  vec3 bounced = min(fall.rgb * ${MOST_BOUNCED}, ambient / max(fall.rgb, vec3(1e-6)));
  vec3 body = patterned ? linear(values(pattern, place)) : parameters[0].rgb;
  return (fall.rgb + bounced * (bounce - 1.0)) * (body + max(0.0, mirror));
}
${whole ? 'vec4 changes(ivec2 at) { return vec4(now(at - corner), 1.0); }' : SHARED}`;

/**
 * Where a surface covers a pixel wholly the old value goes out exactly: it is counted in the fourth channel and not
 * subtracted.
 */
const SHARED = `
vec4 change(ivec2 at) {
  ivec2 place = at - corner;
  if (min(place.x, place.y) < 0 || any(greaterThanEqual(place, textureSize(coverage, 0)))) return vec4(0.0);
  float share = texelFetch(coverage, place, 0).r;
  if (share == 0.0) return vec4(0.0);
  if (share == 1.0) return vec4(now(place), 1.0);
  return vec4(linear(values(rest, place)) - linear(values(picture, at)) + share * now(place), 0.0);
}
vec4 changes(ivec2 at) {
  vec4 own = change(at);
  return later ? own + texelFetch(sums, at + slot, 0) : own;
}`;

/** The sum of the changes up to this surface, in the slots of shared cells. */
export const SUM = `${VALUES}
${CHANGE(false)}
out vec4 sum;
void main() { sum = changes(ivec2(gl_FragCoord.xy) - slot); }`;

const ONE_LIGHT = `
uniform highp sampler3D table;
vec3 read(highp sampler3D nodes, vec3 value) {
  int most = textureSize(nodes, 0).x - 2;
  vec3 at = value.bgr * (float(most + 1) / 255.0);
  ivec3 low = min(ivec3(at), most);
  vec3 part = at - vec3(low);
  vec3 near = mix(
    mix(texelFetch(nodes, low, 0).rgb, texelFetch(nodes, low + ivec3(1, 0, 0), 0).rgb, part.x),
    mix(texelFetch(nodes, low + ivec3(0, 1, 0), 0).rgb, texelFetch(nodes, low + ivec3(1, 1, 0), 0).rgb, part.x),
    part.y);
  vec3 far = mix(
    mix(texelFetch(nodes, low + ivec3(0, 0, 1), 0).rgb, texelFetch(nodes, low + ivec3(1, 0, 1), 0).rgb, part.x),
    mix(texelFetch(nodes, low + ivec3(0, 1, 1), 0).rgb, texelFetch(nodes, low + ivec3(1, 1, 1), 0).rgb, part.x),
    part.y);
  return mix(near, far, part.z);
}`;

/** The formula of `relightApart`, of a finish that was put on and of what was there before. */
const TWO_LIGHTS = `
uniform highp sampler3D lampTable;
uniform highp sampler2D shares;
uniform highp sampler2D around;
uniform vec4 apart[3];
float between(float v) {
  float low = min(floor(v), 254.0);
  return mix(light1(low), light1(low + 1.0), v - low);
}
vec3 asLight(vec3 shown) { return vec3(between(shown.r), between(shown.g), between(shown.b)); }
float share() {
  return texture(shares, gl_FragCoord.xy / (apart[2].x * vec2(textureSize(shares, 0)))).r;
}
vec3 bent(vec3 sum) {
  vec3 over = ${KNEE} + ${(1 - KNEE).toFixed(6)} * (1.0 - exp((${KNEE} - sum) / ${(1 - KNEE).toFixed(6)}));
  return floor(device(mix(over, sum, lessThanEqual(sum, vec3(${KNEE})))) + 0.5);
}
float mostOf(vec3 colour) { return max(1.0, max(colour.r, max(colour.g, colour.b))); }
vec3 inLight(highp sampler3D nodes, vec3 colour) {
  float most = mostOf(colour);
  return most * asLight(read(nodes, device(colour / most)));
}
float straightened(float v) {
  if (v <= ${KNEE}) return v;
  float over = (min(${MOST_BENT}, v) - ${KNEE}) / ${(1 - KNEE).toFixed(6)};
  return ${KNEE} - ${(1 - KNEE).toFixed(6)} * log(1.0 - over);
}
vec3 paintedIn(vec3 value) {
  float window = share();
  vec3 pixel = linear(value);
  pixel = vec3(straightened(pixel.r), straightened(pixel.g), straightened(pixel.b));
  vec3 plain = pixel / mix(apart[1].rgb, apart[0].rgb, window);
  float most = mostOf(plain);
  vec3 shown = device(plain / most);
  vec3 sum = vec3(0.0);
  if (window * apart[0].a > 0.0) sum += most * window * apart[0].a * asLight(read(table, shown));
  if ((1.0 - window) * apart[1].a > 0.0)
    sum += most * (1.0 - window) * apart[1].a * asLight(read(lampTable, shown));
  return bent(sum);
}
vec3 bareIn(vec3 value) {
  float window = share();
  vec3 pixel = linear(value);
  vec3 tint = mix(apart[1].rgb, apart[0].rgb, window);
  float brightest = max(pixel.r, max(pixel.g, pixel.b));
  float grey = max(0.0, (brightest - ${BURNING}) / ${(1 - BURNING).toFixed(6)});
  float faint = max(grey, min(1.0, (max(window, 1.0 - window) - ${FAINT[0]}) / ${FAINT[1]}));
  vec4 beside = texture(around, gl_FragCoord.xy / (apart[2].y * vec2(textureSize(around, 0))));
  vec3 burning = pixel / dot(tint, vec3(${LUMINANCE.join(', ')}));
  vec3 plain = pixel / tint;
  plain = mix(plain, mix(burning, vec3(plain.g), beside.a), grey);
  vec3 weaker = plain;
  if (beside.g > 0.0) weaker = mix(plain, plain.g * beside.rgb / beside.g, faint * beside.a);
  bool mostlyWindow = window > 0.5;
  vec3 sum = vec3(0.0);
  if (window * apart[0].a > 0.0) sum += window * apart[0].a * inLight(table, mostlyWindow ? plain : weaker);
  if ((1.0 - window) * apart[1].a > 0.0)
    sum += (1.0 - window) * apart[1].a * inLight(lampTable, mostlyWindow ? weaker : plain);
  return bent(sum);
}`;

/** Device values as a light shows them, where a finish made them and as photographed. */
const SHOWN: Record<Relit, string> = {
  0: `vec3 paintedIn(vec3 value) { return value; }
vec3 bareIn(vec3 value) { return value; }`,
  1: `${ONE_LIGHT}
vec3 paintedIn(vec3 value) { return floor(read(table, value) + 0.5); }
vec3 bareIn(vec3 value) { return paintedIn(value); }`,
  2: `${ONE_LIGHT}
${TWO_LIGHTS}`,
};

/** The picture as photographed, in a light. */
export const bare = (relit: Relit): string => `${VALUES}
${SHOWN[relit]}
out vec4 shown;
void main() { shown = vec4(bareIn(values(picture, ivec2(gl_FragCoord.xy))) / 255.0, 1.0); }`;

/** A part of [0, 1) in 32 bits, so that whole numbers times it lose nothing. */
const fixed = (part: number) => `${Math.round(part * 2 ** 32)}u`;

/**
 * The changes on the picture as device values in a light, dithered like those of `paintOver`; untouched pixels stay.
 * `whole`: for whole cells.
 */
export const painted = (relit: Relit, whole: boolean): string => `${VALUES}
${CHANGE(whole)}
${SHOWN[relit]}
out vec4 shown;
float shoulder(float value, float pixel) {
  float knee = max(pixel, ${KNEE});
  if (value <= knee || knee > 0.999) return value;
  return knee + (1.0 - knee) * (1.0 - exp((knee - value) / (1.0 - knee)));
}
float dither(ivec2 at) {
  uint part = uint(at.x) * ${fixed(DITHER[0])} + uint(at.y) * ${fixed(DITHER[1])};
  return fract(${DITHER[2]} * (float(part >> 8) / 16777216.0));
}
void main() {
  ivec2 at = ivec2(gl_FragCoord.xy);
  vec4 sum = changes(at);
  ${whole ? '' : 'if (sum == vec4(0.0)) discard;'}
  vec3 v = sum.rgb;
  if (sum.a != 1.0 || any(greaterThan(v, vec3(${KNEE})))) {
    vec3 pixel = linear(values(picture, at));
    v += (1.0 - sum.a) * pixel;
    v = vec3(shoulder(v.r, pixel.r), shoulder(v.g, pixel.g), shoulder(v.b, pixel.b));
  }
  vec3 value = min(vec3(255.0), floor(device(v) + dither(at)));
  // What comes out as it was counts as what was there before.
  bool same = ${relit === 2 ? 'value == values(picture, at)' : 'false'};
  shown = vec4((same ? bareIn(value) : paintedIn(value)) / 255.0, 1.0);
}`;

/** How the picture is read for a canvas: pixel by pixel, in between, or as the mean of what a canvas pixel covers. */
export type Reading = 'square' | 'between' | 'mean';

const READ: Record<Reading, string> = {
  square: 'vec3 sampled(vec2 at, vec2 size) { return texelFetch(side, ivec2(at), 0).rgb; }',
  between: 'vec3 sampled(vec2 at, vec2 size) { return textureLod(side, at / size, 0.0).rgb; }',
  // Four pixels of the picture each way at a time: two reads, each as far in between two pixels as they weigh.
  mean: `
uniform int blocks;
vec4 weights(float start, float end, float from) {
  vec4 at = from + vec4(0.0, 1.0, 2.0, 3.0);
  return clamp(end - at, 0.0, 1.0) - clamp(start - at, 0.0, 1.0);
}
vec3 sampled(vec2 at, vec2 size) {
  vec2 start = max(vec2(0.0), at - 0.5 / view.x);
  vec2 end = min(size, at + 0.5 / view.x);
  vec2 first = floor(start);
  vec3 sum = vec3(0.0);
  for (int j = 0; j < blocks; j++) {
    float y = first.y + float(4 * j);
    vec4 down = weights(start.y, end.y, y);
    vec2 tall = down.xz + down.yw;
    vec2 v = (vec2(y + 0.5, y + 2.5) + down.yw / max(tall, vec2(1e-6))) / size.y;
    for (int i = 0; i < blocks; i++) {
      float x = first.x + float(4 * i);
      vec4 along = weights(start.x, end.x, x);
      vec2 wide = along.xz + along.yw;
      vec2 u = (vec2(x + 0.5, x + 2.5) + along.yw / max(wide, vec2(1e-6))) / size.x;
      sum += tall.x * (wide.x * textureLod(side, vec2(u.x, v.x), 0.0).rgb + wide.y * textureLod(side, vec2(u.y, v.x), 0.0).rgb)
        + tall.y * (wide.x * textureLod(side, vec2(u.x, v.y), 0.0).rgb + wide.y * textureLod(side, vec2(u.y, v.y), 0.0).rgb);
    }
  }
  return sum / ((end.x - start.x) * (end.y - start.y));
}`,
};

/** The view on the canvas of one side, before or after. */
export const viewed = (reading: Reading): string => `#version 300 es
precision highp float;
precision highp int;
uniform highp sampler2D side;
uniform vec3 view;
uniform vec2 canvas;
out vec4 shown;
${READ[reading]}
void main() {
  vec2 at = (vec2(gl_FragCoord.x, canvas.y - gl_FragCoord.y) - view.yz) / view.x;
  vec2 size = vec2(textureSize(side, 0));
  bool inside = min(at.x, at.y) >= 0.0 && all(lessThan(at, size));
  shown = inside ? vec4(sampled(at, size), 1.0) : vec4(0.0);
}`;

/**
 * At 1:1 and from twice that each picture pixel is a square; in between squares would come out uneven. `blocks`: how many
 * times four pixels each way a mean takes.
 */
export function readingAt(scale: number): { reading: Reading; blocks: number } {
  const reading = scale === 1 || scale >= 2 ? 'square' : scale > 1 ? 'between' : 'mean';
  return { reading, blocks: Math.ceil((Math.ceil(1 / scale) + 1) / 4) };
}

/** What `lights` and `devices` hold: linear light of device values, and those of square roots of linear light in steps. */
export function valueTables(): Record<
  'lights' | 'devices',
  { width: number; height: number; data: Float32Array }
> {
  const data = new Float32Array(ROW * (ENCODE_STEPS / ROW + 1));
  data.set(encodingTable(LINEAR));
  return {
    lights: { width: LINEAR.length, height: 1, data: LINEAR },
    devices: { width: ROW, height: data.length / ROW, data },
  };
}

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
export function packedParameters({ albedo, face, gloss, bounce, ambient }: PaintParameters): Float32Array {
  return Float32Array.of(...(albedo ?? [0, 0, 0]), 0, ...bounce, gloss, ...ambient, face);
}

/** Each texture has its unit; the tables are three-dimensional and must not share one. */
export const UNITS = [
  'picture',
  'lights',
  'devices',
  'light',
  'glow',
  'coverage',
  'rest',
  'pattern',
  'sums',
  'table',
  'lampTable',
  'shares',
  'around',
  'side',
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
