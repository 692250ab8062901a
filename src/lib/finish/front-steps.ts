import { FRONT_LABOUR } from './labour.ts';
import { frontCount } from './surface-work.ts';
import type { SurfaceWork } from './surface-work.ts';
import { coatWords, coatsOf, dryingOf, idsOf, prepared } from './work-step.ts';
import type { Draft, RoomSteps } from './work-step.ts';

/** Doors and drawer fronts, from taking off to hanging; the step that hangs them. */
export function frontSteps(
  surface: SurfaceWork,
  { steps, covered, space }: { steps: RoomSteps; covered: Draft | null; space: number },
): Draft {
  const count = frontCount(surface);
  const all = frontsWords(surface, 0, count);
  const takenOff = steps.add(surface, 'take-off', {
    task: 'take off',
    words: `Take off and number ${all}`,
    hours: count * FRONT_LABOUR.takeOff,
    after: idsOf(covered),
  });
  const clean = prepared(surface, {
    steps,
    covered: takenOff,
    what: all,
    suffix: '-fronts',
    per: (task) => count * FRONT_LABOUR[task],
    holes: surface.newHoles ? count * FRONT_LABOUR.holes : null,
  });
  const dry: Draft[] = [];
  for (const [k, [from, to]] of batches(count, space).entries()) {
    let before = clean;
    for (const side of [1, 2] as const) {
      const turned = sidesWithin(surface, [from, to], side);
      if (turned.count === 0) continue;
      const what = `the ${side === 1 ? 'first' : 'second'} side of ${turned.words}`;
      const batch = { id: `${surface.id}/side-${side}/batch-${k + 1}`, pieces: turned.count };
      for (const coat of coatsOf(surface)) {
        const turn = side === 2 && coat.first;
        const words = coatWords(coat, what, false);
        const rate =
          (coat.step.task === 'prime' ? FRONT_LABOUR.prime : FRONT_LABOUR.coat) +
          (coat.first ? 0 : FRONT_LABOUR.sandLightly) +
          (turn ? FRONT_LABOUR.turn : 0);
        before = steps.add(surface, `${coat.id}/side-${side}/batch-${k + 1}`, {
          ...coat.step,
          words: turn ? `Turn, then ${words[0].toLowerCase()}${words.slice(1)}` : words,
          hours: turned.count * rate,
          ...dryingOf(surface, { coat, wall: false }),
          after: idsOf(before),
          batch,
        });
      }
    }
    dry.push(before);
  }
  return steps.add(surface, 'hang', {
    task: 'hang',
    words: `Hang ${all}; the paint hardens for weeks, handle them gently`,
    hours: count * FRONT_LABOUR.hang,
    after: idsOf(...dry),
  });
}

/** As few batches as the space allows, as even as can be: 16 in a space of 7 are 6, 5 and 5. */
function batches(count: number, space: number): [number, number][] {
  const number = Math.ceil(count / space);
  const at = (k: number) => Math.ceil((k * count) / number);
  return Array.from({ length: number }, (_, k) => [at(k), at(k + 1)]);
}

/** Of the fronts of a batch those that have such a side; doors count before drawer fronts. */
function sidesWithin(
  surface: SurfaceWork,
  [from, to]: [number, number],
  side: 1 | 2,
): { count: number; words: string } {
  const { doors, drawers } = surface;
  const start = doors.sides >= side ? from : Math.max(from, doors.count);
  const end = drawers.sides >= side ? to : Math.min(to, doors.count);
  return { count: Math.max(0, end - start), words: frontsWords(surface, start, end) };
}

/** 'doors 1-8 and drawer fronts 1-4'. */
function frontsWords({ doors }: SurfaceWork, from: number, to: number): string {
  const range = (one: string, first: number, last: number) =>
    last < first ? '' : last === first ? `${one} ${first}` : `${one}s ${first}-${last}`;
  const said = [
    range('door', from + 1, Math.min(to, doors.count)),
    range('drawer front', Math.max(from, doors.count) - doors.count + 1, to - doors.count),
  ];
  return said.filter(Boolean).join(' and ');
}
