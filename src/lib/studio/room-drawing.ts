import {
  paintParameters,
  type AlbedoPlane,
  type AppliedFinish,
  type Image8,
  type LightApart,
  type LightShares,
  type RelightTable,
  type SurfaceLayers,
} from '#lib/photo/index.ts';
import { NO_BOX, around, common, holds, seenBox, type Box } from './room-canvas.ts';
import { SUM, SURFACE, UNITS, VIEW, packedLight, packedParameters, pass, type Pass } from './room-shader.ts';

/** What a frame shows. */
export interface Frame {
  readonly view: { readonly scale: number; readonly x: number; readonly y: number };
  /** Part of the canvas's width, from the left, that shows the room as photographed. */
  readonly split: number;
  readonly finishes: ReadonlyMap<string, AppliedFinish>;
  readonly light: RelightTable | LightApart | null;
  /** Pictures at working size to keep painted, at least 2; 15 MB each at 2048 px. */
  readonly kept: number;
}

interface Size {
  readonly width: number;
  readonly height: number;
}

interface SurfaceTextures {
  readonly layers: SurfaceLayers;
  readonly light: WebGLTexture;
  readonly glow: WebGLTexture;
  readonly coverage: WebGLTexture;
  readonly rest: WebGLTexture;
}

interface Dressed {
  readonly textures: SurfaceTextures;
  readonly layers: SurfaceLayers;
  readonly finish: AppliedFinish;
}

/** A texture that is drawn into, and what it shows. */
interface Target {
  readonly texture: WebGLTexture;
  readonly frame: WebGLFramebuffer;
  /** Identities of what was drawn, the light first. */
  shows: readonly unknown[];
  /** Where it was drawn; beside it the texture holds anything. */
  box: Box;
  /** Where finishes are. */
  dressed: Box;
  /** How many of its smaller levels follow. */
  levels: number;
}

/** The picture and what is drawn at its size. */
interface Working {
  readonly picture: Image8;
  readonly texture: WebGLTexture;
  readonly changes: Target;
  /** The room as photographed and with finishes on, the one used last at the end. */
  readonly painted: Target[];
}

/** Everything that lives in the graphics processor and is gone when that is lost. */
interface Stock {
  readonly surface: Pass;
  readonly sum: Pass;
  readonly view: Pass;
  readonly surfaces: Map<string, SurfaceTextures>;
  readonly patterns: Map<AlbedoPlane, WebGLTexture>;
  readonly tables: Map<RelightTable, WebGLTexture>;
  readonly shares: Map<LightShares, WebGLTexture>;
  readonly around: Map<LightShares, WebGLTexture>;
  working: Working | null;
}

/** Patterns kept in the graphics processor, up to 9 MB each at 2048 px, and tables, 0.2 MB each. */
const PATTERNS_KEPT = 6;
const TABLES_KEPT = 24;
const SHARES_KEPT = 2;
/** Where textures are filled, so that none of those in use is pushed out. */
const UPLOADS = UNITS.length;

/** Formats of what comes from outside. */
type Kind = 'rgba8' | 'rgb8' | 'r8' | 'rgba16' | 'r16';

/** Paints a room on the graphics processor and hands out frames. A new candidate sends it a few numbers and no picture. */
export class RoomDrawing {
  readonly #canvas: OffscreenCanvas;
  readonly #gl: WebGL2RenderingContext;
  #stock: Stock | null = null;
  readonly #longest: number;

  constructor(canvas: OffscreenCanvas, gl: WebGL2RenderingContext) {
    this.#canvas = canvas;
    this.#gl = gl;
    this.#longest = gl.getParameter(gl.MAX_TEXTURE_SIZE) as number;
    this.restock();
  }

  get ready(): boolean {
    return this.#stock !== null;
  }

  /** Whether a picture of that size fits in a texture here. */
  holds({ width, height }: Size): boolean {
    return Math.max(width, height) <= this.#longest;
  }

  lost(): void {
    this.#stock = null;
  }

  /** Makes programs anew; nothing is set afterwards. */
  restock(): void {
    const gl = this.#gl;
    // Either extension makes halves a format to draw into and to add up in.
    const halves =
      gl.getExtension('EXT_color_buffer_float') ?? gl.getExtension('EXT_color_buffer_half_float');
    const [surface, sum, view] = halves ? [SURFACE, SUM, VIEW].map((text) => pass(gl, text)) : [];
    if (!surface || !sum || !view) {
      this.#stock = null;
      return;
    }
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
    gl.blendFunc(gl.ONE, gl.ONE);
    this.#stock = {
      surface,
      sum,
      view,
      surfaces: new Map(),
      patterns: new Map(),
      tables: new Map(),
      shares: new Map(),
      around: new Map(),
      working: null,
    };
  }

  setPicture(picture: Image8): void {
    const stock = this.#stock;
    if (!stock) return;
    const gl = this.#gl;
    for (const id of [...stock.surfaces.keys()]) this.removeSurface(id);
    if (stock.working) {
      const { texture, changes, painted } = stock.working;
      gl.deleteTexture(texture);
      for (const target of [changes, ...painted]) this.#delete(target);
    }
    const { width, height, channels, data } = picture;
    stock.working = {
      picture,
      texture: this.#texture(channels === 4 ? 'rgba8' : 'rgb8', { width, height, data }),
      changes: this.#target(picture, gl.RGBA16F),
      painted: [],
    };
    this.#checkMemory();
  }

  setSurface(id: string, layers: SurfaceLayers): void {
    this.removeSurface(id);
    const { width, height } = layers.box;
    if (!this.#stock || width === 0 || height === 0) return;
    const { light, glow, coverage, rest } = layers;
    this.#stock.surfaces.set(id, {
      layers,
      light: this.#texture('rgba16', { width, height, data: light }),
      glow: this.#texture('r16', { width, height, data: glow }),
      coverage: this.#texture('r8', { width, height, data: coverage }),
      rest: this.#texture('rgb8', { width, height, data: rest }),
    });
    this.#checkMemory();
  }

  removeSurface(id: string): void {
    const found = this.#stock?.surfaces.get(id);
    if (!found) return;
    for (const texture of [found.light, found.glow, found.coverage, found.rest])
      this.#gl.deleteTexture(texture);
    this.#stock?.surfaces.delete(id);
  }

  /** A frame of that many pixels; null where there is no picture or the graphics processor is lost. */
  draw(size: Size, frame: Frame): ImageBitmap | null {
    const working = this.#stock?.working;
    if (!this.#stock || !working) return null;
    const { view, split } = frame;
    const width = Math.max(1, Math.round(size.width));
    const height = Math.max(1, Math.round(size.height));
    const seen = (...columns: [number, number]) => seenBox(working.picture, { view, columns, height });
    // Where one side is not seen its texture is not read: the other stands in for it.
    const bare = { ...frame, finishes: new Map() };
    const before = split > 0 ? this.#painted(bare, seen(0, split * width)) : null;
    const after = split < 1 ? this.#painted(frame, seen(split * width, width)) : before;

    const gl = this.#gl;
    if (this.#canvas.width !== width) this.#canvas.width = width;
    if (this.#canvas.height !== height) this.#canvas.height = height;
    const { program, place } = this.#stock.view;
    gl.useProgram(program);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.viewport(0, 0, width, height);
    this.#bind('before', (before ?? after)?.texture ?? null);
    this.#bind('after', after?.texture ?? null);
    gl.uniform3f(place('view'), view.scale, view.x, view.y);
    gl.uniform2f(place('canvas'), width, height);
    gl.uniform1f(place('edge'), split * width);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
    const bitmap = this.#canvas.transferToImageBitmap();
    return gl.isContextLost() ? null : bitmap;
  }

  dispose(): void {
    this.#stock = null;
    this.#gl.getExtension('WEBGL_lose_context')?.loseContext();
  }

  /** The picture at working size with finishes on, painted where it is seen and not there yet. */
  #painted({ view, finishes, light, kept }: Frame, seen: Box): Target {
    const { surfaces } = this.#stock as Stock;
    const { painted, picture } = this.#stock?.working as Working;
    const gl = this.#gl;
    const on = [...finishes].flatMap(([id, finish]) => {
      const textures = surfaces.get(id);
      return textures ? [{ textures, layers: textures.layers, finish }] : [];
    });
    const shows = [light, ...on.flatMap(({ layers, finish }) => [layers, finish])];
    const same = (target: Target) =>
      shows.length === target.shows.length && shows.every((thing, k) => thing === target.shows[k]);
    let target = painted.find(same);
    if (!target) {
      for (const gone of painted.splice(0, painted.length - Math.max(2, kept))) this.#delete(gone);
      target = painted.length < kept ? this.#target(picture, gl.RGBA8) : painted[0];
      this.#paint(target, { on, light, seen });
      target.shows = shows;
    } else if (!holds(target.box, seen)) {
      // Who looks about in one candidate gets all of it at once.
      this.#paint(target, { on, light, seen: { x: 0, y: 0, ...sizeOf(picture) } });
    }
    if (painted.includes(target)) painted.splice(painted.indexOf(target), 1);
    painted.push(target);
    const levels = levelsRead(view.scale);
    if (levels > target.levels) {
      gl.activeTexture(gl.TEXTURE0 + UPLOADS);
      gl.bindTexture(gl.TEXTURE_2D, target.texture);
      gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAX_LEVEL, levels);
      gl.generateMipmap(gl.TEXTURE_2D);
      target.levels = levels;
    }
    return target;
  }

  #paint(
    target: Target,
    { on, light, seen }: { on: readonly Dressed[]; light: RelightTable | LightApart | null; seen: Box },
  ): void {
    const { sum } = this.#stock as Stock;
    const { texture, changes, picture } = this.#stock?.working as Working;
    const gl = this.#gl;
    const dressed = around(on.map(({ layers }) => layers.box));
    // What had another finish in the same light stays where it had none and gets none.
    const either = around([dressed, target.dressed]);
    const stays = target.shows.length > 0 && target.shows[0] === light && holds(target.box, seen);
    const region = stays ? common(seen, either) : seen;
    if (!stays || !holds(seen, either)) target.box = seen;
    target.dressed = dressed;
    target.levels = 0;
    gl.enable(gl.SCISSOR_TEST);
    gl.scissor(region.x, region.y, region.width, region.height);
    if (on.length > 0)
      this.#addUp(
        on.filter(({ layers }) => common(layers.box, region) !== NO_BOX),
        on,
      );
    gl.useProgram(sum.program);
    gl.bindFramebuffer(gl.FRAMEBUFFER, target.frame);
    gl.viewport(0, 0, picture.width, picture.height);
    this.#bind('picture', texture);
    this.#bind('changes', changes.texture);
    const apart = light && 'shares' in light ? light : null;
    const [table, lampTable] = apart
      ? [apart.window.table, apart.lamps.table]
      : [light as RelightTable | null];
    this.#bind('table', table && this.#table(table), gl.TEXTURE_3D);
    this.#bind('lampTable', lampTable ? this.#table(lampTable) : null, gl.TEXTURE_3D);
    this.#bind('shares', apart && this.#sharesOf(apart.shares));
    this.#bind('around', apart && this.#aroundOf(apart.shares));
    if (apart) gl.uniform4fv(sum.place('apart'), packedLight(apart));
    gl.uniform1i(sum.place('dressed'), on.length > 0 ? 1 : 0);
    gl.uniform1i(sum.place('relit'), light ? (apart ? 2 : 1) : 0);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
    gl.disable(gl.SCISSOR_TEST);
  }

  /** What the finishes change, surface by surface over its box: of all that are on, those that are seen. */
  #addUp(seen: readonly Dressed[], on: readonly Dressed[]): void {
    const { surface } = this.#stock as Stock;
    const { texture, changes } = this.#stock?.working as Working;
    const gl = this.#gl;
    gl.useProgram(surface.program);
    gl.bindFramebuffer(gl.FRAMEBUFFER, changes.frame);
    gl.clearBufferfv(gl['COLOR'], 0, [0, 0, 0, 0]);
    gl.enable(gl.BLEND);
    this.#bind('picture', texture);
    paintParameters(on).forEach((parameters, k) => {
      if (!seen.includes(on[k])) return;
      const { textures, layers, finish } = on[k];
      const { x, y, width, height } = layers.box;
      gl.viewport(x, y, width, height);
      this.#bind('light', textures.light);
      this.#bind('glow', textures.glow);
      this.#bind('coverage', textures.coverage);
      this.#bind('rest', textures.rest);
      this.#bind('pattern', 'data' in finish.colour ? this.#pattern(finish.colour) : null);
      gl.uniform2i(surface.place('corner'), x, y);
      gl.uniform4fv(surface.place('parameters'), packedParameters(parameters));
      gl.drawArrays(gl.TRIANGLES, 0, 3);
    });
    gl.disable(gl.BLEND);
  }

  #bind(name: string, texture: WebGLTexture | null, kind: number = this.#gl.TEXTURE_2D): void {
    this.#gl.activeTexture(this.#gl.TEXTURE0 + UNITS.indexOf(name));
    this.#gl.bindTexture(kind, texture);
  }

  #pattern(plane: AlbedoPlane): WebGLTexture {
    const { patterns } = this.#stock as Stock;
    return this.#kept(patterns, PATTERNS_KEPT, [plane, () => this.#texture('rgb8', plane)]);
  }

  #sharesOf(shares: LightShares): WebGLTexture {
    const make = () => this.#smooth('r8', { ...shares, data: shares.share });
    return this.#kept((this.#stock as Stock).shares, SHARES_KEPT, [shares, make]);
  }

  #aroundOf(shares: LightShares): WebGLTexture {
    const make = () => this.#smooth('rgba8', shares.around);
    return this.#kept((this.#stock as Stock).around, SHARES_KEPT, [shares, make]);
  }

  /** A texture read between its texels. */
  #smooth(kind: Kind, plane: Size & { readonly data: Uint8Array }): WebGLTexture {
    const gl = this.#gl;
    const texture = this.#texture(kind, plane);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.LINEAR);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, gl.LINEAR);
    return texture;
  }

  #table(table: RelightTable): WebGLTexture {
    const { tables } = this.#stock as Stock;
    const make = () => {
      const gl = this.#gl;
      const texture = gl.createTexture();
      gl.activeTexture(gl.TEXTURE0 + UPLOADS + 1);
      gl.bindTexture(gl.TEXTURE_3D, texture);
      const side = Math.round(Math.cbrt(table.nodes.length / 3));
      gl.texStorage3D(gl.TEXTURE_3D, 1, gl.RGB16F, side, side, side);
      const nodes = table.nodes.map((value) => value / 255);
      const { TEXTURE_3D } = gl;
      gl.texSubImage3D(TEXTURE_3D, 0, 0, 0, 0, side, side, side, gl.RGB, gl.FLOAT, nodes);
      gl.texParameteri(TEXTURE_3D, gl.TEXTURE_MIN_FILTER, gl.LINEAR);
      gl.texParameteri(TEXTURE_3D, gl.TEXTURE_MAG_FILTER, gl.LINEAR);
      for (const way of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T, gl.TEXTURE_WRAP_R])
        gl.texParameteri(TEXTURE_3D, way, gl.CLAMP_TO_EDGE);
      return texture;
    };
    return this.#kept(tables, TABLES_KEPT, [table, make]);
  }

  /** The latest textures of a kind. */
  #kept<K>(map: Map<K, WebGLTexture>, most: number, [key, make]: [K, () => WebGLTexture]): WebGLTexture {
    const texture = map.get(key) ?? make();
    map.delete(key);
    map.set(key, texture);
    while (map.size > most) {
      const [oldest, gone] = map.entries().next().value as [K, WebGLTexture];
      this.#gl.deleteTexture(gone);
      map.delete(oldest);
    }
    return texture;
  }

  #texture(
    kind: Kind,
    { width, height, data }: Size & { readonly data: Uint8Array | Uint8ClampedArray | Uint16Array },
  ): WebGLTexture {
    const gl = this.#gl;
    const [stored, format, type] = {
      rgba8: [gl.RGBA8, gl.RGBA, gl.UNSIGNED_BYTE],
      rgb8: [gl.RGB8, gl.RGB, gl.UNSIGNED_BYTE],
      r8: [gl.R8, gl.RED, gl.UNSIGNED_BYTE],
      rgba16: [gl.RGBA16F, gl.RGBA, gl.HALF_FLOAT],
      r16: [gl.R16F, gl.RED, gl.HALF_FLOAT],
    }[kind];
    const texture = this.#empty({ width, height }, stored, 1);
    gl.texSubImage2D(gl.TEXTURE_2D, 0, 0, 0, width, height, format, type, data);
    return texture;
  }

  #empty({ width, height }: Size, stored: number, levels: number): WebGLTexture {
    const gl = this.#gl;
    const texture = gl.createTexture();
    gl.activeTexture(gl.TEXTURE0 + UPLOADS);
    gl.bindTexture(gl.TEXTURE_2D, texture);
    gl.texStorage2D(gl.TEXTURE_2D, levels, stored, width, height);
    const smaller = levels > 1 ? gl.LINEAR_MIPMAP_LINEAR : gl.NEAREST;
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, smaller);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, levels > 1 ? gl.LINEAR : gl.NEAREST);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
    return texture;
  }

  #target({ width, height }: Size, stored: number): Target {
    const gl = this.#gl;
    const levels = stored === gl.RGBA8 ? 1 + Math.floor(Math.log2(Math.max(width, height))) : 1;
    const texture = this.#empty({ width, height }, stored, levels);
    const frame = gl.createFramebuffer();
    gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl['COLOR_ATTACHMENT0'], gl.TEXTURE_2D, texture, 0);
    return { texture, frame, shows: [], box: NO_BOX, dressed: NO_BOX, levels: 0 };
  }

  #delete({ frame, texture }: Target): void {
    this.#gl.deleteFramebuffer(frame);
    this.#gl.deleteTexture(texture);
  }

  /** Where memory has run out, drawing goes on elsewhere. */
  #checkMemory(): void {
    if (this.#gl.getError() === this.#gl.OUT_OF_MEMORY) this.lost();
  }
}

const sizeOf = ({ width, height }: Size): Size => ({ width, height });

/** The smallest level that the view reads between: see `VIEW`. */
function levelsRead(scale: number): number {
  return Math.max(0, Math.ceil(-Math.log2(scale) - 1));
}
