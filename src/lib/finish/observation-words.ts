import type { ColourOrigin, Observation } from './observation.ts';
import { the, under } from './pairing.ts';
import type { Ranking } from './question.ts';
import { named } from './reasons.ts';

/** Points of desirability below which an observation is not worth the walk. Common practice, no published source. */
export const WORTH_LOOKING = 0.1;

/** What to do, in the imperative. */
export const observationWords = {
  /** 'Hold Deep Lock and Lock Keeper against “Counter” under “Pendants”.' */
  hold(names: readonly string[], surfaceName: string, lightName: string): string {
    return `Hold ${names.map(named).join(' and ')} against ${the(surfaceName)} ${under(lightName)}.`;
  },
  photograph(name: string, surfaceName: string | null): string {
    return surfaceName === null
      ? `Photograph ${named(name)} with white paper beside it.`
      : `Photograph ${the(surfaceName)} with white paper on it.`;
  },
  measure(name: string, surfaceName: string | null): string {
    return `Measure ${surfaceName === null ? named(name) : the(surfaceName)} with an instrument.`;
  },
  retake(photoName: string, names: readonly string[], targetName: string | null): string {
    const all = [...names.map(named), ...(targetName === null ? [] : [targetName])];
    const photo = photoName === '' ? `the photo of ${listed(all)}` : `the photo ${the(photoName)}`;
    const serves = all.length > 1 && photoName !== '' ? `: it serves ${listed(all)} at once` : '';
    return `Take ${photo} again with white paper in it${serves}.`;
  },
  target(targetName: string, { source, photoHasWhite }: ColourOrigin): string {
    if (source !== 'photo') return `Photograph what ${targetName} stands for, with white paper beside it.`;
    return photoHasWhite
      ? `Take the colour of ${targetName} again from a second photo with white paper in it.`
      : `Take the colour of ${targetName} again from a photo with white paper in it, or choose a firmer aim.`;
  },
};

/** 'A', 'A and B', 'A, B and 3 others'. */
function listed(names: readonly string[]): string {
  if (names.length <= 3)
    return names.length === 1 ? names[0] : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
  return `${names.slice(0, 2).join(', ')} and ${names.length - 2} others`;
}

/** 'worth 1.8 points of 100 on average; finds the best 46 times in 100 instead of 27'. */
export function pointsWords(
  { expectedGain, wouldDecide }: Pick<Observation, 'expectedGain' | 'wouldDecide'>,
  rightNow: number,
): string {
  const [then, now] = [wouldDecide, rightNow].map((share) => Math.round(100 * share));
  return `worth ${expectedGain.toFixed(1)} points of 100 on average; finds the best ${then} times in 100 instead of ${now}`;
}

/** What to do next, or why nothing would help; `perfect` is the gain from knowing everything, points. */
export function verdictWords(
  { ordered, shortlist, groups }: Ranking,
  { best, perfect }: { best: Observation | null; perfect: number },
): string {
  if (shortlist.length < 2) return 'There is nothing to decide between.';
  if (!ordered) return 'Nothing counts, so no observation can put the candidates in order.';
  if (best) return best.words;
  if (perfect >= WORTH_LOOKING)
    return `No single observation would decide; knowing everything would be worth ${perfect.toFixed(1)} points of 100.`;
  if (groups[0].length === 1)
    return `The order would not change: nothing you could look at is worth ${WORTH_LOOKING} points of 100.`;
  const names = groups[0].map((id) => named(shortlist.find((one) => one.id === id)!.name));
  return `No observation would tell them apart: ${listed(names)} are as good as each other. Let the eye decide.`;
}
