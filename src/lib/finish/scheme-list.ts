import type { Scheme } from './scheme-search.ts';

/** Schemes by score, of equal ones the one with the lower option numbers first: the best `size` of all that were added. */
export class SchemeList {
  readonly size: number;
  readonly schemes: Scheme[] = [];

  constructor(size: number) {
    this.size = size;
  }

  /** Score a scheme must reach to enter (equal ones by their numbers); -Infinity while there is room. */
  get least(): number {
    return this.schemes.length < this.size ? -Infinity : this.schemes[this.size - 1].score;
  }

  /** The scheme that the next better one pushes out. */
  get last(): Scheme | null {
    return this.schemes.length < this.size ? null : this.schemes[this.size - 1];
  }

  add(scheme: Scheme): void {
    if (scheme.score === -Infinity || scheme.score < this.least) return;
    let at = this.schemes.length;
    while (at > 0 && before(scheme, this.schemes[at - 1])) at--;
    if (at > 0 && compareChoices(scheme.choice, this.schemes[at - 1].choice) === 0) return;
    this.schemes.splice(at, 0, scheme);
    if (this.schemes.length > this.size) this.schemes.pop();
  }
}

function before(first: Scheme, second: Scheme): boolean {
  if (first.score !== second.score) return first.score > second.score;
  return compareChoices(first.choice, second.choice) < 0;
}

/** Negative where the first has the lower option number at the first place in which they differ. */
export function compareChoices(first: readonly number[], second: readonly number[]): number {
  const place = first.findIndex((option, index) => option !== second[index]);
  return place < 0 ? 0 : first[place] - second[place];
}
