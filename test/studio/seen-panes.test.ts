import { describe, expect, test } from 'vitest';
import { seenPanes, type Compared } from '#lib/studio/seen-panes.ts';

const sage = { colour: { L: 62, a: -9, b: 11 }, sheen: 'satin' } as const;
const titles = { before: 'Before', after: 'After', wipe: 'Both' };
const compared = (change: Partial<Compared>): Compared => ({
  comparing: 'after',
  split: 0.3,
  held: false,
  titles,
  sheet: {
    surfaceId: 'cabinets',
    entries: [
      { id: 'sage', title: 'Sage', applied: sage },
      { id: 'torn', title: 'Torn', applied: null },
    ],
  },
  ...change,
});

describe('the pictures on the page', () => {
  test('are one, two, one with a wipe, or one for each candidate', () => {
    const shown = (comparing: Compared['comparing']) => seenPanes(compared({ comparing }));
    expect(shown('after').map(({ title }) => title)).toEqual(['After']);
    expect(shown('beside').map(({ title, options }) => [title, options.before])).toEqual([
      ['Before', true],
      ['After', false],
    ]);
    expect(shown('wipe')).toMatchObject([{ title: 'Both', options: { split: 0.3 } }]);
    expect(shown('sheet')).toMatchObject([
      { key: 'sage', title: 'Sage', options: { finishes: { cabinets: sage } } },
      { key: 'torn', options: { finishes: { cabinets: null } } },
    ]);
  });

  test('what cannot be shown on a sheet is not given out for shown', () => {
    expect(seenPanes(compared({ comparing: 'sheet' }))[1].title).toMatch(/^Torn: it cannot be shown/);
  });

  test('without anything for a sheet the room stays in sight', () => {
    for (const sheet of [null, { surfaceId: 'cabinets', entries: [] }])
      expect(seenPanes(compared({ comparing: 'sheet', sheet }))).toMatchObject([{ key: 'after' }]);
  });

  test('held, every picture is the one before and says so', () => {
    for (const comparing of ['after', 'beside', 'wipe', 'sheet'] as const)
      for (const { title, options } of seenPanes(compared({ comparing, held: true }))) {
        expect(title).toBe('Before');
        expect(options.before).toBe(true);
      }
  });
});
