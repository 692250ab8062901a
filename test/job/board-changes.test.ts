import { describe, expect, test } from 'vitest';
import {
  roundDifferences,
  roundNews,
  type BoardContent,
  type BoardFinish,
  type BoardPage,
} from '#lib/job/index.ts';

type Pages = Pick<BoardContent, 'pages'>;

const finish = (
  surface: string,
  name: string,
  { state = 'proposed' as BoardFinish['state'], surfaceId = surface.toLowerCase() } = {},
): BoardFinish => ({
  ...{ surfaceId, surface, swatchId: name.toLowerCase(), name, state },
  ...{ kind: 'paint', maker: '', code: '', sheen: '', colours: [{ screen: '#808080', share: 1 }] },
  ...{ under: [], lrv: 20, area: null, words: '' },
});
const round = (...finishes: BoardFinish[]): Pages => ({
  pages: [{ kind: 'finishes', title: '', words: '', finishes }],
});
const choice = (surface: string, first: string, second: string): BoardPage => ({
  ...{ kind: 'choice', title: '', words: '', surfaceId: surface.toLowerCase(), surface },
  options: [
    { finish: finish(surface, first), picture: null },
    { finish: finish(surface, second), picture: null },
  ],
  differences: [],
});
const asking = (pages: Pages, ...choices: BoardPage[]): Pages => ({ pages: [...pages.pages, ...choices] });

const first = round(
  finish('Cabinets', 'Deep Lock'),
  finish('Walls', 'Sailcloth'),
  finish('Floor', 'Oak', { state: 'stays' }),
  finish('Trim', 'Reed Hollow', { state: 'open' }),
);

describe('what changed between two rounds, in short', () => {
  test('nothing', () => {
    expect(roundNews(first, structuredClone(first))).toEqual(['Finishes and questions are the same.']);
  });

  test('another finish, a new question, one that is no longer asked, what came and what went', () => {
    const next = round(
      finish('Cabinets', 'Moss Ledger'),
      finish('Walls', 'Sailcloth', { state: 'open' }),
      finish('Trim', 'Reed Hollow'),
      finish('Counter', 'Quiet stone', { state: 'stays' }),
    );
    expect(roundNews(first, next)).toEqual([
      'Cabinets has another finish.',
      'New question: Trim.',
      'No longer asked: Walls.',
      'New on the board: Counter.',
      'No longer on the board: Floor.',
    ]);
  });

  test('several at once, in the order of the later round', () => {
    const next = round(
      finish('Walls', 'Wet Chalk'),
      finish('Cabinets', 'Moss Ledger'),
      finish('Floor', 'Slate', { state: 'stays' }),
      finish('Trim', 'Lock Keeper'),
      finish('Tile', 'Glaze'),
    );
    expect(roundNews(first, next)).toEqual([
      'Walls, Cabinets, Floor and Trim have other finishes.',
      'New questions: Trim and Tile.',
    ]);
  });

  test('a choice between two that comes, changes and is settled', () => {
    const chosen = asking(first, choice('Walls', 'Sailcloth', 'Wet Chalk'));
    expect(roundNews(first, chosen)).toEqual(['New question: Walls (one of two).']);
    const other = asking(first, choice('Walls', 'Sailcloth', 'Paper Skiff'));
    expect(roundNews(chosen, other)).toEqual(['Walls has another finish.']);
    expect(roundNews(chosen, first)).toEqual(['Walls is no longer a choice between two.']);
  });

  test('where the page of a choice stands makes no difference', () => {
    const page = choice('Walls', 'Sailcloth', 'Wet Chalk');
    const before = asking(first, page);
    const after = { pages: [page, ...first.pages] };
    expect(roundDifferences(before, after)).toEqual([]);
    expect(roundNews(before, after)).toEqual(['Finishes and questions are the same.']);
  });

  test('a surface that went is told apart from another that has its name now', () => {
    const next = round(
      ...(first.pages[0] as { finishes: BoardFinish[] }).finishes.map((one) =>
        one.surface === 'Walls' ? finish('walls ', 'Wet Chalk', { surfaceId: 'w2' }) : one,
      ),
    );
    expect(roundNews(first, next)).toEqual([
      'New question: walls .',
      'No longer on the board: Walls (removed since).',
    ]);
    const differences = roundDifferences(first, next);
    expect(differences.map(({ surface, was, is }) => [surface, was, is])).toEqual([
      ['Walls (removed since)', 'Sailcloth', 'no longer on the board'],
      ['walls ', 'not on the board', 'Wet Chalk'],
    ]);
    expect(new Set(differences.map(({ surfaceId }) => surfaceId)).size).toBe(2);
  });
});
