import type { AlbedoPlane, LightShares, RelightTable, SurfaceLayers } from '#lib/photo/index.ts';
import { coveredCells, type CoveredCells } from './room-gl-cells.ts';
import { UNITS, valueTables } from './room-shader.ts';

export interface Size {
  readonly width: number;
  readonly height: number;
}

/** The planes of a surface, each as it is, and where there is any of it. */
export interface SurfaceTextures {
  readonly layers: SurfaceLayers;
  readonly light: WebGLTexture;
  readonly glow: WebGLTexture;
  readonly coverage: WebGLTexture;
  readonly rest: WebGLTexture;
  readonly covered: CoveredCells;
}

/** A texture that is drawn into. */
export interface Target extends Size {
  readonly texture: WebGLTexture;
  readonly frame: WebGLFramebuffer;
}

/** Patterns kept in the graphics processor, up to 9 MB each at 2048 px, and tables, 0.6 MB each. */
const PATTERNS_KEPT = 6;
const TABLES_KEPT = 24;
const SHARES_KEPT = 2;
/** Where textures are filled, so that none of those in use is pushed out. */
const UPLOADS = UNITS.length;

type Data = Uint8Array | Uint8ClampedArray | Uint16Array | Float32Array;

/** Formats of what comes from outside. */
type Kind = 'rgba8' | 'rgb8' | 'r8' | 'rgba16' | 'r16' | 'r32';

/** What a graphics processor holds of a room; all of it is gone when that is lost. */
export class RoomTextures {
  readonly #gl: WebGL2RenderingContext;
  readonly #patterns = new Map<AlbedoPlane, WebGLTexture>();
  readonly #tables = new Map<RelightTable, WebGLTexture>();
  readonly #shares = new Map<LightShares, WebGLTexture>();
  readonly #around = new Map<LightShares, WebGLTexture>();
  readonly #surfaces = new Map<string, SurfaceTextures>();

  /** Binds what every pass reads, for good. */
  constructor(gl: WebGL2RenderingContext) {
    this.#gl = gl;
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
    for (const [name, table] of Object.entries(valueTables())) this.bind(name, this.plane('r32', table));
  }

  surface(id: string): SurfaceTextures | undefined {
    return this.#surfaces.get(id);
  }

  setSurface(id: string, layers: SurfaceLayers): void {
    this.removeSurface(id);
    const { width, height } = layers.box;
    if (width === 0 || height === 0) return;
    const { light, glow, coverage, rest } = layers;
    this.#surfaces.set(id, {
      layers,
      light: this.plane('rgba16', { width, height, data: light }),
      glow: this.plane('r16', { width, height, data: glow }),
      coverage: this.plane('r8', { width, height, data: coverage }),
      rest: this.plane('rgb8', { width, height, data: rest }),
      covered: coveredCells(layers),
    });
  }

  removeSurface(id: string): void {
    const found = this.#surfaces.get(id);
    if (!found) return;
    for (const texture of [found.light, found.glow, found.coverage, found.rest])
      this.#gl.deleteTexture(texture);
    this.#surfaces.delete(id);
  }

  removeSurfaces(): void {
    for (const id of [...this.#surfaces.keys()]) this.removeSurface(id);
  }

  bind(name: string, texture: WebGLTexture | null, kind: number = this.#gl.TEXTURE_2D): void {
    this.#gl.activeTexture(this.#gl.TEXTURE0 + UNITS.indexOf(name));
    this.#gl.bindTexture(kind, texture);
  }

  pattern(plane: AlbedoPlane): WebGLTexture {
    return this.#kept(this.#patterns, PATTERNS_KEPT, [plane, () => this.plane('rgb8', plane)]);
  }

  shares(shares: LightShares): WebGLTexture {
    const make = () => this.#smooth('r8', { ...shares, data: shares.share });
    return this.#kept(this.#shares, SHARES_KEPT, [shares, make]);
  }

  around(shares: LightShares): WebGLTexture {
    return this.#kept(this.#around, SHARES_KEPT, [shares, () => this.#smooth('rgba8', shares.around)]);
  }

  table(table: RelightTable): WebGLTexture {
    const make = () => {
      const gl = this.#gl;
      const texture = gl.createTexture();
      gl.activeTexture(gl.TEXTURE0 + UPLOADS + 1);
      gl.bindTexture(gl.TEXTURE_3D, texture);
      const side = Math.round(Math.cbrt(table.nodes.length / 3));
      gl.texStorage3D(gl.TEXTURE_3D, 1, gl.RGB32F, side, side, side);
      gl.texSubImage3D(gl.TEXTURE_3D, 0, 0, 0, 0, side, side, side, gl.RGB, gl.FLOAT, table.nodes);
      this.#read(gl.TEXTURE_3D, gl.NEAREST);
      return texture;
    };
    return this.#kept(this.#tables, TABLES_KEPT, [table, make]);
  }

  plane(kind: Kind, { width, height, data }: Size & { readonly data: Data }): WebGLTexture {
    const gl = this.#gl;
    const [stored, format, type] = {
      rgba8: [gl.RGBA8, gl.RGBA, gl.UNSIGNED_BYTE],
      rgb8: [gl.RGB8, gl.RGB, gl.UNSIGNED_BYTE],
      r8: [gl.R8, gl.RED, gl.UNSIGNED_BYTE],
      rgba16: [gl.RGBA16F, gl.RGBA, gl.HALF_FLOAT],
      r16: [gl.R16F, gl.RED, gl.HALF_FLOAT],
      r32: [gl.R32F, gl.RED, gl.FLOAT],
    }[kind];
    const texture = this.#empty({ width, height }, stored);
    gl.texSubImage2D(gl.TEXTURE_2D, 0, 0, 0, width, height, format, type, data);
    return texture;
  }

  /** `smooth`: whether it is read between its texels. */
  target({ width, height }: Size, { stored, smooth }: { stored: number; smooth: boolean }): Target {
    const gl = this.#gl;
    const texture = this.#empty({ width, height }, stored);
    if (smooth) this.#read(gl.TEXTURE_2D, gl.LINEAR);
    const frame = gl.createFramebuffer();
    gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl['COLOR_ATTACHMENT0'], gl.TEXTURE_2D, texture, 0);
    return { texture, frame, width, height };
  }

  drop({ frame, texture }: Target): void {
    this.#gl.deleteFramebuffer(frame);
    this.#gl.deleteTexture(texture);
  }

  #smooth(kind: Kind, plane: Size & { readonly data: Uint8Array }): WebGLTexture {
    const texture = this.plane(kind, plane);
    this.#read(this.#gl.TEXTURE_2D, this.#gl.LINEAR);
    return texture;
  }

  #empty({ width, height }: Size, stored: number): WebGLTexture {
    const gl = this.#gl;
    const texture = gl.createTexture();
    gl.activeTexture(gl.TEXTURE0 + UPLOADS);
    gl.bindTexture(gl.TEXTURE_2D, texture);
    gl.texStorage2D(gl.TEXTURE_2D, 1, stored, width, height);
    this.#read(gl.TEXTURE_2D, gl.NEAREST);
    return texture;
  }

  /** How the texture that was bound last is read. */
  #read(kind: number, filter: number): void {
    const gl = this.#gl;
    gl.texParameteri(kind, gl.TEXTURE_MIN_FILTER, filter);
    gl.texParameteri(kind, gl.TEXTURE_MAG_FILTER, filter);
    for (const way of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T, gl.TEXTURE_WRAP_R])
      gl.texParameteri(kind, way, gl.CLAMP_TO_EDGE);
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
}
