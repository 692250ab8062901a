import { describe, expect, test } from 'vitest';
import type { Swatch } from '#lib/job/index.ts';
import { saidAt, seenPanes, type Compared, type Said } from '#lib/studio/seen-panes.ts';

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

describe('what a tap reads', () => {
  const places = ['cabinets', 'counter'].map((id) => ({ surface: { id }, on: null }));
  const said = {
    ...{ titles: {}, status: '', light: null, version: 3, photoId: 'day', sheet: compared({}).sheet },
    places,
  } as unknown as Said;
  const swatches = { sage: { id: 'sage' }, torn: { id: 'torn' } } as unknown as Record<string, Swatch>;

  test('in a candidate’s picture is that candidate, on its surface alone', () => {
    const here = saidAt(said, 'sage', swatches);
    expect(here.options).toEqual({ finishes: { cabinets: sage } });
    expect(here.places.map(({ on }) => on?.id ?? null)).toEqual(['sage', null]);
    expect(here.version).toBe(3);
  });

  test('is not what could not be put on, nor what is not on the sheet', () => {
    const torn = saidAt(said, 'torn', swatches);
    expect(torn.options).toEqual({ finishes: { cabinets: null } });
    expect(torn.places.map(({ on }) => on)).toEqual([null, null]);
    for (const pane of ['before', 'after', 'gone', null]) {
      const here = saidAt(said, pane, swatches);
      expect(here.options).toEqual({});
      expect(here.places).toBe(said.places);
    }
    expect(saidAt({ ...said, sheet: null }, 'sage', swatches).options).toEqual({});
  });
});
