import fs from 'node:fs';
import { expect, test, type Page } from '@playwright/test';
import sharp from 'sharp';
import { accessible, DESK, PHONE, saved } from './desk.ts';
import { candidate, marked, PHOTO, seen, stage } from './see-desk.ts';

// Taking surfaces apart and painting without a graphics processor takes its time on a busy machine.
test.beforeEach(() => test.setTimeout(180_000));

test('candidates are shown once their order is known and do not move by themselves', async ({ page }) => {
  await page.setViewportSize(DESK);
  await marked(page);
  await seen(page);
  // Every order that a hand could have met while the page loads.
  await page.addInitScript(() => {
    const orders = new Set<string>();
    Object.assign(window, { orders });
    const look = () => {
      const cards = [...document.querySelectorAll<HTMLElement>('.boards label')].filter((card) =>
        card.checkVisibility({ visibilityProperty: true }),
      );
      if (cards.length > 0) orders.add(cards.map(({ innerText }) => innerText.split('\n')[0]).join(', '));
      requestAnimationFrame(look);
    };
    requestAnimationFrame(look);
  });
  await page.reload();
  await seen(page);
  await expect(candidate(page, 'Deep Lock')).toBeVisible();
  const met = () => page.evaluate(() => [...(window as unknown as { orders: ReadonlySet<string> }).orders]);
  expect(await met()).toHaveLength(1);

  // What is decided elsewhere changes the order of the shortlist; here it changes when that is asked for.
  const [shown] = await met();
  await page
    .getByRole('group', { name: 'Surfaces' })
    .getByRole('button', { name: /^Walls/ })
    .click();
  await page.getByLabel('Try another swatch of this job').selectOption({ label: 'Deep Lock TH-19' });
  await page.getByRole('button', { name: /^Choose this for Walls/ }).click();
  await page
    .getByRole('group', { name: 'Surfaces' })
    .getByRole('button', { name: /^Cabinets/ })
    .click();
  const again = page.getByRole('button', { name: 'Show that order' });
  await expect(again).toBeVisible();
  expect((await met()).at(0)).toBe(shown);
  const cards = async () =>
    (await page.locator('.boards label').allInnerTexts()).map((text) => text.split('\n')[0]).join(', ');
  expect(await cards()).toBe(shown);
  await again.click();
  await expect(again).toBeHidden();
  expect(await cards()).not.toBe(shown);
});

test('“Putting it on” stands in one place from the moment it comes until the result is there', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await marked(page);
  await seen(page);
  await page
    .getByRole('group', { name: 'Surfaces' })
    .getByRole('button', { name: /^Walls/ })
    .click();
  // Every frame: in how many places it is said, and what stands under the picture.
  const frames = page.evaluate(async () => {
    const taken: { places: number; words: string }[] = [];
    const until = performance.now() + 20_000;
    let words = '';
    while (performance.now() < until && !words.includes('Walls in')) {
      await new Promise(requestAnimationFrame);
      words = document.querySelector<HTMLElement>('figcaption')?.innerText ?? '';
      const places = [...document.querySelectorAll<HTMLElement>('main span, main p')].filter(
        (element) =>
          element.children.length === 0 &&
          element.innerText.includes('Putting it on') &&
          element.checkVisibility() &&
          element.offsetWidth > 1,
      );
      taken.push({ places: places.length, words });
    }
    return taken;
  });
  await page.getByLabel('Try another swatch of this job').selectOption({ label: 'Deep Lock TH-19' });
  const taken = await frames;
  expect(taken.at(-1)?.words).toContain('Walls in');
  const counts = taken.slice(0, -1).map(({ places }) => places);
  const first = counts.indexOf(1);
  expect(first, 'a surface that is taken apart anew takes its time').toBeGreaterThan(0);
  expect(Math.max(...counts)).toBe(1);
  expect(counts.slice(first).filter((places) => places !== 1)).toEqual([]);
  expect(taken.at(-1)?.places).toBe(0);
});

test('a candidate that the shortlist excludes says so and why, before it is chosen and after', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  const home = await marked(page, (_photo, job) => {
    job.swatches['th-19'].leadTimeDays = 3000;
  });
  await seen(page);
  // The shortlist's own sentence.
  await page.goto(`${home}/shortlist/cabinets`);
  const listed = page.getByRole('region', { name: 'Excluded by your limits' }).getByRole('listitem');
  const sentence = (await listed.filter({ hasText: 'Deep Lock' }).innerText()).replace(/^[^:]*: /, '');
  expect(sentence).toContain('Too late: 3000 days');
  await page.goto(`${home}/see`);
  await seen(page);
  await expect(candidate(page, 'Deep Lock')).toHaveAccessibleName(/excluded$/);
  await expect(page.getByText(sentence)).toBeVisible();
  await candidate(page, 'Deep Lock').check({ force: true });
  await expect(page.getByText('Deep Lock is excluded by your limits.')).toBeVisible();
  await expect(page.getByText(sentence)).toHaveCount(1);
  for (const size of [PHONE, DESK]) {
    await page.setViewportSize(size);
    await accessible(page);
  }
  await page.getByRole('button', { name: 'Choose this for Cabinets all the same' }).click();
  await saved(page);
  await expect(page.getByText(/Deep Lock\s+is chosen/)).toBeVisible();
  await expect(page.getByText('Deep Lock is excluded by your limits.')).toBeVisible();
  await page.getByRole('button', { name: 'Sheet', exact: true }).click();
  await expect(page.getByText(sentence)).toBeVisible();
});

test('what is tried on is there again after a reload and in a new tab, and says that it is not in the job', async ({
  page,
  context,
}) => {
  await page.setViewportSize(DESK);
  await marked(page);
  await seen(page);
  await candidate(page, 'Deep Lock').check({ force: true });
  await expect(page.getByText('Tried on in this browser only')).toBeVisible();
  await page.reload();
  await expect(candidate(page, 'Deep Lock')).toBeChecked();
  const other = await context.newPage();
  await other.setViewportSize(DESK);
  await other.goto(page.url());
  await expect(candidate(other, 'Deep Lock')).toBeChecked();
  await expect(other.getByRole('button', { name: 'Cabinets Deep Lock, tried on' })).toBeVisible();
  await other.getByRole('button', { name: 'Choose this for Cabinets' }).click();
  await expect(other.getByText('Tried on in this browser only')).toBeHidden();
  await expect(other.getByRole('button', { name: 'Cabinets Deep Lock', exact: true })).toBeVisible();
});

test('the photo that was marked or looked at last is the one that is seen', async ({ page }) => {
  await page.setViewportSize(DESK);
  const home = await marked(page);
  await expect(page.getByRole('heading', { name: 'See it in “Kitchen by day”' })).toBeVisible();
  await expect(page).toHaveURL(new RegExp(`see\\?photo=${PHOTO}&room=`));
  const parts = page.getByRole('navigation', { name: 'Parts of the job' });
  await page.goto(`${home}/photos/kitchen-lamp/mark`);
  await expect(page.getByRole('heading', { name: /./ }).first()).toBeVisible();
  await parts.getByRole('link', { name: 'See' }).click();
  await expect(page.getByRole('heading', { name: 'See it in “Kitchen by lamp light”' })).toBeVisible();
  // Looked at another, gone elsewhere and come back.
  await page
    .getByRole('navigation', { name: 'Photos of rooms' })
    .getByRole('link', { name: 'Kitchen by day' })
    .click();
  await expect(page.getByRole('heading', { name: 'See it in “Kitchen by day”' })).toBeVisible();
  await parts.getByRole('link', { name: 'Light' }).click();
  await parts.getByRole('link', { name: 'See' }).click();
  await expect(page.getByRole('heading', { name: 'See it in “Kitchen by day”' })).toBeVisible();
});

/** A saved picture: its name and pixels. */
async function download(page: Page, button: string) {
  const coming = page.waitForEvent('download');
  await page.getByRole('button', { name: button }).click();
  const file = await coming;
  return { name: file.suggestedFilename(), bytes: fs.readFileSync((await file.path()) as string) };
}

test('a sheet is saved as it is seen, every candidate named, and files are named by what they show', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await marked(page);
  await seen(page);
  await candidate(page, 'Deep Lock').check({ force: true });
  await expect(page.getByText('After: simulated, Cabinets in Ternhollow TH-19 Deep Lock')).toBeVisible();
  const pair = await download(page, 'Save before and after');
  expect(pair.name).toBe(
    'canal-side-kitchen-sample-kitchen-by-day-cabinets-deep-lock-daylight-before-and-after.png',
  );
  await page.getByRole('button', { name: 'Sheet', exact: true }).click();
  await expect(stage(page).locator('.pane')).toHaveCount(6);
  const sheet = await download(page, 'Save the sheet');
  expect(sheet.name).toBe('canal-side-kitchen-sample-kitchen-by-day-6-for-cabinets-daylight-sheet.png');
  const { width, height } = await sharp(sheet.bytes).metadata();
  // Three in a row and two rows, at full size as far as a canvas goes.
  expect(width).toBeGreaterThan(3 * 1400);
  expect(height).toBeGreaterThan(2 * 930 + 150);
  expect(width * height).toBeLessThan(16_777_216);
  // Six different cabinets in one room: the same window in all of them.
  const gap = 34;
  const across = (width - 4 * gap) / 3;
  const fronts = new Set<string>();
  for (const column of [0, 1, 2]) {
    const box = {
      left: Math.round(gap + column * (across + gap) + 0.35 * across),
      top: Math.round(0.34 * height),
      width: 30,
      height: 30,
    };
    const { channels } = await sharp(await sharp(sheet.bytes).extract(box).png().toBuffer()).stats();
    fronts.add(channels.map(({ mean }) => Math.round(mean)).join());
  }
  expect(fronts.size).toBe(3);
});
