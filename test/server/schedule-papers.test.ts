import { OPS, getDocument } from 'pdfjs-dist/legacy/build/pdf.mjs';
import { describe, expect, test } from 'vitest';
import { labToScreen } from '#lib/colour/index.ts';
import { planOf } from '#lib/job/index.ts';
import { SCHEDULE_DOCUMENTS } from '#lib/server/schedule-documents.ts';
import { TODAY, chosenKitchen, sampleKitchen } from '../job/sample-kitchen.ts';
import { changedKitchen, pagesOf, wildKitchen, written } from './schedule-reading.ts';

describe('the finish schedule on paper', () => {
  test.each(['A4', 'Letter'])(
    'in %s it holds every line, its order, its take-off and its steps',
    async (size) => {
      const job = chosenKitchen();
      const pages = await pagesOf(job, 'finish-schedule.pdf', size);
      const all = pages.join(' ');
      const { plan, schedule } = planOf(job, { today: TODAY });
      for (const { item } of schedule.lines) expect(all).toContain(`${item.finish!.maker}`);
      for (const words of ['79.00 EUR', '208.00 EUR', '88.00 EUR', '1280.48 EUR', '218.50 EUR'])
        expect(all).toContain(words);
      expect(all).toContain('Total 1873.98 EUR, of which 299.21 EUR VAT.');
      expect(all).toContain('726.02 EUR of it is left');
      expect(all).toContain('stays as it is');
      expect(all).toContain('4.83 m² (52.0 sq ft), 2 slabs');
      expect(all).toContain('2 × can of 5 l');
      expect(all).toContain('face frame: 1 front 3.30 × 0.72 m');
      // A step's sentence may be broken over lines; its words all stand there.
      const loose = all.replaceAll(' ', '');
      for (const { words } of plan.steps) expect(loose).toContain(words.replaceAll(' ', ''));
      expect(all).toContain('Printed colour is no sample');
      for (const page of pages) expect(page).toContain('Finish schedule · Thu 26 Nov 2026');
    },
  );

  test('a last page with next to nothing on it is saved by lying a little closer, and nothing is lost', async () => {
    // On US Letter one line of the shopping list would stand alone; without some surfaces one of the schedule in A4.
    const shopping = await pagesOf(chosenKitchen(), 'shopping-list.pdf', 'Letter');
    expect(shopping).toHaveLength(1);
    expect(shopping[0]).toContain('look at a painted board or the material itself.');
    const fewer = chosenKitchen();
    for (const id of Object.keys(fewer.surfaces).slice(0, 2)) delete fewer.surfaces[id];
    fewer.trade = { ...fewer.trade!, yearBuilt: 2005 };
    const schedule = await pagesOf(fewer, 'finish-schedule.pdf', 'A4');
    expect(schedule.at(-1)).toContain('What is guessed, missing or left out');
    expect(schedule.at(-1)!.length).toBeGreaterThan(400);
  });

  test('every caution of every step stands in it, and the letter of each at its step', async () => {
    const job = chosenKitchen();
    const all = (await pagesOf(job, 'finish-schedule.pdf')).join(' ').replaceAll(' ', '');
    const { plan } = planOf(job, { today: TODAY });
    const cautions = new Set(plan.steps.flatMap((step) => step.cautions.map(({ words }) => words)));
    expect(cautions.size).toBeGreaterThan(5);
    for (const words of cautions)
      if (!words.startsWith('Local codes')) expect(all).toContain(words.replaceAll(' ', ''));
    expect(all).toContain('Localcodes,theproducts’safetydatasheetsandlicensedtradesdecide');
    // The house is of 1964: lead at the head, and beside the sanding.
    expect(all).toContain('havetheoldpainttestedforlead');
    expect(all).toMatch(/Fillandsandtheboxes[\d.]+–[A-Z]leadinoldpaint,[A-Z]sandingdust/);
  });

  test('what changed since it was agreed says was, is, why and who said yes', async () => {
    const all = (await pagesOf(changedKitchen(), 'finish-schedule.pdf')).join(' ');
    expect(all).toContain('Agreed with round 2 on 2026-11-20');
    expect(all).toContain('Reed Hollow');
    expect(all).toContain('M. Aldous');
    expect(all).toContain('the lighter one looked');
    expect(all).toContain('nobody yet');
    // Marked at its own line too: paint and pulls, and nothing else.
    expect(all.match(/changed since it was agreed/g)).toHaveLength(2);
    expect((await pagesOf(chosenKitchen(), 'finish-schedule.pdf')).join(' ')).toContain(
      'has been agreed yet',
    );
  });

  test('what is open, without a price or without a size is said', async () => {
    const job = sampleKitchen();
    Object.assign(job.surfaces.walls, { state: 'chosen', swatchId: 'om-104', parts: {}, area: undefined });
    const all = (await pagesOf(job, 'finish-schedule.pdf')).join(' ');
    expect(all).toContain('Kitchen, Cabinets: no finish is chosen');
    expect(all).toContain('open: choose');
    expect(all).toContain('Kitchen, Walls: nothing of it was measured.');
    expect(all).toContain('comes is not known');
  });
});

test('patches in schedule, shopping list and labels have the colour of their finish', async () => {
  const job = chosenKitchen();
  // sRGB of Lab 40, -8, 4 (D65), from the formulas of IEC 61966-2-1 and CIE 15 as the colour area is tested with.
  const { r, g, b } = labToScreen({ L: 40, a: -8, b: 4 }, 'srgb').rgb;
  const wanted = [r, g, b].map((value) => Math.round(value * 255));
  for (const name of ['finish-schedule.pdf', 'shopping-list.pdf', 'labels.pdf']) {
    const { bytes } = await written(job, name);
    const document = await getDocument({ data: new Uint8Array(bytes), verbosity: 0 }).promise;
    let found = 0;
    for (let i = 1; i <= document.numPages; i++) {
      const { fnArray, argsArray } = await (await document.getPage(i)).getOperatorList();
      const hex = `#${wanted.map((value) => value.toString(16).padStart(2, '0')).join('')}`;
      found += fnArray.filter((fn, k) => fn === OPS.setFillRGBColor && argsArray[k][0] === hex).length;
    }
    expect(found, name).toBeGreaterThan(0);
  }
});

describe('labels', () => {
  test('every finish has one, every door one for each side, and the plan names every door once', async () => {
    for (const size of ['A4', 'Letter']) {
      const pages = await pagesOf(chosenKitchen(), 'labels.pdf', size);
      const plan = pages[0];
      for (let i = 1; i <= 15; i++) expect(plan.match(new RegExp(`\\bD${i} `, 'g')), `D${i}`).toHaveLength(1);
      for (let i = 1; i <= 8; i++) expect(plan.match(new RegExp(`\\bF${i} `, 'g')), `F${i}`).toHaveLength(1);
      const labels = pages.slice(1).join(' ');
      for (let i = 1; i <= 15; i++) for (const side of ['A', 'B']) expect(labels).toContain(`D${i} ${side} `);
      expect(labels).toContain('F8 A');
      expect(labels).not.toContain('F8 B');
      for (const words of [
        'Deep Lock',
        'Grip primer',
        'Paper Skiff',
        'Still Water',
        'door, face, 450 × 690 mm',
      ])
        expect(labels).toContain(words);
      // 3 x 8 a page: 15 x 2 + 8 fronts, 7 finishes.
      expect(pages).toHaveLength(1 + Math.ceil((38 + 7) / 24));
    }
  });
});

test('surfaces named in many scripts come out on paper, and what has no shape is said', async () => {
  const job = wildKitchen(40);
  for (const name of SCHEDULE_DOCUMENTS.filter((one) => one.endsWith('.pdf'))) {
    const pages = await pagesOf(job, name, 'Letter');
    expect(pages.length, name).toBeGreaterThan(1);
    expect(pages.join(' '), name).toContain('no shape in this document');
  }
});
