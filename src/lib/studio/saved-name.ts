import { swatchTitle } from '#lib/job/index.ts';
import type { Place } from './see.ts';

/** Bytes of a part of a name; a whole name stays far below the 255 that file systems take. */
const LONGEST = 32;
const bytes = (text: string) => new TextEncoder().encode(text).length;

/** A text as part of a file's name: letters, digits and hyphens, no longer than `LONGEST`, whole words where it can be. */
function part(text: string): string {
  const words = text
    .normalize('NFC')
    .toLowerCase()
    .split(/[^\p{L}\p{N}]+/u)
    .filter(Boolean);
  let kept = '';
  for (const word of words) {
    const longer = kept ? `${kept}-${word}` : word;
    if (bytes(longer) > LONGEST) {
      if (kept) break;
      for (const sign of word) if (bytes(kept + sign) <= LONGEST) kept += sign;
      break;
    }
    kept = longer;
  }
  return kept;
}

/** What is put on, as few words as tell two files apart. */
function putOnInShort(places: readonly Pick<Place, 'name' | 'marked' | 'on'>[]): string {
  const on = places.flatMap(({ name, marked, on }) => (marked && on ? [`${name} ${swatchTitle(on)}`] : []));
  if (on.length === 0) return 'nothing put on';
  return on.length === 1 ? on[0] : `${on.length} surfaces ${on[0]}`;
}

interface Saved {
  readonly job: string;
  readonly photo: string;
  /** By name; null for the photo's own, corrected. */
  readonly light: string | null;
  readonly places: readonly Pick<Place, 'name' | 'marked' | 'on'>[];
  /** The surface whose candidates lie on a sheet, and how many; null for before and after. */
  readonly sheet: { readonly surface: string; readonly count: number } | null;
  readonly ending: string;
}

/** The name of a saved picture: job, photo, what is put on, light, and what kind of picture it is. */
export function savedName({ job, photo, light, places, sheet, ending }: Saved): string {
  const on = sheet ? `${sheet.count} for ${sheet.surface}` : putOnInShort(places);
  const kind = sheet ? 'sheet' : 'before and after';
  const parts = [job, photo, on, light ?? 'daylight', kind].map(part).filter(Boolean);
  return `${parts.join('-')}.${ending}`;
}
