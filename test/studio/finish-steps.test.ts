import { expect, test } from 'vitest';
import { inOrder } from '#lib/job/index.ts';
import { nextFinish } from '#lib/studio/finish-steps.ts';
import { kitchen } from '../job/kitchen.ts';

const choices = inOrder(kitchen().swatches).slice(0, 3);

test('finishes go on one after the other, with the surface as photographed between last and first', () => {
  const [a, b, c] = choices;
  const after = (on: (typeof choices)[number] | null) => nextFinish({ choices, on }, 1)?.id;
  expect([null, a, b, c].map(after)).toEqual([a.id, b.id, c.id, undefined]);
});

test('going back takes the way forward in turn', () => {
  for (const on of [null, ...choices]) {
    const next = nextFinish({ choices, on }, 1);
    expect(nextFinish({ choices, on: next }, -1)).toBe(on);
  }
  expect(nextFinish({ choices: [], on: null }, 1)).toBeNull();
});
