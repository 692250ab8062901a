import { mergedRegions, type Regions } from './regions.ts';

/** How parts of a picture go on joining where little parts them, coarser and coarser. */
export interface Unions {
  /** Union of each part, per barrier of `UNION_BARRIERS`. */
  readonly of: readonly Int32Array[];
}

/** Barriers up to which parts are joined. A crease of a wall has more than the first, grain and gloss seldom the last. */
export const UNION_BARRIERS = [2.8, 4.5, 6.5, 9];

/** Joins parts on and on, each barrier measured anew along the whole common border of what is joined already. */
export function unionsOf(parts: Regions): Unions {
  const of: Int32Array[] = [];
  let last = parts;
  let union = Int32Array.from({ length: parts.count }, (_, i) => i);
  for (const barrier of UNION_BARRIERS) {
    last = mergedRegions({ sizes: last.size, values: last.values, graph: last.graph }, barrier);
    const joined = last.of;
    union = union.map((k) => joined[k]);
    of.push(union);
  }
  return { of };
}

/** Per part: how many of the barriers it takes to come together with one of `seeds`; 0 the least, their number for none. */
export function apartFrom(seeds: Uint8Array, { of }: Unions): Uint8Array {
  const apart = new Uint8Array(seeds.length).fill(of.length);
  for (let level = of.length - 1; level >= 0; level--) {
    const union = of[level];
    const named = new Uint8Array(seeds.length);
    for (let i = 0; i < seeds.length; i++) if (seeds[i]) named[union[i]] = 1;
    for (let i = 0; i < seeds.length; i++) if (named[union[i]]) apart[i] = level;
  }
  return apart;
}
