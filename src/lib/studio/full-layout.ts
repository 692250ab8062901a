import type { Size } from './picture-view.ts';

/** Between pictures and around them, px. */
export const GAP = 8;
/** One line of words under a picture, with what parts it from the picture, px, and the mean width of a letter there. */
const LINE = 17.5;
const ABOVE_WORDS = 6;
const LETTER = 7.1;
/** On a narrow screen the words under a picture break: the room for it is kept, so that no picture changes its size. */
const NARROW = 700;
/** A picture taller than this for its width is shown across a frame of the other shape. */
const LONG = 2.2;
const LONG_FRAME = 1 / 1.6;
/** The whole of a picture fills no less of its frame's width than this: see `firstView`. */
const LEAST_FILL = 0.62;

/** How pictures of one shape lie on a screen. */
export interface Laid extends Size {
  /** Pictures in a row. */
  readonly columns: number;
}

/**
 * Frames for `count` pictures, as large as `room` lets them be with words of up to `letters` letters under each, CSS
 * pixels. One picture alone gets a frame beyond its own shape, so that there is more of it to see when it is zoomed.
 */
export function laidOut({
  count,
  picture,
  room,
  letters,
}: {
  readonly count: number;
  readonly picture: Size;
  readonly room: Size;
  readonly letters: number;
}): Laid {
  const shape = picture.height > LONG * picture.width ? LONG_FRAME : picture.width / picture.height;
  const inner = { width: room.width - 2 * GAP, height: room.height - 2 * GAP };
  const words = (width: number) => {
    const lines = Math.ceil((letters * LETTER) / Math.max(1, width));
    return ABOVE_WORDS + LINE * Math.max(room.width < NARROW ? 2 : 1, lines);
  };
  if (count === 1) {
    const height = Math.max(1, inner.height - words(inner.width));
    return { columns: 1, width: Math.max(1, Math.min(inner.width, (height * shape) / LEAST_FILL)), height };
  }
  const laid = Array.from({ length: count }, (_, i): Laid => {
    const columns = i + 1;
    const rows = Math.ceil(count / columns);
    const across = (inner.width - (columns - 1) * GAP) / columns;
    const down = (inner.height - (rows - 1) * GAP) / rows;
    // A narrower picture breaks its words earlier, which takes height from it again.
    let width = across;
    for (let turn = 0; turn < 4; turn += 1) width = Math.min(across, (down - words(width)) * shape);
    return { columns, width: Math.max(1, width), height: Math.max(1, width) / shape };
  });
  return laid.reduce((best, one) => (one.width > best.width + 0.5 ? one : best));
}
