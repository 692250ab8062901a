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
let veil: MaskVeil | null = null;

async function prepared({ fileId, space }: MarkedPicture): Promise<Selector> {
  const { delivered } = await opened({ fileId, space, scene: 'room', references: [] });
  const selector = prepareSelection(delivered);
  warmed(selector);
  return selector;
}

/** Selects something that nobody asked for, so that the code is compiled when somebody does. */
function warmed(selector: Selector): void {
  const across = (height: number): Point[] =>
    [0.4, 0.6].map((x) => [x * selector.width, height * selector.height]);
  const radius = Math.max(1, selector.width / 200);
  const strokes: Stroke[] = [
    { mode: 'add', points: across(0.5), radius },
    { mode: 'remove', points: across(0.2), radius },
  ];
  markedMask(selector, { kept: false, strokes, elsewhere: true }, { saved: null, others: [] });
}

/** Looks ahead while nobody asks for anything: between two slices what was asked for goes first. */
async function lookAhead(fileId: string, selector: Selector): Promise<void> {
  for (let at: number | null = 0; at !== null && current?.fileId === fileId; at = lookedAround(selector, at))
    await new Promise((resume) => setTimeout(resume));
}

function open(picture: MarkedPicture): Promise<Selector> {
  if (current?.fileId !== picture.fileId) {
    const selector = prepared(picture);
    current = { fileId: picture.fileId, selector };
    decoded.clear();
    latest = null;
    veil = null;
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

function drawn({ mask: { width, height }, pixels }: MaskVeil): ImageBitmap {
  const canvas = new OffscreenCanvas(width, height);
  canvas
    .getContext('2d')
    ?.putImageData(new ImageData(new Uint8ClampedArray(pixels.buffer), width, height), 0, 0);
  return canvas.transferToImageBitmap();
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
    veil = maskVeil(mask, veil);
    const outline = maskOutline(mask);
    const answer = {
      share: veil.cover / (255 * mask.data.length),
      outline,
      place: null,
      veil: veil.cover > 0 ? drawn(veil) : null,
      notes,
      took: performance.now() - from,
    };
    const images = answer.veil ? [answer.veil] : [];
    return transfer(answer, [outline.places.buffer, outline.ends.buffer, ...images]);
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
