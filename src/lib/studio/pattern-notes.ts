import { busynessWords, calmWords, pickUpWords, type PickUp } from '#lib/finish/index.ts';
import { finishInput, swatchBusyness, type Surface, type Swatch } from '#lib/job/index.ts';

/** What a candidate's pattern, or that of a finish it meets, means for the two; `number` stands behind the sentence. */
export interface PatternNote {
  readonly id: string;
  readonly sentence: string;
  readonly number: string;
}

interface Neighbour {
  readonly surface: Surface;
  readonly swatch: Swatch;
}

/** Whether a swatch shows a pattern that somebody photographed. */
const patterned = ({ samples }: Swatch) => Object.values(samples).some(({ pattern }) => pattern);

/** Neighbours that have something to say by a pattern: their own, or the candidate's. */
export function patternNeighbours(swatch: Swatch, fixed: readonly Neighbour[]): Neighbour[] {
  const own = patterned(swatch);
  return fixed.filter((entry) => own || patterned(entry.swatch));
}

/**
 * How a candidate sits with the patterns it meets: its own busyness, each neighbour's beside it, and the minor colours it
 * picks up. `pickUps` go with `neighbours`; none yet where it is being worked out.
 */
export function patternNotes(
  { surface, swatch }: Neighbour,
  neighbours: readonly Neighbour[],
  pickUps: readonly (PickUp | null)[],
): PatternNote[] {
  const own = swatchBusyness(swatch);
  return neighbours.flatMap((there, i): PatternNote[] => {
    const busyness = swatchBusyness(there.swatch);
    const notes: PatternNote[] = [];
    if (own !== null && busyness !== null)
      notes.push({
        id: `calm ${there.surface.id}`,
        sentence: calmWords(
          { surfaceName: there.surface.name, busyness },
          { surfaceName: surface.name, busyness: own },
        ),
        number: `busyness ${busyness.toFixed(1)} beside ${own.toFixed(1)}`,
      });
    const found = pickUps[i];
    const colours = finishInput(there.swatch)?.colours.filter(({ share }) => share > 0) ?? [];
    if (found && colours[found.colour]) {
      const neighbour = { colours: colours.map(({ estimate }) => estimate) };
      const { sentence, number } = pickUpWords(found, { neighbour, surfaceName: there.surface.name });
      notes.push({ id: `pick up ${there.surface.id}`, sentence: `${sentence}.`, number });
    }
    return notes;
  });
}

/** A swatch's own pattern: `Its pattern is busy`, `busyness 19.2`; null where nobody measured one. */
export function ownPattern(swatch: Swatch): { sentence: string; number: string } | null {
  const busyness = patterned(swatch) ? swatchBusyness(swatch) : null;
  if (busyness === null) return null;
  return {
    sentence: `Its own pattern is ${busynessWords(busyness)}.`,
    number: `busyness ${busyness.toFixed(1)}`,
  };
}
