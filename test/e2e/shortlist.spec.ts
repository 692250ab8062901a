import { expect, test } from '@playwright/test';
import {
  accessible,
  addSurface,
  DESK,
  fitsWidth,
  newJob,
  part,
  PHONE,
  sampleJob,
  saved,
  tap,
} from './desk.ts';

const PICTURES = 'static/sample';

test('someone with a room photo, a sample board and an inspiration picture gets a ranked shortlist', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await newJob(page, 'From my own pictures');
  await addSurface(page, 'cabinets');
  await addSurface(page, 'counter');
  await part(page, 'Light');
  const lights = page.getByRole('region', { name: 'Lights of this room' });
  await lights.getByText('Add a light').click();
  await lights.getByRole('button', { name: /Morning at the window/ }).click();
  await lights.getByRole('button', { name: /Evening under the pendants/ }).click();

  await part(page, 'Photos');
  const files = ['kitchen-day.jpg', 'board.jpg', 'inspiration.jpg', 'slab-busy.jpg'].map(
    (name) => `${PICTURES}/${name}`,
  );
  await page.getByLabel('Add photos').setInputFiles(files);
  await expect(page.getByRole('listitem').filter({ hasText: 'Colours estimated' })).toHaveCount(4, {
    timeout: 30_000,
  });

  // The board: white card, then the patches by themselves.
  await page.getByRole('link', { name: 'board', exact: true }).click();
  await page.getByRole('button', { name: 'White paper' }).click();
  await tap(page, 0.745, 0.79);
  await expect(page.getByRole('button', { name: 'Take away' })).toBeVisible();
  await page.getByRole('button', { name: 'Find the patches' }).click();
  await page.getByRole('button', { name: 'Measure these 7' }).click();
  await page.getByRole('button', { name: 'Keep all 7 as swatches' }).click();
  await expect(page.getByText('Sample of')).toHaveCount(7);

  // The slab becomes the counter's finish, with all its colours.
  await part(page, 'Photos');
  await page.getByRole('link', { name: 'slab-busy' }).click();
  await page.getByRole('button', { name: 'White paper' }).click();
  await tap(page, 0.88, 0.8);
  await expect(page.getByRole('button', { name: 'Take away' })).toBeVisible();
  await page.getByRole('button', { name: 'Measure a place' }).click();
  await tap(page, 0.62, 0.5);
  await page.getByRole('button', { name: 'Stop marking' }).click();
  await page.getByLabel('has several colours').check();
  await page.getByLabel('Keep place 1 as a swatch').selectOption('new');
  await part(page, 'Room');
  await page.getByRole('group', { name: 'State of Counter' }).getByLabel('fixed').check();
  await page.getByLabel('Finish on Counter').selectOption({ label: 'place 1' });

  // The inspiration's green fronts are the aim.
  await part(page, 'Photos');
  await page.getByRole('link', { name: 'inspiration' }).click();
  await page.getByRole('button', { name: 'Measure a place' }).click();
  await tap(page, 0.74, 0.68);
  await page.getByRole('button', { name: 'Stop marking' }).click();
  await page.getByLabel('Aim a surface at place 1').selectOption({ label: 'Cabinets' });

  await part(page, 'Shortlist');
  await page.getByRole('button', { name: 'All paints' }).click();
  const boards = page.getByRole('group', { name: /^Candidates for Cabinets/ }).getByRole('button');
  await expect(boards).toHaveCount(7);
  // The third strip is the deep green; the aim is a deep green.
  await expect(boards.first()).toHaveAccessibleName(/^1\. patch 3\./);
  await expect(page.getByRole('heading', { name: '1. patch 3' })).toBeVisible();
  await saved(page);

  // Nothing is lost by a reload, and the order is the same.
  const order = await boards.evaluateAll((list) => list.map((board) => board.getAttribute('aria-label')));
  await page.reload();
  await expect(boards).toHaveCount(7);
  expect(await boards.evaluateAll((list) => list.map((board) => board.getAttribute('aria-label')))).toEqual(
    order,
  );
});

test('the sample job ranks the deep greens first, says what is too close to call and why one is out', async ({
  page,
}) => {
  await sampleJob(page);
  await part(page, 'Shortlist');
  const boards = page.getByRole('group', { name: /^Candidates for Cabinets/ }).getByRole('button');
  await expect(boards).toHaveCount(10);
  const names = await boards.evaluateAll((list) =>
    list.map((board) => board.getAttribute('aria-label') ?? ''),
  );
  expect(
    names
      .slice(0, 2)
      .map((name) => /Deep Lock|Lock Keeper/.exec(name)?.[0])
      .sort(),
  ).toEqual(['Deep Lock', 'Lock Keeper']);
  await expect(page.getByText('Bottle Shard: Too late')).toBeVisible();

  // Another weight, another order: price alone puts the cheapest first.
  for (const words of ['Near the aim', 'Sits well with what stays', 'Holds its colour', 'Comes in time']) {
    await page.getByRole('slider', { name: words }).fill('0');
  }
  await expect(boards.first()).toHaveAccessibleName(/^1\. Sailcloth/);
  for (let step = 0; step < 4; step += 1) await page.getByRole('button', { name: 'Undo' }).click();
  await expect(boards.first()).toHaveAccessibleName(
    new RegExp(`^${names[0].slice(0, 8).replaceAll('.', '\\.')}`),
  );

  await page.getByRole('button', { name: 'Choose it' }).click();
  await expect(page.getByText('is chosen for Cabinets')).toBeVisible();
  await page.getByRole('button', { name: 'Open it again' }).click();
  await expect(boards).toHaveCount(10);
});

test('the strip of lights changes what every swatch on the page looks like', async ({ page }) => {
  await sampleJob(page);
  await part(page, 'Swatches');
  const first = page
    .getByRole('listitem')
    .filter({ hasText: 'Reed Hollow' })
    .getByRole('img')
    .locator('span')
    .first();
  const daylight = await first.evaluate((face) => getComputedStyle(face).backgroundColor);
  await page.getByRole('radio', { name: /Pendants in the evening/ }).check({ force: true });
  await expect
    .poll(() => first.evaluate((face) => getComputedStyle(face).backgroundColor))
    .not.toBe(daylight);
  await page.getByRole('radio', { name: /Plain daylight/ }).check({ force: true });
  await expect.poll(() => first.evaluate((face) => getComputedStyle(face).backgroundColor)).toBe(daylight);
});

test('every page of the sample job is accessible and fits a phone and a desktop', async ({ page }) => {
  test.setTimeout(150_000);
  await sampleJob(page);
  const home = new URL(page.url()).pathname;
  for (const size of [PHONE, DESK]) {
    await page.setViewportSize(size);
    for (const path of ['', '/photos', '/photos/board', '/photos/inspiration', '/swatches', '/shortlist']) {
      await page.goto(home + path);
      await expect(page.locator('h1').first()).toBeVisible();
      await page.waitForLoadState('networkidle');
      if (path === '/shortlist') await expect(page.getByRole('button', { name: 'Choose it' })).toBeVisible();
      // What is folded away counts too.
      await page.evaluate(() => document.querySelectorAll('details').forEach((fold) => (fold.open = true)));
      await fitsWidth(page);
      await accessible(page);
    }
    await page.goto('/');
    await fitsWidth(page);
    await accessible(page);
  }
});

test('no request leaves this computer and no error is logged', async ({ page, baseURL }) => {
  const ours = new URL(baseURL ?? '').host;
  const strays: string[] = [];
  page.on('request', (request) => {
    const url = new URL(request.url());
    if (url.protocol.startsWith('http') && url.host !== ours) strays.push(request.url());
  });
  page.on('console', (message) => message.type() === 'error' && strays.push(message.text()));
  page.on('pageerror', (error) => strays.push(error.message));
  await sampleJob(page);
  for (const name of ['Photos', 'Swatches', 'Shortlist'] as const) {
    await part(page, name);
    await page.waitForLoadState('networkidle');
  }
  expect(strays).toEqual([]);
});
