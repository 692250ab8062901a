import type { ReflectanceCache } from './appearance.ts';
import { criterionLines, schemeCard } from './scheme-card.ts';
import type { SchemeCard, SchemeCriterionLine } from './scheme-card.ts';
import { schemeProblem } from './scheme.ts';
import type { SchemeFinding, SchemeInput } from './scheme-question.ts';
import { changesBetween, costMoved, daysMoved, decided, stillToBuy } from './swap.ts';
import type { Moved, SwapChange } from './swap.ts';

/** An option of a place, judged against all that is on the others. */
export interface RankedOn {
  readonly optionId: string;
  readonly optionName: string;
  /** 1 is best; null where a limit excludes it. */
  readonly place: number | null;
  /** Whether it is what is there at present. */
  readonly current: boolean;
  /** Of the whole room with it, 0-1. */
  readonly desirability: number;
  /** Of what this place has to do with alone, 0-1. */
  readonly here: number;
  /** Why a limit excludes it, in sentences, or null. */
  readonly excluded: string | null;
  /** What this place has to do with each criterion, first what sets it most apart from the other options. */
  readonly reasons: readonly SchemeCriterionLine[];
  /** Faults and notes it brings or takes away against what is there at present. */
  readonly broken: readonly SwapChange[];
  readonly better: readonly SwapChange[];
  /** All faults about this place. */
  readonly faults: readonly SchemeFinding[];
  /** Against what is there at present. */
  readonly cost: Moved;
  readonly days: Moved;
  readonly card: SchemeCard;
}

/**
 * Every option of a place judged against everything that is decided on the others, best first, excluded ones last: the
 * slabs that are available against the room. Every place needs a `current` option; the place itself counts as still to be
 * bought.
 * @throws RangeError for a place without a current option, or a surface that is not there.
 */
export function rankOn(
  input: SchemeInput,
  surfaceId: string,
  { cache }: { cache?: ReflectanceCache } = {},
): RankedOn[] {
  const asked = schemeProblem(stillToBuy(input, surfaceId), { cache });
  const { place, current } = decided(asked, surfaceId);
  const before = schemeCard(asked, current);
  const weight = new Map(before.criteria.map((line) => [line.criterion, line.weight]));
  const judged = asked.places[place].options.map(({ option, excluded }, i) => {
    const choice = current.with(place, i);
    const card = schemeCard(asked, choice);
    const lines = criterionLines(asked, choice, place);
    const sum = lines.reduce((total, line) => total + line.weight, 0);
    const logs = lines.reduce((total, line) => total + line.weight * Math.log(line.desirability), 0);
    return {
      optionId: option.id,
      optionName: option.name,
      current: i === current[place],
      desirability: card.desirability,
      here: sum > 0 ? Math.exp(logs / sum) : 1,
      excluded,
      lines,
      ...changesBetween(asked, current, choice),
      faults: card.findings.filter(
        ({ severity, about }) => severity === 'fault' && about.surfaces.includes(surfaceId),
      ),
      cost: costMoved(before, card, surfaceId),
      days: daysMoved(before, card, surfaceId),
      card,
    };
  });
  const usual = new Map(
    [...weight.keys()].map((criterion) => {
      const logs = judged
        .flatMap(({ lines }) => lines.filter((line) => line.criterion === criterion))
        .map(({ desirability }) => Math.log(desirability))
        .sort((a, b) => a - b);
      return [criterion, logs[logs.length >> 1] ?? 0];
    }),
  );
  const force = ({ criterion, weight: its, desirability }: SchemeCriterionLine) =>
    its * Math.abs(Math.log(desirability) - usual.get(criterion)!);
  let next = 0;
  return judged
    .sort(
      (a, b) =>
        Number(a.excluded !== null) - Number(b.excluded !== null) ||
        b.desirability - a.desirability ||
        (a.optionId < b.optionId ? -1 : 1),
    )
    .map(({ lines, ...one }) => ({
      ...one,
      place: one.excluded === null ? ++next : null,
      reasons: lines.sort((a, b) => force(b) - force(a)),
    }));
}
