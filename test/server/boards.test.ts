import fs from 'node:fs';
import path from 'node:path';
import sharp from 'sharp';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { canonicalText } from '../../src/lib/job/index.ts';
import * as answers from '../../src/lib/server/board-answers.ts';
import * as drafts from '../../src/lib/server/board-drafts.ts';
import * as links from '../../src/lib/server/board-links.ts';
import * as pictures from '../../src/lib/server/board-pictures.ts';
import { Allowance, Wait, addressKey } from '../../src/lib/server/board-rates.ts';
import * as boards from '../../src/lib/server/boards.ts';
import * as jobs from '../../src/lib/server/jobs.ts';
import { openStore, type Store } from '../../src/lib/server/store.ts';
import { answered, drawn, painted, sha256, type Drawn } from './board-rounds.ts';
import { freshStore } from './pictures.ts';

let store: Store;
let jobId: string;
let close: () => Promise<void>;
beforeEach(async () => ({ store, jobId, close } = await freshStore()));
afterEach(async () => await close());

const freeze = async (round: Drawn, job = jobId) =>
  await boards.freeze(store, job, await boards.parseRound(round));
const kept = (...names: string[]) => path.join(store.folder, 'boards', ...names);
const folders = () => (fs.existsSync(kept()) ? fs.readdirSync(kept()) : []);

/** The same value with the fields of every object in the opposite order. */
function turned(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(turned);
  if (typeof value !== 'object' || value === null) return value;
  const fields = Object.entries(value).reverse();
  return Object.fromEntries(fields.map(([key, field]) => [key, turned(field)]));
}

describe('freezing a round', () => {
  test('it is numbered, hashed and kept with its pictures', async () => {
    const round = await drawn();
    const frozen = await freeze(round);
    expect(frozen).toMatchObject({
      round: 1,
      title: round.content.title,
      hash: sha256(canonicalText(round.content)),
    });
    const loaded = await boards.load(store.db, jobId, frozen.id);
    expect(loaded.content).toEqual(round.content);
    for (const [id, bytes] of round.pictures)
      expect(fs.readFileSync(kept(frozen.id, id, 'sent')).equals(bytes), id).toBe(true);
    expect(await boards.intact(store, loaded)).toBe(true);
    expect((await freeze(await drawn('Second thoughts'))).round).toBe(2);
    const [latest, first] = await boards.list(store.db, jobId);
    expect([latest.round, first.round]).toEqual([2, 1]);
    expect(first.questions.map(({ surfaceId }) => surfaceId)).toEqual(['cabinets', 'trim', 'walls']);
  });

  test('its hash does not depend on the order of fields, and does on every word and picture', async () => {
    const { content, pictures: sent } = await drawn();
    const hash = async (value: unknown, bytes = sent) =>
      (await boards.parseRound({ content: value, pictures: bytes })).hash;
    const own = await hash(content);
    expect(await hash(turned(content))).toBe(own);
    expect(await hash({ ...content, client: `${content.client}.` })).not.toBe(own);
    const other = await painted('#c8c0b1');
    const text = JSON.stringify(content).replaceAll(sha256(sent.get('before')!), sha256(other));
    const bytes = new Map([...sent, ['before', other]]);
    expect(await hash(JSON.parse(text), bytes)).not.toBe(own);
  });

  test('the same content right after is the same round, so that a lost answer can be asked for again', async () => {
    const first = await freeze(await drawn());
    expect(await freeze(await drawn())).toEqual(first);
    const both = await Promise.all([freeze(await drawn('Twice')), freeze(await drawn('Twice'))]);
    expect(both[0]).toEqual(both[1]);
    expect(await boards.list(store.db, jobId)).toHaveLength(2);
    expect(folders().sort()).toEqual([first.id, both[0].id].sort());
  });

  test('many at once get a number each', async () => {
    const titles = ['a', 'b', 'c', 'd', 'e'];
    const rounds = await Promise.all(titles.map(async (title) => await freeze(await drawn(title))));
    expect(rounds.map(({ round }) => round).sort()).toEqual([1, 2, 3, 4, 5]);
  });

  test('a picture that is not the one described is refused, and nothing is kept', async () => {
    const { content, pictures: sent } = await drawn();
    const other = await painted('#c8c0b1');
    const cases: [Map<string, Buffer>, RegExp][] = [
      [new Map([...sent, ['before', other]]), /^board\.pages\.0\.before\.hash: /],
      [new Map([['before', sent.get('before')!]]), /^board\.pages\.0\.after\.0\.picture\.id: .*“after-day”/],
      [new Map([...sent, ['more', other]]), /^pictures\.more: /],
    ];
    for (const [bytes, words] of cases)
      await expect(freeze({ content, pictures: bytes })).rejects.toThrow(words);
    expect(await boards.list(store.db, jobId)).toEqual([]);
    expect(folders()).toEqual([]);
  });

  test('what is no picture, of another size, moving, cut off, or too large is refused in words', async () => {
    const { content } = await drawn();
    const attempt = async (bytes: Buffer, width = 320, height = 240) => {
      const before = { id: 'before', width, height, words: '', hash: sha256(bytes) };
      const [page] = content.pages;
      const pages = [{ ...page, before, after: [{ light: 'Day', words: '', picture: before }] }];
      return await freeze({
        content: { ...content, pages } as never,
        pictures: new Map([['before', bytes]]),
      });
    };
    const drawing = Buffer.from('<svg xmlns="http://www.w3.org/2000/svg" width="320" height="240"/>');
    await expect(attempt(drawing)).rejects.toThrow(/before: expected a JPEG, PNG or WebP/);
    await expect(attempt(await painted('#888888'), 321)).rejects.toThrow(/before: .*320 × 240/);
    const noise = Buffer.from(Array.from({ length: 320 * 240 * 3 }, (_, i) => (i * 7919) % 251));
    const jpeg = await sharp(noise, { raw: { width: 320, height: 240, channels: 3 } })
      .jpeg()
      .toBuffer();
    await expect(attempt(jpeg.subarray(0, jpeg.length / 2))).rejects.toThrow(
      /before: expected a picture that can be read/,
    );
    await expect(attempt(Buffer.concat([jpeg.subarray(0, 3), drawing]))).rejects.toThrow(/can be read/);
    const frames = [await painted('#112233'), await painted('#445566')];
    const moving = await sharp(frames, { join: { animated: true } })
      .webp()
      .toBuffer();
    await expect(attempt(moving)).rejects.toThrow(/single picture/);
    const wide = await painted('#888888', { width: 7000, height: 5000 });
    await expect(attempt(wide, 7000, 5000)).rejects.toThrow(/24 megapixels/);
    expect(folders()).toEqual([]);
  });

  test('content that is not quite right is refused with its path', async () => {
    const { content, pictures: sent } = await drawn();
    const cases: [unknown, RegExp][] = [
      [null, /^board/],
      [{ ...content, secret: 'budget' }, /^board: .*secret/],
      [{ ...content, made: 'yesterday' }, /^board\.made: /],
      [
        { ...content, pages: [...content.pages, { kind: 'sounds', title: '', words: '' }] },
        /^board\.pages\.4/,
      ],
    ];
    for (const [value, words] of cases)
      await expect(boards.parseRound({ content: value, pictures: sent })).rejects.toThrow(words);
    const changes = { kind: 'changes' as const, title: '', words: '', since: 1, changes: [] };
    const later = { content: { ...content, pages: [...content.pages, changes] }, pictures: sent };
    await expect(freeze(later)).rejects.toThrow(/^board\.pages\.4\.since: /);
    await freeze(await drawn());
    expect((await freeze(later)).round).toBe(2);
  });

  test('a job that is deleted or unknown takes no rounds', async () => {
    const round = await drawn();
    await expect(freeze(round, 'nobody')).rejects.toMatchObject({ status: 404 });
    await jobs.remove(store.db, jobId);
    await expect(freeze(round)).rejects.toMatchObject({ status: 404 });
    expect(folders()).toEqual([]);
  });

  test('what a freezing that was cut off left behind goes, what is young or has a row stays', async () => {
    const { id } = await freeze(await drawn());
    for (const name of ['young', 'stale']) fs.mkdirSync(kept(name));
    const long = new Date(Date.now() - 2 * 3600_000);
    for (const name of ['stale', id]) fs.utimesSync(kept(name), long, long);
    const again = await openStore(store.folder);
    const picture = { pictureId: 'before', side: '640', type: 'webp' as const };
    await pictures.open(again, id, picture);
    expect(folders().sort()).toEqual([id, 'young'].sort());
    await again.db.destroy();
  });

  test('a picture changed on the disk is noticed', async () => {
    const { id } = await freeze(await drawn());
    fs.appendFileSync(kept(id, 'before', 'sent'), 'x');
    expect(await boards.intact(store, await boards.load(store.db, jobId, id))).toBe(false);
  });
});

describe('renditions', () => {
  test('three sizes of each in two kinds, none larger than what was sent', async () => {
    const { id } = await freeze(await drawn('Large', [1800, 1200]));
    const size = async (pictureId: string, side: string, type: pictures.PictureType) => {
      const { width, height, format } = await sharp(
        await pictures.open(store, id, { pictureId, side, type }),
      ).metadata();
      return [format, width, height];
    };
    expect(await size('after-day', '1600', 'webp')).toEqual(['webp', 1600, 1067]);
    expect(await size('after-day', '1024', 'jpeg')).toEqual(['jpeg', 1024, 683]);
    expect(await size('after-day', '640', 'webp')).toEqual(['webp', 640, 427]);
    expect(await size('before', '640', 'jpeg')).toEqual(['jpeg', 320, 240]);
    for (const [pictureId, side] of [
      ['before', '1024'],
      ['before', 'sent'],
      ['before', '../before/640'],
      ['../before', '640'],
      ['nobody', '640'],
    ])
      await expect(pictures.open(store, id, { pictureId, side, type: 'webp' })).rejects.toMatchObject({
        status: 404,
      });
  });

  test('they keep colours, mean light, and nothing of where a picture was taken', async () => {
    const width = 1280;
    const raw = { width, height: 960, channels: 3 as const };
    // Columns of black and white: the mean of their light is 0.5, which sRGB (IEC 61966-2-1) writes as 188.
    const columns = Buffer.alloc(width * 960 * 3, 0);
    for (let i = 0; i < width * 960; i += 2) columns.fill(255, i * 3, i * 3 + 3);
    const fine = await sharp(columns, { raw })
      .withExif({ IFD0: { Copyright: 'SECRET' } })
      .jpeg({ quality: 100, chromaSubsampling: '4:4:4' })
      .toBuffer();
    // A colour inside sRGB, written in Display P3: read as sRGB it would be another.
    const wide = await sharp(await painted('#c85a28', { width, height: 960 }))
      .withIccProfile('p3')
      .png()
      .toBuffer();
    const { content } = await drawn();
    const picture = (id: string, bytes: Buffer) => ({
      id,
      width,
      height: 960,
      words: '',
      hash: sha256(bytes),
    });
    const [page] = content.pages;
    const pages = [
      {
        ...page,
        before: picture('fine', fine),
        after: [{ light: 'Day', words: '', picture: picture('wide', wide) }],
      },
    ];
    const sent = new Map([
      ['fine', fine],
      ['wide', wide],
    ]);
    const { id } = await freeze({ content: { ...content, pages } as never, pictures: sent });
    for (const type of ['webp', 'jpeg'] as const) {
      const middle = async (pictureId: string) => {
        const bytes = await pictures.open(store, id, { pictureId, side: '640', type });
        expect(bytes.includes('SECRET')).toBe(false);
        const { channels } = await sharp(bytes)
          .extract({ left: 200, top: 200, width: 200, height: 100 })
          .stats();
        return channels.slice(0, 3).map(({ mean }) => Math.round(mean));
      };
      for (const value of await middle('fine')) expect(Math.abs(value - 188), type).toBeLessThanOrEqual(2);
      const [r, g, b] = await middle('wide');
      expect(Math.hypot(r - 0xc8, g - 0x5a, b - 0x28), type).toBeLessThan(4);
    }
  });
});

describe('links', () => {
  const wishes = { label: 'For both', expiresAt: null, passphrase: null };

  test('a token is kept as its hash alone', async () => {
    const { id } = await freeze(await drawn());
    const link = await links.create(store.db, id, wishes);
    expect(link.token).toMatch(/^[\w-]{32}$/);
    expect(await links.find(store.db, link.token, Date.now())).toMatchObject({
      id: link.id,
      boardId: id,
      jobId,
    });
    const [row] = await store.db.selectFrom('board_links').selectAll().execute();
    expect(JSON.stringify(row)).not.toContain(link.token);
    expect(row.token_hash).toBe(sha256(link.token));
    expect(JSON.stringify(await boards.list(store.db, jobId))).not.toContain(row.token_hash);
  });

  test('revoked, expired, of a deleted job, or never made: all are not there', async () => {
    const { id } = await freeze(await drawn());
    const now = Date.now();
    const link = await links.create(store.db, id, wishes);
    const short = await links.create(store.db, id, { ...wishes, expiresAt: now + 1000 });
    expect(await links.find(store.db, short.token, now + 999)).not.toBeNull();
    expect(await links.find(store.db, short.token, now + 1000)).toBeNull();
    expect(await links.find(store.db, 'x'.repeat(32), now)).toBeNull();
    await jobs.remove(store.db, jobId);
    expect(await links.find(store.db, link.token, now)).toBeNull();
    await jobs.restore(store.db, jobId);
    expect(await links.find(store.db, link.token, now)).not.toBeNull();
    const other = await jobs.create(store.db, 'Other');
    await expect(links.revoke(store.db, other, link.id)).rejects.toMatchObject({ status: 404 });
    const revoked = await links.revoke(store.db, jobId, link.id);
    expect(revoked.revokedAt).toBeGreaterThanOrEqual(now);
    expect(await links.revoke(store.db, jobId, link.id)).toEqual(revoked);
    expect(await links.find(store.db, link.token, now)).toBeNull();
  });

  test('a passphrase opens its own link, for a time, and is kept as a salted hash', async () => {
    const { id } = await freeze(await drawn());
    const made = await Promise.all(
      ['river stones', 'river stones'].map((passphrase) =>
        links.create(store.db, id, { ...wishes, passphrase }),
      ),
    );
    const now = Date.now();
    const [one, two] = await Promise.all(made.map(({ token }) => links.find(store.db, token, now)));
    expect(one!.passphrase!.hash).not.toBe(two!.passphrase!.hash);
    expect(links.admits(one!, undefined, now)).toBe(false);
    const from = { address: '192.0.2.1', now };
    expect(await links.tryPassphrase(one!, 'river stone', from)).toBeNull();
    const pass = (await links.tryPassphrase(one!, ' river stones ', from))!;
    expect(links.admits(one!, pass, now)).toBe(true);
    expect(links.admits(one!, pass, now + links.REMEMBERED)).toBe(false);
    expect(links.admits(two!, pass, now)).toBe(false);
    const [until, seal] = pass.split('.');
    for (const forged of [
      `${Number(until) + 1}.${seal}`,
      `0${pass}`,
      `${until}.`,
      seal,
      '',
      '9'.repeat(16) + '.' + seal,
    ])
      expect(links.admits(one!, forged, now), forged).toBe(false);
  });

  test('passphrases are tried no faster than allowed, by address and by link', async () => {
    const { id } = await freeze(await drawn());
    const { token } = await links.create(store.db, id, { ...wishes, passphrase: 'river stones' });
    const now = Date.now();
    const link = (await links.find(store.db, token, now))!;
    const attempt = async (address: string) =>
      await links.tryPassphrase(link, 'wrong', { address, now }).catch((error: unknown) => error);
    const outcomes = [];
    for (let i = 0; i < 10; i += 1) outcomes.push(await attempt('192.0.2.7'));
    expect(outcomes.filter((outcome) => outcome === null)).toHaveLength(8);
    expect(outcomes.at(-1)).toBeInstanceOf(Wait);
    for (let i = 0; i < 9; i += 1) outcomes.push(await attempt(`192.0.2.${100 + i}`));
    expect(outcomes.filter((outcome) => outcome === null)).toHaveLength(15);
    expect((outcomes.at(-1) as Wait).seconds).toBeGreaterThan(60);
  });

  test('wishes are refused with their path', () => {
    const now = Date.now();
    expect(links.parseWishes({}, now)).toEqual({ label: '', expiresAt: null, passphrase: null });
    const cases: [object, RegExp][] = [
      [{ label: 1 }, /^label/],
      [{ label: 'x'.repeat(121) }, /^label/],
      [{ expiresAt: now }, /^expiresAt/],
      [{ expiresAt: 'soon' }, /^expiresAt/],
      [{ passphrase: '' }, /^passphrase/],
      [{ passphrase: '     x     ' }, /^passphrase/],
      [{ passphrase: 7 }, /^passphrase/],
    ];
    for (const [given, words] of cases) expect(() => links.parseWishes({ ...given }, now)).toThrow(words);
  });
});

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

describe('drafts', () => {
  test('they are kept apart, a few of them, for half an hour', async () => {
    const round = await drawn();
    const sent = await boards.parseRound(round);
    await freeze(round);
    const id = await drafts.keep(store, jobId, sent);
    expect(await drafts.load(store, id)).toEqual({ content: round.content, hash: sent.hash, round: 2 });
    const { bytes, type } = await drafts.picture(store, id, 'before');
    expect([bytes.equals(round.pictures.get('before')!), type]).toEqual([true, 'image/png']);
    for (const [draftId, name] of [
      [id, 'nobody'],
      [id, '../draft'],
      [`../${id}`, 'before'],
      ['1-x', 'before'],
    ])
      await expect(drafts.picture(store, draftId, name)).rejects.toMatchObject({ status: 404 });
    // What is on its way in beside them is left alone.
    fs.mkdirSync(path.join(store.incoming, `${process.pid}-upload`));
    for (let i = 0; i < 8; i += 1) await drafts.keep(store, jobId, sent);
    const left = fs.readdirSync(store.incoming);
    expect(left).toHaveLength(7);
    expect(left).toContain(`${process.pid}-upload`);
    const last = await drafts.keep(store, jobId, sent);
    const old = new Date(Date.now() - 31 * 60_000);
    fs.utimesSync(path.join(store.incoming, last, 'draft.json'), old, old);
    await expect(drafts.load(store, last)).rejects.toMatchObject({ status: 404 });
    expect(await boards.list(store.db, jobId)).toHaveLength(1);
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
