import type { Image8 } from '#lib/photo/index.ts';

/** Pixels that are read at most. */
const MOST_READ = 20_000;
/** Steps of 255: what noise and JPEG make of one colour, and the ends of the range as a correction leaves them. */
const FLAT = 6;
const BLACK = 16;
const WHITE = 235;

/** What a picture is all over, as delivered or corrected, in which nothing can be made out; null for any other. */
export function flatPicture({
  data,
  channels,
}: Pick<Image8, 'data' | 'channels'>): 'black' | 'white' | 'of one colour' | null {
  const count = data.length / channels;
  const step = Math.max(1, Math.floor(count / MOST_READ));
  const ends = [0, 1, 2].map((c) => {
    const values = new Uint8Array(Math.ceil(count / step));
    for (let i = 0; i < values.length; i += 1) values[i] = data[channels * step * i + c];
    values.sort();
    // A few pixels of dust make no picture.
    const dust = Math.floor(0.005 * (values.length - 1));
    return [values[dust], values[values.length - 1 - dust]];
  });
  if (ends.some(([least, most]) => most - least > FLAT)) return null;
  if (ends.every(([, most]) => most <= BLACK)) return 'black';
  return ends.every(([least]) => least >= WHITE) ? 'white' : 'of one colour';
}

/** What a flat picture means for who wants to see finishes in it. */
export function flatWords(flat: NonNullable<ReturnType<typeof flatPicture>>): string {
  const why = {
    black: 'it is black all over',
    white: 'it is white all over, burnt out',
    'of one colour': 'it is of one colour all over',
  }[flat];
  return `Nothing can be made out in this picture: ${why}. A finish put on it is a flat patch without light or shadow. Marks and choices are kept: take the photo again, or choose another one.`;
}
