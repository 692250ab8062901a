import type { SchemeInput } from '#lib/finish/index.ts';
import type { FoundSchemes } from './scheme-found.ts';

/*
 * What a search for a room's schemes found, how sure that is, and why it found nothing.
 */

/** Most a search takes: see `SearchProblem`. */
const MOST = { places: 16, options: 200 } as const;

/** Why a room is too large to be searched, in a sentence; null where it is not. */
export function tooLarge({ places }: Pick<SchemeInput, 'places'>): string | null {
  if (places.length > MOST.places)
    return `A scheme takes at most ${MOST.places} surfaces, and this room has ${places.length} with something to put on them. Put some into a room of their own.`;
  const full = places.find(({ options }) => options.length > MOST.options);
  return full
    ? `“${full.surfaceName}” has ${full.options.length} candidates, and a search takes ${MOST.options} for each surface. Leave some out on its shortlist.`
    : null;
}

/** A number of schemes: '12,345', '3.4 million', 'more than a thousand trillion'. */
export function countWords(count: number): string {
  if (count < 1e6) return Math.round(count).toLocaleString('en');
  if (count >= 1e15) return 'more than a thousand trillion';
  return new Intl.NumberFormat('en', {
    notation: 'compact',
    compactDisplay: 'long',
    maximumSignificantDigits: 3,
  }).format(count);
}

/** How sure it is that nothing better was left out, in a sentence. */
export function proofWords(found: FoundSchemes, { limits }: Pick<SchemeInput, 'limits'>): string {
  const { possible, proven, bestProven, differentProven, couldStillWin, different } = found;
  if (different.length === 0) return 'No scheme was found before the search was stopped.';
  const limited = Object.values(limits).some((limit) => limit !== null);
  const best =
    possible === 1
      ? 'There is only one scheme, the one below.'
      : `Of ${countWords(possible)} possible schemes none${limited ? ' that keeps the limits' : ''} is better than the first.`;
  if (proven) return best;
  if (bestProven)
    return `${best} Number ${differentProven + 1} is not certain: an unseen one that differs as much could be ${betterWords(couldStillWin)}.`;
  return couldStillWin <= 1
    ? `Stopped early: ${best[0].toLowerCase()}${best.slice(1)} The others are not certain.`
    : `Stopped early: an unseen scheme could still be ${betterWords(couldStillWin)} than the first.`;
}

/** Part by which something must be better for it to be a figure. Common practice, no published source. */
const HARDLY = 0.0005;

/** Whether going on could find something that is better by a figure. */
export function worthGoingOn({ proven, infeasible, couldStillWin }: FoundSchemes): boolean {
  return !proven && infeasible === null && couldStillWin > 1 + HARDLY;
}

/** 'at most 3 % better' for a factor of 1.03, rounded up. */
function betterWords(factor: number): string {
  if (factor <= 1 + HARDLY) return 'hardly better';
  // Less what rounding adds.
  const part = 100 * (factor - 1) - 1e-9;
  return `at most ${part < 1 ? Math.ceil(part * 10) / 10 : Math.ceil(part)} % better`;
}

/** Why no scheme is possible, and the limit that would do. */
export interface NoScheme {
  readonly sentence: string;
  readonly reasons: readonly string[];
  /** The least value of the limit that is the only reason, where it is one of money or days; else null. */
  readonly enough: { readonly limit: 'budget' | 'readyInDays'; readonly value: number } | null;
}

/** Why no scheme is possible, in a sentence, and the budget or the days that would do, where they are the reason. */
export function noSchemeWords(
  { infeasible, excluded }: Pick<FoundSchemes, 'infeasible' | 'excluded'>,
  { limits, currency, places }: Pick<SchemeInput, 'limits' | 'currency' | 'places'>,
): NoScheme | null {
  if (!infeasible) return null;
  const { limits: broken, place, least } = infeasible;
  const plain = (sentence: string): NoScheme => ({ sentence, reasons: [], enough: null });
  if (place !== null) {
    const { surfaceId, surfaceName } = places[place];
    const out = excluded.filter((one) => one.surfaceId === surfaceId);
    const days = daysEnough({ limits, places }, excluded);
    return {
      sentence: `No scheme fits: the limits leave no finish for “${surfaceName}”.`,
      reasons: out.map(({ name, reason }) => `${name}: ${reason}`),
      enough: days === null ? null : { limit: 'readyInDays', value: days },
    };
  }
  if (broken.length > 1)
    return plain(
      `No scheme keeps ${broken.slice(0, -1).join(', ')} and ${broken.at(-1)} together; without any one of these limits there is one.`,
    );
  const [name] = broken;
  if (least !== null && name === 'the budget') {
    const over = least - (limits.budget ?? 0);
    return {
      sentence: `No scheme fits the budget: the cheapest costs ${amountOf(least, currency)}, ${amountOf(over, currency)} too much.`,
      reasons: [],
      enough: { limit: 'budget', value: Math.ceil(least) },
    };
  }
  if (least !== null) {
    const share = (part: number) => `${Math.ceil(100 * part - 1e-9)} %`;
    const [most, what] =
      name === 'the share of dark' ? [limits.darkShare, 'dark'] : [limits.strongShare, 'strongly coloured'];
    return plain(
      `No scheme fits: at least ${share(least)} of the room would be ${what}, and ${share(most ?? 0)} is the most.`,
    );
  }
  if (name === 'the number of metals')
    return plain(
      `No scheme fits: whatever is chosen, the room has more than ${limits.metals} ${limits.metals === 1 ? 'metal' : 'metals'}.`,
    );
  return plain(`No scheme fits: ${infeasible.words}.`);
}

/**
 * Days in which something for every surface can be here; null where the limit on days is not what
 * is in the way, or nothing known would do.
 */
function daysEnough(
  { limits, places }: Pick<SchemeInput, 'limits' | 'places'>,
  excluded: FoundSchemes['excluded'],
): number | null {
  const { readyInDays } = limits;
  if (readyInDays === null) return null;
  // What another limit excludes as well is no help, however long one waits.
  const out = new Set(
    excluded
      .filter(({ reason }) => !/^Too late: [^.]*\.$/.test(reason))
      .map(({ surfaceId, id }) => `${surfaceId} ${id}`),
  );
  const soonest = places
    .filter(({ held }) => held === null)
    .map(({ surfaceId, options, there, limits: { maxLeadTimeDays } }) => {
      const days = options
        .filter(({ id }) => !out.has(`${surfaceId} ${id}`))
        .map(({ id, leadTimeDays }) => (id === there ? 0 : (leadTimeDays ?? 0)));
      return Math.min(...days.filter((count) => count <= (maxLeadTimeDays ?? Infinity)));
    });
  const days = Math.max(0, ...soonest);
  return days > readyInDays && Number.isFinite(days) ? days : null;
}

function amountOf(amount: number, currency: string): string {
  return `${Math.ceil(amount - 1e-9)}${currency && ` ${currency}`}`;
}
