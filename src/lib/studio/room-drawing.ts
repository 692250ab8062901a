import {
  paintParameters,
  type AppliedFinish,
  type Image8,
  type LightApart,
  type RelightTable,
  type SurfaceLayers,
} from '#lib/photo/index.ts';
import { NO_BOX, holds, seenBox, type Box } from './room-canvas.ts';
import { RECT, cellPlan, seenRects, type CellPlan } from './room-gl-cells.ts';
import { RoomTextures, type Size, type SurfaceTextures, type Target } from './room-gl-textures.ts';
import {
  SUM,
  readingAt,
  viewed,
  bare,
  packedLight,
  packedParameters,
  painted,
  pass,
  type Pass,
  type Relit,
} from './room-shader.ts';
import type { ViewTransform } from './room-picture.ts';

/** What a frame shows. */
export interface Frame {
  readonly view: ViewTransform;
  /** Part of the canvas's width, from the left, that shows the room as photographed. */
  readonly split: number;
  readonly finishes: ReadonlyMap<string, AppliedFinish>;
  readonly light: RelightTable | LightApart | null;
  /** Pictures at working size to keep painted, at least 2; 11 MB each at 2048 px. */
  readonly kept: number;
}

interface Dressed {
  readonly textures: SurfaceTextures;
  readonly layers: SurfaceLayers;
  readonly finish: AppliedFinish;
}

/** The room as photographed or with finishes on, at working size. */
interface Picture extends Target {
  readonly light: RelightTable | LightApart | null;
  readonly layers: readonly SurfaceLayers[];
  readonly finishes: readonly AppliedFinish[];
  /** Where it was painted; beside it the texture holds anything. */
  readonly box: Box;
}

/** Where finishes go for a set of surfaces. */
interface Laid extends CellPlan {
  readonly layers: readonly SurfaceLayers[];
  readonly buffer: WebGLBuffer;
}

/** What a canvas of some size shows in some view. */
interface Screen extends Omit<Picture, 'box'> {
  /** Size, view and wipe. */
  readonly place: readonly number[];
  /** What of it finishes change. */
  readonly rects: WebGLBuffer;
  readonly count: number;
}

/** Everything that lives in the graphics processor and is gone when that is lost. */
interface Stock {
  readonly textures: RoomTextures;
  readonly passes: Map<string, Pass>;
  /** Whether single precision can be drawn into. */
  readonly precise: boolean;
  picture: Image8 | null;
  texture: WebGLTexture | null;
  /** The ones used last at the end. */
  pictures: Picture[];
  screens: Screen[];
  plans: Laid[];
  /** What surfaces make of shared cells, in turn. */
  sums: Target[];
}

/** Views of a canvas of which only what changes is drawn; canvases of one size in one view share one. */
const SCREENS_KEPT = 3;
/** Sets of surfaces. */
const PLANS_KEPT = 4;

/**
 * Paints a room on the graphics processor and hands out frames. A new candidate sends it a few numbers and no picture, and
 * only what surfaces cover is painted and shown anew.
 */
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
    const precise = gl.getExtension('EXT_color_buffer_float') !== null;
    // Either extension makes halves a format to draw into.
    if (!precise && !gl.getExtension('EXT_color_buffer_half_float')) {
      this.#stock = null;
      return;
    }
    const textures = new RoomTextures(gl);
    this.#stock = {
      ...{ textures, precise, passes: new Map<string, Pass>() },
      ...{ picture: null, texture: null, pictures: [], screens: [], plans: [], sums: [] },
    };
    for (const text of [SUM, viewed('mean'), bare(0), painted(0, false), painted(0, true)]) this.#use(text);
  }

  setPicture(picture: Image8): void {
    const stock = this.#stock;
    if (!stock) return;
    const { textures } = stock;
    textures.removeSurfaces();
    this.#gl.deleteTexture(stock.texture);
    for (const target of [...stock.pictures, ...stock.sums]) textures.drop(target);
    for (const screen of stock.screens) this.#dropScreen(screen);
    for (const { buffer } of stock.plans) this.#gl.deleteBuffer(buffer);
    const { width, height, channels, data } = picture;
    const texture = textures.plane(channels === 4 ? 'rgba8' : 'rgb8', { width, height, data });
    Object.assign(stock, { picture, texture, pictures: [], screens: [], plans: [], sums: [] });
    this.#checkMemory();
  }

  setSurface(id: string, layers: SurfaceLayers): void {
    this.#stock?.textures.setSurface(id, layers);
    this.#checkMemory();
  }

  removeSurface(id: string): void {
    this.#stock?.textures.removeSurface(id);
  }

  /** A frame of that many pixels; null where there is no picture or the graphics processor is lost. */
  draw(size: Size, { view, split, finishes, light, kept }: Frame): ImageBitmap | null {
    const stock = this.#stock;
    if (!stock?.picture) return null;
    const { picture, textures } = stock;
    const width = Math.max(1, Math.round(size.width));
    const height = Math.max(1, Math.round(size.height));
    const on = [...finishes].flatMap(([id, finish]) => {
      const own = textures.surface(id);
      return own ? [{ textures: own, layers: own.layers, finish }] : [];
    });
    // Columns that show the room as photographed: those whose middle lies there.
    const cut = Math.max(0, Math.ceil(split * width - 0.5));
    const seen = (...columns: [number, number]) => seenBox(picture, { view, columns, height });
    const before = cut > 0 ? this.#painted([], { light, kept, seen: seen(0, cut) }) : null;
    const after = cut < width ? this.#painted(on, { light, kept, seen: seen(cut, width) }) : null;
    const cells = on.map((one) => one.textures.covered.cells);
    const screen = this.#screen([before, after], { width, height, view, cut, cells });
    if (!screen) return null;

    const gl = this.#gl;
    if (this.#canvas.width !== width) this.#canvas.width = width;
    if (this.#canvas.height !== height) this.#canvas.height = height;
    gl.disable(gl.SCISSOR_TEST);
    gl.bindFramebuffer(gl.READ_FRAMEBUFFER, screen.frame);
    gl.bindFramebuffer(gl.DRAW_FRAMEBUFFER, null);
    gl.blitFramebuffer(0, 0, width, height, 0, 0, width, height, gl['COLOR_BUFFER_BIT'], gl.NEAREST);
    const bitmap = this.#canvas.transferToImageBitmap();
    return gl.isContextLost() ? null : bitmap;
  }

  dispose(): void {
    this.#stock = null;
    this.#gl.getExtension('WEBGL_lose_context')?.loseContext();
  }

  /** A program made at first use and taken; null, and all is lost, where it does not compile here. */
  #use(text: string): Pass | null {
    const { passes } = this.#stock ?? {};
    const made = passes?.get(text) ?? pass(this.#gl, text);
    if (!made) {
      this.lost();
      return null;
    }
    passes?.set(text, made);
    this.#gl.useProgram(made.program);
    return made;
  }

  /** The picture at working size with finishes on, painted where it is seen and not there yet. */
  #painted(
    on: readonly Dressed[],
    { light, kept, seen }: Pick<Frame, 'light' | 'kept'> & { readonly seen: Box },
  ): Picture | null {
    const { pictures, picture, textures } = this.#stock as Stock & { picture: Image8 };
    const layers = on.map((one) => one.layers);
    const finishes = on.map(({ finish }) => finish);
    const lit = (known: Picture) => known.light === light && same(known.layers, layers);
    let target = pictures.find((known) => lit(known) && same(known.finishes, finishes));
    if (!target || !holds(target.box, seen)) {
      for (const gone of pictures.splice(0, pictures.length - Math.max(2, kept))) textures.drop(gone);
      const spare = pictures.find((known) => lit(known) && holds(known.box, seen)) ?? pictures[0];
      // Who looks about in one candidate gets all of it at once.
      const box = target ? { x: 0, y: 0, width: picture.width, height: picture.height } : seen;
      const into =
        target ??
        (pictures.length < kept ? textures.target(picture, { stored: this.#gl.RGBA8, smooth: true }) : spare);
      const stays = into === spare && lit(spare) && holds(spare.box, box);
      if (!stays && !this.#base(into, box, light)) return null;
      if (on.length > 0 && !this.#paint(into, on, { box, light })) return null;
      const { texture, frame, width, height } = into;
      if (pictures.includes(into as Picture)) pictures.splice(pictures.indexOf(into as Picture), 1);
      target = { texture, frame, width, height, light, layers, finishes, box };
    } else pictures.splice(pictures.indexOf(target), 1);
    pictures.push(target);
    return target;
  }

  /** The room as photographed in a light, over a box. */
  #base(into: Target, box: Box, light: Frame['light']): boolean {
    const gl = this.#gl;
    const used = this.#use(bare(relitBy(light)));
    if (!used) return false;
    this.#light(used, light);
    this.#into(used, into, box);
    this.#fill([0, 0, into.width, into.height]);
    return true;
  }

  /** The surfaces with their finishes, in a light, over a box. */
  #paint(
    into: Target,
    on: readonly Dressed[],
    { box, light }: Pick<Frame, 'light'> & { readonly box: Box },
  ): boolean {
    const gl = this.#gl;
    const { textures } = this.#stock as Stock;
    const plan = this.#plan(on);
    const parameters = paintParameters(on).map(packedParameters);
    for (const { surface, round, last, whole, first, count } of plan.draws) {
      const used = this.#use(last ? painted(relitBy(light), whole) : SUM);
      if (!used) return false;
      const { layers, finish, textures: own } = on[surface];
      for (const name of ['light', 'glow', 'coverage', 'rest'] as const) textures.bind(name, own[name]);
      const pattern = 'data' in finish.colour ? textures.pattern(finish.colour) : null;
      textures.bind('pattern', pattern);
      textures.bind('sums', round > 0 ? this.#sums(plan, round - 1).texture : null);
      if (last) this.#light(used, light);
      if (last) this.#into(used, into, box);
      else this.#into(used, this.#sums(plan, round));
      const { place } = used;
      gl.uniform1i(place('inSlots'), last ? 0 : 1);
      gl.uniform1i(place('later'), round > 0 ? 1 : 0);
      gl.uniform1i(place('patterned'), pattern ? 1 : 0);
      gl.uniform2i(place('corner'), layers.box.x, layers.box.y);
      gl.uniform4fv(place('parameters'), parameters[surface]);
      this.#draw(plan.buffer, first, count);
    }
    return true;
  }

  #plan(on: readonly Dressed[]): Laid {
    const { plans, picture } = this.#stock as Stock & { picture: Image8 };
    const gl = this.#gl;
    const layers = on.map((one) => one.layers);
    const known = plans.find((plan) => same(plan.layers, layers));
    if (known) return known;
    for (const { buffer } of plans.splice(0, plans.length + 1 - PLANS_KEPT)) gl.deleteBuffer(buffer);
    const plan = cellPlan(
      picture,
      on.map(({ textures }) => textures.covered),
    );
    const laid = { ...plan, layers, buffer: this.#buffer(plan.rects) };
    plans.push(laid);
    return laid;
  }

  /** Where shared cells are added up in that round: read in the next one, written again in the one after that. */
  #sums({ slots }: CellPlan, round: number): Target {
    const { sums, textures, precise } = this.#stock as Stock;
    const turn = round % 2;
    const known = sums[turn];
    if (known && known.width >= slots.width && known.height >= slots.height) return known;
    if (known) textures.drop(known);
    const stored = precise ? this.#gl.RGBA32F : this.#gl.RGBA16F;
    const size = {
      width: Math.max(slots.width, known?.width ?? 0),
      height: Math.max(slots.height, known?.height ?? 0),
    };
    return (sums[turn] = textures.target(size, { stored, smooth: false }));
  }

  /** What a canvas shows, of which only what finishes change is drawn where the rest is there. */
  #screen(
    [before, after]: readonly [Picture | null, Picture | null],
    given: Size & Pick<Frame, 'view'> & { readonly cut: number; readonly cells: readonly Int32Array[] },
  ): Screen | null {
    const { screens, picture, textures } = this.#stock as Stock & { picture: Image8 };
    const { width, height, view, cut, cells } = given;
    const shows = after ?? before;
    if (!shows) return null;
    const { light, layers, finishes } = shows;
    const place = [width, height, view.scale, view.x, view.y, cut];
    const at = screens.findIndex(
      (known) => same(known.place, place) && known.light === light && same(known.layers, layers),
    );
    const [known] = at < 0 ? [] : screens.splice(at, 1);
    if (known && same(known.finishes, finishes)) {
      screens.push(known);
      return known;
    }
    const { reading, blocks } = readingAt(view.scale);
    const used = this.#use(viewed(reading));
    if (!used) return null;
    const gl = this.#gl;
    const { texture, frame } = known ?? this.#spareScreen({ width, height });
    const shown = { texture, frame, width, height, place, light, layers, finishes };
    this.#into(used, shown);
    gl.uniform3f(used.place('view'), view.scale, view.x, view.y);
    gl.uniform2f(used.place('canvas'), width, height);
    gl.uniform1i(used.place('blocks'), blocks);
    if (known) {
      textures.bind('side', shows.texture);
      this.#draw(known.rects, 0, known.count);
      screens.push({ ...shown, rects: known.rects, count: known.count });
    } else {
      for (const [side, from, to] of [[before, 0, cut] as const, [after, cut, width] as const]) {
        if (!side) continue;
        textures.bind('side', side.texture);
        this.#fill([from, 0, to - from, height]);
      }
      const rects = seenRects({ picture, cells }, { width, height, view, from: cut });
      screens.push({ ...shown, rects: this.#buffer(rects), count: rects.length / RECT });
    }
    return screens[screens.length - 1];
  }

  /** The one used longest ago where it has that size, or another. */
  #spareScreen({ width, height }: Size): Target {
    const { screens, textures } = this.#stock as Stock;
    const gone = screens.length < SCREENS_KEPT ? null : screens.shift();
    if (gone?.width === width && gone.height === height) {
      this.#gl.deleteBuffer(gone.rects);
      return gone;
    }
    if (gone) this.#dropScreen(gone);
    return textures.target({ width, height }, { stored: this.#gl.RGBA8, smooth: false });
  }

  #dropScreen(screen: Screen): void {
    this.#gl.deleteBuffer(screen.rects);
    this.#stock?.textures.drop(screen);
  }

  #light({ place }: Pass, light: Frame['light']): void {
    if (!light) return;
    const { textures } = this.#stock as Stock;
    const gl = this.#gl;
    const apart = 'shares' in light ? light : null;
    textures.bind(
      'table',
      textures.table(apart ? apart.window.table : (light as RelightTable)),
      gl.TEXTURE_3D,
    );
    if (!apart) return;
    textures.bind('lampTable', textures.table(apart.lamps.table), gl.TEXTURE_3D);
    textures.bind('shares', textures.shares(apart.shares));
    textures.bind('around', textures.around(apart.shares));
    gl.uniform4fv(place('apart'), packedLight(apart));
  }

  /** What a pass draws into, within a box or all over. */
  #into({ place }: Pass, { frame, width, height }: Target, box: Box | null = null): void {
    const gl = this.#gl;
    const { textures, texture } = this.#stock as Stock;
    textures.bind('picture', texture);
    gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
    gl.viewport(0, 0, width, height);
    gl.uniform2f(place('size'), width, height);
    if (box) gl.enable(gl.SCISSOR_TEST);
    else gl.disable(gl.SCISSOR_TEST);
    if (box) gl.scissor(box.x, box.y, box.width, box.height);
  }

  #draw(rects: WebGLBuffer, first: number, count: number): void {
    const gl = this.#gl;
    gl.bindBuffer(gl.ARRAY_BUFFER, rects);
    const bytes = 2 * RECT;
    gl.vertexAttribPointer(0, 4, gl.SHORT, false, bytes, bytes * first);
    gl.vertexAttribPointer(1, 2, gl.SHORT, false, bytes, bytes * first + 8);
    for (const at of [0, 1]) {
      gl.enableVertexAttribArray(at);
      gl.vertexAttribDivisor(at, 1);
    }
    gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 4, count);
    for (const at of [0, 1]) gl.disableVertexAttribArray(at);
  }

  #fill([x, y, width, height]: readonly [number, number, number, number]): void {
    const gl = this.#gl;
    gl.vertexAttrib4f(0, x, y, width, height);
    gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4);
  }

  #buffer(rects: Int16Array): WebGLBuffer {
    const gl = this.#gl;
    const buffer = gl.createBuffer();
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    gl.bufferData(gl.ARRAY_BUFFER, rects, gl.STATIC_DRAW);
    return buffer;
  }

  /** Where memory has run out, drawing goes on elsewhere. */
  #checkMemory(): void {
    if (this.#gl.getError() === this.#gl.OUT_OF_MEMORY) this.lost();
  }
}

function relitBy(light: Frame['light']): Relit {
  return light ? ('shares' in light ? 2 : 1) : 0;
}

function same(one: readonly unknown[], other: readonly unknown[]): boolean {
  return one.length === other.length && one.every((thing, k) => thing === other[k]);
}
