import type { ReflectanceCache } from './appearance.ts';
import { CRITERIA } from './criteria.ts';
import type { CriterionName } from './criteria.ts';
import type { RankInput, Ranking } from './question.ts';
import { rank } from './ranking.ts';
import { named, upperFirst } from './reasons.ts';
import type { SchemeCriterion } from './scheme-criteria.ts';

/*
 * How far each weight can move, the others staying, before another row leads.
 *
 * A row's ln desirability is (Σ wᵢ ln dᵢ) / (Σ wᵢ) over the criteria it has data for. As one weight x moves it is a ratio of
 * two straight lines, (P + x·l) / (Q + x·m), so two rows change places where a quadratic in x is 0: solved, not searched.
 */

/** Heaviest weight that is looked at; the document allows no more. */
export const HEAVIEST = 10;

/** Criteria inside a sentence. */
const NAMES: Readonly<Record<CriterionName | SchemeCriterion, string>> = {
  nearness: 'nearness',
  relations: 'relations',
  pairing: 'pairing',
  undertone: 'undertone',
  pattern: 'pattern',
  edges: 'edges',
  steadiness: 'steadiness',
  lrv: 'LRV',
  price: 'price',
  time: 'lead time',
};

/** A candidate or a scheme, as far as weights matter. */
export interface WeighedRow<C extends string> {
  readonly id: string;
  readonly name: string;
  /** ln desirability of each criterion, 0 or less; null where the row has no data and the criterion does not count for it. */
  readonly logs: Readonly<Record<C, number | null>>;
}

/** Where a weight makes another row lead. */
export interface Turn {
  /** The weight at which the two are equal; beyond it, seen from the weight now, the other leads. 0-`HEAVIEST`. */
  readonly weight: number;
  readonly leaderId: string;
  readonly leaderName: string;
}

/** How far the weight of one criterion can move. */
export interface WeightSway<C extends string> {
  readonly criterion: C;
  readonly now: number;
  /** Null where the leader stays down to a weight of 0. */
  readonly down: Turn | null;
  /** Null where the leader stays up to `HEAVIEST`. */
  readonly up: Turn | null;
  /** Nothing is known by it of any row, so that its weight changes nothing. */
  readonly silent: boolean;
  /** 'Nearness may count up to 5.2 (now 3) before Lock Keeper leads.' */
  readonly words: string;
}

export interface WeightSways<C extends string> {
  /** The row with the highest desirability at the weights now; the earlier of equals. Null without rows. */
  readonly leaderId: string | null;
  readonly leaderName: string | null;
  /** In the order of the criteria given. */
  readonly sways: readonly WeightSway<C>[];
  /** The criterion whose weight need move least for another leader, by points of weight; null where none can. */
  readonly closest: C | null;
  /** What `closest` says in one sentence. */
  readonly headline: string;
}

/**
 * How far each weight can move before another row leads; rows as they come where they are equal.
 * @throws RangeError for a weight outside [0, `HEAVIEST`] or a log that is above 0 or not finite.
 */
export function weightSways<C extends CriterionName | SchemeCriterion>(
  rows: readonly WeighedRow<C>[],
  weights: Readonly<Record<C, number>>,
): WeightSways<C> {
  const criteria = Object.keys(weights) as C[];
  check(rows, weights, criteria);
  if (rows.length === 0)
    return { leaderId: null, leaderName: null, sways: [], closest: null, headline: 'Nothing to weigh.' };
  const leader = best(rows.map((row) => overall(row, weights, criteria)));
  const sways = criteria.map((criterion): WeightSway<C> => {
    const now = weights[criterion];
    const lines = rows.map((row) => lineOf(row, weights, { criterion, criteria }));
    const turn = (found: { weight: number; row: number } | null): Turn | null =>
      found && { weight: found.weight, leaderId: rows[found.row].id, leaderName: rows[found.row].name };
    const down = turn(nearestTurn(lines, leader, { now, direction: -1 }));
    const up = turn(nearestTurn(lines, leader, { now, direction: 1 }));
    const silent = rows.every(({ logs }) => logs[criterion] === null);
    const words = silent
      ? `${upperFirst(NAMES[criterion])} counts for none of them, whatever its weight.`
      : swayWords(rows[leader].name, { criterion, now, down, up });
    return { criterion, now, down, up, silent, words };
  });
  const reach = ({ now, down, up }: WeightSway<C>) =>
    Math.min(down ? now - down.weight : Infinity, up ? up.weight - now : Infinity);
  const first = sways.reduce((least, sway) => (reach(sway) < reach(least) ? sway : least));
  const closest = reach(first) < Infinity ? first : null;
  return {
    leaderId: rows[leader].id,
    leaderName: rows[leader].name,
    sways,
    closest: closest?.criterion ?? null,
    headline: closest
      ? closest.words
      : rows.length === 1
        ? `${named(rows[0].name)} is the only one to choose from.`
        : `${named(rows[leader].name)} leads whichever single weight is moved.`,
  };
}

/**
 * The same for a ranking: who leads is who has the highest desirability at the best estimates, which inside a group that is
 * too close to call need not be who stands first. A criterion of weight 0 is judged too, as if it counted.
 * `ranking` is what `rank` answered to `input`; `cache` as there.
 */
export function shortlistSways(
  input: RankInput,
  ranking: Ranking,
  { cache = new Map() }: { cache?: ReflectanceCache } = {},
): WeightSways<CriterionName> {
  const silent = CRITERIA.some((criterion) => input.weights[criterion] === 0);
  // What a criterion of weight 0 would say of the candidates is not in the ranking.
  const judged = silent ? rank({ ...input, draws: 1, weights: audible(input) }, { cache }) : ranking;
  const rows = judged.shortlist
    .map(({ id, name, criteria, nearness }) => ({
      id,
      name,
      deltaE: nearness?.deltaE ?? 0,
      logs: logsOf(criteria),
    }))
    // Equals in the order of a ranking.
    .toSorted((a, b) => a.deltaE - b.deltaE || (a.id < b.id ? -1 : 1));
  return weightSways(rows, input.weights);
}

function audible({ weights }: RankInput): RankInput['weights'] {
  const all = CRITERIA.map((criterion) => [criterion, weights[criterion] || 1] as const);
  return Object.fromEntries(all) as Record<CriterionName, number>;
}

function logsOf(criteria: Ranking['shortlist'][number]['criteria']): Record<CriterionName, number | null> {
  const all = CRITERIA.map((criterion) => {
    const { counted, desirability } = criteria[criterion];
    return [criterion, counted ? Math.log(desirability) : null] as const;
  });
  return Object.fromEntries(all) as Record<CriterionName, number | null>;
}

function check<C extends string>(
  rows: readonly WeighedRow<C>[],
  weights: Readonly<Record<C, number>>,
  criteria: readonly C[],
): void {
  for (const criterion of criteria) {
    const weight = weights[criterion];
    if (!(weight >= 0 && weight <= HEAVIEST))
      throw new RangeError(`Expected a weight of ${criterion} in [0, ${HEAVIEST}], got ${weight}`);
    for (const { id, logs } of rows) {
      const log = logs[criterion];
      if (log !== null && !(log <= 0 && log > -Infinity))
        throw new RangeError(`Expected ln desirability of ${criterion} of ${id}, 0 or less, got ${log}`);
    }
  }
}

/** ln desirability as one weight x moves: (P + x·l) / (Q + x·m). */
interface Line {
  readonly P: number;
  readonly Q: number;
  readonly l: number;
  readonly m: 0 | 1;
}

function lineOf<C extends string>(
  { logs }: WeighedRow<C>,
  weights: Readonly<Record<C, number>>,
  { criterion, criteria }: { criterion: C; criteria: readonly C[] },
): Line {
  let P = 0;
  let Q = 0;
  for (const other of criteria) {
    const log = logs[other];
    if (other === criterion || log === null) continue;
    P += weights[other] * log;
    Q += weights[other];
  }
  const log = logs[criterion];
  return { P, Q, l: log ?? 0, m: log === null ? 0 : 1 };
}

/** Value of a line; with nothing to judge by a row is as good as can be, as in `rank`. */
function valueAt({ P, Q, l, m }: Line, x: number): number {
  const weight = Q + x * m;
  return weight > 0 ? (P + x * l) / weight : 0;
}

function overall<C extends string>(
  row: WeighedRow<C>,
  weights: Readonly<Record<C, number>>,
  criteria: readonly C[],
): number {
  const criterion = criteria[0];
  return valueAt(lineOf(row, weights, { criterion, criteria }), weights[criterion]);
}

/** Differences of ln desirability below this are rounding. */
const ROUNDING = 1e-12;

/** The first of the largest. */
function best(values: readonly number[]): number {
  let found = 0;
  values.forEach((value, i) => {
    if (value > values[found] + ROUNDING) found = i;
  });
  return found;
}

/** The weight nearest to `now` beyond which another line lies above that of the leader, and which one; null without. */
function nearestTurn(
  lines: readonly Line[],
  leader: number,
  { now, direction }: { now: number; direction: 1 | -1 },
): { weight: number; row: number } | null {
  const end = direction > 0 ? HEAVIEST : 0;
  let found: { weight: number; row: number; lead: number } | null = null;
  lines.forEach((line, row) => {
    if (row === leader) return;
    const weight = turnOf(line, lines[leader], { now, end });
    if (weight === null) return;
    const farther = found && direction * (weight - found.weight);
    // Two that draw level at the same weight: the one that is ahead a little farther on.
    const on = weight + (end - weight) * 1e-6;
    const lead = valueAt(line, on);
    if (!found || farther! < -1e-9 || (farther! < 1e-9 && lead > found.lead)) found = { weight, row, lead };
  });
  const turn = found as { weight: number; row: number } | null;
  if (turn) return { weight: turn.weight, row: turn.row };
  return direction < 0 && now > 0 ? silenced(lines, leader) : null;
}

/** A weight of 0 silences a criterion: a row that nothing else counts for then jumps to the top. */
function silenced(lines: readonly Line[], leader: number): { weight: number; row: number } | null {
  const values = lines.map((line) => valueAt(line, 0));
  const first = best(values);
  return values[first] > values[leader] + ROUNDING ? { weight: 0, row: first } : null;
}

/** The first weight from `now` towards `end` past which a rival lies above the leader; null where there is none. */
function turnOf(rival: Line, leader: Line, { now, end }: { now: number; end: number }): number | null {
  if (now === end) return null;
  const [j, i] = [filled(rival), filled(leader)];
  // (Pⱼ + x lⱼ)(Qᵢ + x mᵢ) − (Pᵢ + x lᵢ)(Qⱼ + x mⱼ), of the sign of the rival's lead wherever both count at all.
  const a = j.l * i.m - i.l * j.m;
  const b = j.P * i.m + j.l * i.Q - i.P * j.m - i.l * j.Q;
  const c = j.P * i.Q - i.P * j.Q;
  const lead = (x: number) => a * x * x + b * x + c;
  const between = (x: number) => (end > now ? x > now && x < end : x < now && x > end);
  const stops = [now, ...rootsOf(a, b, c).filter(between), end];
  stops.sort((x, y) => (end > now ? x - y : y - x));
  const scale = ROUNDING * (Math.abs(a) * HEAVIEST ** 2 + Math.abs(b) * HEAVIEST + Math.abs(c));
  for (let k = 0; k + 1 < stops.length; k++) if (lead((stops[k] + stops[k + 1]) / 2) > scale) return stops[k];
  return null;
}

/** A row that nothing can count for is as good as can be, at every weight. */
function filled(line: Line): Line {
  return line.Q === 0 && line.m === 0 ? { ...line, Q: 1 } : line;
}

/** Real roots of a x² + b x + c, without the cancellation of the school formula. */
function rootsOf(a: number, b: number, c: number): number[] {
  if (a === 0) return b === 0 ? [] : [-c / b];
  const discriminant = b * b - 4 * a * c;
  if (discriminant < 0) return [];
  const q = -(b + (b < 0 ? -1 : 1) * Math.sqrt(discriminant)) / 2;
  return q === 0 ? [0] : [q / a, c / q];
}

function swayWords<C extends CriterionName | SchemeCriterion>(
  leaderName: string,
  { criterion, now, down, up }: Omit<WeightSway<C>, 'words' | 'silent'>,
): string {
  const name = NAMES[criterion];
  if (!down && !up) return `However much ${name} counts, ${named(leaderName)} leads.`;
  const shown = `(now ${now})`;
  const most = up && `up to ${turnFigure(up.weight, now)}`;
  const least = down && `down to ${turnFigure(down.weight, now)}`;
  const leads = (turn: Turn) => `${named(turn.leaderName)} leads`;
  const one = up
    ? `${upperFirst(name)} may count ${most} ${shown} before ${leads(up)}`
    : `${upperFirst(name)} may count ${least} ${shown} before ${leads(down!)}`;
  return up && down ? `${one}, and ${least} before ${leads(down)}.` : `${one}.`;
}

/** A weight at which another leads, rounded towards the one now, so that the leader still leads at what is said. */
export function turnFigure(weight: number, now: number): string {
  const parts = Math.abs(weight - now) < 0.1 ? 100 : 10;
  const rounded = weight > now ? Math.floor(weight * parts + 1e-9) : Math.ceil(weight * parts - 1e-9);
  return String(rounded / parts);
}
