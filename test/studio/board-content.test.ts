import { describe, expect, test } from 'vitest';
import { pairingReport, rank, type Ranking } from '#lib/finish/index.ts';
import {
  boardQuestions,
  DEFAULT_TRADE,
  namedApart,
  parseBoardContent,
  schemeInput,
  shortlistInput,
  type BoardDraft,
  type BoardPage,
  type BoardPageKind,
  type Job,
} from '#lib/job/index.ts';
import { boardContent, leadersOf, type BoardMaterial, type DrawnPage } from '#lib/studio/board-content.ts';
import {
  boardPlaces,
  changedDraft,
  draftFromRound,
  draftOf,
  draftPages,
  movedPage,
  newPage,
} from '#lib/studio/board-draft.ts';
import { insidePoint } from '#lib/studio/board-pictures.ts';
import { apartFromNumber, SCREEN_CAUTION } from '#lib/studio/board-reasons.ts';
import type { GivenAnswer } from '#lib/studio/board-rounds.svelte.ts';
import { nameSince, replaced, saidOf } from '#lib/studio/board-words.ts';
import { pairGist, tableFinishes, tablePairs } from '#lib/studio/pair-table.ts';
import { kitchen } from '../job/kitchen.ts';

/** The invented kitchen with sage chosen for its cabinets. */
function chosen(): Job {
  const job = kitchen();
  Object.assign(job.surfaces.cabinets, { state: 'chosen', swatchId: 'sage' });
  return job;
}

const PICTURE = { id: 'p', width: 1600, height: 1067, words: 'The room.', hash: 'a'.repeat(64) };
const DRAWN: DrawnPage = {
  before: PICTURE,
  after: [{ light: 'Plain daylight', words: '', picture: PICTURE }],
  places: [{ surfaceId: 'cabinets', surface: 'Cabinets', x: 0.4, y: 0.6 }],
};

function rankingsOf(job: Job): Record<string, Ranking> {
  return { cabinets: rank(shortlistInput(job, 'cabinets').input) };
}

function pairsOf(job: Job): BoardMaterial['pairs'] {
  const { input } = schemeInput(job, 'k');
  return tablePairs(tableFinishes(job, input, { roomId: 'k', choices: {} }), input.meetings).map((pair) => {
    const [first, second] = [pair.column, pair.row].map(({ finish, surfaceName, busyness }) => ({
      finish,
      surfaceName,
      busyness,
    }));
    const report = pairingReport(first, second, { lights: input.lights, mustBeSeen: pair.mustBeSeen });
    return { pair, report, gist: pairGist(report) };
  });
}

function material(job: Job, more: Partial<BoardMaterial> = {}): BoardMaterial {
  return {
    rankings: rankingsOf(job),
    pairs: pairsOf(job),
    areas: { cabinets: 3, counter: 1 },
    drawn: { pictures: DRAWN },
    options: {},
    plain: {},
    mark: null,
    last: null,
    made: '2026-11-26',
    ...more,
  };
}

const made = (job: Job, draft: BoardDraft = draftOf(job), more: Partial<BoardMaterial> = {}) =>
  boardContent(job, draft, material(job, more));

function pageOf<Kind extends BoardPageKind>(
  { pages }: { pages: readonly BoardPage[] },
  kind: Kind,
): Extract<BoardPage, { kind: Kind }> {
  const found = pages.find((page) => page.kind === kind);
  if (!found) throw new Error(`expected a page ${kind}`);
  return found as Extract<BoardPage, { kind: Kind }>;
}

const kinds = ({ pages }: { pages: readonly BoardPage[] }) => pages.map(({ kind }) => kind);

describe('the draft', () => {
  test('starts from the job, the same each time, under all lights of its room', () => {
    const job = chosen();
    expect(draftOf(job)).toEqual(draftOf(job));
    const draft = draftOf(job, { name: 'Nell Arbury', line: 'Rooms' });
    expect(draft.title).toContain('Kitchen');
    expect(draft.designer).toEqual({ name: 'Nell Arbury', line: 'Rooms', markFileId: null });
    expect(Object.keys(draft.lightIds).sort()).toEqual(['evening', 'noon']);
    expect(draftPages(draft)[0].kind).toBe('pictures');
  });

  test('is the job’s own once it has one', () => {
    const job = chosen();
    const board = changedDraft(draftOf(job), [[['title'], 'Ours']]);
    expect(draftOf({ ...job, board }, { name: 'x', line: '' })).toBe(board);
    expect(draftOf(job).title).not.toBe('Ours');
  });

  test('moves a page by one place and no further than the ends', () => {
    const draft = draftOf(chosen());
    const ids = draftPages(draft).map(({ id }) => id);
    const moved = changedDraft(
      draft,
      movedPage(draft, ids[0], 1).map(([id, order]) => [['pages', id, 'order'], order]),
    );
    expect(draftPages(moved).map(({ id }) => id)).toEqual([ids[1], ids[0], ...ids.slice(2)]);
    expect(movedPage(draft, ids[0], -1)).toEqual([]);
    expect(movedPage(draft, ids.at(-1)!, 1)).toEqual([]);
  });

  test('takes over titles, words and order of a round, and offers again what had nothing to say there', () => {
    const job = chosen();
    const draft = changedDraft(draftOf(job), [
      [['title'], 'Green or clay'],
      [['pages', 'finishes', 'title'], 'All of it'],
      [['pages', 'finishes', 'words'], 'Look at the cabinets.'],
      [['pages', 'reasons', 'shown'], false],
      [['lightIds', 'noon'], undefined],
    ]);
    const { content } = made(job, draft, {
      drawn: {
        pictures: { ...DRAWN, after: [...DRAWN.after, { light: 'Pendants', words: '', picture: PICTURE }] },
      },
    });
    const next = draftFromRound(job, content, () => 'new');
    expect(next.title).toBe('Green or clay');
    expect(next.pages.finishes).toMatchObject({
      title: 'All of it',
      words: 'Look at the cabinets.',
      shown: true,
    });
    expect(next.pages.changes.shown).toBe(true);
    expect(next.pages.reasons.shown).toBe(false);
    expect(Object.keys(next.lightIds)).toEqual(['evening']);
    const taken = new Set(content.pages.map(({ kind }) => kind));
    expect(
      draftPages(next)
        .map(({ kind }) => kind)
        .filter((kind) => taken.has(kind)),
    ).toEqual(kinds(content));
  });
});

describe('what the client sees', () => {
  test('is content that the studio takes, in the order of the draft, without pages that are hidden', () => {
    const job = chosen();
    const draft = changedDraft(draftOf(job), [
      [['pages', 'cautions', 'order'], 0],
      [['pages', 'reasons', 'shown'], false],
    ]);
    const { content } = made(job, draft);
    expect(parseBoardContent(JSON.parse(JSON.stringify(content)))).toEqual(content);
    expect(kinds(content)[0]).toBe('cautions');
    expect(kinds(content)).not.toContain('reasons');
  });

  test('asks about what is proposed and about nothing else', () => {
    const { content } = made(chosen());
    expect(pageOf(content, 'finishes').finishes.map(({ surfaceId, state }) => [surfaceId, state])).toEqual([
      ['cabinets', 'proposed'],
      ['counter', 'stays'],
    ]);
    expect(boardQuestions(content).map(({ surfaceId }) => surfaceId)).toEqual(['cabinets']);
  });

  test('shows an open surface by its leading candidate, as open, and says so among what is open', () => {
    const job = kitchen();
    const { content } = made(job, draftOf(job), { pairs: [] });
    const [leader] = rankingsOf(job).cabinets.shortlist;
    expect(pageOf(content, 'finishes').finishes[0]).toMatchObject({ state: 'open', swatchId: leader.id });
    expect(pageOf(content, 'open').items[0]).toContain(
      `Cabinets: not decided. Of 2 considered “${leader.name}”`,
    );
    expect(boardQuestions(content)).toEqual([]);
  });

  test('has one name for each surface on all its pages, also where the job has one for two', () => {
    const job = chosen();
    const { cabinets } = job.surfaces;
    job.surfaces.second = { ...cabinets, id: 'second', order: 9, state: 'open', name: 'x'.repeat(80) };
    job.surfaces.third = { ...cabinets, id: 'third', order: 10 };
    job.surfaces.fourth = { ...job.surfaces.second, id: 'fourth', order: 11 };
    const named = namedApart(job);
    const { content } = made(named, draftOf(named), { pairs: [] });
    expect(parseBoardContent(JSON.parse(JSON.stringify(content)))).toEqual(content);
    const { finishes } = pageOf(content, 'finishes');
    const names = Object.fromEntries(finishes.map(({ surfaceId, surface }) => [surfaceId, surface]));
    expect(names).toMatchObject({ cabinets: 'Cabinets 1', third: 'Cabinets 2', counter: 'Counter' });
    expect(new Set(Object.values(names)).size).toBe(finishes.length);
    expect(boardQuestions(content).map(({ surface }) => surface)).toEqual(['Cabinets 1', 'Cabinets 2']);
  });

  test('names the photo of its pictures where the job has several of rooms, also two of one name', () => {
    const job = chosen();
    const photo = (id: string, order: number, role = 'room') => ({
      id,
      order,
      role,
      name: 'By day',
      references: {},
      roomId: 'k',
    });
    const withPhotos = (...photos: object[]) =>
      ({ ...job, photos: Object.fromEntries(photos.map((one) => [(one as { id: string }).id, one])) }) as Job;
    const shown = (of: Job, photoId: string | null = null) => {
      const draft = changedDraft(draftOf(of), [[['pages', 'pictures', 'photoId'], photoId]]);
      const { content } = made(of, draft);
      expect(parseBoardContent(JSON.parse(JSON.stringify(content)))).toEqual(content);
      return pageOf(content, 'pictures').photo;
    };
    const several = withPhotos(photo('a', 1), photo('b', 2), photo('c', 3, 'board'));
    expect(shown(several)).toBe('By day 1');
    expect(shown(several, 'b')).toBe('By day 2');
    expect(shown(withPhotos(photo('a', 1), photo('c', 3, 'board')))).toBeUndefined();
  });

  test('leaves out what has nothing to say, and names it', () => {
    const { content, notes } = made(chosen(), undefined, { drawn: { pictures: null } });
    expect(kinds(content)).not.toContain('pictures');
    expect(kinds(content)).not.toContain('changes');
    expect(notes.join(' ')).toMatch(/The room, before and after.*marked surfaces/);
    expect(notes.join(' ')).toContain('first round');
  });

  test('gives areas as parts of what is seen', () => {
    const { finishes } = pageOf(made(chosen()).content, 'finishes');
    expect(finishes.map(({ area }) => area)).toEqual([0.75, 0.25]);
  });

  // sRGB primaries and mid grey in CIELAB: IEC 61966-2-1 with CIE 15 formulas, printed widely as L* 53.24, a* 80.09, b* 67.20
  // for red and L* 53.59 for the value 128 (from memory).
  test.each([
    [{ L: 53.24, a: 80.09, b: 67.2 }, '#ff0000'],
    [{ L: 53.585, a: 0, b: 0 }, '#808080'],
    [{ L: 100, a: 0, b: 0 }, '#ffffff'],
  ])('shows CIELAB %o as %s', (lab, screen) => {
    const job = chosen();
    job.swatches.sage.samples.s1.colours[0].lab = lab;
    const { finishes } = pageOf(made(job).content, 'finishes');
    expect(finishes[0].colours).toEqual([{ screen, share: 1 }]);
  });

  test('shows a finish under every light of the board with words, and LRV as the luminous reflectance', () => {
    const [cabinets] = pageOf(made(chosen()).content, 'finishes').finishes;
    expect(cabinets.under.map(({ light }) => light)).toEqual(['Noon', 'Pendants']);
    for (const { words } of cabinets.under) expect(words).toMatch(/; .*\(\d/);
    // CIE 15: L* 62 is Y = 100 ((62 + 16) / 116)^3.
    expect(cabinets.lrv).toBeCloseTo(100 * ((62 + 16) / 116) ** 3, 3);
  });

  test('gives reasons with their numbers and names what came next', () => {
    const { reasons } = pageOf(made(chosen()).content, 'reasons');
    expect(
      reasons.some(({ sentence, number }) => sentence.startsWith('Cabinets, “sage”') && /\d/.test(number)),
    ).toBe(true);
    expect(reasons.some(({ sentence }) => sentence.includes('“clay”'))).toBe(true);
  });

  test('says openly where something else came first', () => {
    const job = chosen();
    job.surfaces.cabinets.swatchId = 'clay';
    const said = pageOf(made(job).content, 'reasons')
      .reasons.map(({ sentence }) => sentence)
      .join(' ');
    expect(said).toMatch(/By the numbers “sage” comes before Cabinets, “clay”; it was chosen all the same/);
  });

  test('faults of a pair stand among what is open, not among the reasons', () => {
    const job = chosen();
    // Hardly another green beside it: close enough to be compared, far enough to look like a mistake.
    job.swatches.granite.samples.s1.colours = [
      { lab: { L: 60, a: -7, b: 12 }, covariance: [0.01, 0, 0, 0, 0.01, 0, 0, 0, 0.01], share: 1 },
    ];
    const { content } = made(job);
    const faults = pairsOf(job).flatMap(({ report }) =>
      report.findings.filter(({ severity }) => severity === 'fault').map(({ sentence }) => sentence),
    );
    expect(faults.length).toBeGreaterThan(0);
    expect(pageOf(content, 'open').items).toEqual(expect.arrayContaining(faults));
    for (const { sentence } of pageOf(content, 'reasons').reasons) expect(faults).not.toContain(sentence);
  });
});

describe('a choice', () => {
  const choosing = (job: Job) =>
    changedDraft(draftOf(job), [
      [
        ['pages', 'which'],
        {
          ...newPage('choice', { id: 'which', order: 2.5 }),
          choice: { surfaceId: 'cabinets', swatchIds: ['sage', 'clay'] },
        },
      ],
    ]);

  test('offers two and asks for one of them', () => {
    const job = kitchen();
    const { content } = made(job, choosing(job), { pairs: [] });
    const page = pageOf(content, 'choice');
    expect(page.options.map(({ finish }) => finish.swatchId)).toEqual(['sage', 'clay']);
    // CIE 15: L* 62 is Y 30.4, L* 50 is Y 18.4.
    expect(page.differences.join(' ')).toMatch(/LRV 30 against 18/);
    expect(boardQuestions(content)[0].options).toHaveLength(2);
    expect(kinds(content)).not.toContain('open');
    expect(boardPlaces(job, choosing(job), leadersOf({}))[0]).toMatchObject({ state: 'open' });
  });

  test('says which of the two is drawn without its pattern', () => {
    const job = kitchen();
    const plain = { which: 'Shown in its mean colour, without its pattern: Counter in Slab.' };
    const { content } = made(job, choosing(job), { pairs: [], plain });
    expect(pageOf(content, 'choice').differences.join(' ')).toContain(plain.which);
  });

  test('of a finish without a colour is left out', () => {
    const job = kitchen();
    const draft = changedDraft(choosing(job), [
      [
        ['pages', 'which', 'choice', 'swatchIds'],
        ['sage', 'bare'],
      ],
    ]);
    const { content, notes } = made(job, draft, { pairs: [] });
    expect(kinds(content)).not.toContain('choice');
    expect(notes.join(' ')).toContain('with a colour');
  });
});

describe('cautions', () => {
  const items = (job: Job, draft = draftOf(job)) => pageOf(made(job, draft).content, 'cautions').items;

  test('stand on every board, the one about screens first, even where their page was hidden', () => {
    const job = chosen();
    const hidden = changedDraft(draftOf(job), [[['pages', 'cautions', 'shown'], false]]);
    expect(items(job, hidden)[0]).toBe(SCREEN_CAUTION);
  });

  // 40 CFR 745, subpart E: housing built before 1978.
  test('name lead where old paint may be sanded', () => {
    const job = chosen();
    const built = (yearBuilt: number): Job => ({ ...job, trade: { ...DEFAULT_TRADE, yearBuilt } });
    const lead = /may contain lead/;
    expect(items(job).join(' ')).toMatch(lead);
    expect(items(built(1964)).join(' ')).toMatch(lead);
    expect(items(built(1990)).join(' ')).not.toMatch(lead);
  });
});

describe('rounds', () => {
  test('say what changed since the last', () => {
    const job = chosen();
    const first = made(job).content;
    job.surfaces.cabinets.swatchId = 'clay';
    const { content } = made(job, draftOf(job), { last: { round: 1, content: first } });
    const page = pageOf(content, 'changes');
    expect(page.since).toBe(1);
    expect(page.changes).toEqual([
      { surface: 'Cabinets', was: 'sage, Ternhollow TH-1, satin', is: 'clay, Ternhollow TH-2, satin' },
    ]);
  });

  test('a surface that is gone since, or whose name another has taken, is told apart from the present one', () => {
    const job = chosen();
    const asked = { surfaceId: 'cabinets', surface: 'Cabinets' };
    expect(nameSince(job, asked)).toBe('Cabinets');
    const { cabinets, ...others } = job.surfaces;
    const other = { ...cabinets, id: 'other' };
    expect(nameSince({ surfaces: { ...others, other } }, asked)).toBe('Cabinets (removed since)');
    expect(
      nameSince({ surfaces: { ...others, other, cabinets: { ...cabinets, name: 'Island' } } }, asked),
    ).toBe('Cabinets (now Island)');
    expect(nameSince({ surfaces: { ...others, cabinets: { ...cabinets, name: 'Units' } } }, asked)).toBe(
      'Cabinets',
    );
  });

  test('an answer reads surface by surface; a later one of the same person replaces it, another person’s does not', () => {
    const { content } = made(chosen());
    const answer: GivenAnswer['answer'] = {
      name: 'Ida Fenn',
      comment: '',
      surfaces: {
        cabinets: { verdict: 'yes', swatchId: null, comment: 'Lovely', pin: { page: 0, x: 0.4, y: 0.6 } },
      },
    };
    const [said] = saidOf(answer, boardQuestions(content));
    expect(said).toMatchObject({ surface: 'Cabinets', comment: 'Lovely', pin: { page: 0, x: 0.4, y: 0.6 } });
    expect(said.words).toBe('Yes to sage, Ternhollow TH-1, satin');
    const given = (number: number, name: string, boardId = 'r1'): GivenAnswer => ({
      ...{
        id: `a${number}`,
        number,
        boardId,
        round: 1,
        linkId: null,
        hash: '',
        receivedAt: number,
        seenAt: null,
      },
      answer: { ...answer, name },
    });
    const answers = [given(1, 'Ida Fenn'), given(2, 'Otto'), given(3, ' ida  fenn'), given(4, 'Otto', 'r2')];
    expect([...replaced(answers)]).toEqual(['a1']);
  });
});

test('a number in brackets at the end of a sentence stands apart', () => {
  expect(apartFromNumber('A shade greyer than the aim (difference 2.3)')).toEqual({
    sentence: 'A shade greyer than the aim',
    number: 'difference 2.3',
  });
  expect(apartFromNumber('In stock')).toEqual({ sentence: 'In stock', number: '' });
});

describe('the point that stands for a surface', () => {
  const mask = (covers: (x: number, y: number) => boolean) => {
    const [width, height] = [400, 300];
    const data = Uint8Array.from({ length: width * height }, (_, i) =>
      covers(i % width, Math.floor(i / width)) ? 255 : 0,
    );
    return { width, height, data };
  };

  test('lies inside it, also where its middle does not', () => {
    const ring = (x: number, y: number) => {
      const r = Math.hypot(x - 200, y - 150);
      return r > 60 && r < 130;
    };
    const point = insidePoint(mask(ring))!;
    expect(ring(point.x * 400, point.y * 300)).toBe(true);
  });

  test('is the middle of a plain area, and nothing for an empty one', () => {
    const point = insidePoint(mask((x, y) => x >= 100 && x < 200 && y >= 100 && y < 200))!;
    expect(point.x).toBeCloseTo(150 / 400, 1);
    expect(point.y).toBeCloseTo(150 / 300, 1);
    expect(insidePoint(mask(() => false))).toBeNull();
  });
});
