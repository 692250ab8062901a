/** Pieces of a board's page: text made safe, pictures, patches of colour. */
import { colourName } from '#lib/colour/index.ts';
import { screenLab, type BoardFinish, type BoardPicture } from '#lib/job/index.ts';

/** Where a page finds a picture, and its size there, px; `srcset` is empty where there is one size only. */
export interface PicturePlace {
  readonly src: string;
  readonly srcset: string;
  readonly width: number;
  readonly height: number;
}
export type Images = (pictureId: string) => PicturePlace;

const NAMES: Record<string, string> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;', "'": '&#39;' };

/**
 * Text for an attribute or an element, as text. Signs that turn the direction of what follows, and those that nobody sees, are
 * left out: with them a code or a price can be made to read differently from what it is. Joiners of emoji stay.
 */
export function escaped(text: string): string {
  return text
    .toWellFormed()
    .replace(
      /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff]/g,
      '',
    )
    .replace(/[&<>"']/g, (letter) => NAMES[letter]);
}

/** Somebody's words within a sentence: whatever their direction, the sentence keeps its own. */
export function said(text: string): string {
  return `<bdi>${escaped(text)}</bdi>`;
}

/** Somebody's words as paragraphs; an empty text is none. */
export function paragraphs(text: string, attributes = ''): string {
  return text
    .split(/\r?\n\s*\r?\n/)
    .filter((part) => part.trim() !== '')
    .map((part) => `<p dir="auto"${attributes}>${part.trim().split(/\r?\n/).map(escaped).join('<br>')}</p>`)
    .join('');
}

export function list(items: readonly string[], attributes = ''): string {
  return items.length === 0
    ? ''
    : `<ul${attributes}>${items.map((item) => `<li>${item}</li>`).join('')}</ul>`;
}

/** A picture that is fetched when it is wanted, or at once. `sizes` says how wide it will be. */
export function image(
  { id, words }: Pick<BoardPicture, 'id' | 'words'>,
  { images, sizes, eager = false }: { images: Images; sizes: string; eager?: boolean },
): string {
  const { src, srcset, width, height } = images(id);
  const set = srcset === '' ? '' : ` srcset="${escaped(srcset)}" sizes="${escaped(sizes)}"`;
  const when = eager ? 'fetchpriority="high"' : 'loading="lazy" decoding="async"';
  // `loading` and `sizes` stand before `src`, which some browsers fetch as soon as they meet it.
  return `<img ${when}${set} src="${escaped(src)}" width="${width}" height="${height}" alt="${escaped(words)}">`;
}

/**
 * A patch of a finish: its colours by area, side by side. Drawn, not styled: the page's policy takes no style attributes, and
 * prints and forced colours leave drawings alone. It says nothing to a screen reader; words beside it do.
 */
export function patch(colours: readonly { screen: string; share: number }[], kind = ''): string {
  const whole = colours.reduce((sum, { share }) => sum + share, 0) || 1;
  let x = 0;
  const parts = colours.map(({ screen, share }) => {
    const width = (share / whole) * 100;
    const part = `<rect x="${rounded(x)}" width="${rounded(width)}" height="100" fill="${screen}"/>`;
    x += width;
    return part;
  });
  return `<svg class="patch ${kind}" viewBox="0 0 100 100" preserveAspectRatio="none" aria-hidden="true">${parts.join('')}</svg>`;
}

/** Widest part of the strip that still has no room for its number, parts of the whole. */
export const SLIM = 0.06;

/** All finishes at their true relative size, side by side; numbers are those of the list below. */
export function strip(finishes: readonly { finish: BoardFinish; number: number }[]): string {
  const sized = finishes.flatMap(({ finish, number }) =>
    finish.area === null || finish.area <= 0 ? [] : [{ finish, number, area: finish.area }],
  );
  if (sized.length < 2) return '';
  const whole = sized.reduce((sum, { area }) => sum + area, 0);
  const [width, height] = [600, 150];
  let x = 0;
  const parts = sized.map(({ finish, number, area }) => {
    const wide = (area / whole) * width;
    const shares = finish.colours.reduce((sum, { share }) => sum + share, 0) || 1;
    let y = 0;
    const rects = finish.colours.map(({ screen, share }) => {
      const high = (share / shares) * height;
      const rect = `<rect x="${rounded(x)}" y="${rounded(y)}" width="${rounded(wide)}" height="${rounded(high)}" fill="${screen}"/>`;
      y += high;
      return rect;
    });
    const sign =
      area / whole < SLIM
        ? ''
        : `<rect x="${rounded(x + 4)}" y="4" width="${number > 9 ? 36 : 24}" height="30" fill="#fff"/><text x="${rounded(x + 9)}" y="27" font-size="23">${number}</text>`;
    x += wide;
    return rects.join('') + sign;
  });
  const words = sized.map(({ finish, area }) => `${finish.surface} ${percent(area / whole)}`).join(', ');
  return `<svg class="strip" viewBox="0 0 ${width} ${height}" role="img" aria-label="${escaped(`Finishes by size: ${words}`)}">${parts.join('')}</svg>`;
}

/** Colours by area in words: '45 % dark green, 55 % pale grey'; one colour has no share. */
export function coloursInWords(colours: readonly { screen: string; share: number }[]): string {
  if (colours.length < 2) return '';
  return colours.map(({ screen, share }) => `${percent(share)} ${colourName(screenLab(screen))}`).join(', ');
}

/** A part in per cent, 0-1; what is less than half a per cent is said to be. */
export function percent(part: number): string {
  return part > 0 && part < 0.005 ? 'less than 1 %' : `${Math.round(part * 100)} %`;
}

/** An ISO date as it is said: '10 February 2027'. */
export function dateInWords(date: string): string {
  return new Date(`${date}T00:00:00Z`).toLocaleDateString('en-GB', { dateStyle: 'long', timeZone: 'UTC' });
}

function rounded(value: number): string {
  return String(Math.round(value * 100) / 100);
}
