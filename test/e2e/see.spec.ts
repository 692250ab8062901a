import fs from 'node:fs';
import { expect, test } from '@playwright/test';
import sharp from 'sharp';
import { deltaE2000, type Lab } from '#lib/colour/index.ts';
import { accessible, DESK, fitsWidth, PHONE, saved } from './desk.ts';
import {
  marked,
  stage,
  candidate,
  seen,
  look,
  apart,
  FRONT,
  FRONT_SPOT,
  WINDOW,
  readings,
  savedPair,
  tapFront,
} from './see-desk.ts';

// Taking surfaces apart and painting without a graphics processor takes its time on a busy machine.
test.beforeEach(() => test.setTimeout(180_000));

test('candidates go on by click and arrow key, before is a press away, and the choice stays in the tab', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await marked(page);
  await seen(page);
  // The leading candidate is on without asking; what is photographed stays one of the choices.
  await expect(
    page.getByRole('group', { name: 'What is on Cabinets' }).getByRole('radio').nth(1),
  ).toBeChecked();
  await candidate(page, 'As photo').check({ force: true });
  await expect(page.getByText(/^The photo.*own light, corrected.* towards plain daylight/)).toBeVisible();
  const before = { front: await look(page, FRONT), window: await look(page, WINDOW) };

  await candidate(page, 'Deep Lock').check({ force: true });
  await seen(page);
  await expect(
    page.getByText('After: simulated, Cabinets in Ternhollow TH-19 Deep Lock, satin'),
  ).toBeVisible();
  await expect.poll(async () => apart(await look(page, FRONT), before.front)).toBeGreaterThan(40);
  // What is not marked stays as it was.
  expect(apart(await look(page, WINDOW), before.window)).toBeLessThan(2);
  const deep = await look(page, FRONT);

  await candidate(page, 'Deep Lock').focus();
  await page.keyboard.press('ArrowRight');
  await expect(candidate(page, 'Deep Lock')).not.toBeChecked();
  await expect.poll(async () => apart(await look(page, FRONT), deep)).toBeGreaterThan(6);
  await page.keyboard.press('ArrowLeft');
  await expect(candidate(page, 'Deep Lock')).toBeChecked();
  await expect.poll(async () => apart(await look(page, FRONT), deep)).toBeLessThan(2);

  // A picture that shows what was asked is left alone.
  const idle = await page.evaluate(async () => {
    const { prototype } = ImageBitmapRenderingContext;
    const draw = prototype.transferFromImageBitmap;
    let drawn = 0;
    prototype.transferFromImageBitmap = function (bitmap) {
      drawn += 1;
      draw.call(this, bitmap);
    };
    await new Promise((resolve) => setTimeout(resolve, 1500));
    prototype.transferFromImageBitmap = draw;
    return drawn;
  });
  expect(idle).toBe(0);

  // Held: by the button, by Space on the picture, by a long press.
  const hold = page.getByRole('button', { name: 'Hold for before' });
  await hold.hover();
  await page.mouse.down();
  await expect.poll(async () => apart(await look(page, FRONT), before.front)).toBeLessThan(3);
  await page.mouse.up();
  await expect.poll(async () => apart(await look(page, FRONT), deep)).toBeLessThan(3);
  await stage(page).focus();
  await page.keyboard.down(' ');
  await expect(page.getByText('Before: as photographed')).toBeVisible();
  await page.keyboard.up(' ');
  await expect(page.getByText('Before: as photographed')).toBeHidden();

  await page.reload();
  await seen(page);
  await expect(candidate(page, 'Deep Lock')).toBeChecked();
  await page.getByRole('button', { name: 'Choose this for Cabinets' }).click();
  await saved(page);
  await expect(page.getByText(/Deep Lock\s+is chosen/)).toBeVisible();
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(page.getByRole('button', { name: 'Choose this for Cabinets' })).toBeVisible();
});

test('what is said of the picture never runs ahead of it', async ({ page }) => {
  await page.setViewportSize(DESK);
  await marked(page);
  await seen(page);
  await candidate(page, 'Sailcloth').check({ force: true });
  await expect(page.getByText('After: simulated, Cabinets in Oddmoor OM-101 Sailcloth')).toBeVisible();
  // Every frame of the change: what stands under the picture, and how light the island's front is in it.
  const frames = page.evaluate(async () => {
    const pane = document.querySelector('.pane') as HTMLElement;
    const words = pane.parentElement?.querySelector('figcaption') as HTMLElement;
    const small = Object.assign(document.createElement('canvas'), { width: 1, height: 1 });
    const context = small.getContext('2d', { willReadFrequently: true }) as CanvasRenderingContext2D;
    const taken: { words: string; light: number }[] = [];
    const until = performance.now() + 4000;
    while (performance.now() < until) {
      await new Promise(requestAnimationFrame);
      const canvas = pane.querySelector('canvas') as HTMLCanvasElement;
      const [x, y] = [0.32 * canvas.width, 0.66 * canvas.height];
      context.drawImage(canvas, x, y, 40, 40, 0, 0, 1, 1);
      taken.push({ words: words.innerText, light: context.getImageData(0, 0, 1, 1).data[1] });
    }
    return taken;
  });
  await candidate(page, 'Deep Lock').check({ force: true });
  await expect(page.getByText('After: simulated, Cabinets in Ternhollow TH-19 Deep Lock')).toBeVisible();
  await candidate(page, 'Sailcloth').check({ force: true });
  const said = await frames;
  const lightIn = (name: string) =>
    said.filter(({ words }) => words.includes(name)).map(({ light }) => light);
  // The very frame in which a picture comes may still have the words before it.
  const late = (light: readonly number[], wrong: (value: number) => boolean) => light.filter(wrong).length;
  expect(lightIn('Deep Lock').length).toBeGreaterThan(2);
  expect(lightIn('Sailcloth').length).toBeGreaterThan(2);
  expect(late(lightIn('Deep Lock'), (value) => value > 130)).toBeLessThanOrEqual(2);
  expect(late(lightIn('Sailcloth'), (value) => value < 130)).toBeLessThanOrEqual(2);
});

test('before lies beside after, under a wipe, and up to six candidates in one view and light', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await marked(page);
  await seen(page);
  await candidate(page, 'Deep Lock').check({ force: true });
  await page.getByRole('button', { name: 'Side by side' }).click();
  await expect(stage(page).locator('.pane')).toHaveCount(2);
  await expect
    .poll(async () => apart(await look(page, FRONT, 0), await look(page, FRONT, 1)))
    .toBeGreaterThan(40);
  const [left, right] = [await look(page, FRONT, 0), await look(page, FRONT, 1)];

  await page.getByRole('button', { name: 'Wipe' }).click();
  const wipe = page.getByRole('slider', { name: 'Where the wipe stands' });
  await wipe.fill('100');
  await expect.poll(async () => apart(await look(page, FRONT), left)).toBeLessThan(6);
  await wipe.press('Home');
  await expect.poll(async () => apart(await look(page, FRONT), right)).toBeLessThan(6);
  const box = await stage(page).locator('.pane').first().boundingBox();
  if (!box) throw new Error('expected a picture on the page');
  await page.mouse.move(box.x + 4, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(box.x + 0.75 * box.width, box.y + box.height / 2, { steps: 4 });
  await page.mouse.up();
  await expect(wipe).toHaveValue('75');

  await page.getByRole('button', { name: 'Sheet' }).click();
  await expect(stage(page).locator('.pane')).toHaveCount(6);
  const sheet = page.getByRole('group', { name: 'Candidates for Cabinets on the sheet' });
  await expect(sheet.getByRole('checkbox', { checked: true })).toHaveCount(6);
  await expect(sheet.getByRole('checkbox', { checked: false }).first()).toBeDisabled();
  await sheet.getByRole('checkbox', { checked: true }).nth(2).uncheck({ force: true });
  await expect(stage(page).locator('.pane')).toHaveCount(5);
  await sheet.getByRole('checkbox', { name: /^Raw Flowerpot/ }).check({ force: true });
  await expect(page.getByText('Oddmoor OM-211 Raw Flowerpot, satin')).toBeVisible();
  // A tap reads the candidate in whose picture it falls.
  const told = page.getByRole('region', { name: 'Cabinets' }).first();
  const afterIn = async (pane: number): Promise<Lab> => {
    const tapped = await stage(page).locator('.pane').nth(pane).boundingBox();
    if (!tapped) throw new Error('expected a picture on the page');
    const [x, y] = FRONT_SPOT;
    await page.mouse.click(tapped.x + x * tapped.width, tapped.y + y * tapped.height);
    const name = await stage(page).locator('figcaption').nth(pane).innerText();
    await expect(told).toContainText(`Put on it here: ${name}.`);
    await expect(told.getByText('After', { exact: true })).toBeVisible({ timeout: 30_000 });
    return (await readings(told)).after;
  };
  const [best, flowerpot] = [await afterIn(0), await afterIn(5)];
  expect(deltaE2000(best, flowerpot)).toBeGreaterThan(10);
  await told.getByRole('button', { name: 'Close' }).click();
  // One view for all: zooming one zooms the others.
  const wall = [0.4, 0.4, 0.2, 0.2] as const;
  const whole = [await look(page, wall, 0), await look(page, wall, 5)];
  await page.getByRole('button', { name: '1:1' }).click();
  for (const pane of [0, 5])
    await expect
      .poll(async () => apart(await look(page, wall, pane), whole[pane === 0 ? 0 : 1]))
      .toBeGreaterThan(4);

  // Another photo has nothing to put on a sheet yet: the room itself is there.
  await page
    .getByRole('navigation', { name: 'Photos of rooms' })
    .getByRole('link', { name: 'Kitchen by lamp light' })
    .click();
  await expect(stage(page).locator('.pane')).toHaveCount(1);
  await expect(page.getByText(/^The photo.*own light, corrected.* towards plain daylight/)).toBeVisible();
});

test('a tap says what is there, its colour now and after, and how it sits with what it touches', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await marked(page);
  await seen(page);
  await candidate(page, 'Deep Lock').check({ force: true });
  await tapFront(page);
  const told = page.getByRole('region', { name: 'Cabinets' }).first();
  await expect(told.getByText(/L\* \d+\.\d/).first()).toBeVisible({ timeout: 30_000 });
  await expect(told).toContainText('Ternhollow TH-19 Deep Lock, satin');
  await expect(told).toContainText(/It covers \d+ % of the picture/);
  await expect(told).toContainText(/LRV \d+ as it is lit here/);
  await expect(told).toContainText(/LRV \d+; colour measured in the photo “Sample board”/);
  await expect(told).toContainText(/Change\s+much darker.*Difference \d+\.\d \(CIEDE2000\)/);
  // What is read is what is drawn: the saved pictures have these colours at that place.
  const byDay = await readings(told);
  const saved = await savedPair(page);
  for (const [side, lab] of [byDay.now, byDay.after].entries())
    expect(deltaE2000(saved.colour(side, FRONT_SPOT), lab)).toBeLessThan(0.3);
  // After is no daylight colour of the finish: it is lit.
  expect(deltaE2000(byDay.after, byDay.finish)).toBeGreaterThan(1);
  await told.getByText('more, with shorter edges').click();
  const shares = (await told.getByText(/% of its edges$/).allInnerTexts()).map((text) => parseInt(text, 10));
  expect(shares.length).toBeGreaterThanOrEqual(3);
  expect(shares).toEqual(shares.toSorted((p, q) => q - p));
  await expect(told).toContainText('Counter');
  await expect(told).toContainText('BS 8300-2:2018');
  await expect(told).toContainText('Local codes decide');

  // All of it follows the light that is shown.
  await page.getByRole('radio', { name: /Pendants in the evening/ }).check({ force: true });
  await expect(told).toContainText('under “Pendants in the evening”');
  await expect(told).toContainText('This spot in the picture, under “Pendants in the evening”');
  await expect(told).toContainText(/Under “Pendants in the evening” it looks [a-z ]+: .*darker/);
  const evening = await readings(told);
  for (const side of ['now', 'after'] as const) expect(evening[side].L).toBeLessThan(byDay[side].L - 3);
  expect(evening.finish).toEqual(byDay.finish);
  await told.getByText('How sure the photo’s own colour is').click();
  await expect(told).toContainText('As photographed and corrected, by plain daylight');
  // Where nothing is put on there is one colour and no change.
  await candidate(page, 'As photo').check({ force: true });
  await expect(told).toContainText('nothing is put on here');
  await expect(told.getByText('Change', { exact: true })).toBeHidden();

  // By the keys: the cross-hair starts in the middle of the picture.
  await told.getByRole('button', { name: 'Close' }).click();
  await expect(page.getByText('This spot in the picture')).toBeHidden();
  await stage(page).focus();
  for (let i = 0; i < 6; i += 1) await page.keyboard.press('Shift+ArrowDown');
  await page.keyboard.press('Enter');
  await expect(page.getByRole('heading', { name: 'Floor' }).first()).toBeVisible();
});

test('the sheen that is there now can be said, and is what a new one is measured against', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await marked(page);
  await seen(page);
  await candidate(page, 'Deep Lock').check({ force: true });
  const guessed = page.getByText('What sheen is on Cabinets now is not known');
  await page.getByText(/^What is guessed/).click();
  await expect(guessed).toBeVisible();
  await page.getByLabel('Its sheen now').selectOption('matt');
  await expect(guessed).toBeHidden();
  await saved(page);
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(page.getByLabel('Its sheen now')).toHaveValue('');
});

test('before and after are saved at full size with a caption under them', async ({ page }) => {
  await page.setViewportSize(DESK);
  await marked(page, (_photo, job) => {
    job.swatches['th-19'].name = 'Deep Lock of an endless canal between two unending rows of poplars '.trim();
  });
  await seen(page);
  await candidate(page, 'Deep Lock').check({ force: true });
  const download = page.waitForEvent('download');
  await page.getByRole('button', { name: 'Save before and after' }).click();
  const file = await download;
  expect(file.suggestedFilename()).toBe(
    'canal-side-kitchen-sample-kitchen-by-day-cabinets-deep-lock-of-an-endless-daylight-before-and-after.png',
  );
  const bytes = fs.readFileSync((await file.path()) as string);
  const { width, height } = await sharp(bytes).metadata();
  expect(width).toBeGreaterThan(2 * 1600);
  expect(height).toBeGreaterThan(1067 + 60);
  // Two whole pictures: the same pixels of the window, other pixels of the cabinets; black type on white below.
  const gap = (width - 3200) / 3;
  const part = async (x: number, y: number, w = 40, h = 40) => {
    const box = { left: Math.round(x), top: Math.round(y), width: w, height: h };
    const { channels } = await sharp(await sharp(bytes).extract(box).png().toBuffer()).stats();
    return channels.slice(0, 3);
  };
  const means = async (x: number, y: number) => (await part(x, y)).map(({ mean }) => mean);
  const top = 100;
  const second = 1600 + 2 * gap;
  expect(apart(await means(gap + 1250, top + 200), await means(second + 1250, top + 200))).toBeLessThan(2);
  expect(apart(await means(gap + 560, top + 640), await means(second + 560, top + 640))).toBeGreaterThan(40);
  const type = await part(0, height - 120, width, 120);
  for (const { min, max } of type) {
    expect(min).toBeLessThan(60);
    expect(max).toBe(255);
  }
  // Nothing is cut off: the margins stay white.
  for (const edge of [await part(0, height - 120, 8, 120), await part(width - 8, height - 120, 8, 120)])
    for (const { min } of edge) expect(min).toBe(255);

  await page.getByLabel('Format').selectOption('jpeg');
  const jpegDownload = page.waitForEvent('download');
  await page.getByRole('button', { name: 'Save before and after' }).click();
  const jpeg = await sharp(fs.readFileSync((await (await jpegDownload).path()) as string)).metadata();
  expect([jpeg.format, jpeg.width, jpeg.height]).toEqual(['jpeg', width, height]);
});

test('the page is accessible and fits a phone and a desktop in every way of comparing', async ({ page }) => {
  await marked(page);
  await seen(page);
  await tapFront(page);
  for (const size of [PHONE, DESK]) {
    await page.setViewportSize(size);
    for (const way of ['After', 'Side by side', 'Wipe', 'Sheet']) {
      await page.getByRole('button', { name: way, exact: true }).click();
      await page.evaluate(() => document.querySelectorAll('details').forEach((fold) => (fold.open = true)));
      await fitsWidth(page);
      await accessible(page);
    }
  }
});

test('on a phone picture and finishes are in sight together, and what a tap says is folded', async ({
  page,
}) => {
  await page.setViewportSize(PHONE);
  await marked(page);
  await seen(page);
  const picture = stage(page).locator('.pane');
  const choice = candidate(page, 'Deep Lock');
  await choice.evaluate((radio) => radio.closest('label')?.scrollIntoView({ block: 'end' }));
  await expect(choice).toBeInViewport({ ratio: 0.9 });
  await expect(picture).toBeInViewport({ ratio: 0.95 });
  // The picture lies under the strip of lights, not behind it.
  const strip = await page.getByRole('group', { name: /^Light that the swatches/ }).boundingBox();
  const shown = await picture.boundingBox();
  if (!strip || !shown) throw new Error('expected lights and a picture on the page');
  expect(shown.y).toBeGreaterThanOrEqual(strip.y + strip.height - 1);

  await tapFront(page);
  const told = page.getByRole('region', { name: 'Cabinets' }).first();
  await expect(told).toContainText(/Now .*, after .*, as it is lit here/, { timeout: 30_000 });
  await expect(told.getByText('CIEDE2000').first()).toBeHidden();
  await told.getByRole('button', { name: 'More' }).click();
  await expect(told.getByText('CIEDE2000').first()).toBeVisible();
});
