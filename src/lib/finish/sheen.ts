/** Named sheen of a paint or coating, from dullest to shiniest. */
export type Sheen = 'flat' | 'matt' | 'eggshell' | 'satin' | 'semi-gloss' | 'gloss';

/** Gloss units a sheen usually spans, measured at the angle in degrees. */
export interface SheenLevel {
  readonly name: Sheen;
  readonly gloss: { readonly from: number; readonly to: number; readonly angle: 60 | 85 };
  readonly words: string;
}

/**
 * The levels and the gloss units (GU, ISO 2813) they usually span. Common practice, no published source: makers draw the
 * borders differently, so a swatch's own data sheet decides. Dull levels are told apart at 85°, the others at 60°, as
 * ISO 2813 advises for matt and for middling surfaces.
 */
export const SHEEN_LEVELS: readonly SheenLevel[] = [
  {
    name: 'flat',
    gloss: { from: 0, to: 5, angle: 85 },
    words: 'no shine from any side; hides flaws, marks easily',
  },
  { name: 'matt', gloss: { from: 5, to: 10, angle: 85 }, words: 'hardly any shine' },
  { name: 'eggshell', gloss: { from: 5, to: 20, angle: 60 }, words: 'a soft shine at a low angle' },
  { name: 'satin', gloss: { from: 20, to: 35, angle: 60 }, words: 'a gentle shine; wipes clean' },
  { name: 'semi-gloss', gloss: { from: 35, to: 70, angle: 60 }, words: 'shiny; shows flaws, wears well' },
  { name: 'gloss', gloss: { from: 70, to: 100, angle: 60 }, words: 'mirrors its surroundings' },
];

const SPELLINGS: Readonly<Record<string, Sheen>> = {
  flat: 'flat',
  'dead flat': 'flat',
  'dead matt': 'flat',
  'ultra matt': 'flat',
  matt: 'matt',
  matte: 'matt',
  mat: 'matt',
  'flat matt': 'matt',
  eggshell: 'eggshell',
  'egg shell': 'eggshell',
  'soft sheen': 'eggshell',
  satin: 'satin',
  satinwood: 'satin',
  silk: 'satin',
  'semi gloss': 'semi-gloss',
  semigloss: 'semi-gloss',
  'half gloss': 'semi-gloss',
  gloss: 'gloss',
  glossy: 'gloss',
  'high gloss': 'gloss',
  'full gloss': 'gloss',
};

/** The sheen a trade word means, or null where it is not one we know. */
export function parseSheen(text: string): Sheen | null {
  const key = text
    .trim()
    .toLowerCase()
    .replace(/[\s_-]+/g, ' ');
  return Object.hasOwn(SPELLINGS, key) ? SPELLINGS[key] : null;
}

/** The level with this name. */
export function sheenLevel(sheen: Sheen): SheenLevel {
  const level = SHEEN_LEVELS.find((candidate) => candidate.name === sheen);
  if (!level) throw new RangeError(`Expected a sheen, got ${sheen}`);
  return level;
}
