import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { USUAL_WEEK } from '#lib/finish/index.ts';
import { earliestEnd, listSchedule } from '#lib/finish/list-schedule.ts';
import type { ListLimits, Task } from '#lib/finish/list-schedule.ts';
import { WorkClock, midnight } from '#lib/finish/work-clock.ts';

const clock = new WorkClock(USUAL_WEEK, 8);
const monday = clock.openAt(midnight('2026-11-30'));
const task = (work: number, after: number[] = [], given: Partial<Task> = {}): Task => ({
  work,
  dry: 0,
  after,
  hands: true,
  release: -Infinity,
  moved: null,
  stay: null,
  ...given,
});
const limits = (people: number): ListLimits => ({ clock, start: monday, people, space: 3 });
const endOf = (tasks: readonly Task[], people: number) =>
  Math.max(...listSchedule(tasks, limits(people)).map(({ dry }) => dry));

test('Graham’s nine tasks take three people 12 units, and four as long', () => {
  // From memory: Graham 1969, SIAM Journal on Applied Mathematics 17(2), 416-429: 3 2 2 2 4 4 4 4 9, the last after the
  // first, the four of 4 after the fourth; best 12 with three machines. A quarter of an hour stands for a unit.
  const tasks = [3, 2, 2, 2, 4, 4, 4, 4, 9].map((work, k) => task(work, k === 8 ? [0] : k >= 4 ? [3] : []));
  expect(endOf(tasks, 3) - monday).toBe(12);
  expect(endOf(tasks, 4) - monday).toBe(12);
  expect(earliestEnd(tasks, limits(3)) - monday).toBe(12);
});

test('tasks in a circle are an error', () => {
  expect(() => listSchedule([task(1, [1]), task(1, [0])], limits(1))).toThrow(RangeError);
});

describe('hands for what was moved', () => {
  const tuesday = midnight('2026-12-01');
  test('are kept free, also against longer work that would begin before', () => {
    const [long, moved] = listSchedule([task(40), task(8, [], { moved: tuesday })], limits(1));
    expect(moved.start).toBe(clock.openAt(tuesday));
    expect(long.start).toBe(moved.end);
  });
  test('and are no reason where it then finds no drying space', () => {
    const [lying, waiting] = [[0], [1]].map((tasks) => ({ pieces: 2, tasks }));
    const [first, moved, long] = listSchedule(
      [
        task(4, [], { dry: 900, stay: lying }),
        task(4, [], { dry: 8, stay: waiting, moved: tuesday }),
        task(40),
      ],
      limits(1),
    );
    expect(moved.start).toBeGreaterThanOrEqual(first.dry);
    expect(moved.because).toEqual({ kind: 'space', task: 0 });
    expect(long.start).toBe(clock.openAt(tuesday));
    expect(long.because).toEqual({ kind: 'start' });
  });
  test('are not kept free where it cannot begin on its day', () => {
    const [first, moved] = listSchedule([task(40), task(8, [0], { moved: tuesday })], limits(1));
    expect(first.start).toBe(monday);
    expect(moved.start).toBe(first.end);
  });
});

const smallTasks = fc
  .array(
    fc.record({
      work: fc.integer({ min: 1, max: 40 }),
      dry: fc.constantFrom(0, 0, 10, 64),
      hands: fc.boolean(),
      before: fc.nat(),
    }),
    { minLength: 1, maxLength: 5 },
  )
  .map((given) =>
    given.map(({ work, dry, hands, before }, k) =>
      task(work, k > 0 && before % 2 ? [before % k] : [], { dry, hands: hands || k % 2 === 0 }),
    ),
  );

/** The end of the best plan, by trying every order and putting each task where it fits first. */
function bestEnd(tasks: readonly Task[], people: number): number {
  let best = Infinity;
  const place = (done: Map<number, { start: number; end: number; dry: number }>) => {
    if (done.size === tasks.length)
      best = Math.min(best, Math.max(...[...done.values()].map(({ dry }) => dry)));
    tasks.forEach(({ work, dry, after, hands }, index) => {
      if (done.has(index) || !after.every((before) => done.has(before))) return;
      let at = Math.max(monday, ...after.map((before) => done.get(before)!.dry));
      for (;;) {
        at = clock.beginning(at, work);
        const end = clock.end(at, work);
        const others = [...done].filter(([other]) => tasks[other].hands).map(([, one]) => one);
        const moments = [
          at,
          ...others.map(({ start }) => start).filter((start) => start > at && start < end),
        ];
        const busy = (moment: number) =>
          others.filter((one) => one.start <= moment && one.end > moment).length;
        if (!hands || moments.every((moment) => busy(moment) < people)) {
          place(new Map(done).set(index, { start: at, end, dry: end + dry }));
          return;
        }
        at++;
      }
    });
  };
  place(new Map());
  return best;
}

test('no plan of a few tasks ends before the bound, and the list ends between the best and the work done by one', () => {
  fc.assert(
    fc.property(smallTasks, fc.integer({ min: 1, max: 2 }), (tasks, people) => {
      const best = bestEnd(tasks, people);
      expect(earliestEnd(tasks, limits(people))).toBeLessThanOrEqual(best);
      expect(endOf(tasks, people)).toBeGreaterThanOrEqual(best);
      // One after the other, dried, always begun on a fresh day.
      const slow = tasks.reduce(
        (at, { work, dry }) => clock.end(clock.beginning(clock.nextOpening(at), work), work) + dry,
        monday,
      );
      expect(endOf(tasks, people)).toBeLessThanOrEqual(slow);
    }),
    { numRuns: 60 },
  );
});

test('a stay holds its room until its last task is dry', () => {
  const [a, b] = [
    { pieces: 2, tasks: [0, 1] },
    { pieces: 2, tasks: [2] },
  ];
  const done = listSchedule(
    [task(4, [], { dry: 16, stay: a }), task(4, [0], { dry: 96, stay: a }), task(4, [], { dry: 8, stay: b })],
    limits(2),
  );
  expect(done[2].start).toBe(done[1].dry);
  expect(done[2].because).toEqual({ kind: 'space', task: 1 });
});
