import { describe, expect, test } from 'vitest';
import {
  bestObservations,
  rank,
  shortlistSways,
  type Observation,
  type ObservationAdvice,
  type WeightSway,
} from '#lib/finish/index.ts';
import { observationOrigins, shortlistInput, type Job } from '#lib/job/index.ts';
import {
  closeCallWords,
  closeCallsOf,
  heldPairing,
  leaderNote,
  observationPlace,
  settlesWords,
  swayLine,
  swayMarks,
} from '#lib/studio/decision.ts';
import { kitchen } from '../job/kitchen.ts';

const observation = (over: Partial<Observation>): Observation => ({
  kind: 'hold',
  words: '',
  expectedGain: 1,
  wouldDecide: 0.6,
  wouldChange: 0.2,
  number: '',
  swatchIds: [],
  surfaceName: null,
  lightId: null,
  photoId: null,
  ...over,
});

const sway = (over: Partial<WeightSway<'nearness'>>): WeightSway<'nearness'> => ({
  criterion: 'nearness',
  now: 3,
  down: null,
  up: null,
  silent: false,
  words: '',
  ...over,
});
const turn = (weight: number, leaderName: string) => ({ weight, leaderId: leaderName, leaderName });

test('an observation settles the more the larger its part of all there is to gain', () => {
  const said = [0.1, 1, 1.9].map((expectedGain) => settlesWords({ expectedGain }, { perfectGain: 2 }));
  expect(said).toEqual([
    'settles a little of what is open',
    'settles part of what is open',
    'settles most of what is open',
  ]);
});

test('groups too close to call are told apart by whether they lead the list', () => {
  const closeCalls = [
    { ids: ['a', 'b'], names: ['A', 'B'] },
    { ids: ['d', 'e', 'f'], names: ['D', 'E', 'F'] },
  ];
  const led = { groups: [['a', 'b'], ['c'], ['d', 'e', 'f']] };
  expect(closeCallsOf({ closeCalls }, led)).toEqual({ top: ['A', 'B'], others: [['D', 'E', 'F']] });
  const alone = { groups: [['c'], ['a', 'b'], ['d', 'e', 'f']] };
  expect(closeCallsOf({ closeCalls }, alone)).toEqual({
    top: null,
    others: [
      ['A', 'B'],
      ['D', 'E', 'F'],
    ],
  });
  expect(closeCallWords(['D', 'E', 'F'])).toBe('D, E and F are too close to call.');
});

describe('where an observation is made', () => {
  const job = kitchen();
  const placed = (over: Partial<Observation>) => observationPlace(job, 'J', observation(over));

  test('is nowhere on the screen for samples in the hand', () => {
    expect(placed({ kind: 'hold', swatchIds: ['sage', 'clay', 'granite'] })).toBeNull();
  });

  test('is the photo to take again, or the one the colour came from', () => {
    const photo = { href: '/jobs/J/photos/day', words: `Open the photo “${job.photos.day.name}”` };
    expect(placed({ kind: 'retake', photoId: 'day', swatchIds: ['granite'] })).toEqual(photo);
    expect(placed({ kind: 'target', photoId: 'day' })).toEqual(photo);
    expect(placed({ kind: 'photograph', swatchIds: ['granite'] })).toEqual(photo);
  });

  test('is a new photo where there is none, and the card for an instrument', () => {
    expect(placed({ kind: 'photograph', swatchIds: ['sage'] })?.href).toBe('/jobs/J/photos');
    expect(placed({ kind: 'retake', photoId: 'gone' })?.href).toBe('/jobs/J/photos');
    expect(placed({ kind: 'measure', swatchIds: ['sage'] })?.href).toBe('/jobs/J/swatches#sage');
  });
});

describe('the line beside a weight', () => {
  test('says from where to where the leader leads, and who leads beyond', () => {
    const both = sway({ down: turn(0.412, 'Moss'), up: turn(5.26, 'Keeper') });
    // Rounded towards the weight now, so that the leader still leads at what is said.
    expect(swayLine(both, 'Lock')).toBe(
      'Lock leads while this is between 0.5 and 5.2; below, Moss; beyond, Keeper.',
    );
    expect(swayLine(sway({ up: turn(5.26, 'Keeper') }), 'Lock')).toBe(
      'Lock leads while this is up to 5.2; beyond, Keeper.',
    );
    expect(swayLine(sway({ down: turn(0.412, 'Moss') }), 'Lock')).toBe(
      'Lock leads while this is from 0.5 on; below, Moss.',
    );
    expect(swayLine(sway({}), 'Lock')).toBe('Lock leads whatever this counts.');
    expect(swayLine(sway({ silent: true }), 'Lock')).toMatch(/^Changes nothing now/);
  });

  test('has its marks where the weight turns, on a control from 0 to 10', () => {
    expect(swayMarks(sway({ down: turn(0.4, 'M'), up: turn(5, 'K') }))).toEqual({
      from: 0.04,
      to: 0.5,
      turns: [0.04, 0.5],
    });
    expect(swayMarks(sway({ up: turn(5, 'K') }))).toEqual({ from: 0, to: 0.5, turns: [0.5] });
    expect(swayMarks(sway({}))).toBeNull();
  });
});

describe('a job on the screen', () => {
  /** Two greens that cannot be told apart, beside the stone. */
  function close(): Job {
    const job = kitchen();
    const { sage, clay } = job.swatches;
    clay.samples.s1.colours = structuredClone(sage.samples.s1.colours);
    clay.samples.s1.colours[0].lab.L += 0.5;
    return job;
  }
  const { input } = shortlistInput(close(), 'cabinets');
  const ranking = rank(input);
  const advice: ObservationAdvice = bestObservations(input, ranking, observationOrigins(close(), 'cabinets'));

  test('a pairing stands behind each of two samples that are held against a fixed finish', () => {
    const holds = advice.observations.filter(({ kind }) => kind === 'hold');
    expect(holds.length).toBeGreaterThan(0);
    for (const hold of holds)
      for (const id of hold.swatchIds.slice(0, -1)) {
        const pair = heldPairing(
          ranking.shortlist.find((entry) => entry.id === id)!,
          hold,
        )!;
        expect(pair.finishId).toBe('granite');
        expect(pair.surfaceName).toBe(hold.surfaceName);
        if (hold.lightId !== null) expect(pair.lightId).toBe(hold.lightId);
      }
  });

  test('who leads by the weights is explained only where the list begins with another', () => {
    const { leaderId, leaderName } = shortlistSways(input, ranking);
    const turned = { ...ranking, shortlist: ranking.shortlist.toReversed() };
    const told = [ranking, turned].map((list) => ({
      same: list.shortlist[0].id === leaderId,
      note: leaderNote({ leaderId, leaderName }, list),
    }));
    expect(told.map(({ same }) => same).toSorted()).toEqual([false, true]);
    for (const { same, note } of told) {
      if (same) expect(note).toBeNull();
      else expect(note).toContain(`${leaderName} leads`);
    }
  });
});
