import { keptPercent, type LightMovement, type LightReport, type OwnChange } from '#lib/finish/index.ts';
import type { Id } from '#lib/job/index.ts';
import type { SurfaceFinishes } from './light-questions.ts';

/** A paler colour than this, C* by daylight, has too little colour to speak of losing it. Common practice, no published source. */
const HUELESS_CHROMA = 6;

/** Above this share of its colour a finish counts as holding it. Common practice, no published source. */
const HOLDS = 0.9;

/** Others that keep at most so much more of their colour grey nearly as much. Common practice, no published source. */
const NEARLY = 0.1;

/** Of these named at most. */
const MOST_NAMED = 3;

/** What is left of a colour's chroma in a light, as a share; null of one that has too little to lose. */
function keptShare({ chroma }: Pick<OwnChange, 'chroma'>): number | null {
  return chroma.from < HUELESS_CHROMA ? null : chroma.to.value / chroma.from;
}

interface Named<C> {
  name: string;
  own: C;
}

type WithShare<T> = T & { share: number };

/** Finishes that have a colour to lose, the one that keeps least of it first. */
function byLoss<T extends Named<Pick<OwnChange, 'chroma'>>>(list: readonly T[]): WithShare<T>[] {
  return list
    .flatMap((one): WithShare<T>[] => {
      const share = keptShare(one.own);
      return share === null ? [] : [{ ...one, share }];
    })
    .toSorted((one, other) => one.share - other.share);
}

/** Whether the loss lies within the doubt. */
const isOpen = ({ own: { chroma } }: Named<Pick<OwnChange, 'chroma'>>) =>
  chroma.from - chroma.to.value < chroma.to.giveOrTake;

/** Whether one in five of the plausible cases would lose colour to speak of; two standard deviations are the doubt. */
const isDoubtful = ({ own: { chroma } }: Named<Pick<OwnChange, 'chroma'>>) =>
  chroma.to.value - HOLDS * chroma.from < 0.42 * chroma.to.giveOrTake;

function doubtOf({ chroma }: Pick<OwnChange, 'chroma'>): string {
  const points = Math.round((100 * chroma.to.giveOrTake) / chroma.from);
  return points === 0 ? '' : `, give or take ${points}`;
}

/**
 * Which candidate turns greyest of its own in a light, and which keeps most colour, as shares of the colour it has by day,
 * among those that have enough; null where there is nothing to compare.
 */
export function turningWords(list: readonly Named<OwnChange | null>[]): string | null {
  const kept = byLoss(list.flatMap(({ name, own }) => (own ? [{ name, own }] : [])));
  const [least, most] = [kept.at(0), kept.at(-1)];
  if (!least || !most || least === most) return null;
  const percent = keptPercent(least.own);
  if (least.share >= HOLDS)
    return `every candidate with a clear colour ${isDoubtful(least) ? 'probably ' : ''}holds it of its own: ${percent} is the least${doubtOf(least.own)}, of ${least.name}.`;
  const turns = isOpen(least) ? 'may turn' : 'turns';
  return (
    `${least.name} ${turns} greyest: it keeps about ${percent} of its colour${doubtOf(least.own)}. ` +
    `Most is kept by ${most.name}, ${most.share < 1 ? keptPercent(most.own) : 'all of it'}.`
  );
}

/**
 * Which candidate of each open surface greys most of its own in the room's lights, from a report, and which others do so
 * nearly as much. Empty without lights, open surfaces or candidates that have a colour to lose, and where the report says of
 * that candidate itself that it turns grey and no other comes near.
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
    if (first.share >= HOLDS) {
      const probably = isDoubtful(first) ? 'probably ' : '';
      return swatches.length === 1
        ? [`${first.name}, ${among}, will ${probably}hold its colour: ${left}.`]
        : [
            `Of ${among}, all with a clear colour ${probably}hold it; the least steady is ${first.name}: ${left}.`,
          ];
    }
    const near = others
      .filter(({ share }) => share < HOLDS && share - first.share < NEARLY)
      .slice(0, MOST_NAMED)
      .map(({ name, own }) => `${name} (${keptPercent(own)})`);
    const followed = near.length > 0 ? ` Nearly as grey: ${near.join(', ')}.` : '';
    const told = reported.get(first.finishId)?.turns.some(({ kind }) => kind === 'turns grey');
    if (told && near.length === 0) return [];
    const turn = isOpen(first) ? 'may' : 'will';
    return swatches.length === 1
      ? [`${first.name}, ${among}, ${turn} lose colour: ${left}.`]
      : [`Of ${among}, ${first.name} ${turn} turn greyest: ${left}.${followed}`];
  });
}

/** The movement from daylight that leaves a finish least of its colour. */
function atWorst(
  finish: LightReport['finishes'][number] | undefined,
): (Named<LightMovement> & { finishId: Id })[] {
  if (!finish || finish.verdict === 'too little known') return [];
  const { finishId, name, movements } = finish;
  const byDay = movements.filter(({ from }) => from.id === movements[0].from.id);
  if (byDay.length === 0) return [];
  const left = ({ chroma }: LightMovement) => chroma.to.value / chroma.from;
  return [{ finishId, name, own: byDay.reduce((a, b) => (left(b) < left(a) ? b : a)) }];
}
