import {
  HEAVIEST,
  named,
  turnFigure,
  type CriterionName,
  type Observation,
  type ObservationAdvice,
  type RankedCandidate,
  type Ranking,
  type WeightSway,
  type WeightSways,
} from '#lib/finish/index.ts';
import { leadingSample, type Id, type Job } from '#lib/job/index.ts';

/*
 * What the shortlist says of its own doubt: which candidates are too close to call, what one look at them would settle, and
 * how far the weights can move before another leads.
 */

/** Parts of all that could be gained from which an observation settles most, or part, of it. Common practice, no published source. */
const SETTLES = { most: 0.6, part: 0.25 } as const;

/** What an observation does to the doubt: 'settles most of what is open'. */
export function settlesWords(
  { expectedGain }: Pick<Observation, 'expectedGain'>,
  { perfectGain }: Pick<ObservationAdvice, 'perfectGain'>,
): string {
  const part = perfectGain > 0 ? expectedGain / perfectGain : 0;
  if (part >= SETTLES.most) return 'settles most of what is open';
  return part >= SETTLES.part ? 'settles part of what is open' : 'settles a little of what is open';
}

/** `Lock Keeper and Deep Lock`, in the order given. */
export function namesInSeries(names: readonly string[]): string {
  return new Intl.ListFormat('en-GB').format(names.map(named));
}

/** One group that is too close to call, in a sentence. */
export function closeCallWords(names: readonly string[]): string {
  return `${namesInSeries(names)} are too close to call.`;
}

/** Groups that are too close to call: the one at the top of the list, or null where one candidate leads it, and the others. */
export function closeCallsOf(
  { closeCalls }: Pick<ObservationAdvice, 'closeCalls'>,
  { groups }: Pick<Ranking, 'groups'>,
): { top: readonly string[] | null; others: readonly (readonly string[])[] } {
  const top = closeCalls.find(({ ids }) => ids[0] === groups[0]?.[0]) ?? null;
  return {
    top: top && top.names,
    others: closeCalls.filter((call) => call !== top).map(({ names }) => names),
  };
}

/** Where somebody goes to do what an observation asks for; null where it is done with the samples in the hand. */
export function observationPlace(
  job: Job,
  jobId: Id,
  { kind, photoId, swatchIds }: Pick<Observation, 'kind' | 'photoId' | 'swatchIds'>,
): { href: string; words: string } | null {
  if (kind === 'hold') return null;
  const swatch = swatchIds.length > 0 ? job.swatches[swatchIds[0]] : undefined;
  const from = kind === 'photograph' && swatch ? leadingSample(swatch)?.from?.photoId : null;
  const photo = job.photos[photoId ?? from ?? ''];
  if (photo) return { href: `/jobs/${jobId}/photos/${photo.id}`, words: `Open the photo “${photo.name}”` };
  if (kind === 'measure' && swatch)
    return { href: `/jobs/${jobId}/swatches#${swatch.id}`, words: 'Open its card' };
  return { href: `/jobs/${jobId}/photos`, words: 'Add a photo' };
}

/** How two finishes that are held together pair in a light; null where the ranking did not look there. */
export function heldPairing(
  { pairings }: Pick<RankedCandidate, 'pairings'>,
  { swatchIds, surfaceName, lightId }: Pick<Observation, 'swatchIds' | 'surfaceName' | 'lightId'>,
): RankedCandidate['pairings'][number] | null {
  const there = swatchIds.at(-1);
  return (
    pairings.find(
      (pair) =>
        pair.finishId === there &&
        pair.surfaceName === surfaceName &&
        (lightId === null || pair.lightId === lightId),
    ) ?? null
  );
}

/** `Lock Keeper leads while this is between 0.4 and 5.2; below, Deep Lock; beyond, Reed Hollow.` */
export function swayLine(
  { now, down, up, silent }: WeightSway<CriterionName>,
  leaderName: string | null,
): string {
  if (silent || leaderName === null) return 'Changes nothing now: it says nothing of these candidates.';
  if (!down && !up) return `${named(leaderName)} leads whatever this counts.`;
  const least = down && turnFigure(down.weight, now);
  const most = up && turnFigure(up.weight, now);
  const range = least && most ? `between ${least} and ${most}` : most ? `up to ${most}` : `from ${least} on`;
  const others = [down && `below, ${named(down.leaderName)}`, up && `beyond, ${named(up.leaderName)}`].filter(
    Boolean,
  );
  return `${named(leaderName)} leads while this is ${range}; ${others.join('; ')}.`;
}

/** How far the control of a weight can move, and where on it the leader changes, parts of its length 0-1; null where it never does. */
export function swayMarks({ down, up }: Pick<WeightSway<CriterionName>, 'down' | 'up'>): {
  from: number;
  to: number;
  turns: readonly number[];
} | null {
  if (!down && !up) return null;
  const [from, to] = [(down?.weight ?? 0) / HEAVIEST, (up?.weight ?? HEAVIEST) / HEAVIEST];
  return { from, to, turns: [...(down ? [from] : []), ...(up ? [to] : [])] };
}

/** Why who leads by the weights is not who stands first, where it is so; else null. */
export function leaderNote(
  { leaderId, leaderName }: Pick<WeightSways<CriterionName>, 'leaderId' | 'leaderName'>,
  { shortlist, ordered }: Pick<Ranking, 'shortlist' | 'ordered'>,
): string | null {
  const first = shortlist.at(0);
  if (!ordered || !first || leaderName === null || first.id === leaderId) return null;
  return `By the best estimates alone ${named(leaderName)} leads; ${named(first.name)} stands first because it wins more of the tries. The two are too close to call.`;
}
