import {
  decodeMask,
  encodeMask,
  lookedAround,
  maskArea,
  prepareSelection,
  scaledMask,
  type Image8,
  type Mask,
  type Point,
  type Selector,
  type StoredMask,
  type Stroke,
} from '#lib/photo/index.ts';
import { expose, transfer } from 'comlink';
import { insidePlace, maskOutline, type MaskOutline } from './mask-outline.ts';
import { maskVeil, type MaskVeil } from './mask-veil.ts';
import { givenWay, markedMask } from './marked-mask.ts';
import type { Marking } from './marking.ts';
import { opened } from './worker-photo.ts';

/** The picture to be marked, as the camera delivered it: how it is corrected may change while marks stay. */
export interface MarkedPicture {
  readonly fileId: string;
  readonly space: Image8['space'];
  readonly width: number;
  readonly height: number;
}

/** Marks of one surface as the page draws them. */
export interface ShownMarks {
  /** Part of the picture, 0-1. */
  readonly share: number;
  readonly outline: MaskOutline;
  /** Where its name goes; null where it has none: nothing is marked, or it is the surface under the hand. */
  readonly place: Point | null;
}

export interface Answer extends ShownMarks {
  /** Grey over all that is not marked; null where nothing is. */
  readonly veil: ImageBitmap | null;
  readonly notes: readonly string[];
  /** Time the selection took, milliseconds. */
  readonly took: number;
}

/** Marks ready for the document; `mask` is null where nothing is left. */
export interface ReadyMarks {
  readonly mask: StoredMask | null;
  /** Other surfaces that had to give way. */
  readonly others: readonly { readonly id: string; readonly mask: StoredMask | null }[];
}

interface Saved {
  readonly id: string;
  readonly mask: StoredMask;
}

let current: { fileId: string; selector: Promise<Selector> } | null = null;
const decoded = new Map<string, { code: string; mask: Mask }>();
let latest: { id: string; mask: Mask } | null = null;

/** What was drawn last, so that the next drawing need only be put right. */
interface Drawing {
  veil: MaskVeil | null;
  /** In turn: a canvas whose last picture the page still shows would be copied whole before it could change. */
  sheets: Sheet[];
}

/** A canvas, and the rows of it that are out of date. */
interface Sheet {
  readonly canvas: OffscreenCanvas;
  top: number;
  bottom: number;
}

const emptyDrawing = (): Drawing => ({ veil: null, sheets: [] });

let drawing = emptyDrawing();

async function prepared({ fileId, space }: MarkedPicture): Promise<Selector> {
  const { delivered } = await opened({ fileId, space, scene: 'room', references: [] });
  const copy = thinned(delivered, PRACTICE_SIDE);
  if (Math.min(copy.width, copy.height) >= PRACTICE_LEAST) {
    const small = prepareSelection(copy);
    for (let at: number | null = 0; at !== null;) at = lookedAround(small, at);
    const desk = emptyDrawing();
    const until = performance.now() + PRACTICE_TIME;
    for (const mask of practice(small, PRACTICE_ROUNDS)) {
      await showNobody(mask, desk);
      if (performance.now() > until) break;
    }
  }
  return prepareSelection(delivered);
}

const PRACTICE_SIDE = 320; // pixels, the long one
const PRACTICE_LEAST = 40; // pixels, the short one: a narrower strip is not worth it
const PRACTICE_ROUNDS = 8;
const PRACTICE_TIME = 1500; // milliseconds at most before a picture opens
const LARGE_ROUNDS = 8;
const LONG = 500; // milliseconds: where one selection takes longer, practice would only be in the way
const IDLE = 400; // milliseconds since the last stroke

/**
 * Selects what nobody asked for, one selection a step: the browser compiles for speed only what has run some times, and
 * without this the first ten strokes would take twice as long as those that follow.
 */
function* practice(selector: Selector, rounds: number): Generator<Mask> {
  const { width, height } = selector;
  const radius = Math.max(1, width / 200);
  const others: Mask[] = [];
  for (let round = 0; round < rounds; round++) {
    const made = Array.from({ length: 3 }, (_, i): Stroke => {
      const [x, y] = [0.3, 0.55].map((step) => (0.1 + step * (3 * round + i)) % 0.8);
      const points: Point[] = [0, 0.05, 0.1].map((on) => [(x + 2 * on) * width, (y + on) * height]);
      return { mode: i === 2 && round % 2 ? 'remove' : 'add', points, radius };
    });
    // As strokes come from the page: to the engine objects that were sent are of another kind.
    const strokes = structuredClone(made);
    const elsewhere = round % 4 > 1;
    for (let count = 1; count <= strokes.length; count++) {
      const marking = { kept: true, elsewhere, strokes: strokes.slice(0, count) };
      const { mask } = markedMask(selector, marking, { saved: null, others: [...others] });
      if (count === strokes.length && round % 4 === 1) others.push(mask);
      yield mask;
    }
  }
}

/** A picture of fewer pixels, some picked from each row and column, with a corner burnt out as windows are. */
function thinned({ width, height, channels, data, space }: Image8, longSide: number): Image8 {
  const step = Math.max(1, Math.max(width, height) / longSide);
  const small = { width: Math.floor(width / step), height: Math.floor(height / step), channels, space };
  const picked = new Uint8Array(small.width * small.height * channels);
  for (let y = 0, at = 0; y < small.height; y++)
    for (let x = 0; x < small.width; x++)
      for (let c = 0; c < channels; c++)
        picked[at++] =
          x + y < small.height / 3
            ? 255
            : data[(Math.floor(y * step) * width + Math.floor(x * step)) * channels + c];
  return { ...small, data: picked };
}

/** When a stroke was last worked off, in milliseconds. */
let askedLast = -Infinity;

/**
 * Looks ahead and practises while nobody asks for anything: between two slices what was asked for goes first, and nobody
 * practises between the strokes of one who draws.
 */
async function lookAhead(fileId: string, selector: Selector): Promise<void> {
  const isOpen = () => current?.fileId === fileId;
  const pause = (ms = 0) => new Promise((resume) => setTimeout(resume, ms));
  for (let at: number | null = 0; at !== null && isOpen(); at = lookedAround(selector, at)) await pause();
  const desk = emptyDrawing();
  const steps = practice(selector, LARGE_ROUNDS);
  for (;;) {
    await pause();
    while (isOpen() && performance.now() - askedLast < IDLE) await pause(IDLE / 4);
    if (!isOpen()) return;
    const from = performance.now();
    const step = steps.next();
    if (step.done) return;
    await showNobody(step.value, desk);
    if (performance.now() - from > LONG) return;
  }
}

function open(picture: MarkedPicture): Promise<Selector> {
  if (current?.fileId !== picture.fileId) {
    const selector = prepared(picture);
    current = { fileId: picture.fileId, selector };
    decoded.clear();
    latest = null;
    drawing = emptyDrawing();
    // A failed load must not be remembered.
    selector.then(
      (made) => void lookAhead(picture.fileId, made),
      () => (current = null),
    );
  }
  return current.selector;
}

function read({ id, mask: stored }: Saved, size?: { width: number; height: number }): Mask {
  const known = decoded.get(id);
  if (known?.code === stored.code) return known.mask;
  const mask = decodeMask(stored, size);
  decoded.set(id, { code: stored.code, mask });
  return mask;
}

/** Masks of other surfaces that can be read; a damaged one is the page's to tell. */
function readable(
  saved: readonly Saved[],
  size: { width: number; height: number },
): (Saved & { at: Mask })[] {
  return saved.flatMap((entry) => {
    try {
      return [{ ...entry, at: read(entry, size) }];
    } catch {
      return [];
    }
  });
}

/** The veil as the page draws it; null where nothing is marked. Only rows that are out of date are put on a sheet again. */
async function drawn(veil: MaskVeil, desk: Drawing): Promise<ImageBitmap | null> {
  const { width, height } = veil.mask;
  if (desk.sheets[0]?.canvas.width !== width || desk.sheets[0].canvas.height !== height)
    desk.sheets = [0, 1].map(() => ({
      canvas: new OffscreenCanvas(width, height),
      top: 0,
      bottom: height,
    }));
  for (const sheet of desk.sheets) {
    sheet.top = Math.min(sheet.top, veil.top);
    sheet.bottom = Math.max(sheet.bottom, veil.bottom);
  }
  const [sheet, other] = desk.sheets;
  desk.sheets = [other, sheet];
  const image = new ImageData(new Uint8ClampedArray(veil.pixels.buffer), width, height);
  const rows = Math.max(0, sheet.bottom - sheet.top);
  sheet.canvas.getContext('2d')?.putImageData(image, 0, 0, 0, sheet.top, width, rows);
  sheet.top = height;
  sheet.bottom = 0;
  return veil.cover > 0 ? createImageBitmap(sheet.canvas) : null;
}

type Shown = ShownMarks & Pick<Answer, 'veil'>;

/** A mask as the page shows it. */
async function forPage(mask: Mask, desk: Drawing): Promise<Shown> {
  const veil = maskVeil(mask, desk.veil);
  desk.veil = veil;
  const outline = maskOutline(mask);
  const bitmap = await drawn(veil, desk);
  return { share: veil.cover / (255 * mask.data.length), outline, place: null, veil: bitmap };
}

/** What is given away where an answer is sent. */
function givenAway({ outline: { places, ends }, veil }: Shown): Transferable[] {
  return [places.buffer, ends.buffer, ...(veil ? [veil] : [])];
}

/** A mask drawn and sent as for the page, to nobody: once a buffer is given away the engine throws away much of what it compiled. */
async function showNobody(mask: Mask, desk: Drawing): Promise<void> {
  const answer = await forPage(mask, desk);
  structuredClone(answer, { transfer: givenAway(answer) }).veil?.close();
}

const marks = {
  /** Makes a picture ready, so that the first stroke need not wait. */
  async open(picture: MarkedPicture): Promise<void> {
    await open(picture);
  },

  /** Saved marks as the page draws them, in the order given; words instead where a mask cannot be read. */
  async shown(saved: readonly Saved[], picture: MarkedPicture): Promise<(ShownMarks | string)[]> {
    return saved.map((entry) => {
      try {
        const mask = read(entry, picture);
        const share = maskArea(mask) / (mask.width * mask.height);
        return { share, outline: maskOutline(mask), place: insidePlace(mask) };
      } catch (error) {
        return error instanceof Error ? error.message : String(error);
      }
    });
  },

  /** What a marking selects. */
  async select(
    picture: MarkedPicture,
    {
      id,
      marking,
      saved,
      others,
    }: { id: string; marking: Marking; saved: StoredMask | null; others: Saved[] },
  ): Promise<Answer> {
    const selector = await open(picture);
    const from = performance.now();
    const [base] = saved ? readable([{ id, mask: saved }], picture) : [];
    const ground = { saved: base?.at ?? null, others: readable(others, picture).map(({ at }) => at) };
    const { mask, notes } = markedMask(selector, marking, ground);
    latest = { id, mask };
    const shown = await forPage(mask, drawing);
    askedLast = performance.now();
    return transfer({ ...shown, notes, took: askedLast - from }, givenAway(shown));
  },

  /** The marks selected last, ready for the document; null where they are of another surface. */
  async ready(picture: MarkedPicture, id: string, others: Saved[]): Promise<ReadyMarks | null> {
    if (latest?.id !== id) return null;
    const { mask } = latest;
    const stored = (of: string, any: Mask) => {
      if (maskArea(any) < 1) return null;
      const text = encodeMask(any);
      decoded.set(of, { code: text.code, mask: any });
      return text;
    };
    const given = readable(others, picture).flatMap((entry) => {
      const less = givenWay(entry.at, mask);
      return less ? [{ id: entry.id, mask: stored(entry.id, less) }] : [];
    });
    return { mask: stored(id, mask), others: given };
  },

  /** Masks of the same view at another size, in the order given; null where one cannot be read or has other proportions. */
  async scaled(masks: StoredMask[], width: number, height: number): Promise<(StoredMask | null)[]> {
    return masks.map((stored) => {
      try {
        const mask = decodeMask(stored);
        const fits = mask.width === width && mask.height === height;
        return fits ? stored : encodeMask(scaledMask(mask, width, height));
      } catch {
        return null;
      }
    });
  },
};

export type Marks = typeof marks;

expose(marks);
