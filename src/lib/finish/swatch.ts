import type { Covariance, Lab } from '#lib/colour/index.ts';
import type { EvidenceSource } from './evidence.ts';
import type { Price } from './price.ts';
import type { Sheen } from './sheen.ts';

/** What a finish is made of. */
export const FINISH_KINDS = ['paint', 'stone', 'tile', 'wood', 'metal', 'textile'] as const;
export type FinishKind = (typeof FINISH_KINDS)[number];

/** A swatch as a list or an instrument's file gives it. */
export interface ReadSwatch {
  /** Line of the text it stands on, from 1; for XML the running number of the object. */
  readonly line: number;
  readonly kind: FinishKind | null;
  readonly maker: string;
  readonly code: string;
  readonly name: string;
  readonly sheen: Sheen | null;
  readonly price: Price | null;
  readonly leadTimeDays: number | null;
  /** The printed light reflectance value, 0-100; kept beside the colour. */
  readonly publishedLrv: number | null;
  /** CIELAB D65/10°. */
  readonly lab: Lab;
  readonly covariance: Covariance;
  readonly source: EvidenceSource;
  /** 81 values 0-1 at 380-780 nm by 5, where a spectrum was measured. */
  readonly reflectance: readonly number[] | null;
  /** How it was read and what about it looks wrong, in sentences. */
  readonly notes: readonly string[];
}

/** Something wrong with a line. */
export interface ReadProblem {
  /** Line of the text, from 1; null where it is about the whole. */
  readonly line: number | null;
  readonly reason: string;
  /** Whether the swatch was kept: without the part that is wrong, unless `whole`. */
  readonly kept: boolean;
  /** True where nothing was left out: the swatch is whole, but something about it needs a look. */
  readonly whole?: boolean;
}

/** What a reader found. */
export interface SwatchReading {
  readonly swatches: readonly ReadSwatch[];
  readonly problems: readonly ReadProblem[];
  /** Columns or fields, in their order, and what each was taken for; null for those not used. */
  readonly columns: readonly { readonly header: string; readonly meaning: string | null }[];
  /** About the file as a whole, in sentences. */
  readonly notes: readonly string[];
}

/** A reading of something that is not what it should be. */
export function unreadable(reason: string): SwatchReading {
  return { swatches: [], problems: [{ line: null, reason, kept: false }], columns: [], notes: [] };
}

/** The kind of finish a word means, or null. */
export function parseFinishKind(text: string): FinishKind | null {
  const key = text.trim().toLowerCase();
  const direct = FINISH_KINDS.find((kind) => key === kind || key === `${kind}s`);
  if (direct) return direct;
  if (/paint|lacquer|emulsion|enamel|limewash|coating/.test(key)) return 'paint';
  if (/stone|marble|granite|quartz|slate|terrazzo|concrete|slab/.test(key)) return 'stone';
  if (/tile|ceramic|porcelain|mosaic/.test(key)) return 'tile';
  if (/wood|timber|oak|walnut|veneer|parquet|laminate/.test(key)) return 'wood';
  if (/metal|brass|steel|copper|chrome|nickel|bronze|alumin/.test(key)) return 'metal';
  if (/textile|fabric|cloth|linen|wool|carpet|rug|curtain/.test(key)) return 'textile';
  return null;
}
