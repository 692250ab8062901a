/** A surface that was left is saved as it was left: what the hand does next is the next surface's. */
import { expect, test, type Page } from '@playwright/test';
import { decodeMask, maskArea } from '#lib/photo/index.ts';
import { accessible, DESK, fitsWidth, PHONE, saved } from './desk.ts';
import {
  done,
  draw,
  loaded,
  marksOf,
  onScreen,
  pick,
  picture,
  sampleKitchen,
  selected,
  stateOf,
} from './marking-desk.ts';

const ELSEWHERE = 'Also take what looks like it elsewhere in the picture';
const CABINETS = [
  [
    [400, 620],
    [790, 610],
  ],
  [
    [274, 300],
    [600, 260],
  ],
  [
    [900, 485],
    [1060, 500],
    [1130, 540],
    [1300, 600],
  ],
];
const FLOOR = [
  [500, 890],
  [900, 980],
];

const storedShare = async (page: Page, name: string) => {
  const marks = await marksOf(page, 'kitchen-day', name);
  if (!marks) return 0;
  const mask = decodeMask(marks.mask);
  return maskArea(mask) / mask.data.length;
};

/** Picks a surface and does something else within the same frame or the next: faster than any save. */
const pickAndAtOnce = (page: Page, name: string, then: 'tick' | 'key' | 'Undo' | 'Redo') =>
  page.evaluate(
    async ([name, then, label]) => {
      const found = (selector: string, words: string) =>
        [...document.querySelectorAll<HTMLElement>(selector)].find((element) =>
          element.textContent?.trim().startsWith(words),
        );
      found('ul[aria-labelledby="surfaces-to-mark"] button', name)?.click();
      await new Promise(requestAnimationFrame);
      if (then === 'tick') found('label', label)?.querySelector('input')?.click();
      else if (then !== 'key') found('header button', then)?.click();
      else
        document.body.dispatchEvent(new KeyboardEvent('keydown', { key: 'z', ctrlKey: true, bubbles: true }));
    },
    [name, then, ELSEWHERE],
  );

test('a box ticked, a stroke and “Undo” right after another surface was picked do not reach the one left', async ({
  page,
}) => {
  test.setTimeout(240_000);
  await sampleKitchen(page);
  await pick(page, 'Cabinets');
  await page.getByRole('checkbox', { name: ELSEWHERE }).check();
  for (const stroke of CABINETS) await draw(page, stroke);
  const shown = (await stateOf(page, 'Cabinets').textContent()) ?? '';
  const percent = Number(/(\d+) % of the picture, not saved/.exec(shown)?.[1]);
  expect(percent).toBeGreaterThan(10);

  await pickAndAtOnce(page, 'Counter', 'tick');
  await expect(stateOf(page, 'Cabinets')).not.toContainText('not saved');
  await saved(page);
  const whole = await storedShare(page, 'Cabinets');
  expect(Math.round(100 * whole)).toBe(percent);
  // The box that was clicked is that of the surface picked.
  await expect(page.getByRole('checkbox', { name: ELSEWHERE })).toBeChecked();
  await page.getByRole('checkbox', { name: ELSEWHERE }).uncheck();

  // A stroke drawn while the surface before it is still being saved is of the surface picked.
  await pick(page, 'Floor');
  await draw(page, FLOOR);
  await pick(page, 'Walls');
  await draw(page, [
    [200, 120],
    [300, 130],
  ]);
  await expect(stateOf(page, 'Floor')).not.toContainText('not saved');
  await expect(stateOf(page, 'Walls')).toContainText('not saved');
  await page.keyboard.press('Control+z');
  await expect(stateOf(page, 'Walls')).toContainText('not marked');
  await saved(page);
  const floor = await storedShare(page, 'Floor');
  expect(floor).toBeGreaterThan(0.03);

  // “Undo” waits for the save and takes back what was marked last.
  await pick(page, 'Floor');
  await draw(page, [[1180, 800]]);
  await pickAndAtOnce(page, 'Walls', 'key');
  await expect(page.getByTitle('Redo: mark Floor in Kitchen by day')).toBeEnabled();
  await saved(page);
  expect(await storedShare(page, 'Floor')).toBe(floor);
  expect(await storedShare(page, 'Cabinets')).toBe(whole);
});

test('what is ticked or drawn after “Done” is not part of what was done, and a stroke under way ends with its surface', async ({
  page,
}) => {
  await sampleKitchen(page);
  await pick(page, 'Cabinets');
  await page.getByRole('checkbox', { name: ELSEWHERE }).check();
  await draw(page, CABINETS[0]);
  const shown = (await stateOf(page, 'Cabinets').textContent()) ?? '';
  const percent = Number(/(\d+) % of the picture, not saved/.exec(shown)?.[1]);
  await page.evaluate(async () => {
    const named = (words: string) =>
      [...document.querySelectorAll('button')].find((button) => button.textContent?.trim() === words);
    named('Done')?.click();
    await new Promise(requestAnimationFrame);
    document.querySelector<HTMLInputElement>('label.tick input')?.click();
  });
  await expect(page.getByRole('button', { name: 'Done', exact: true })).toBeDisabled();
  await saved(page);
  expect(Math.round(100 * (await storedShare(page, 'Cabinets')))).toBe(percent);
  const { version } = await loaded(page);

  const [from, to] = [await onScreen(page, FLOOR[0]), await onScreen(page, FLOOR[1])];
  await page.mouse.move(...from);
  await page.mouse.down();
  await page.mouse.move(...to, { steps: 4 });
  await page.evaluate(() => {
    const surfaces = document.querySelectorAll<HTMLElement>('ul[aria-labelledby="surfaces-to-mark"] button');
    [...surfaces].find((button) => button.textContent?.trim().startsWith('Floor'))?.click();
  });
  await page.mouse.up();
  await selected(page);
  await expect(stateOf(page, 'Floor')).toContainText('not marked');
  await expect(stateOf(page, 'Cabinets')).not.toContainText('not saved');
  // The next stroke is the surface's own.
  await draw(page, FLOOR);
  await expect(stateOf(page, 'Floor')).toContainText('not saved');
  await done(page);
  await expect(picture(page)).toHaveAttribute('aria-busy', 'false');
  expect((await loaded(page)).version).toBe(version + 1);
});

test('the header’s “Undo” and “Redo” wait for marks that are being saved', async ({ page }) => {
  test.setTimeout(240_000);
  await sampleKitchen(page);
  const header = page.getByRole('banner');
  const undo = header.getByRole('button', { name: 'Undo' });
  const redo = header.getByRole('button', { name: 'Redo' });
  await pick(page, 'Cabinets');
  for (const stroke of CABINETS) await draw(page, stroke);
  await done(page);
  const cabinets = await storedShare(page, 'Cabinets');
  expect(cabinets).toBeGreaterThan(0.05);

  // What was marked last is undone, not what was marked before it; and it does not come back.
  await pick(page, 'Floor');
  await draw(page, FLOOR);
  await pickAndAtOnce(page, 'Walls', 'Undo');
  await expect(redo).toHaveAttribute('title', 'Redo: mark Floor in Kitchen by day');
  await expect(undo).toHaveAttribute('title', 'Undo: mark Cabinets in Kitchen by day');
  await saved(page);
  await expect(stateOf(page, 'Floor')).toContainText('not marked');
  expect(await storedShare(page, 'Floor')).toBe(0);
  expect(await storedShare(page, 'Cabinets')).toBe(cabinets);

  // What is done last leaves nothing to be done again: “Redo” brings no older step between.
  await draw(page, [
    [200, 120],
    [300, 130],
  ]);
  await pickAndAtOnce(page, 'Counter', 'Redo');
  await expect(undo).toHaveAttribute('title', 'Undo: mark Walls in Kitchen by day');
  await saved(page);
  await expect(redo).toBeDisabled();
  expect(await storedShare(page, 'Floor')).toBe(0);

  // Pressed twice, it takes back what is being saved and the one before; on another page too.
  await pick(page, 'Floor');
  await draw(page, FLOOR);
  await page.evaluate(async () => {
    document.querySelector<HTMLElement>('nav a[href$="/light"]')?.click();
    const gone = () => document.querySelector('h1')?.textContent?.includes('Light in');
    while (!gone()) await new Promise(requestAnimationFrame);
    const button = [...document.querySelectorAll<HTMLElement>('header button')].find(
      (one) => one.textContent?.trim() === 'Undo',
    );
    button?.click();
    button?.click();
  });
  await expect(redo).toHaveAttribute('title', 'Redo: mark Walls in Kitchen by day');
  await saved(page);
  expect(await storedShare(page, 'Floor')).toBe(0);
  expect(await storedShare(page, 'Walls')).toBe(0);
  expect(await storedShare(page, 'Cabinets')).toBe(cabinets);
});

test('while strokes are in hand, the header’s “Undo” and “Redo” are theirs, and the job is left alone', async ({
  page,
}) => {
  test.setTimeout(240_000);
  await sampleKitchen(page);
  const header = page.getByRole('banner');
  const undo = header.getByRole('button', { name: 'Undo' });
  const redo = header.getByRole('button', { name: 'Redo' });
  const word = header.getByRole('status');
  const back = page.getByRole('button', { name: 'Step back', exact: true });
  const said = (words: RegExp) => page.getByRole('status').filter({ hasText: words });
  // The last edit of the job, which must not go unseen.
  await pick(page, 'Floor');
  await draw(page, FLOOR);
  await done(page);
  const { version } = await loaded(page);

  await pick(page, 'Cabinets');
  await draw(page, CABINETS[0]);
  await draw(page, CABINETS[1]);
  await expect(word).toHaveText('Marks in hand');
  await expect(undo).toHaveAccessibleName('Undo stroke 2 on Cabinets, not saved yet');
  await expect(undo).toHaveAttribute('title', 'Undo stroke 2 on Cabinets, not saved yet');
  await expect(redo).toBeDisabled();
  await undo.click();
  await expect(said(/^Stroke 2 taken back, 1 left/)).toBeVisible();
  await expect(redo).toHaveAccessibleName('Redo stroke 2 on Cabinets');
  await page.setViewportSize(PHONE);
  await accessible(page);
  await fitsWidth(page);
  await page.setViewportSize(DESK);
  await redo.click();
  await expect(said(/^Stroke 2 is back/)).toBeVisible();
  // By keys, by the header and beside the picture it is one and the same.
  await page.keyboard.press('Control+z');
  await expect(said(/^Stroke 2 taken back, 1 left/)).toBeVisible();
  await back.click();
  await expect(stateOf(page, 'Cabinets')).toContainText('not marked');
  await saved(page);
  expect((await loaded(page)).version).toBe(version);

  // Nothing is in hand any more: the job’s turn, and what was undone last comes back first.
  await expect(undo).toHaveAttribute('title', 'Undo: mark Floor in Kitchen by day');
  await undo.click();
  await expect(stateOf(page, 'Floor')).toContainText('not marked');
  await expect(redo).toHaveAttribute('title', 'Redo: mark Floor in Kitchen by day');
  await page.keyboard.press('Control+y');
  await expect(stateOf(page, 'Floor')).toContainText(/\d+ % of the picture$/);
  await expect(redo).toHaveAccessibleName('Redo stroke 1 on Cabinets');
  await redo.click();
  await redo.click();
  await expect(said(/^Stroke 2 is back/)).toBeVisible();

  // On another page it is the job’s again: what was in hand is saved on the way.
  await header.getByRole('link', { name: 'Photos' }).click();
  await expect(undo).toHaveAttribute('title', 'Undo: mark Cabinets in Kitchen by day');
  await saved(page);
  expect(await storedShare(page, 'Cabinets')).toBeGreaterThan(0.05);
});
