import { ISCC_NBS_BLOCKS, ISCC_NBS_NAMES } from './data/iscc-nbs.ts';
import { deltaE2000 } from './difference.ts';
import type { Lab } from './lab.ts';
import { HUE_FAMILIES, labToMunsellPoint } from './munsell.ts';
import type { MunsellPoint } from './munsell.ts';

/** A block of Munsell space that carries one name. */
interface Block {
  readonly number: number;
  readonly hueFrom: number;
  /** Hue circle 0-100; above 100 where the block wraps. */
  readonly hueTo: number;
  readonly valueFrom: number;
  readonly valueTo: number;
  readonly chromaFrom: number;
  readonly chromaTo: number;
}

interface Name {
  readonly words: string;
  readonly centroid: Lab;
}

let names: ReadonlyMap<number, Name> | null = null;
let blocks: readonly Block[] | null = null;

function allNames(): ReadonlyMap<number, Name> {
  names ??= new Map(
    ISCC_NBS_NAMES.trim()
      .split('\n')
      .map((line) => {
        const [number, name, , lab] = line.split('|');
        const [L, a, b] = lab.split(' ').map(Number);
        return [Number(number), { words: plain(name), centroid: { L, a, b } }];
      }),
  );
  return names;
}

/** Lower case and house spelling. */
function plain(name: string): string {
  return name.toLowerCase().replaceAll('gray', 'grey');
}

function allBlocks(): readonly Block[] {
  blocks ??= ISCC_NBS_BLOCKS.trim()
    .split('\n')
    .map((line) => {
      const [number, hueBegin, hueEnd, ...limits] = line.split(' ');
      const [valueFrom, valueTo, chromaFrom, chromaTo] = limits.map((v) =>
        v === '-' ? Infinity : Number(v),
      );
      const hueFrom = hueOf(hueBegin);
      const end = hueOf(hueEnd);
      const hueTo = end > hueFrom ? end : end + 100;
      return { number: Number(number), hueFrom, hueTo, valueFrom, valueTo, chromaFrom, chromaTo };
    });
  return blocks;
}

function hueOf(text: string): number {
  const number = parseFloat(text);
  const family = text.slice(String(number).length) as (typeof HUE_FAMILIES)[number];
  return (10 * HUE_FAMILIES.indexOf(family) + number) % 100;
}

function holds(block: Block, { hue, value, chroma }: MunsellPoint): boolean {
  if (value < block.valueFrom || value > block.valueTo) return false;
  if (chroma < block.chromaFrom || chroma > block.chromaTo) return false;
  const turned = hue < block.hueFrom ? hue + 100 : hue;
  return turned <= block.hueTo;
}

/**
 * Plain name of a colour (CIELAB, D65, 10 degrees) in lower case, one of the 267 of ISCC-NBS: `greyish olive green`,
 * `yellowish white`, `dark reddish brown`.
 * The name is that of the block of Munsell space in which the colour lies, as the method prescribes; on a boundary, the
 * lower number. Munsell space is carried straight on beyond the renotation. Only a colour that no surface can have (a
 * screen's) has no place there, and takes the name of the nearest centroid by CIEDE2000.
 * Throws RangeError for numbers that are not finite.
 * Source: Kelly and Judd 1976, NBS Special Publication 440; centroids Kelly 1958, NBS RP 2911.
 */
export function colourName(lab: Lab): string {
  const known = allNames();
  const point = labToMunsellPoint(lab);
  const block = point && allBlocks().find((candidate) => holds(candidate, point));
  if (block) return known.get(block.number)!.words;
  let nearest = '';
  let least = Infinity;
  for (const { words, centroid } of known.values()) {
    const deltaE = deltaE2000(centroid, lab);
    if (deltaE < least) {
      least = deltaE;
      nearest = words;
    }
  }
  return nearest;
}
