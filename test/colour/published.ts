import { readFileSync } from 'node:fs';
import type { Lab, XYZ } from '#lib/colour/index.ts';

const FOLDER = new URL('../fixtures/published/', import.meta.url);

/** A published table: rows of named cells. Lines that start with # carry the citation. */
export function readTable(name: string): Record<string, string>[] {
  const lines = readFileSync(new URL(name, FOLDER), 'utf8')
    .split('\n')
    .filter((line) => line.trim() !== '' && !line.startsWith('#'));
  const header = lines[0].split(',');
  return lines.slice(1).map((line) => {
    const cells = line.split(',');
    return Object.fromEntries(header.map((column, i) => [column, cells[i]]));
  });
}

export type Triple = [number, number, number];

export const xyz = ([X, Y, Z]: Triple): XYZ => ({ X, Y, Z });
export const lab = ([L, a, b]: Triple): Lab => ({ L, a, b });

interface Correlates {
  J: number;
  C: number;
  h: number;
  s: number;
  Q: number;
  M: number;
}

interface VectorFile {
  conventions: {
    white_D65: Triple;
    white_D50_icc: Triple;
    white_A: Triple;
    matrix_RGB_to_XYZ: Triple[];
    CAM16: {
      XYZ_w: Triple;
      viewing_conditions: Record<'bright' | 'srgb_reference', { L_A: number; Y_b: number }>;
    };
  };
  colours: {
    hex: string;
    rgb: Triple;
    linear: Triple;
    XYZ_D65: Triple;
    Lab_D65: Triple;
    LCh_D65: Triple;
    XYZ_D50_bradford: Triple;
    Lab_D50: Triple;
    Oklab_from_XYZ: Triple;
    CAM16_bright: Correlates;
    CAM16UCS_bright: Triple;
    CAM16_srgb_reference: Correlates;
    CAM16UCS_srgb_reference: Triple;
    XYZ_cat16_D65_to_A: Triple;
  }[];
  pairs: {
    reference: string;
    sample: string;
    Lab_reference: Triple;
    Lab_sample: Triple;
    dE76: number;
    dE94_graphic_arts: number;
    dE94_textiles: number;
    dE00: number;
    CMC_2_1: number;
    CMC_1_1: number;
    dE_CAM16UCS_bright: number;
    dE_CAM16UCS_srgb_reference: number;
    dE_Oklab_euclid: number;
    wcag_contrast: number;
  }[];
  cct: {
    name: string;
    xy: [number, number];
    uv1960: [number, number];
    CCT_Ohno2013: number;
    Duv_Ohno2013: number;
  }[];
  target24: Record<string, { white: Triple; XYZ: Triple[] }>;
}

/** Test vectors computed with colour-science 0.4.6 (commit 9d74314); the conventions stand in the file. */
export const vectors: VectorFile = JSON.parse(readFileSync(new URL('oracle_values.json', FOLDER), 'utf8'));

export interface ReferenceValue {
  id: string;
  source: string;
  inputs: Record<string, unknown>;
  published: Record<string, unknown> | null;
  oracle: Record<string, unknown> | null;
}

/** Published values, each with its source, beside what colour-science 0.4.6 gives for the same input. */
export const references: ReferenceValue[] = JSON.parse(
  readFileSync(new URL('reference_values.json', FOLDER), 'utf8'),
).values;

/** Fixed seed: the same inputs at every run. */
export const RUNS = { seed: 20050101, numRuns: 400 };

/** Half a unit in the given decimal place. */
export const half = (decimals: number) => 0.5 * 10 ** -decimals * (1 + 1e-9);
