import { MOST_PIECES, SIZE_BOUNDS } from './parts.ts';
import type { FieldProblem, SizeName } from './parts.ts';
import { lengthIn } from './units.ts';
import type { UnitSystem } from './units.ts';

/** Looks at the fields somebody filled in and collects what is wrong, in words, with the field's path. */
export class FieldCheck {
  readonly problems: FieldProblem[] = [];
  readonly #system: UnitSystem;

  constructor(system: UnitSystem) {
    this.#system = system;
  }

  error(path: string, words: string): false {
    this.problems.push({ path, severity: 'error', words });
    return false;
  }

  warn(path: string, words: string): void {
    this.problems.push({ path, severity: 'warning', words });
  }

  /** Whether a length in mm can be counted with. */
  size(mm: number, name: SizeName, path: string): boolean {
    const {
      possible: [least, most],
      usual: [low, high],
    } = SIZE_BOUNDS[name];
    const said = (length: number) => lengthIn(length, this.#system);
    const aName = `${/^[aeiou]/.test(name) ? 'An' : 'A'} ${name}`;
    if (!Number.isFinite(mm)) return this.error(path, `The ${name} is missing or not a number.`);
    if (mm < 0) return this.error(path, `The ${name} is negative.`);
    if (mm === 0 && least > 0) return this.error(path, `The ${name} is zero.`);
    if (mm < least || mm > most)
      return this.error(
        path,
        `${aName} of ${said(mm)} cannot be: ${said(least)} to ${said(most)}. Is the unit right?`,
      );
    if (mm < low || mm > high)
      this.warn(
        path,
        `${aName} of ${said(mm)} is unusual: mostly ${said(low)} to ${said(high)}. It is counted.`,
      );
    return true;
  }

  /** Whether a count is a whole number in [least, most]. */
  count(
    value: number,
    path: string,
    {
      least = 1,
      most = MOST_PIECES,
      what = 'number of pieces',
    }: { least?: number; most?: number; what?: string } = {},
  ): boolean {
    if (Number.isInteger(value) && value >= least && value <= most) return true;
    if (!Number.isFinite(value)) return this.error(path, `The ${what} is missing.`);
    return this.error(path, `The ${what} is ${value}; it must be a whole number from ${least} to ${most}.`);
  }

  /** Whether a number lies in [least, most]. */
  within(
    value: number,
    path: string,
    { least, most, what }: { least: number; most: number; what: string },
  ): boolean {
    if (value >= least && value <= most) return true;
    if (!Number.isFinite(value)) return this.error(path, `The ${what} is missing.`);
    return this.error(path, `The ${what} is ${value}; it must lie from ${least} to ${most}.`);
  }
}
