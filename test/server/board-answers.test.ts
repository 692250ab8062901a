import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import * as answers from '../../src/lib/server/board-answers.ts';
import * as links from '../../src/lib/server/board-links.ts';
import { Allowance, Wait, addressKey } from '../../src/lib/server/board-rates.ts';
import * as boards from '../../src/lib/server/boards.ts';
import * as jobs from '../../src/lib/server/jobs.ts';
import type { Store } from '../../src/lib/server/store.ts';
import { answered, drawn, type Drawn } from './board-rounds.ts';
import { freshStore } from './pictures.ts';

let store: Store;
let jobId: string;
let close: () => Promise<void>;
beforeEach(async () => ({ store, jobId, close } = await freshStore()));
afterEach(async () => await close());

const freeze = async (round: Drawn) => await boards.freeze(store, jobId, await boards.parseRound(round));

describe('answers', () => {
  let board: boards.Round;
  let link: { id: string; boardId: string; jobId: string };
  beforeEach(async () => {
    board = await freeze(await drawn());
    const made = await links.create(store.db, board.id, { label: '', expiresAt: null, passphrase: null });
    link = { id: made.id, boardId: board.id, jobId };
  });
  const receive = (value: unknown, hash: string | null = null) =>
    answers.receive(store.db, link, { value, hash });

  test('a changed mind is a new answer, the same sent again is not', async () => {
    const yes = await receive(answered());
    expect(yes).toMatchObject({
      fresh: true,
      answer: { number: 1, round: 1, hash: board.hash, seenAt: null },
    });
    expect(await receive(answered())).toEqual({ answer: yes.answer, fresh: false });
    const no = answered('Client One', {
      surfaces: {
        cabinets: { verdict: 'no', swatchId: null, comment: 'Too dark', pin: { page: 0, x: 0.2, y: 0.4 } },
      },
    });
    await receive(no);
    await receive(answered());
    const all = await answers.since(store.db, jobId, 0);
    expect(all.map(({ number }) => number)).toEqual([1, 2, 3]);
    expect(all.map(({ answer }) => answer)).toEqual([answered(), no, answered()]);
    expect(await answers.since(store.db, jobId, 2)).toHaveLength(1);
  });

  test('one that asks something else of the round is refused with its path', async () => {
    const surface = { verdict: 'yes', swatchId: null, comment: '', pin: null };
    const cases: [unknown, RegExp][] = [
      [undefined, /^answer/],
      [answered('  '), /^answer\.name: /],
      [answered('x', { surfaces: { floor: surface } }), /^answer\.surfaces\.floor: /],
      [answered('x', { surfaces: { walls: { ...surface, swatchId: 'else' } } }), /swatchId: /],
      [
        answered('x', { surfaces: { cabinets: { ...surface, pin: { page: 1, x: 0, y: 0 } } } }),
        /pin\.page: /,
      ],
      [answered('x', { surfaces: { cabinets: { ...surface, verdict: 'maybe' } } }), /verdict: /],
      [answered('x', { comment: 'x'.repeat(2001) }), /^answer\.comment: /],
      [answered('x', { more: 1 }), /^answer: .*more/],
      [JSON.parse('{"name":"x","comment":"","surfaces":{"__proto__":{"verdict":"yes"}},"y":1}'), /^answer/],
    ];
    for (const [value, words] of cases) await expect(receive(value)).rejects.toThrow(words);
    await expect(receive(answered(), 'f'.repeat(64))).rejects.toMatchObject({ status: 409 });
    expect(await answers.since(store.db, jobId, 0)).toEqual([]);
  });

  test('twenty an hour through one link, counted in the store', async () => {
    for (let i = 0; i < answers.MOST_AN_HOUR; i += 1) await receive(answered(`Client ${i}`));
    const refused = await receive(answered('One more')).catch((error: unknown) => error);
    expect(refused).toBeInstanceOf(Wait);
    expect((refused as Wait).seconds).toBeGreaterThan(3500);
    await store.db
      .updateTable('board_answers')
      .set({ received_at: Date.now() - 3600_001 })
      .where('number', '=', 1)
      .execute();
    await receive(answered('One more'));
    await expect(receive(answered('And one'))).rejects.toBeInstanceOf(Wait);
  });

  test('one that came as text is kept once, and says which round it is for', async () => {
    const pasted = { boardId: board.id, value: answered(), hash: board.hash };
    const first = await answers.paste(store.db, jobId, pasted);
    expect(first).toMatchObject({ fresh: true, answer: { linkId: null, hash: board.hash, round: 1 } });
    expect(await answers.paste(store.db, jobId, pasted)).toEqual({ answer: first.answer, fresh: false });
    const second = await freeze(await drawn('Second'));
    await expect(answers.paste(store.db, jobId, { ...pasted, boardId: second.id })).rejects.toThrow(
      /to round 1, not to round 2; paste it there/,
    );
    await expect(answers.paste(store.db, jobId, { ...pasted, hash: 'f'.repeat(64) })).rejects.toThrow(
      /a board that this job does not have/,
    );
    await expect(answers.paste(store.db, jobId, { ...pasted, value: {} })).rejects.toThrow(/^answer\./);
    expect(await answers.since(store.db, jobId, 0)).toHaveLength(1);
  });

  test('any text comes back as it was written', async () => {
    const texts = [
      '<script>alert(1)</script>',
      '"\'`${x}',
      '\u202eright to left',
      '\0nul',
      'e\u0301 🪟',
      '{{x}}',
      "'; drop table jobs; --",
    ];
    for (const text of texts) {
      const value = answered(`n ${text}`, { comment: text });
      await receive(value);
      expect((await answers.since(store.db, jobId, 0)).at(-1)!.answer).toEqual(value);
    }
  });

  test('unseen answers are counted in the list of jobs until they are seen', async () => {
    const count = async () => (await jobs.list(store.db)).map(({ newAnswers }) => newAnswers);
    expect(await count()).toEqual([0]);
    const { answer } = await receive(answered());
    await receive(answered('Client Two'));
    expect(await count()).toEqual([2]);
    const other = await jobs.create(store.db, 'Other');
    await answers.markSeen(store.db, other, [answer.id]);
    expect((await jobs.list(store.db)).find(({ id }) => id === jobId)!.newAnswers).toBe(2);
    await answers.markSeen(store.db, jobId, [answer.id]);
    const [{ seenAt }] = await answers.since(store.db, jobId, 0);
    expect(seenAt).toBeGreaterThan(0);
    await answers.markSeen(store.db, jobId, [answer.id]);
    expect((await answers.since(store.db, jobId, 0))[0]).toEqual({ ...answer, seenAt });
    for (const ids of ['x', [1], Array(1001).fill('x')])
      await expect(answers.markSeen(store.db, jobId, ids)).rejects.toMatchObject({ status: 422 });
  });
});

describe('allowances', () => {
  test('what is used up comes back with time, and keys are bounded', () => {
    const allowance = new Allowance({ most: 2, every: 1000, keys: 100 });
    expect([0, 0, 0].map(() => allowance.take('a', 0))).toEqual([0, 0, 1000]);
    expect(allowance.take('a', 500)).toBeCloseTo(500);
    expect(allowance.take('a', 1000)).toBe(0);
    expect(allowance.take('a', 500)).toBeGreaterThan(0);
    for (let i = 0; i < 100_000; i += 1) allowance.take(`key ${i}`, 2000);
    expect(allowance.size).toBe(100);
  });

  // RFC 4291: text forms of addresses; RFC 6177: a site has at least a 64-bit network.
  test('an address is an IPv4 address or a 64-bit network', () => {
    expect(addressKey('192.0.2.1')).toBe('192.0.2.1');
    expect(addressKey('::ffff:192.0.2.1')).toBe('192.0.2.1');
    expect(addressKey('2001:db8:1:2:3:4:5:6')).toBe('2001:db8:1:2');
    expect(addressKey('2001:DB8:1:2::9')).toBe('2001:db8:1:2');
    expect(addressKey('2001:db8::1')).toBe('2001:db8:0:0');
    expect(addressKey('::1')).toBe('0:0:0:0');
  });
});
