import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { prepareFinish } from '#lib/finish/appearance.ts';
import {
  PAIRING_BANDS,
  PAIRING_RULES,
  VISIBLE_EDGE_LRV,
  edgeScore,
  pairingReport,
} from '#lib/finish/index.ts';
import { LIKELY } from '#lib/finish/figure.ts';
import type { FinishInput, MeetingFinish } from '#lib/finish/index.ts';
import { COUNTER, LAMPS, WINDOW, finish, light, metamers } from './kitchen.ts';

type Colours = Parameters<typeof finish>[1];
const lights = [WINDOW, LAMPS];

function meeting(
  surfaceName: string,
  colours: Colours | FinishInput,
  { busyness = null as number | null, doubt = 0.3 } = {},
): MeetingFinish {
  const is = 'id' in colours ? colours : finish(`finish of ${surfaceName}`, colours, doubt);
  return { finish: is, surfaceName, busyness };
}
const report = (
  first: MeetingFinish,
  second: MeetingFinish,
  over: Partial<Parameters<typeof pairingReport>[2]> = {},
) => pairingReport(first, second, { lights, mustBeSeen: false, ...over });

/** L* of a luminance factor, CIE 15: 116 (Y / 100)^(1/3) − 16. */
const lightnessOf = (Y: number) => 116 * Math.cbrt(Y / 100) - 16;

describe('two finishes that meet', () => {
  test('of one colour match in every light', () => {
    const { headline, worst, findings } = report(
      meeting('Wall', [[60, -8, 10]]),
      meeting('Door', [[60, -8, 10]]),
    );
    expect(worst.kind).toBe('match');
    expect(headline).toBe('“Wall” and “Door” match in every light.');
    expect(findings[0].severity).toBe('good');
  });

  test('a little apart are a fault, told with what is different and what to do', () => {
    const { headline, findings } = report(meeting('Wall', [[60, -8, 10]]), meeting('Door', [[62.5, -8, 10]]));
    expect(headline).toBe(
      '“Wall” and “Door” nearly match in every light: close enough to be compared, far enough to look like a mistake.',
    );
    expect(findings[0]).toMatchObject({ rule: 'A match or a clear step', severity: 'fault', light: null });
    expect(findings[0].sentence).toContain(
      '“Door” is a shade lighter. Match them truly, or take a clearer step.',
    );
    expect(findings[0].number).toMatch(/^difference 2\.\d give or take \d\.\d \(CIEDE2000\)$/);
  });

  test('that are two whites are told as whites, with how they differ', () => {
    const { whites, findings, headline } = report(
      meeting('Wall', [[92, 0, 4]]),
      meeting('Trim', [[94, 0, 2]]),
    );
    expect(whites).toMatchObject({ relation: 'nearly match' });
    expect(whites!.difference).toMatch(/lighter/);
    expect(headline).toMatch(/^“Wall” and “Trim” are two whites that nearly match in every light/);
    expect(findings[0]).toMatchObject({ rule: 'Two whites', severity: 'fault' });
    expect(findings[0].sentence).toContain('Use one white for both');
    expect(report(meeting('Wall', [[92, 0, 4]]), meeting('Door', [[60, 0, 4]])).whites).toBeNull();
  });

  test('are judged by their worst light, and the change is said', () => {
    const { bumpy, smooth } = metamers();
    const under = [light('day', 'D65'), light('tubes', 'FL11')];
    const { worst, perLight, findings } = report(meeting('Shelf', bumpy), meeting('Panel', smooth), {
      lights: under,
    });
    expect(perLight.map(({ kind }) => kind)).toEqual(['match', 'related']);
    expect(worst).toBe(perLight[1]);
    const change = findings[0];
    expect(change).toMatchObject({ rule: 'The worst light decides', severity: 'fault', light: 'tubes' });
    expect(change.sentence).toBe(
      'The light changes how they sit together: a match under “day”, a clear step under “tubes”.',
    );
    expect(change.number).toMatch(/^difference 0\.0 to [3-9]\.\d over the lights \(CIEDE2000\)$/);
  });

  test('without lights are judged in daylight', () => {
    const { perLight, headline } = report(meeting('Wall', [[60, 0, 0]]), meeting('Door', [[60, 0, 0]]), {
      lights: [],
    });
    expect(perLight).toHaveLength(1);
    expect(perLight[0]).toMatchObject({ lightId: 'D65', lightName: 'daylight' });
    expect(headline).toMatch(/under daylight/);
  });

  test('of several colours name the colour that decides and its share', () => {
    const { worst, findings } = report(meeting('Counter', COUNTER), meeting('Cabinets', [[64, 1, 8]]));
    expect(worst.share).toBeCloseTo(0.3, 12);
    expect(worst.colours).toEqual(['a colour of “Counter” (30 % of it)', '“Cabinets”']);
    expect(findings.map(({ sentence }) => sentence).join(' ')).toContain(
      'A colour of “Counter” (30 % of it) and “Cabinets” nearly match',
    );
  });

  test('name both undertones where they clash', () => {
    const { undertone, findings } = report(meeting('Wall', [[80, 7, 5]]), meeting('Tile', [[79, -2.5, 9.5]]));
    expect(undertone.relation).toBe('clash');
    expect(undertone.words).toMatch(/^“Wall” leans pink, “Tile” leans yellow-green: their undertones clash/);
    expect(undertone.chanceOfClash).toBeGreaterThan(0.9);
    expect(findings[0]).toMatchObject({ rule: 'Undertones', severity: 'fault' });
    expect(findings[0].number).toMatch(
      /^\d+ degrees of hue apart, a\* stretched as CIEDE2000 does near grey$/,
    );
  });

  test('are no fault where undertones could also agree, and so they say', () => {
    const severities = new Set<string>();
    for (const apart of [56, 60, 62, 66, 72, 80, 100]) {
      for (const doubt of [0.2, 1, 2, 3]) {
        const tinted = (degrees: number) => {
          const angle = (degrees * Math.PI) / 180;
          return [[78, (9 * Math.cos(angle)) / 1.5, 9 * Math.sin(angle)]] as const;
        };
        const { undertone, findings } = report(
          meeting('Wall', tinted(20), { doubt }),
          meeting('Tile', tinted(20 + apart), { doubt }),
        );
        const { severity, sentence } = findings.find(({ rule }) => rule === 'Undertones')!;
        severities.add(severity);
        if (severity === 'fault') expect(undertone.chanceOfClash).toBeGreaterThanOrEqual(LIKELY);
        expect(severity === 'fault' && /could also/.test(sentence)).toBe(false);
        if (undertone.relation === 'clash' && undertone.chanceOfClash < LIKELY)
          expect([severity, /could also agree/.test(sentence)]).toEqual(['note', true]);
      }
    }
    expect([...severities].sort()).toEqual(['fault', 'good', 'note']);
  });

  test.each([
    ['agree', [[80, 1, 8]], [[74, 1, 8]], '“Wall” and “Tile” both lean yellow: their undertones agree'],
    [
      'near neutral',
      [[80, 0, 0.4]],
      [[74, 1, 8]],
      '“Wall” has no undertone to speak of, so that nothing clashes',
    ],
    [
      'near neutral',
      [[80, 0, 0.4]],
      [[60, 0.4, 0]],
      'neither “Wall” nor “Tile” has an undertone to speak of',
    ],
    [
      'strong',
      [[50, 40, 20]],
      [[74, 1, 8]],
      '“Wall” is a colour of its own, so that undertones do not count',
    ],
    [
      'differ',
      [[92, 1, 6]],
      [[35, -1, -7]],
      '“Wall” leans yellow, “Tile” leans blue, but they are so far apart in lightness that the eye hardly compares them',
    ],
  ] as const)('undertones that %s are told so', (relation, wall, tile, words) => {
    const { undertone, findings } = report(meeting('Wall', wall), meeting('Tile', tile));
    expect(undertone).toMatchObject({ relation, words });
    expect(findings.find(({ rule }) => rule === 'Undertones')!.severity).toBe('good');
  });

  test('the busier is named where both are known', () => {
    const beside = (p: number | null, q: number | null) =>
      report(meeting('Slab', [[70, 0, 5]], { busyness: p }), meeting('Tile', [[40, 0, 5]], { busyness: q }));
    expect(beside(20, 1).busier).toBe('first');
    expect(beside(1, 20).busier).toBe('second');
    expect(beside(20, 21).busier).toBe('equal');
    expect(beside(0.4, 0.9).busier).toBe('equal');
    expect(beside(20, null).busier).toBeNull();
    expect(beside(20, null).findings.some(({ rule }) => rule === 'One busy, one calm')).toBe(false);
    const severity = (p: number, q: number) =>
      beside(p, q).findings.find(({ rule }) => rule === 'One busy, one calm')!.severity;
    expect([severity(20, 1), severity(1, 1), severity(20, 20)]).toEqual(['good', 'good', 'fault']);
    expect(() => beside(-1, 1)).toThrow('Expected a busyness of 0 or more, got -1');
  });
});

describe('an edge that must be seen', () => {
  // BS 8300-2:2018 guidance: 30 points of LRV.
  const edge = (Y: number, { doubt = 0 } = {}) =>
    report(
      meeting('Counter', [[lightnessOf(20), 0, 0]], { doubt }),
      meeting('Floor', [[lightnessOf(20 + Y), 0, 0]], { doubt }),
      { mustBeSeen: true },
    );

  test('needs 30 points: 29.9 are not enough, 30.0 are', () => {
    const short = edge(29.9);
    expect(short.edge).toMatchObject({ need: VISIBLE_EDGE_LRV, enough: false });
    expect(short.edge!.points).toBeCloseTo(29.9, 4);
    expect(short.findings[0]).toMatchObject({ rule: 'Edges that must be seen', severity: 'fault' });
    expect(short.headline).toBe(
      'The edge between “Counter” and “Floor” is faint, with 29.9 points of LRV between them where guidance asks for 30; ' +
        'local codes decide.',
    );
    const enough = edge(30);
    expect(enough.edge).toMatchObject({ enough: true });
    expect(enough.findings.find(({ rule }) => rule === 'Edges that must be seen')).toMatchObject({
      severity: 'good',
      number: '30.0 points of LRV, 30 wanted',
    });
  });

  test('is not asked for where it need not be seen', () => {
    const { edge: none, findings } = report(meeting('Wall', [[60, 0, 0]]), meeting('Door', [[62, 0, 0]]));
    expect(none).toBeNull();
    expect(findings.some(({ rule }) => rule === 'Edges that must be seen')).toBe(false);
  });

  test('always defers to local codes, and comes before what only displeases', () => {
    for (const Y of [2, 15, 29, 31, 60])
      expect(edge(Y, { doubt: 2 }).edge!.words).toMatch(/local codes decide$/);
    expect(edge(3).findings.map(({ severity, rule }) => [severity, rule])[0]).toEqual([
      'fault',
      'Edges that must be seen',
    ]);
  });

  test('says where the doubt leaves it open', () => {
    expect(edge(31, { doubt: 4 }).edge!.words).toContain('though it could also fall short');
    expect(edge(29, { doubt: 4 }).edge!.words).toContain('though it could also be enough');
    expect(edge(50, { doubt: 1 }).edge!.words).not.toContain('could');
  });

  test('scores in proportion up to 30 points, the same either way round', () => {
    const score = (from: number, to: number) =>
      edgeScore(
        prepareFinish(finish('a', [[lightnessOf(from), 0, 0]]), []),
        prepareFinish(finish('b', [[lightnessOf(to), 0, 0]]), []),
      );
    expect(score(20, 50)).toBeCloseTo(1, 6);
    expect(score(20, 80)).toBe(1);
    expect(score(20, 35)).toBeCloseTo(0.5, 6);
    expect(score(35, 20)).toBeCloseTo(0.5, 6);
    expect(score(20, 49.9)).toBeLessThan(1);
    expect(score(20, 20)).toBeGreaterThan(0);
    expect(score(20, 20)).toBeLessThan(0.05);
  });

  test('has the LRV of the area, with the doubt of both finishes', () => {
    const { lrv } = report(
      meeting('Counter', COUNTER),
      meeting('Wall', [[lightnessOf(50), 0, 0]], { doubt: 1 }),
    );
    // COUNTER: 0.7 of L* 83 and 0.3 of L* 62; Y = 100 ((L* + 16) / 116)^3, CIE 15.
    const Y = (L: number) => 100 * ((L + 16) / 116) ** 3;
    expect(lrv.difference).toBeCloseTo(50 - 0.7 * Y(83) - 0.3 * Y(62), 3);
    expect(lrv.giveOrTake).toBeGreaterThan(0.5);
    expect(lrv.giveOrTake).toBeLessThan(6);
  });
});

describe('doubt', () => {
  const at = (doubt: number) =>
    report(meeting('Wall', [[60, 0, 0]], { doubt }), meeting('Door', [[65.5, 0, 0]], { doubt }), {
      lights: [],
    });

  test('that leaves the kind open is said', () => {
    const { worst, findings } = at(3);
    // Near the border of near miss and clear step.
    expect(Math.abs(worst.deltaE - PAIRING_BANDS['near miss'])).toBeLessThan(0.6);
    expect(worst.couldAlsoBe.length).toBeGreaterThan(0);
    expect(findings.map(({ sentence }) => sentence).join(' ')).toMatch(
      /As far as is known they could also be a (near miss|clear step)/,
    );
  });

  test('where there is none, nothing is', () => {
    const { worst, findings } = at(0);
    expect(worst.couldAlsoBe).toEqual([]);
    expect(worst.difference.giveOrTake).toBeCloseTo(0, 9);
    expect(findings.map(({ sentence }) => sentence).join(' ')).not.toMatch(/could/);
  });

  test('about reflectances counts under lamps, and not for measured ones', () => {
    const wall = meeting('Wall', [[60, -8, 10]], { doubt: 0 });
    const door = meeting('Door', [[52, -8, 10]], { doubt: 0 });
    const [window, lamps] = report(wall, door).perLight;
    expect(lamps.difference.giveOrTake).toBeGreaterThan(0.1);
    expect(window.difference.giveOrTake).toBeLessThan(lamps.difference.giveOrTake);
    const { bumpy, smooth } = metamers();
    const sure = report(meeting('Shelf', bumpy), meeting('Panel', smooth)).perLight;
    for (const { difference } of sure) expect(difference.giveOrTake).toBeCloseTo(0, 9);
  });

  test('does not part a finish from itself on another surface', () => {
    const paint = finish('paint', [[92, 0, 4]], 3);
    const { worst, lrv, findings } = report(meeting('Wall', paint), meeting('Trim', paint));
    expect(worst.difference).toEqual({ value: 0, giveOrTake: 0 });
    expect(worst.couldAlsoBe).toEqual([]);
    expect(lrv.giveOrTake).toBe(0);
    expect(findings.every(({ severity }) => severity === 'good')).toBe(true);
  });
});

describe('whatever meets', () => {
  const colour = fc.tuple(
    fc.double({ min: 5, max: 98, noNaN: true }),
    fc.double({ min: -30, max: 30, noNaN: true }),
    fc.double({ min: -30, max: 40, noNaN: true }),
    fc.double({ min: 0.05, max: 1, noNaN: true }),
  );
  const side = fc.record({
    colours: fc.array(colour, { minLength: 1, maxLength: 3 }),
    surfaceName: fc.constantFrom('Wall', 'Tile', '', '  '),
    finishName: fc.constantFrom('Old lime', 'Quarry', '', 'Fern and clay'),
    busyness: fc.option(fc.double({ min: 0, max: 30, noNaN: true })),
    doubt: fc.constantFrom(0, 0.3, 2, 6),
  });
  const made = (
    id: string,
    { colours, surfaceName, finishName, busyness, doubt }: ReturnType<typeof side.generate>['value'],
  ) => ({
    finish: { ...finish(id, colours, doubt), name: finishName },
    surfaceName,
    busyness,
  });

  test('sentences read well: whole, with a capital and a full stop, every number with a word', () => {
    fc.assert(
      fc.property(side, side, fc.boolean(), (p, q, mustBeSeen) => {
        const told = report(made('p', p), made('q', q), { mustBeSeen });
        expect(told.findings.length).toBeGreaterThan(1);
        for (const sentence of [told.headline, ...told.findings.map((finding) => finding.sentence)]) {
          expect(sentence).toMatch(/^[“A-Z].*\.$/);
          expect(sentence).not.toMatch(/NaN|undefined|null|Infinity|\[object|“”|“ |\s{2}|\.\.|,\./);
        }
        for (const { number } of told.findings) {
          expect(number).toMatch(/[a-z]{4}/);
          expect(number).not.toMatch(/NaN|undefined|null|Infinity/);
        }
        const order = told.findings.map(({ severity }) => ['fault', 'note', 'good'].indexOf(severity));
        expect(order).toEqual(order.toSorted((a, b) => a - b));
        const rules = new Set(PAIRING_RULES.map(({ rule }) => rule));
        for (const { rule } of told.findings) expect(rules).toContain(rule);
      }),
      { numRuns: 80 },
    );
  });

  test('is the same either way round, in kinds and scores', () => {
    fc.assert(
      fc.property(side, side, (p, q) => {
        const there = report(made('p', p), made('q', q), { mustBeSeen: true });
        const back = report(made('q', q), made('p', p), { mustBeSeen: true });
        expect(back.perLight.map(({ kind }) => kind)).toEqual(there.perLight.map(({ kind }) => kind));
        there.perLight.forEach(({ desirability }, l) =>
          expect(back.perLight[l].desirability).toBeCloseTo(desirability, 9),
        );
        expect(back.undertone.relation).toBe(there.undertone.relation);
        expect(back.edge!.enough).toBe(there.edge!.enough);
        expect(back.lrv.difference).toBeCloseTo(-there.lrv.difference, 9);
        expect(back.whites?.relation).toBe(there.whites?.relation);
        const other = { first: 'second', second: 'first', equal: 'equal' } as const;
        expect(back.busier).toBe(there.busier && other[there.busier]);
      }),
      { numRuns: 40 },
    );
  });
});

describe('the rules for the screen', () => {
  test('each have a band, a reason and a source that says where it comes from', () => {
    expect(PAIRING_RULES.length).toBeGreaterThanOrEqual(5);
    for (const { rule, band, reason, source } of PAIRING_RULES) {
      for (const text of [band, reason, source]) expect(text).toMatch(/^[A-Z].*\.$/);
      expect(source, rule).toMatch(/common practice, no published source|BS 8300-2:2018/);
    }
  });
});
