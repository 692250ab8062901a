/** The fonts of documents on paper: which has which characters, and words split among them. */
import { createRequire } from 'node:module';

/** Our family by parts of Unicode, as it is published, then a wide one for the scripts it has not; first come, first served. */
export const PARTS = [
  'hanken-grotesk latin',
  'hanken-grotesk latin-ext',
  'hanken-grotesk vietnamese',
  'noto-sans greek',
  'noto-sans cyrillic',
  'noto-sans cyrillic-ext',
  'noto-sans latin-ext',
  'noto-sans devanagari',
] as const;
export const FIRST = PARTS[0];
const WEIGHTS = { plain: 400, strong: 600 } as const;
export type Weight = keyof typeof WEIGHTS;

export interface Font {
  readonly name: string;
  has(codePoint: number): boolean;
}

/** Splits words where the font has to change; a character without a shape anywhere becomes a box and is put among `shapeless`. */
export function fontRuns(
  words: string,
  fonts: readonly Font[],
  shapeless: Set<string>,
): { font: string; text: string }[] {
  const runs: { font: string; text: string }[] = [];
  for (const character of words) {
    const codePoint = character.codePointAt(0)!;
    const blank = /\s/.test(character);
    const found = blank ? undefined : fonts.find((font) => font.has(codePoint));
    if (!found && !blank) shapeless.add(character);
    const text = found || blank ? character : '□';
    const font = found?.name ?? runs.at(-1)?.font ?? fonts[0].name;
    const last = runs.at(-1);
    if (last && last.font === font) last.text += text;
    else runs.push({ font, text });
  }
  return runs.length > 0 ? runs : [{ font: fonts[0].name, text: ' ' }];
}

/** Words without control characters, which a PDF cannot show, and without signs that have no shape of their own. */
export function tidy(words: string): string {
  return words
    .replace(/[\u0000-\u0009\u000b-\u001f\u007f]/g, ' ')
    .replace(/[\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufe0e\ufe0f\ufeff]/g, '')
    .trim();
}

const packages = createRequire(import.meta.url);

/** The file of a part of our fonts, as the packages have it. */
export function fontFile(part: (typeof PARTS)[number], weight: Weight): string {
  const [family, characters] = part.split(' ');
  const file = `@fontsource/${family}/files/${family}-${characters}-${WEIGHTS[weight]}-normal.woff`;
  return packages.resolve(file);
}
