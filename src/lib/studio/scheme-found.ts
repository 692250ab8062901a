import {
  choicesOf,
  schemeCard,
  type Infeasible,
  type SchemeCard,
  type SchemeProblem,
  type SchemeSearch,
} from '#lib/finish/index.ts';

/** What is known of a room's schemes so far. */
export interface FoundSchemes {
  /** Whether the search goes on. */
  readonly searching: boolean;
  /** Rough part of the work that is behind, 0-1. */
  readonly fraction: number;
  /** Ways to put together what the limits of single surfaces leave. */
  readonly possible: number;
  readonly different: readonly SchemeCard[];
  /** What the best of all put on each surface (surface to swatch), alike or not. */
  readonly best: readonly Readonly<Record<string, string>>[];
  /** As in `SearchResult`. */
  readonly proven: boolean;
  readonly bestProven: boolean;
  readonly differentProven: number;
  readonly couldStillWin: number;
  readonly excluded: SchemeProblem['excluded'];
  /** Why there is none; `least` is what the amount that is broken comes to at least. */
  readonly infeasible: (Infeasible & { readonly least: number | null }) | null;
}

/** What a search has by now; `searching` says whether it goes on, `most` how many cards are made at most. */
export function foundSchemes(
  { asked, search }: { readonly asked: SchemeProblem; readonly search: SchemeSearch },
  { searching, most = Infinity }: { readonly searching: boolean; readonly most?: number },
): FoundSchemes {
  const { best, different, infeasible, proven, bestProven, differentProven, couldStillWin } = search.result();
  const { problem, excluded } = asked;
  return {
    searching,
    fraction: search.progress.fraction,
    possible: problem.alone.reduce((all, row) => all * row.filter((score) => score > -Infinity).length, 1),
    different: different.slice(0, most).map(({ choice }) => schemeCard(asked, choice)),
    best: best.map(({ choice }) => choicesOf(asked, choice)),
    ...{ proven, bestProven, differentProven, couldStillWin, excluded },
    infeasible: infeasible && { ...infeasible, least: leastAmount(asked, infeasible) },
  };
}

/** What a sum that cannot be kept comes to at least, where it alone is the reason. */
function leastAmount({ problem }: SchemeProblem, { limits }: Infeasible): number | null {
  const amount = limits.length === 1 && problem.amounts.find(({ name }) => name === limits[0]);
  if (!amount) return null;
  return amount.each.reduce(
    (sum, row, place) =>
      sum + Math.min(...row.filter((_, option) => problem.alone[place][option] > -Infinity)),
    0,
  );
}
