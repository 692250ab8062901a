import type { Ranking } from '#lib/finish/index.ts';
import type { Id } from '#lib/job/index.ts';

/** Candidates of a surface as the shortlist has them. */
export interface RankedSurface {
  /** Best first, then those that its limits exclude. */
  readonly order: readonly Id[];
  /** The best one that no limit excludes; null without any. */
  readonly leading: Id | null;
  /** Why a candidate is excluded, in the shortlist's sentences. */
  readonly excluded: Readonly<Record<Id, string>>;
}

export function rankedOf({
  shortlist,
  excluded,
}: {
  readonly shortlist: readonly Pick<Ranking['shortlist'][number], 'id'>[];
  readonly excluded: Ranking['excluded'];
}): RankedSurface {
  return {
    order: [...shortlist, ...excluded].map(({ id }) => id),
    leading: shortlist[0]?.id ?? null,
    excluded: Object.fromEntries(excluded.map(({ id, reason }) => [id, reason])),
  };
}

/** Whether candidates that are shown in one order come in the same by another; those that only one of them has do not count. */
export function orderKept(shown: readonly Id[], order: readonly Id[]): boolean {
  const now = order.filter((id) => shown.includes(id));
  const was = shown.filter((id) => order.includes(id));
  return now.every((id, i) => id === was[i]);
}
