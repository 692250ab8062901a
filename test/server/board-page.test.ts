import { createHash } from 'node:crypto';
import { describe, expect, test } from 'vitest';
import {
  BOARD_PAGE_KINDS,
  alikeInWords,
  alikeOnBoard,
  boardFinishTitle,
  boardQuestions,
  type BoardContent,
} from '#lib/job/index.ts';
import { boardFile, boardPage, boardPagePolicy, type BoardView } from '#lib/server/board-page.ts';
import { HOSTILE, hashOf, kitchenBoard, withText } from './board-content.ts';

const content = await kitchenBoard();

const view = (board: BoardContent, more: Partial<BoardView> = {}): BoardView => ({
  round: 2,
  hash: hashOf(board),
  news: null,
  images: (id) => ({
    src: `/b/x/pictures/${id}/1600`,
    srcset: `/b/x/pictures/${id}/640 640w`,
    width: 1600,
    height: 1067,
  }),
  answer: { action: '/b/x/answer' },
  closed: null,
  previous: [],
  ...more,
});
const page = (board = content, more: Partial<BoardView> = {}) => boardPage(board, view(board, more));
const file = (board = content) =>
  boardFile(board, {
    round: 2,
    hash: hashOf(board),
    news: null,
    images: () => ({ src: 'data:image/webp;base64,AAAA', width: 8, height: 8 }),
  });

const inside = (html: string, tag: string) =>
  [...html.matchAll(new RegExp(`<${tag}[^>]*>([\\s\\S]*?)</${tag}>`, 'g'))].map((match) => match[1]);

/** What a reader reads of a page. */
const read = (html: string) =>
  html
    .replace(/<(style|script)[^>]*>[\s\S]*?<\/\1>/g, '')
    .replace(/<[^>]*>/g, ' ')
    .replace(
      /&(amp|lt|gt|quot|#39);/g,
      (_, name: string) => ({ amp: '&', lt: '<', gt: '>', quot: '"' })[name] ?? "'",
    )
    .replace(/\s+/g, ' ');

describe('before and after', () => {
  test('lie under one light where the round has the room as it is under each', () => {
    const lit = structuredClone(content);
    const [pictures] = lit.pages.filter((one) => one.kind === 'pictures');
    pictures.after[1].before = {
      ...pictures.before,
      id: 'before-evening',
      words: 'As it is, by the pendants',
    };
    const html = page(lit);
    expect(html).toMatch(/class="shot before lit in-1"[^>]*>.*before-evening/s);
    expect(html).toContain('both in the light chosen');
    expect(html.match(/class="shot before/g)).toHaveLength(pictures.after.length);
    // Without it the divider says that the two sides are lit differently, and there is one picture of before.
    expect(page()).toContain('in its own light');
    expect(page().match(/class="shot before/g)).toHaveLength(1);
  });
});

describe('the page of a round', () => {
  test('says at its head what changed, with the way to the page that has it one by one', () => {
    const news = { since: 1, sentences: ['Walls has another finish.', 'New question: <b>Counter</b>.'] };
    const html = page(content, { news });
    const [head] = inside(html, 'header');
    expect(read(head)).toContain('Since round 1: Walls has another finish. New question: <b>Counter</b>.');
    expect(head).not.toContain('<b>');
    const at = content.pages.findIndex(({ kind }) => kind === 'changes');
    expect(head).toContain(`<a href="#page-${at}">One by one</a>`);
    expect(html).toContain(`id="page-${at}"`);
    expect(read(inside(page(), 'header')[0])).not.toContain('Since round');
  });

  test('names the photo it shows where the round does', () => {
    const named = structuredClone(content);
    const [pictures] = named.pages.filter((one) => one.kind === 'pictures');
    pictures.photo = 'Kitchen & hall <1>';
    expect(read(page(named))).toContain('Photo: Kitchen & hall <1> .');
    expect(read(page())).not.toContain('Photo:');
  });

  test('has one style and one script, and its policy lets in nothing else', () => {
    for (const html of [page(), file()]) {
      const [style, ...moreStyles] = inside(html, 'style');
      const [script, ...moreScripts] = inside(html, 'script');
      expect([...moreStyles, ...moreScripts]).toEqual([]);
      const sha = (text: string) => `'sha256-${createHash('sha256').update(text).digest('base64')}'`;
      const policy = boardPagePolicy();
      expect(policy).toContain(`style-src ${sha(style)};`);
      expect(policy).toContain(`script-src ${sha(script)};`);
      expect(policy).not.toContain('unsafe');
      for (const rule of [
        "default-src 'none'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
      ])
        expect(policy).toContain(rule);
      expect(script).not.toMatch(/^\s*(?:import|export)\b/m);
      // A style attribute would be refused by the policy.
      expect(html).not.toMatch(/<[^>]+\sstyle=/);
    }
  });

  test('says everything of the round, in its order', () => {
    const text = read(page());
    let at = 0;
    for (const said of [
      'Canal-side kitchen',
      'For Ida and Jonas Fenn . Round 2, 10 February 2027',
      'Before and after',
      'The cabinets turn a deep green',
      'A simulation',
      'The finishes',
      'Deep Lock, Ternhollow TH-19, satin',
      '30 % moderate yellowish brown',
      'Which of these two: Counter',
      'A is calm; B is busy',
      'By colour, B beside A is much lighter',
      'Why these',
      'CIEDE2000 3.1; the next has 5.4',
      'What changed since round 1',
      'Wet Chalk, Ternhollow TH-03, matt',
      'Still open',
      'A word from me',
      'Before you decide',
      'Screens differ',
      'may hold lead',
      'Your answer',
      'Your name',
    ]) {
      const found = text.indexOf(said, at);
      expect(found, said).toBeGreaterThanOrEqual(at);
      at = found;
    }
    expect(new Set(content.pages.map(({ kind }) => kind)).size).toBe(BOARD_PAGE_KINDS.length);
  });

  test('asks what the round asks, each surface in one group of radios', () => {
    const html = page();
    for (const { surfaceId, options } of boardQuestions(content)) {
      const values = [...html.matchAll(new RegExp(`name="verdict.${surfaceId}" value="([^"]*)"`, 'g'))].map(
        (m) => m[1],
      );
      const chosen = options.map(({ swatchId }) => `yes:${swatchId}`);
      expect(values).toEqual(chosen.length > 0 ? [...chosen, 'no', 'change'] : ['yes', 'no', 'change']);
    }
    expect(html.match(/<fieldset class="ask"/g)).toHaveLength(boardQuestions(content).length);
  });

  test('is not indexed, fetches nothing from elsewhere, and waits with pictures but the first', () => {
    const html = page();
    expect(html).toContain('<meta name="robots" content="noindex, nofollow">');
    expect(html).toContain('<meta name="referrer" content="same-origin">');
    expect(html.match(/https?:\/\//g)).toBeNull();
    const pictures = html.match(/<img [^>]*>/g) ?? [];
    expect(pictures.length).toBe(6);
    expect(pictures.filter((at) => !at.includes('loading="lazy"'))).toHaveLength(1);
    for (const at of pictures)
      expect(at).toMatch(/srcset=.* sizes=.* width="1600" height="1067" alt="[^"]{10,}"/);
  });

  test('warns of screens whether or not the round has cautions', () => {
    const without = { ...content, pages: content.pages.filter(({ kind }) => kind !== 'cautions') };
    for (const board of [content, without])
      expect(read(page(board)).match(/Screens differ/g)).toHaveLength(1);
    const said = structuredClone(content);
    for (const one of said.pages) if (one.kind === 'cautions') one.items = ['Screens differ from walls.'];
    expect(read(page(said)).match(/Screens differ/g)).toHaveLength(1);
  });

  test('says in words what some cannot see', () => {
    const text = read(page());
    const found = alikeOnBoard(content);
    expect(found.length).toBeGreaterThan(0);
    for (const { pairs } of found) for (const pair of pairs) expect(text).toContain(alikeInWords(pair));
    for (const one of content.pages)
      if (one.kind === 'choice')
        for (const { finish } of one.options) expect(text).toContain(boardFinishTitle(finish));
  });

  test('shows answers that came, and takes another; closed it says why; a preview sends nothing', () => {
    const surfaces = {
      counter: { verdict: 'yes', swatchId: 'veined', comment: 'Lovely.', pin: null },
    } as const;
    const answer = { name: 'Ida', comment: 'Thanks.', surfaces };
    const html = page(content, { previous: [{ receivedAt: Date.UTC(2027, 1, 11, 9, 5), answer }] });
    expect(html).toContain('id="answers"');
    expect(read(html)).toContain('Received 11 February 2027 at 09:05 (UTC) from Ida');
    expect(read(html)).toMatch(/Counter : yes to Veined stone Lovely\./);
    expect(read(html)).toContain('You may send another answer below; the first stays.');
    const closed = page(content, { answer: null, closed: 'This round is over; there is a newer one.' });
    expect(read(closed)).toContain('This round is over; there is a newer one.');
    expect(closed).not.toContain('<form');
    const preview = page(content, { answer: null });
    expect(preview).toContain('<form');
    expect(preview).not.toMatch(/<form[^>]* (?:method|action)=/);
    expect(read(preview)).toContain('This is a preview');
    expect(preview).not.toContain('Send my answer');
  });

  test('takes text of any kind as text', () => {
    const tags = (html: string) =>
      [...html.replace(/<(style|script)[^>]*>[\s\S]*?<\/\1>/g, '').matchAll(/<([a-z0-9]+)/gi)].map(
        (m) => m[1],
      );
    const known = new Set(tags(page()));
    for (const text of HOSTILE) {
      const board = withText(content, text);
      for (const html of [page(board), file(board)]) {
        expect(inside(html, 'script'), text).toHaveLength(1);
        for (const tag of tags(html))
          expect(known.has(tag) || tag === 'noscript', `${tag} by ${text}`).toBe(true);
        expect(html, text).not.toMatch(/[\u0000\u0007\u200b\u202a-\u202e\ufeff]/);
        const markup = html.replace(/<(style|script)[^>]*>[\s\S]*?<\/\1>/g, '').replace(/="[^"]*"/g, '');
        expect(markup, text).not.toMatch(/<[^>]+\son\w/i);
      }
    }
  });

  test('the one file has each picture once, no address to send to, and may fetch nothing', () => {
    const html = file();
    expect(html.match(/data:image/g)).toHaveLength(6);
    expect(html).toContain('http-equiv="Content-Security-Policy"');
    expect(html).not.toContain('connect-src');
    expect(html).not.toMatch(/<form[^>]* action=/);
    expect(html).toContain('data-way="text"');
  });
});
