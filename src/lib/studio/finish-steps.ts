import type { Swatch } from '#lib/job/index.ts';
import type { Place } from './see.ts';

/** What comes after, or before, what is on a surface: one candidate after the other, and after the last as photographed. */
export function nextFinish({ choices, on }: Pick<Place, 'choices' | 'on'>, by: 1 | -1): Swatch | null {
  const all = [null, ...choices];
  const at = all.findIndex((swatch) => (swatch?.id ?? null) === (on?.id ?? null));
  return all[(at + by + all.length) % all.length];
}
