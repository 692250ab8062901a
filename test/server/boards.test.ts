import fs from 'node:fs';
import path from 'node:path';
import sharp from 'sharp';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { canonicalText } from '../../src/lib/job/index.ts';
import * as drafts from '../../src/lib/server/board-drafts.ts';
import * as links from '../../src/lib/server/board-links.ts';
import * as pictures from '../../src/lib/server/board-pictures.ts';
import { Wait } from '../../src/lib/server/board-rates.ts';
import * as boards from '../../src/lib/server/boards.ts';
import * as jobs from '../../src/lib/server/jobs.ts';
import { openStore, type Store } from '../../src/lib/server/store.ts';
import { drawn, painted, sha256, type Drawn } from './board-rounds.ts';
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

  test('a later round says at its head what changed, from the rounds as they are frozen', async () => {
    const first = await freeze(await drawn());
    const next = structuredClone((await drawn()).content);
    const [finishes] = next.pages.filter((page) => page.kind === 'finishes');
    Object.assign(finishes.finishes[1], { name: 'Moss Ledger', code: 'TH-15' });
    Object.assign(finishes.finishes[2], { state: 'proposed' });
    const sent = (await drawn()).pictures;
    const silent = await freeze({ content: next, pictures: sent });
    const page = { kind: 'changes' as const, title: '', words: '', since: 1, changes: [] };
    const telling = { content: { ...next, pages: [...next.pages, page] }, pictures: sent };
    const news = { since: 1, sentences: ['Trim has another finish.', 'New question: Floor.'] };
    const draft = await drafts.keep(store, jobId, await boards.parseRound(telling));
    expect((await drafts.load(store, draft)).news).toEqual(news);
    const told = await freeze(telling);
    expect((await boards.load(store.db, jobId, told.id)).news).toEqual(news);
    // Without the page that says it one by one the designer does not want it said.
    for (const { id } of [first, silent]) expect((await boards.load(store.db, jobId, id)).news).toBeNull();
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

describe('drafts', () => {
  test('they are kept apart, a few of them, for half an hour', async () => {
    const round = await drawn();
    const sent = await boards.parseRound(round);
    await freeze(round);
    const id = await drafts.keep(store, jobId, sent);
    expect(await drafts.load(store, id)).toEqual({
      content: round.content,
      hash: sent.hash,
      round: 2,
      news: null,
    });
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
