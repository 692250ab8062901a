import fs from 'node:fs';
import { getDocument } from 'pdfjs-dist/legacy/build/pdf.mjs';
import { describe, expect, test } from 'vitest';
import { boardQuestions, type BoardContent } from '#lib/job/index.ts';
import { boardPaper } from '#lib/server/board-paper.ts';
import { PAPER_SIZES, type PaperSize } from '#lib/server/paper.ts';
import { HOSTILE, PICTURE_NAMES, hashOf, kitchenBoard, pictureBytes, withText } from './board-content.ts';

// Read back by pdf.js, which shares nothing with the library that writes.

const content = await kitchenBoard();
const pictures = new Map(
  await Promise.all(PICTURE_NAMES.map(async (name) => [name, await pictureBytes(name)] as const)),
);

const written = (size: PaperSize, board: BoardContent = content) =>
  boardPaper(board, { size, pictures, round: 2, hash: hashOf(board), news: null });

async function read(bytes: Buffer) {
  const document = await getDocument({ data: new Uint8Array(bytes), verbosity: 0 }).promise;
  const pages: { words: string; tree: string }[] = [];
  for (let i = 1; i <= document.numPages; i++) {
    const page = await document.getPage(i);
    const { items } = await page.getTextContent();
    const words = items.map((item) => ('str' in item ? item.str : '')).join(' ');
    pages.push({ words: words.replaceAll(/\s+/g, ' '), tree: JSON.stringify(await page.getStructTree()) });
  }
  return { document, pages, words: pages.map(({ words }) => words).join(' ') };
}

describe('a round on paper', () => {
  for (const size of PAPER_SIZES) {
    test(`in ${size} says all that the page says, with bookmarks and figures in words`, async () => {
      const bytes = await written(size);
      if (process.env.BOARD_PAPER_OUT) fs.writeFileSync(`${process.env.BOARD_PAPER_OUT}-${size}.pdf`, bytes);
      const { document, pages, words } = await read(bytes);
      for (const said of [
        'Canal-side kitchen',
        'For Ida and Jonas Fenn',
        'Round 2, 10 February 2027',
        'Marit Osk',
        'Deep Lock, Ternhollow TH-19, satin',
        'CIEDE2000 3.1; the next has 5.4',
        'Was Is now',
        'Pulls: brass or nickel',
        'Screens differ',
        'Print is no sample',
        'sRGB',
        'simulations',
        'may hold lead',
      ])
        expect(words).toContain(said);
      expect(words.replaceAll(' ', '')).toContain(hashOf(content));
      const [root] = await document.getOutline();
      expect(root.title).toBe('Canal-side kitchen');
      const titles = root.items.map(({ title }) => title);
      for (const title of ['Before and after', 'The finishes', 'Which of these two: Counter', 'Your answer'])
        expect(titles).toContain(title);
      const tree = pages.map((page) => page.tree).join('');
      for (const role of ['H1', 'H2', 'Table', 'TH', 'TD', 'L', 'Figure'])
        expect(tree).toContain(`"role":"${role}"`);
      expect(tree).toContain('The kitchen with deep green cabinets, by the pendants.');
      for (const { surface } of boardQuestions(content)) expect(tree).toContain(`${surface}: `);
      expect(tree).toContain('Boxes to tick: Yes; No; Change');
      expect(tree).toContain('Yes to B, Veined stone');
    });
  }

  test('takes text of any kind', async () => {
    // Markup, turned letters, one long word, shapes that no font has, ends of lines.
    for (const text of [0, 7, 10, 11, 13].map((at) => HOSTILE[at])) {
      const bytes = await written('A4', withText(content, text));
      const { document } = await read(bytes);
      expect(document.numPages, text).toBeGreaterThan(0);
    }
  });

  test('says which picture is missing', async () => {
    const fewer = new Map([...pictures].filter(([name]) => name !== 'dusk'));
    await expect(
      boardPaper(content, { size: 'A4', pictures: fewer, round: 2, hash: '0', news: null }),
    ).rejects.toThrow('Expected the picture dusk');
  });
});
