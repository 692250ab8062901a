import fs from 'node:fs';
import { OPS, getDocument } from 'pdfjs-dist/legacy/build/pdf.mjs';
import { expect, test } from 'vitest';
import { PAPER_SIZES, Paper, type PaperSize } from '#lib/server/paper.ts';

// Read back by pdf.js, which shares nothing with the library that writes.

const options = {
  title: 'Finish schedule',
  author: 'A studio',
  made: new Date(Date.UTC(2027, 1, 10)),
  foot: 'Canal-side kitchen',
};

async function opened(bytes: Buffer) {
  return getDocument({ data: new Uint8Array(bytes), useSystemFonts: false, verbosity: 0 }).promise;
}

async function wordsOf(document: Awaited<ReturnType<typeof opened>>): Promise<string[]> {
  const pages: string[] = [];
  for (let i = 1; i <= document.numPages; i++) {
    const { items } = await (await document.getPage(i)).getTextContent();
    pages.push(items.map((item) => ('str' in item ? item.str : '')).join(' '));
  }
  return pages;
}

function longTable(paper: Paper) {
  paper.table(
    [
      { title: 'Surface', width: 2 },
      { title: 'Cost', width: 1, align: 'right' },
    ],
    Array.from({ length: 90 }, (_, i) => [
      { text: `Cabinet door ${i + 1}`, patch: [40, 70, 60] as const },
      `${i + 1}.50`,
    ]),
  );
}

// ISO 216: A4 is 210 x 297 mm; ANSI/ASME Y14.1: Letter is 8.5 x 11 in.
const POINTS: Record<PaperSize, [number, number]> = { A4: [595.28, 841.89], Letter: [612, 792] };

for (const size of PAPER_SIZES) {
  test(`a document in ${size} has that size, real text, bookmarks and numbered pages`, async () => {
    const paper = new Paper({ ...options, size });
    paper.heading(1, 'Finish schedule');
    paper.heading(2, 'Kitchen');
    longTable(paper);
    const document = await opened(await paper.finish());
    const [width, height] = POINTS[size];
    const view = (await document.getPage(1)).view;
    expect(view[2]).toBeCloseTo(width, 1);
    expect(view[3]).toBeCloseTo(height, 1);
    const pages = await wordsOf(document);
    expect(pages.length).toBeGreaterThan(1);
    for (let i = 1; i <= 90; i++) expect(pages.join(' ')).toContain(`Cabinet door ${i} `);
    for (const [i, words] of pages.entries()) {
      expect(words).toContain(`Page ${i + 1} of ${pages.length}`);
      expect(words).toContain('Surface');
    }
    const outline = await document.getOutline();
    expect(outline.map(({ title }) => title)).toEqual(['Finish schedule']);
    expect(outline[0].items.map(({ title }) => title)).toEqual(['Kitchen']);
  });
}

test('the structure tells headings, tables and figures, and pictures have words', async () => {
  const paper = new Paper({ ...options, size: 'A4' });
  paper.heading(1, 'Board');
  paper.text('A paragraph.');
  paper.list(['one', 'two']);
  paper.table([{ title: 'Finish', width: 1 }], [['Deep Lock']]);
  const bytes = fs.readFileSync('static/sample/slab-calm.jpg');
  paper.pictures([{ bytes, width: 1200, height: 800, words: 'A quiet stone', caption: 'The substitute' }]);
  const file = await paper.finish();
  const document = await opened(file);
  const tree = JSON.stringify(await (await document.getPage(1)).getStructTree());
  for (const role of ['H1', 'P', 'L', 'LI', 'Table', 'TR', 'TH', 'TD', 'Figure'])
    expect(tree).toContain(`"role":"${role}"`);
  expect(tree).toContain('"alt":"A quiet stone"');
  // ISO 19005-3: the metadata name the part and the level; the output intent says what the colours mean.
  const text = file.toString('latin1');
  expect(text).toContain('<pdfaid:part>3</pdfaid:part>');
  expect(text).toContain('<pdfaid:conformance>A</pdfaid:conformance>');
  expect(text).toContain('/GTS_PDFA1');
});

test('text of many scripts is kept, and what has no shape is named', async () => {
  const paper = new Paper({ ...options, size: 'A4' });
  const said = 'Żółć, grün, Привет, Ωμέγα, 2.5 m² – “so”';
  paper.text(said);
  expect([...paper.shapeless]).toEqual([]);
  paper.text('日本 and \u0007 control');
  expect([...paper.shapeless]).toEqual(['日', '本']);
  const [words] = await wordsOf(await opened(await paper.finish()));
  // A reader cannot tell a change of font from a space.
  expect(words.replaceAll(/\s/g, '')).toContain(said.replaceAll(' ', ''));
});

test('a row with the wrong number of cells is refused', () => {
  const paper = new Paper({ ...options, size: 'A4' });
  expect(() => paper.table([{ title: 'One', width: 1 }], [['a', 'b']])).toThrow(
    'Expected 1 cells in a row, got 2',
  );
});

test('rows of a table keep apart when their words change fonts, and a label is written to its end', async () => {
  const paper = new Paper({ ...options, size: 'A4' });
  const mixed = 'Ściany łazienki źle\nПривет, Ωμέγα и ещё раз\nzażółć gęślą jaźń';
  const columns = [
    { title: 'One', width: 1 },
    { title: 'Two', width: 5 },
  ];
  paper.table(columns, [
    [mixed, mixed],
    ['below', 'below'],
  ]);
  paper.mark('Ściana Żółta, Привет', { x: 60, y: 700, width: 300 });
  const document = await opened(await paper.finish());
  const { items } = await (await document.getPage(1)).getTextContent();
  const lines = items.flatMap((item) =>
    'str' in item ? [{ words: item.str, y: item.transform[5] as number }] : [],
  );
  const below = lines.filter(({ words }) => words === 'below').map(({ y }) => y);
  expect(below).toHaveLength(2);
  const last = Math.min(...lines.filter(({ words }) => /ja|źń/.test(words)).map(({ y }) => y));
  for (const y of below) expect(y).toBeLessThan(last - 9);
  const label = lines.filter(({ y }) => y < 140 && y > 120).map(({ words }) => words);
  expect(label.join('').replaceAll(/\s/g, '')).toContain('ŚcianaŻółta,Привет');
});

test('a patch of several colours is as wide as one', async () => {
  const paper = new Paper({ ...options, size: 'A4' });
  const patch = [
    { rgb: [255, 0, 0], share: 0.75 },
    { rgb: [0, 0, 255], share: 0.25 },
  ] as const;
  paper.table([{ title: 'Finish', width: 1 }], [[{ text: 'Stone', patch, side: 40 }]]);
  const document = await opened(await paper.finish());
  const page = await document.getPage(1);
  const { fnArray, argsArray } = await page.getOperatorList();
  const fills = argsArray.filter((_, i) => fnArray[i] === OPS.setFillRGBColor).map((args) => String(args));
  expect(fills).toContain('#ff0000');
  expect(fills).toContain('#0000ff');
  const boxes = argsArray
    .filter((_, i) => fnArray[i] === OPS.constructPath)
    .map((args) => Object.values(args[2] as Float32Array))
    .map(([left, top, right, bottom]) => ({ width: right - left, height: Math.abs(bottom - top) }));
  const of = (width: number) =>
    boxes.filter((box) => Math.abs(box.width - width) < 0.01 && Math.abs(box.height - 40) < 0.01);
  expect([of(30).length, of(10).length, of(40).length]).toEqual([1, 1, 1]);
});
