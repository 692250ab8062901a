import type { Id, Job } from '#lib/job/index.ts';
import { dayGroups, daylightOfLevel, readingOf, type DayRow, type RowReading } from './day.ts';
import { viewing } from './look.ts';
import { lightsOf, looksOf } from './looks.ts';

/** A finish in the light of its room that takes most of its colour. */
interface Greyed {
  row: DayRow;
  lightId: Id;
  lightName: string;
  reading: RowReading;
  /** Chroma beside that under daylight of the same level. */
  kept: number;
}

/** Above this share of its colour a finish counts as holding it. Common practice, no published source. */
const HOLDS = 0.9;

/** Others that keep at most so much more of their colour grey nearly as much. Common practice, no published source. */
const NEARLY = 0.1;

/** Of these named at most. */
const MOST_NAMED = 3;

/**
 * Which candidate of each open surface greys most in the room's lights, as bright or dim as they are and before the eye has
 * quite settled on them (CAM16, degree of adaptation by the level); which others do so nearly as much.
 * Empty without lights, open surfaces or candidates that have a colour to lose.
 */
export function greyingSentences(job: Job, roomId: Id): string[] {
  const lights = lightsOf(job, roomId).map((light) => {
    const { name, view } = viewing(light);
    return { light, name, view, sameLevel: daylightOfLevel(view) };
  });
  return dayGroups(job, roomId).flatMap((group) => {
    if (!group.open || lights.length === 0) return [];
    const greyed = group.rows
      .flatMap((row): Greyed[] => {
        const under = lights.flatMap(({ light, name, view, sameLevel }): Greyed[] => {
          const reading = readingOf(row, view, sameLevel);
          const { kept } = reading;
          return kept === null ? [] : [{ row, lightId: light.id, lightName: name, reading, kept }];
        });
        return under.length > 0 ? [under.reduce((a, b) => (b.kept < a.kept ? b : a))] : [];
      })
      .toSorted((a, b) => a.kept - b.kept);
    const [first, ...others] = greyed;
    if (!first) return [];
    const doubt = first.reading.doubt.kept;
    const among = `the candidates for “${group.title}”`;
    const share = `${percent(first.kept)} of the colour${doubt < 0.005 ? '' : ` (give or take ${Math.round(100 * doubt)})`}`;
    if (first.kept >= HOLDS)
      return [
        `In the room as it is lit, ${among} hold their colour; least is left of ${first.row.name} under “${first.lightName}”: ${share}.`,
      ];
    const near = others
      .filter(({ kept }) => kept < HOLDS && kept - first.kept < NEARLY)
      .slice(0, MOST_NAMED)
      .map(({ row, kept }) => `${row.name} (${percent(kept)})`);
    const followed = near.length > 0 ? ` Nearly as grey: ${near.join(', ')}.` : '';
    const turn = 1 - first.kept < doubt ? 'may turn' : 'will turn';
    return [
      `Of ${among}, ${first.row.name} ${turn} greyest in the room as it is lit: ${share} is left under “${first.lightName}”${namesOf(job, roomId, first)}.${followed}`,
    ];
  });
}

const percent = (share: number) => `${Math.round(100 * share)}\u00a0%`;

/** What it is called by day and there; nothing where that is the same. */
function namesOf(job: Job, roomId: Id, { row, lightId }: Greyed): string {
  const looks = looksOf(row.swatch, lightsOf(job, roomId));
  const [before, after] = [looks.at(0)?.words, looks.find((look) => look.lightId === lightId)?.words];
  return before && after && before !== after ? ` (${before} by day, ${after} there)` : '';
}
