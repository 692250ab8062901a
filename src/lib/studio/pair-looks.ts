import type { Job, Light } from '#lib/job/index.ts';
import { looksOf, type Look } from './looks.ts';
import type { TablePair } from './pair-table.ts';

/** Colours for the screen of both finishes of a pair. */
export interface BothLooks {
  readonly first: Look['colours'];
  readonly second: Look['colours'];
}

/** The looks of a pair by the id of a light. */
export type PairLooks = (lightId: string) => BothLooks;

/** Id of plain daylight where a room has no lights, as in reports on pairs. */
export const DAYLIGHT_ID = 'D65';

/** How the finishes of a job look in the lights of a room, pair by pair. */
export function pairLooks(
  job: Pick<Job, 'swatches'>,
  lights: readonly Light[],
): (pair: TablePair) => PairLooks {
  const of = (swatchId: string, lightId: string): Look['colours'] => {
    const swatch = job.swatches[swatchId];
    const looks = swatch ? looksOf(swatch, lights) : [];
    return looks.find((look) => look.lightId === (lightId === DAYLIGHT_ID ? null : lightId))?.colours ?? [];
  };
  return ({ row, column }) =>
    (lightId) => ({ first: of(column.finish.id, lightId), second: of(row.finish.id, lightId) });
}
