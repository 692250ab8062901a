import { CRITERIA, MOVEMENT_BANDS, movementWords } from './criteria.ts';
import type { CriterionName } from './criteria.ts';
import { winShare } from './draws.ts';
import { doubtInWords, doubtPerAxis } from './evidence.ts';
import { figureWords } from './figure.ts';
import { days, disputedLimits } from './limits.ts';
import { lrvContradiction } from './lrv.ts';
import { lightWords, quoted, the, under } from './pairing.ts';
import type { Pairing } from './pairing.ts';
import { priceInWords } from './price.ts';
import type { Entry, Ground, RankInput } from './question.ts';

/** Reasons given for one candidate, at most. */
const MOST_REASONS = 5;
/** Desirability above which a pairing leaves nothing to be said against it. */
const SITS_WELL = 0.9;
/** Doubt per axis, CIELAB units, from which a colour is worth measuring again. Common practice, no published source. */
const WORTH_MEASURING = 3;

/** A criterion of a candidate as one sentence with its number. */
export function criterionWords(criterion: CriterionName, entry: Entry, ground: Ground): string {
  const { candidate, criteria, movement } = entry;
  const { value } = criteria[criterion];
  const { limits } = ground.input;
  switch (criterion) {
    case 'nearness':
      return entry.nearness ? nearnessWords(entry, ground) : 'No aim to compare with';
    case 'pairing':
      return pairingSentence(entry, ground);
    case 'steadiness':
      return movement ? movementSentence(movement) : 'No lights to compare';
    case 'lrv': {
      const { minLrv, maxLrv } = limits;
      const asked =
        minLrv !== null && maxLrv !== null
          ? `, asked for ${minLrv} to ${maxLrv}`
          : minLrv !== null
            ? `, asked for ${minLrv} or more`
            : maxLrv !== null
              ? `, asked for ${maxLrv} or less`
              : '';
      const { value: Y, disputed } = entry.lrv;
      const published = disputed === null ? '' : ` by its colour (published: ${disputed.toFixed(0)})`;
      return `Reflects ${Y.toFixed(0)} of 100 parts of the light${published}${asked}`;
    }
    case 'price':
      if (!candidate.price || value === null) return 'No price known';
      return `Costs ${priceInWords(candidate.price)}${candidate.price.currency ? '' : ' (no currency given)'}${priceComparison(candidate.price.amount, ground)}`;
    case 'time':
      if (candidate.leadTimeDays === null) return 'No lead time known';
      return candidate.leadTimeDays === 0 ? 'In stock' : `Here in ${days(candidate.leadTimeDays)}`;
  }
}

function nearnessWords({ nearness }: Entry, { input }: Ground): string {
  const { deltaE, words } = nearness!;
  const name = targetWords(input);
  if (deltaE < 1) return `The same as ${name} to the eye ${difference(deltaE)}`;
  return `${upperFirst(words)} than ${name} ${difference(deltaE)}`;
}

/** What sentences call the target, as the caller says it. */
function targetWords({ targetName }: RankInput): string {
  return targetName?.trim() || 'the inspiration';
}

/** A ΔE00 behind the words it stands for. */
function difference(deltaE: number): string {
  return `(difference ${deltaE.toFixed(1)})`;
}

/** 'Of its own it hardly changes between “Window” and “Evening lamps” (change 1.1 give or take 0.4)'. */
function movementSentence({ from, to, shift, giveOrTake }: NonNullable<Entry['movement']>): string {
  const change = figureWords({ value: shift, giveOrTake });
  return `Of its own it ${movementWords(shift)} between ${lightWords(from)} and ${lightWords(to)} (change ${change})`;
}

function priceComparison(amount: number, { input, priceWish, leftOut }: Ground): string {
  if (leftOut.has('price') || priceWish === null) return '';
  if (input.limits.priceWish == null) {
    return amount <= priceWish ? ', the cheapest' : `, ${(amount / priceWish).toFixed(1)} times the cheapest`;
  }
  return amount <= priceWish ? ', within the wish' : `, ${(amount / priceWish).toFixed(1)} times the wish`;
}

/** The pairing that costs most, over all lights and the fixed finishes in contact; null without one. */
function worstPairing({ pairings }: Entry, { fixed, lights }: Ground): Pairing | null {
  const lamps = Math.max(1, lights.length);
  let worst: Pairing | null = null;
  fixed.forEach(({ contact }, index) => {
    if (contact === 0) return;
    for (let i = index * lamps; i < (index + 1) * lamps; i++) {
      if (!worst || pairings[i].desirability < worst.desirability - 1e-9) worst = pairings[i];
    }
  });
  return worst;
}

/** The pairing that costs most, or that nothing does. */
function pairingSentence(entry: Entry, ground: Ground): string {
  const found = worstPairing(entry, ground);
  if (!found) return 'Nothing fixed beside it';
  if (found.desirability <= SITS_WELL) return pairingBrief(found);
  const surfaces = ground.fixed.filter(({ contact }) => contact > 0).length;
  return surfaces === 1
    ? `Sits well with ${the(found.surfaceName)} in every light ${difference(found.deltaE)}`
    : `Sits well with ${surfaces === 2 ? 'both' : `all ${surfaces}`} fixed finishes in every light`;
}

/** 'Near miss with “Counter” under “Evening lamps” (difference 3.4)'. */
export function pairingBrief({ kind, surfaceName, lightName, deltaE, share, desirability }: Pairing): string {
  const part = share < 0.95 ? `a colour of ${the(surfaceName)}` : the(surfaceName);
  const where = `${part} ${under(lightName)} ${difference(deltaE)}`;
  switch (kind) {
    case 'match':
      return `Matches ${where}`;
    case 'near miss':
      return `Near miss with ${where}`;
    case 'related':
      return `${desirability > SITS_WELL ? 'A clear' : 'Only a small'} step from ${where}`;
    case 'separate':
      return `Stands apart from ${where}`;
  }
}

/** Median ln desirability of each criterion over the candidates: what is usual here. */
export function usualDesirabilities(entries: readonly Entry[]): Record<CriterionName, number> {
  const median = (criterion: CriterionName) => {
    const logs = entries
      .filter(({ criteria }) => criteria[criterion].counted)
      .map(({ criteria }) => Math.log(criteria[criterion].desirability))
      .toSorted((a, b) => a - b);
    return logs[Math.floor(logs.length / 2)] ?? 0;
  };
  return Object.fromEntries(CRITERIA.map((criterion) => [criterion, median(criterion)])) as Record<
    CriterionName,
    number
  >;
}

/**
 * Why a candidate stands where it stands: its counted criteria as sentences, first what sets it most apart from what is
 * usual among the candidates, for better or worse, times the criterion's weight. Near misses not yet named follow.
 */
export function reasonsFor(entry: Entry, ground: Ground, usual: Record<CriterionName, number>): string[] {
  const counted = CRITERIA.filter((criterion) => entry.criteria[criterion].counted);
  const force = (criterion: CriterionName) =>
    ground.input.weights[criterion] *
    Math.abs(Math.log(entry.criteria[criterion].desirability) - usual[criterion]);
  const sentences = counted
    .toSorted((a, b) => force(b) - force(a) || CRITERIA.indexOf(a) - CRITERIA.indexOf(b))
    .map((criterion) => entry.criteria[criterion].words);
  const worst = entry.criteria.pairing.counted ? worstPairing(entry, ground) : null;
  const told = new Set(worst?.kind === 'near miss' ? [worst.surfaceName] : []);
  const others = entry.pairings
    .filter(({ kind }) => kind === 'near miss')
    .toSorted((a, b) => a.desirability - b.desirability)
    .filter(({ surfaceName }) => !told.has(surfaceName) && told.add(surfaceName))
    .map(pairingBrief);
  return [...sentences, ...others].slice(0, MOST_REASONS);
}

/** What is uncertain about a candidate, in sentences. */
export function doubtsAbout(
  entry: Entry,
  rivals: { names: readonly string[]; count: number },
  ground: Ground,
): string[] {
  const { candidate, finish, criteria } = entry;
  const { weights, limits } = ground.input;
  const out: string[] = [];
  if (rivals.count > 0) out.push(`Too close to call with ${listed(rivals.names, rivals.count)}.`);
  const doubt = Math.max(...candidate.colours.map(({ estimate }) => doubtPerAxis(estimate.covariance)));
  if (doubt > WORTH_MEASURING) {
    const known = doubtInWords(widest(candidate.colours));
    out.push(`Its colour is ${known}, give or take ${(2 * doubt).toFixed(1)}.`);
  }
  if (entry.lrv.disputed !== null) {
    out.push(
      lrvContradiction(entry.lrv.disputed, entry.lrv.value)!.words,
      ...disputedLimits(entry.lrv, limits),
    );
  }
  if (!candidate.price && (weights.price > 0 || limits.maxPrice !== null))
    out.push('No price given: price is not counted for it.');
  if (candidate.leadTimeDays === null && (weights.time > 0 || limits.maxLeadTimeDays !== null)) {
    out.push('No lead time given: lead time is not counted for it.');
  }
  if (
    criteria.steadiness.counted &&
    entry.movement &&
    entry.movement.shift > MOVEMENT_BANDS.steady &&
    finish.colours.some((c) => !c.measured)
  ) {
    out.push('How it changes under the lamps is an estimate: only its daylight colour is known.');
  }
  return out;
}

function widest(colours: Entry['candidate']['colours']) {
  return colours.reduce((a, b) =>
    doubtPerAxis(b.estimate.covariance) > doubtPerAxis(a.estimate.covariance) ? b : a,
  ).estimate.covariance;
}

/** A finish's name inside a sentence: as it was written, in quotation marks where it would not read as one name. */
export function named(name: string): string {
  return /^(?!.*\s(?:and|or|under|with)\s)[\p{L}\p{N}][\p{L}\p{N} '’-]*$/iu.test(name) ? name : quoted(name);
}

/** 'A', 'A and B', 'A, B and 7 others', from the first few names and how many there are. */
function listed(rivals: readonly string[], count: number): string {
  const names = rivals.map(named);
  if (count === 1) return names[0];
  if (count <= 3) return `${names.slice(0, count - 1).join(', ')} and ${names[count - 1]}`;
  return `${names.slice(0, 2).join(', ')} and ${count - 2} others`;
}

/**
 * What to say of the list as a whole: why it is empty or has no order, or by how much the first is ahead. Where the first are
 * too close to call nothing is said here: `bestObservations` says what would decide.
 */
export function advise(
  entries: readonly Entry[],
  {
    groups,
    scores,
    ground,
  }: { groups: readonly (readonly number[])[]; scores: Float32Array; ground: Ground },
): string[] {
  if (entries.length === 0) {
    return ground.input.candidates.length > 0
      ? ['Every candidate is beyond a limit: loosen one, or add candidates.']
      : ['Add candidates to this surface.'];
  }
  if (entries.length === 1)
    return [`${named(entries[0].candidate.name)} is the only candidate within the limits.`];
  if (ground.leftOut.size === CRITERIA.length) {
    return [
      'Nothing counts, so the candidates have no order: raise the weight of something that is known about them.',
    ];
  }
  const [top, rest] = groups;
  if (top.length > 1) return [];
  const rows = [top[0], rest[0]] as const;
  const [best, next] = rows.map((row) => named(entries[row].candidate.name));
  const ahead = winShare(scores, ground.input.draws, ...rows) * 100;
  return [`${best} is ahead of ${next} in ${ahead.toFixed(0)} of 100 tries.`];
}

export function upperFirst(text: string): string {
  return text === '' ? text : text[0].toUpperCase() + text.slice(1);
}
