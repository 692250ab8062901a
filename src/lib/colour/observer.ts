import { CMF_1931_2DEG } from './data/observer-1931.ts';
import { CMF_1964_10DEG } from './data/observer-1964.ts';
import { GRID } from './spectrum.ts';
import type { Spectrum } from './spectrum.ts';

/** A standard observer: its three colour-matching functions on the grid. Shared; do not write into them. */
export interface Observer {
  readonly name: string;
  readonly xBar: Spectrum;
  readonly yBar: Spectrum;
  readonly zBar: Spectrum;
}

/** The tables start at 360 nm, 5 nm apart, three numbers a row. */
const TABLE_START = 360;

function column(table: readonly number[], index: number): Spectrum {
  const offset = (GRID.start - TABLE_START) / GRID.step;
  return Float64Array.from({ length: GRID.count }, (_, i) => table[(offset + i) * 3 + index]);
}

function observer(name: string, table: readonly number[]): Observer {
  return { name, xBar: column(table, 0), yBar: column(table, 1), zBar: column(table, 2) };
}

/**
 * CIE 1931 standard observer, 2 degrees: for displays, RGB files and small fields.
 * Source: ISO/CIE 11664-1.
 */
export const OBSERVER_2: Observer = observer('CIE 1931 2°', CMF_1931_2DEG);

/**
 * CIE 1964 standard observer, 10 degrees: for the surfaces of a room, which are larger than 4 degrees.
 * Source: ISO/CIE 11664-1.
 */
export const OBSERVER_10: Observer = observer('CIE 1964 10°', CMF_1964_10DEG);
