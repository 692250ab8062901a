import {
  rankOn,
  swapReport,
  type RankedOn,
  type ReflectanceCache,
  type SchemeInput,
  type SwapReport,
} from '#lib/finish/index.ts';
import { expose } from 'comlink';

/** Recovered reflectances kept; a kitchen has fifty finishes. */
const MOST_REFLECTANCES = 2000;

let reflectances: ReflectanceCache = new Map();

function cache(): ReflectanceCache {
  if (reflectances.size > MOST_REFLECTANCES) reflectances = new Map();
  return reflectances;
}

const swaps = {
  /** Every finish that could be on a surface, judged against all that is on the others. */
  rank(input: SchemeInput, surfaceId: string): RankedOn[] {
    return rankOn(input, surfaceId, { cache: cache() });
  },

  /** What putting `to` on a surface does to the room, and what else must change. */
  report(input: SchemeInput, surfaceId: string, to: string): SwapReport {
    return swapReport(input, { surfaceId, to }, { cache: cache() });
  },
};

export type Swaps = typeof swaps;

expose(swaps);
