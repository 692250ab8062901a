import type {
  PreparedOption,
  PreparedPlace,
  SchemeFinding,
  SchemeGround,
  SchemeOption,
  SchemePlace,
} from './scheme-question.ts';
import type { SearchProblem } from './scheme-search.ts';

/** A colour is dark below this LRV (L* below 45). Common practice, no published source. */
export const DARK_LRV = 15;

/** A colour is strong above this CIELAB chroma. Common practice, no published source. */
export const STRONG_CHROMA = 30;

/** Money an option costs in a scheme: 0 for what is fixed already, null where it is not known. */
export function costIn({ place }: PreparedPlace, option: SchemeOption): number | null {
  return isThere(place, option) ? 0 : option.cost;
}

/** Days until an option is there: 0 for what is fixed already, null where it is not known. */
export function daysIn({ place }: PreparedPlace, option: SchemeOption): number | null {
  return isThere(place, option) ? 0 : option.leadTimeDays;
}

/** Whether an option is on its place already. */
export function isThere(place: SchemePlace, option: SchemeOption): boolean {
  return option.id === place.there;
}

/** Names of the limits that add up, as `SearchResult.infeasible` gives them back. */
export const AMOUNTS = {
  budget: 'the budget',
  dark: 'the share of dark',
  strong: 'the share of strong colour',
};

/** The limits that add up over places. */
export function amountLimits({ input: { limits }, places }: SchemeGround): SearchProblem['amounts'] {
  const sums = (
    name: string,
    most: number | null,
    of: (place: PreparedPlace, option: PreparedOption) => number,
  ) =>
    most === null
      ? []
      : [
          {
            name,
            most,
            each: places.map((place) => Float64Array.from(place.options, (option) => of(place, option))),
          },
        ];
  return [
    ...sums(AMOUNTS.budget, limits.budget, (place, { option }) => costIn(place, option) ?? 0),
    ...sums(AMOUNTS.dark, limits.darkShare, ({ share }, { dark }) => share * dark),
    ...sums(AMOUNTS.strong, limits.strongShare, ({ share }, { strong }) => share * strong),
  ];
}

/** The limit on different metals. */
export function metalLimit({ input: { limits }, places }: SchemeGround): SearchProblem['distinct'] {
  if (limits.metals === null) return [];
  const classes = new Map<string, number>();
  const classOf = places.map(({ options }) =>
    Int32Array.from(options, ({ option: { kind, id } }) => {
      if (kind !== 'metal') return -1;
      if (!classes.has(id)) classes.set(id, classes.size);
      return classes.get(id)!;
    }),
  );
  return [{ name: 'the number of metals', classOf, already: [], most: limits.metals }];
}

/** Limits of the whole room that a scheme breaks; the date is a limit of every surface, and found there. */
export function limitFindings(
  { input: { limits, currency }, places }: SchemeGround,
  choice: readonly number[],
): SchemeFinding[] {
  const out: SchemeFinding[] = [];
  const add = (rule: string, sentence: string, number: string) =>
    out.push({
      rule,
      key: rule,
      severity: 'fault',
      sentence,
      number,
      about: { surfaces: [], light: null, criterion: 'limits' },
    });
  const { cost, metals, dark, strong } = totals(places, choice);
  if (limits.budget !== null && cost > limits.budget + 1e-6)
    add(
      'budget',
      `All that is still to be bought costs ${money(cost, currency)}, and ${money(limits.budget, currency)} is the most.`,
      `${money(cost - limits.budget, currency)} over`,
    );
  if (limits.metals !== null && metals > limits.metals)
    add(
      'metals',
      `The room would have ${metals} metals, and ${limits.metals} is the most.`,
      `${metals} metals`,
    );
  if (limits.darkShare !== null && dark > limits.darkShare + 1e-9)
    add(
      'dark share',
      `More of the room would be dark than the ${percent(limits.darkShare)} that may be (LRV below ${DARK_LRV}).`,
      percent(dark),
    );
  if (limits.strongShare !== null && strong > limits.strongShare + 1e-9)
    add(
      'strong share',
      `More of the room would be strongly coloured than the ${percent(limits.strongShare)} that may be (chroma above ${STRONG_CHROMA}).`,
      percent(strong),
    );
  return out;
}

/** What adds up over a scheme; unknown costs and days count as 0. */
export function totals(
  places: readonly PreparedPlace[],
  choice: readonly number[],
): { cost: number; days: number; metals: number; dark: number; strong: number } {
  const metals = new Set<string>();
  const sum = { cost: 0, days: 0, dark: 0, strong: 0 };
  places.forEach((place, i) => {
    const { option, dark, strong } = place.options[choice[i]];
    sum.cost += costIn(place, option) ?? 0;
    sum.days = Math.max(sum.days, daysIn(place, option) ?? 0);
    sum.dark += place.share * dark;
    sum.strong += place.share * strong;
    if (option.kind === 'metal') metals.add(option.id);
  });
  return { ...sum, metals: metals.size };
}

/** '1240 EUR', '0 EUR', '35' where the currency is not known. */
export function money(amount: number, currency: string): string {
  return `${amount.toFixed(0)}${currency && ` ${currency}`}`;
}

/** '12 %'. */
export function percent(share: number): string {
  return `${(100 * share).toFixed(0)} %`;
}
