import { CRITERIA } from './criteria.ts';
import { doubtPerAxis } from './evidence.ts';
import { priceInWords } from './price.ts';
import type { CandidateInput, RankInput } from './ranking.ts';

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
 * and no price does where prices are not `comparable` (different currencies or units).
 */
export function excludedBecause(
  candidate: CandidateInput,
  lrv: number,
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
  if (minLrv !== null && lrv < minLrv) {
    reasons.push(
      `Too dark: LRV ${lrv.toFixed(0)} where at least ${minLrv} is asked.${closeCall(candidate, lrv, minLrv)}`,
    );
  }
  if (maxLrv !== null && lrv > maxLrv) {
    reasons.push(
      `Too light: LRV ${lrv.toFixed(0)} where at most ${maxLrv} is asked.${closeCall(candidate, lrv, maxLrv)}`,
    );
  }
  return reasons.length > 0 ? reasons.join(' ') : null;
}

/** A hint where the limit is missed by less than the colour's own doubt; a published LRV has none. */
function closeCall(candidate: CandidateInput, lrv: number, limit: number): string {
  if (candidate.lrv != null) return '';
  const doubt = Math.max(...candidate.colours.map(({ estimate }) => doubtPerAxis(estimate.covariance)));
  // dY/dL* from Y = 100 ((L* + 16) / 116)^3, at this LRV.
  const points = doubt * (3 / 116) * 100 * (Math.max(0.9, lrv) / 100) ** (2 / 3);
  return Math.abs(lrv - limit) < 2 * points
    ? ' That is within its doubt: measure it before ruling it out.'
    : '';
}

function percent(share: number): string {
  return `${share < 0.1 ? (share * 100).toFixed(1) : (share * 100).toFixed(0)} %`;
}

/** '1 day', '14 days'. */
export function days(count: number): string {
  return count === 1 ? '1 day' : `${count} days`;
}
