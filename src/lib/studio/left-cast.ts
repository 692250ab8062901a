import { decodeRgb, labToLch, linearRgbToXyz, WHITE_D65_2, xyzToLab } from '#lib/colour/index.ts';
import type { Image8 } from '#lib/photo/index.ts';

/** Pixels that are read at most. */
const MOST_READ = 20_000;
/** Device values between which a pixel has a colour that can be told, of 255. */
const [DARK, BURNT] = [26, 243];
/** Part of those pixels that counts as pale, from the lightest. */
const PALE = 0.25;
/**
 * C* of pale parts from which a colour is seen all over a picture. A guess: of five corrected pictures of rooms, nothing known
 * in them, three by day have 6 to 11, one by lamp 20 and one at dusk 26.
 */
const SEEN = 15;

/** The way in which the pale parts of a corrected picture are coloured all over; null where they are near grey, or none are there. */
export function leftCast({
  data,
  channels,
}: Pick<Image8, 'data' | 'channels'>): 'warm' | 'greenish' | 'bluish' | 'pinkish' | null {
  const count = data.length / channels;
  const step = Math.max(1, Math.floor(count / MOST_READ));
  const told: { Y: number; rgb: readonly number[] }[] = [];
  for (let i = 0; i < count; i += step) {
    const device = [0, 1, 2].map((c) => data[channels * i + c]);
    if (Math.max(...device) >= BURNT || Math.min(...device) < DARK) continue;
    const rgb = device.map((value) => decodeRgb(value / 255, 'srgb'));
    told.push({ Y: 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2], rgb });
  }
  const pale = told.toSorted((p, q) => q.Y - p.Y).slice(0, Math.floor(PALE * told.length));
  if (pale.length === 0) return null;
  const [r, g, b] = [0, 1, 2].map((c) => {
    const values = pale.map(({ rgb }) => rgb[c]).sort((p, q) => p - q);
    return values[values.length >> 1];
  });
  const lab = xyzToLab(linearRgbToXyz({ r, g, b }, 'srgb'), WHITE_D65_2);
  const { C, h: hue } = labToLch(lab);
  if (C < SEEN) return null;
  if (hue >= 35 && hue < 110) return 'warm';
  if (hue >= 110 && hue < 200) return 'greenish';
  return hue >= 200 && hue < 290 ? 'bluish' : 'pinkish';
}

/** What a cast that is left means for who looks at the picture, as a sentence. */
export function castWords(cast: NonNullable<ReturnType<typeof leftCast>>): string {
  return `The pale parts of this photo are ${cast} all over, though it is corrected: light of that colour is left in it, or they are so themselves. What is put on is shown in that light, and not as plain daylight would show it.`;
}
