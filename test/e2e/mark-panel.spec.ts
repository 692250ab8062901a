/** What stands beside the picture while surfaces are marked: corners of a plane, what is taken from others, tools in sight. */
import { expect, test } from '@playwright/test';
import sharp from 'sharp';
import { accessible, addSurface, DESK, fitsWidth, newJob, PHONE, saved } from './desk.ts';
import {
  done,
  draw,
  jobId,
  loaded,
  marksOf,
  onScreen,
  pick,
  picture,
  ready,
  sampleKitchen,
  selected,
  unmarkedSample,
} from './marking-desk.ts';

test('corners say where a floor lies, by pointer and by keys, and count once somebody says so', async ({
  page,
}) => {
  await sampleKitchen(page);
  await pick(page, 'Floor');
  await page.getByRole('button', { name: 'Set four corners' }).click();
  await expect(page.getByRole('alert').filter({ hasText: 'Mark Floor in the picture first.' })).toBeVisible();
  await draw(page, [
    [500, 890],
    [900, 980],
  ]);
  await page.getByRole('button', { name: 'Set four corners' }).click();
  await expect(page.getByRole('button', { name: / corner, at .* not placed yet/ })).toHaveCount(4);
  await expect(page.getByText('Hollow corners are guesses')).toBeVisible();
  const right = page.getByRole('button', { name: 'Corners are right' });
  await expect(right).toBeDisabled();
  await expect(page.getByText('Place at least two corners yourself')).toBeVisible();
  await accessible(page);
  const corner = page.getByRole('button', { name: /^Top left corner/ });
  const placeOf = async () => {
    const [, x, y] = /at (\d+), (\d+)/.exec((await corner.getAttribute('aria-label')) ?? '') ?? [];
    return [Number(x), Number(y)];
  };
  const [x, y] = await placeOf();
  await corner.focus();
  await page.keyboard.press('Shift+ArrowRight');
  await page.keyboard.press('ArrowDown');
  expect(await placeOf()).toEqual([x + 10, y + 1]);
  await expect(page.getByText('1 of 4 corners placed. Next: top right.').first()).toBeVisible();

  const box = await corner.boundingBox();
  if (!box) throw new Error('expected a corner to take hold of');
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width / 2 + 40, box.y + box.height / 2 + 12, { steps: 4 });
  await page.mouse.up();
  const factor = Number(await picture(page).getAttribute('data-scale'));
  const moved = await placeOf();
  expect(Math.abs(moved[0] - (x + 10 + 40 / factor))).toBeLessThanOrEqual(1);
  expect(Math.abs(moved[1] - (y + 1 + 12 / factor))).toBeLessThanOrEqual(1);
  await page.keyboard.press('Control+z');
  expect(await placeOf()).toEqual([x + 10, y + 1]);

  await page.getByLabel('Top side is').fill('2400');
  await page.getByLabel('Top side is').blur();
  // 2400 mm over 25.4 mm to the inch (exact by definition).
  await expect(page.getByText('94.5 in')).toBeVisible();
  // Begun is not said: nothing of it is in the job.
  await expect(page.getByRole('banner').getByRole('status')).toHaveText('Corners in hand');
  expect((await marksOf(page, 'kitchen-day', 'Floor'))?.plane).toBeNull();
  // One corner of four is nobody's rectangle.
  await expect(right).toBeDisabled();
  await expect(page.getByText('Place at least one more corner yourself')).toBeVisible();
  await page.getByRole('button', { name: /^Bottom right corner/ }).focus();
  await page.keyboard.press('Enter');
  await right.click();
  await expect(page.getByText(/A rectangle of 2,400 by 2,000 mm/)).toBeVisible();
  await saved(page);
  const plane = (await marksOf(page, 'kitchen-day', 'Floor'))?.plane;
  expect(plane?.width).toBe(2400);
  expect(plane?.corners[0]).toEqual([x + 10, y + 1]);
});

test('four corners are tapped in turn; what no rectangle looks like is refused and kept, over a reload too', async ({
  page,
}) => {
  test.setTimeout(240_000);
  await sampleKitchen(page);
  await pick(page, 'Floor');
  await draw(page, [
    [500, 890],
    [900, 980],
  ]);
  await page.getByRole('button', { name: 'Set four corners' }).click();
  await expect(page.getByRole('heading', { name: 'Four corners of Floor' })).toBeVisible();
  const tapped = async (x: number, y: number) => page.mouse.click(...(await onScreen(page, [x, y])));
  await tapped(1000, 780);
  await tapped(1250, 1000);
  await expect(page.getByText('2 of 4 corners placed. Next: bottom right.').first()).toBeVisible();
  await page.reload();
  await ready(page);
  await expect(page.getByRole('button', { name: 'Set four corners' })).toHaveCount(0);
  await page.getByRole('button', { name: 'Go on with the corners' }).click();
  await tapped(1150, 780);
  await tapped(900, 1000);
  const refused = page.getByRole('alert').filter({ hasText: 'Two sides cross each other.' });
  await expect(refused).toBeVisible();
  await accessible(page);
  await page.getByRole('button', { name: 'Corners are right' }).click();
  await expect(refused).toBeVisible();
  await expect(page.getByRole('banner').getByRole('status')).toHaveText('Corners in hand');
  expect((await marksOf(page, 'kitchen-day', 'Floor'))?.plane).toBeNull();
  // The second and the third corner were taken for each other.
  await page.getByRole('button', { name: 'Step back' }).click();
  await page.getByRole('button', { name: 'Step back' }).click();
  await page.getByRole('button', { name: /^Top right corner/ }).focus();
  for (let i = 0; i < 22; i += 1) await page.keyboard.press('Shift+ArrowUp');
  await tapped(1250, 1000);
  await tapped(900, 1000);
  // Another surface is picked: what is placed and can be is kept as it stands.
  await expect(page.getByText('All four corners are placed.').first()).toBeVisible();
  await pick(page, 'Walls');
  await saved(page);
  const plane = (await marksOf(page, 'kitchen-day', 'Floor'))?.plane;
  expect(plane?.corners.map(([px]) => Math.round(px / 50) * 50)).toEqual([1000, 1250, 1250, 900]);
  await page.keyboard.press('Control+z');
  await saved(page);
  expect((await marksOf(page, 'kitchen-day', 'Floor'))?.plane).toBeNull();
});

test('the next corner may be tapped beside one that is placed, and a second tap on one places none', async ({
  page,
}) => {
  await sampleKitchen(page);
  await pick(page, 'Floor');
  await draw(page, [
    [500, 890],
    [900, 980],
  ]);
  await page.getByRole('button', { name: 'Set four corners' }).click();
  await expect(page.getByRole('heading', { name: 'Four corners of Floor' })).toBeVisible();
  const tapped = async (x: number, y: number) => page.mouse.click(...(await onScreen(page, [x, y])));
  await tapped(1000, 780);
  await tapped(1000, 780);
  await expect(page.getByText('The top left corner lies there. 1 of 4 corners placed.')).toBeVisible();
  // Within the reach of a finger of the first one.
  await tapped(1016, 783);
  await expect(page.getByText('2 of 4 corners placed. Next: bottom right.').first()).toBeVisible();
  await expect(page.getByRole('button', { name: /^Top right corner, at 101[5-7], 78[2-4] / })).toBeVisible();
});

test('what a stroke takes from another surface is said at once and given back with a step back', async ({
  page,
}) => {
  await sampleKitchen(page);
  await pick(page, 'Floor');
  await page.getByRole('button', { name: 'Straight outline' }).click();
  const corners = [
    [400, 880],
    [1000, 880],
    [1000, 1040],
    [400, 1040],
  ];
  for (const place of [...corners, corners[0]]) await page.mouse.click(...(await onScreen(page, place)));
  await selected(page);
  await pick(page, 'Walls');
  await page.getByRole('button', { name: 'By hand' }).click();
  await page.getByLabel('Width of the ring').fill('60');
  await draw(page, [
    [300, 960],
    [700, 960],
  ]);
  // A ring as wide on the screen as 60 pixels, over half of a field of 600 by 160 pixels of the picture.
  const radius = 30 / Number(await picture(page).getAttribute('data-scale'));
  const part = (300 * 2 * radius + (Math.PI * radius * radius) / 2) / (600 * 160);
  const claim = page.getByRole('status').filter({ hasText: /^Takes \d+ % of Floor\./ });
  await expect(claim).toBeVisible();
  const told = Number(/(\d+) %/.exec((await claim.textContent()) ?? '')?.[1]);
  expect(Math.abs(told - 100 * part)).toBeLessThan(2);
  await accessible(page);
  await page.getByRole('button', { name: 'Step back' }).click();
  await selected(page);
  await expect(claim).toHaveCount(0);
  await page.getByRole('button', { name: 'Redo the step taken back' }).click();
  await expect(claim).toBeVisible();
  await done(page);
  await expect(claim).toHaveCount(0);
  await expect(
    page.getByRole('status').filter({ hasText: 'Floor gave way where the two lay over each other.' }),
  ).toBeVisible();
});

test('with ten surfaces, two of one name, tools and “Done” are in sight on a desk and on a phone', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await newJob(page, 'Ten surfaces');
  for (const kind of [
    'walls',
    'floor',
    'ceiling',
    'counter',
    'backsplash',
    'walls',
    'trim',
    'island',
    'cabinets',
  ])
    await addSurface(page, kind);
  await addSurface(page, 'floor');
  await page.goto(`/jobs/${jobId(page)}/photos`);
  const buffer = await sharp({
    create: { width: 900, height: 600, channels: 3, background: { r: 90, g: 90, b: 90 } },
  })
    .composite([
      {
        input: { create: { width: 900, height: 300, channels: 3, background: '#d0d0d0' } },
        gravity: 'north',
      },
    ])
    .png()
    .toBuffer();
  await page.getByLabel('Add photos').setInputFiles({ name: 'room.png', mimeType: 'image/png', buffer });
  const photos = async () => Object.keys((await loaded(page)).job.photos);
  await expect.poll(async () => (await photos()).length, { timeout: 30_000 }).toBe(1);
  await page.goto(`/jobs/${jobId(page)}/photos/${(await photos())[0]}/mark`);
  await ready(page);
  const list = page.getByRole('list', { name: 'Surfaces' });
  const names = (await list.getByRole('listitem').allTextContents()).map((text) =>
    text.replace(/not marked/, '').trim(),
  );
  expect(names).toHaveLength(10);
  expect(new Set(names).size).toBe(10);
  const [walls] = names.filter((name) => / 2$/.test(name));
  await list.getByRole('button', { name: new RegExp(`^${walls}`) }).click();
  await draw(page, [[450, 150]]);
  const tools = ['Done', 'Step back', 'Add', 'Take away'];
  for (const size of [DESK, PHONE]) {
    await page.setViewportSize(size);
    await page.evaluate(() => window.scrollTo(0, 0));
    for (const name of tools)
      await expect(page.getByRole('button', { name, exact: true })).toBeInViewport({ ratio: 1 });
    await fitsWidth(page);
    await accessible(page);
  }
  await done(page);
  await expect(page.getByRole('status').filter({ hasText: `${walls} saved` })).toBeVisible();
});

test('after the first stroke it is said once how to go on; what is marked is seen on this very photo', async ({
  page,
}) => {
  await sampleKitchen(page);
  await page.goto(`/jobs/${jobId(page)}/photos/kitchen-lamp/mark`);
  await ready(page);
  const hint = page.getByText(/^Is something left out\? Draw along it, right to its ends\./);
  const see = page.getByRole('link', { name: 'See finishes on this photo' });
  await pick(page, 'Cabinets');
  await expect(hint).toHaveCount(0);
  await expect(see).toHaveCount(0);
  await draw(page, [
    [400, 620],
    [790, 610],
  ]);
  await expect(hint).toBeVisible();
  await accessible(page);
  await page.setViewportSize(PHONE);
  await accessible(page);
  await fitsWidth(page);
  await page.setViewportSize(DESK);
  await draw(page, [
    [274, 300],
    [600, 260],
  ]);
  await expect(hint).toHaveCount(0);
  await done(page);
  await draw(page, [[700, 800]]);
  await expect(hint).toHaveCount(0);
  await see.press('Enter');
  await expect(page.getByRole('heading', { name: 'See it in “Kitchen by lamp light”' })).toBeVisible();
});

test('a picture that takes long says so, and a stroke drawn meanwhile is seen to wait', async ({ page }) => {
  await page.setViewportSize(DESK);
  await unmarkedSample(page);
  const read = page.waitForResponse(/\/working\.png$/);
  await page.goto(`/jobs/${jobId(page)}/photos/kitchen-day`);
  await (await read).finished();
  await expect(page.getByText('Reading the picture')).toHaveCount(0, { timeout: 60_000 });
  await page.clock.install();
  // The page has the picture already; what makes it ready for strokes has to wait for it.
  const held = Promise.withResolvers<void>();
  await page.route(/\/working\.png$/, async (route) => {
    await held.promise;
    await route.continue();
  });
  await page.getByRole('link', { name: 'Mark surfaces' }).click();
  const preparing = page.getByText(/^Getting the picture ready/);
  const long = page.getByText(/^This takes longer than usual, as it does with grainy pictures/);
  const word = page.getByRole('banner').getByRole('status');
  await expect(preparing).toHaveText('Getting the picture ready');
  await expect(long).toHaveCount(0);
  await page.mouse.click(...(await onScreen(page, [600, 620])));
  await expect(preparing).toHaveText('Getting the picture ready: 1 stroke waits for it');
  await expect(word).toHaveText('Marks in hand');
  await page.clock.fastForward(6500);
  await expect(long).toBeVisible();
  await accessible(page);
  // Elsewhere meanwhile: the stroke is worked off and saved once the picture is ready.
  await page.getByRole('banner').getByRole('link', { name: 'Photos' }).click();
  await expect(word).toHaveText('Saving');
  held.resolve();
  await expect(word).toHaveText('Saved', { timeout: 60_000 });
  expect(Object.keys((await loaded(page)).job.photos['kitchen-day'].masks ?? {})).toHaveLength(1);
});
