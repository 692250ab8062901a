import { CRITERIA } from './criteria.ts';
import { doubtPerAxis } from './evidence.ts';
import type { JudgedLrv } from './lrv.ts';
import { priceInWords } from './price.ts';
import type { CandidateInput, RankInput } from './question.ts';

/** Most draws worth waiting for. */
const MOST_DRAWS = 100_000;

/**
 * Checks what the types of a `RankInput` cannot say.
 * @throws RangeError for ids that occur twice, weights or contacts below 0, limits that are not finite, draws outside 1-100,000.
 */
export function checkRankInput(input: RankInput): void {
  const { candidates, fixed, lights, weights, limits, draws, seed } = input;
  if (!Number.isInteger(draws) || draws < 1 || draws > MOST_DRAWS) {
    throw new RangeError(`Expected draws in [1, ${MOST_DRAWS}], got ${draws}`);
  }
  if (!Number.isFinite(seed)) throw new RangeError(`Expected a finite seed, got ${seed}`);
  for (const criterion of CRITERIA) {
    const weight = weights[criterion];
    if (!(weight >= 0) || !Number.isFinite(weight)) {
      throw new RangeError(`Expected weights.${criterion} of 0 or more, got ${weight}`);
    }
  }
  for (const [name, limit] of Object.entries(limits)) {
    if (limit !== null && limit !== undefined && !Number.isFinite(limit)) {
      throw new RangeError(`Expected limits.${name} to be finite, got ${limit}`);
    }
  }
  unique(
    'candidate',
    candidates.map(({ id }) => id),
  );
  unique(
    'light',
    lights.map(({ id }) => id),
  );
  for (const { finish, contact } of fixed) {
    if (!(contact >= 0) || !Number.isFinite(contact)) {
      throw new RangeError(`Expected contact of 0 or more with ${finish.id}, got ${contact}`);
    }
  }
  for (const { id, price, leadTimeDays, lrv } of candidates) {
    if (price && !(price.amount >= 0 && Number.isFinite(price.amount))) {
      throw new RangeError(`Expected a price of 0 or more for ${id}, got ${price.amount}`);
    }
    if (leadTimeDays !== null && !(leadTimeDays >= 0 && Number.isFinite(leadTimeDays))) {
      throw new RangeError(`Expected a lead time of 0 days or more for ${id}, got ${leadTimeDays}`);
    }
    if (lrv != null && !(lrv >= 0 && lrv <= 100))
      throw new RangeError(`Expected an LRV in [0, 100] for ${id}, got ${lrv}`);
  }
}

function unique(kind: string, ids: readonly string[]): void {
  const seen = new Set<string>();
  for (const id of ids) {
    if (seen.has(id)) throw new RangeError(`Expected every ${kind} once, got ${id} twice`);
    seen.add(id);
  }
}

/**
 * Why a candidate is out, in sentences with their numbers; null while it is in. Unknown price or lead time excludes nobody,
 * and no price does where prices are not `comparable` (different currencies or units). Where the published LRV and the
 * colour contradict each other, a limit excludes only if both miss it.
 */
export function excludedBecause(
  candidate: CandidateInput,
  lrv: JudgedLrv,
  { limits, comparable }: { limits: RankInput['limits']; comparable: boolean },
): string | null {
  const { price, leadTimeDays } = candidate;
  const { maxPrice, maxLeadTimeDays, minLrv, maxLrv } = limits;
  const reasons: string[] = [];
  if (comparable && maxPrice !== null && price && price.amount > maxPrice) {
    const over = maxPrice > 0 ? `, ${percent((price.amount - maxPrice) / maxPrice)} over` : '';
    reasons.push(
      `Over budget: ${priceInWords(price)} where ${priceInWords({ ...price, amount: maxPrice })} is the most${over}.`,
    );
  }
  if (maxLeadTimeDays !== null && leadTimeDays !== null && leadTimeDays > maxLeadTimeDays) {
    reasons.push(
      `Too late: ${days(leadTimeDays)} to deliver where ${days(maxLeadTimeDays)} are left, ` +
        `${days(leadTimeDays - maxLeadTimeDays)} too many.`,
    );
  }
  if (minLrv !== null && Math.max(lrv.value, lrv.disputed ?? 0) < minLrv) {
    reasons.push(
      `Too dark: ${lrvInWords(lrv)} where at least ${minLrv} is asked.${closeCall(candidate, lrv, minLrv)}`,
    );
  }
  if (maxLrv !== null && Math.min(lrv.value, lrv.disputed ?? 100) > maxLrv) {
    reasons.push(
      `Too light: ${lrvInWords(lrv)} where at most ${maxLrv} is asked.${closeCall(candidate, lrv, maxLrv)}`,
    );
  }
  return reasons.length > 0 ? reasons.join(' ') : null;
}

/** Limits on LRV that the colour meets and the published value does not, or the other way round, in sentences. */
export function disputedLimits(lrv: JudgedLrv, { minLrv, maxLrv }: RankInput['limits']): string[] {
  const { value, disputed } = lrv;
  if (disputed === null) return [];
  const out: string[] = [];
  if (minLrv !== null && value < minLrv !== disputed < minLrv)
    out.push(`Whether it is light enough is open: ${lrvInWords(lrv)}, where at least ${minLrv} is asked.`);
  if (maxLrv !== null && value > maxLrv !== disputed > maxLrv)
    out.push(`Whether it is dark enough is open: ${lrvInWords(lrv)}, where at most ${maxLrv} is asked.`);
  return out;
}

function lrvInWords({ value, disputed }: JudgedLrv): string {
  const words = `LRV ${value.toFixed(0)}`;
  return disputed === null ? words : `${words} by its colour and ${disputed.toFixed(0)} as published`;
}

/** A hint where the limit is missed by less than the colour's own doubt; a published LRV has none. */
function closeCall(candidate: CandidateInput, { value, exact }: JudgedLrv, limit: number): string {
  if (exact) return '';
  const doubt = Math.max(...candidate.colours.map(({ estimate }) => doubtPerAxis(estimate.covariance)));
  // dY/dL* from Y = 100 ((L* + 16) / 116)^3, at this LRV.
  const points = doubt * (3 / 116) * 100 * (Math.max(0.9, value) / 100) ** (2 / 3);
  return Math.abs(value - limit) < 2 * points
    ? ' That is within its doubt: measure it before ruling it out.'
    : '';
}

function percent(share: number): string {
  return share < 0.005 ? 'less than 1 %' : `${(share * 100).toFixed(0)} %`;
}

/** '1 day', '14 days'. */
export function days(count: number): string {
  return count === 1 ? '1 day' : `${count} days`;
}
