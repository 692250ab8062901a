import { keptPercent, type LightMovement, type LightReport, type OwnChange } from '#lib/finish/index.ts';
import type { Id } from '#lib/job/index.ts';
import type { SurfaceFinishes } from './light-questions.ts';

/** A paler colour than this, C* by daylight, has too little colour to speak of losing it. Common practice, no published source. */
export const HUELESS_CHROMA = 6;

/** Above this share of its colour a finish counts as holding it. Common practice, no published source. */
const HOLDS = 0.9;

/** Others that keep at most so much more of their colour grey nearly as much. Common practice, no published source. */
const NEARLY = 0.1;

/** Of these named at most. */
const MOST_NAMED = 3;

/** What is left of a colour's chroma in a light, as a share; null of one that has too little to lose. */
export function keptShare({ chroma }: Pick<OwnChange, 'chroma'>): number | null {
  return chroma.from < HUELESS_CHROMA ? null : chroma.to.value / chroma.from;
}

interface Kept<C extends Pick<OwnChange, 'chroma'>> {
  name: string;
  own: C;
  share: number;
}

/** Finishes that have a colour to lose, the one that keeps least of it first. */
function byLoss<C extends Pick<OwnChange, 'chroma'>>(
  list: readonly { name: string; own: C | null }[],
): Kept<C>[] {
  return list
    .flatMap(({ name, own }): Kept<C>[] => {
      const share = own && keptShare(own);
      return own && share !== null ? [{ name, own, share }] : [];
    })
    .toSorted((one, other) => one.share - other.share);
}

const isOpen = ({ own: { chroma } }: Kept<Pick<OwnChange, 'chroma'>>) =>
  chroma.from - chroma.to.value < chroma.to.giveOrTake;

function doubtOf({ chroma }: Pick<OwnChange, 'chroma'>): string {
  const points = Math.round((100 * chroma.to.giveOrTake) / chroma.from);
  return points === 0 ? '' : `, give or take ${points}`;
}

/**
 * Which candidate turns greyest of its own in a light, and which keeps most colour, as shares of the colour it has by day,
 * among those that have enough; null where there is nothing to compare.
 */
export function turningWords(list: readonly { name: string; own: OwnChange | null }[]): string | null {
  const kept = byLoss(list);
  const [least, most] = [kept.at(0), kept.at(-1)];
  if (!least || !most || least === most) return null;
  const percent = keptPercent(least.own);
  if (least.share >= HOLDS)
    return `every candidate with a clear colour holds it of its own: ${percent} is the least${doubtOf(least.own)}, of ${least.name}.`;
  const turns = isOpen(least) ? 'may turn' : 'turns';
  return (
    `${least.name} ${turns} greyest: it keeps about ${percent} of its colour${doubtOf(least.own)}. ` +
    `Most is kept by ${most.name}, ${keptPercent(most.own)}.`
  );
}

/**
 * Which candidate of each open surface greys most of its own in the room's lights, from a report, and which others do so
 * nearly as much. Empty without lights, open surfaces or candidates that have a colour to lose.
 */
export function greyingSentences({ finishes }: LightReport, groups: readonly SurfaceFinishes[]): string[] {
  const reported = new Map(finishes.map((finish) => [finish.finishId, finish]));
  return groups.flatMap(({ surface, swatches }) => {
    if (surface.state !== 'open') return [];
    const [first, ...others] = byLoss(swatches.flatMap(({ id }) => atWorst(reported.get(id))));
    if (!first) return [];
    const among =
      swatches.length === 1 ? `the candidate for “${surface.name}”` : `the candidates for “${surface.name}”`;
    const left = `${keptPercent(first.own)} of the colour is left under “${first.own.to.name}”${doubtOf(first.own)}`;
    if (first.share >= HOLDS)
      return swatches.length === 1
        ? [`${first.name}, ${among}, will hold its colour: ${left}.`]
        : [`Of ${among}, all with a clear colour hold it; the least steady is ${first.name}: ${left}.`];
    const near = others
      .filter(({ share }) => share < HOLDS && share - first.share < NEARLY)
      .slice(0, MOST_NAMED)
      .map(({ name, own }) => `${name} (${keptPercent(own)})`);
    const followed = near.length > 0 ? ` Nearly as grey: ${near.join(', ')}.` : '';
    const turn = isOpen(first) ? 'may' : 'will';
    return swatches.length === 1
      ? [`${first.name}, ${among}, ${turn} lose colour: ${left}.`]
      : [`Of ${among}, ${first.name} ${turn} turn greyest: ${left}.${followed}`];
  });
}

/** The movement from daylight that leaves a finish least of its colour. */
function atWorst(
  finish: LightReport['finishes'][number] | undefined,
): { finishId: Id; name: string; own: LightMovement }[] {
  if (!finish || finish.verdict === 'too little known') return [];
  const { finishId, name, movements } = finish;
  const byDay = movements.filter(({ from }) => from.id === movements[0].from.id);
  if (byDay.length === 0) return [];
  const left = ({ chroma }: LightMovement) => chroma.to.value / chroma.from;
  return [{ finishId, name, own: byDay.reduce((a, b) => (left(b) < left(a) ? b : a)) }];
}
