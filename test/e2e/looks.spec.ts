import { expect, test, type Locator, type Page } from '@playwright/test';
import sharp from 'sharp';
import { accessible, DESK, fitsWidth, part, PHONE, sampleJob } from './desk.ts';

const show = (page: Page, name: RegExp) => page.getByRole('radio', { name }).check({ force: true });
const looksOf = (page: Page, swatch: string) =>
  page.getByRole('list', { name: `${swatch} under each light` }).getByRole('button');

/** How bright a pane of the window is in a picture of the kitchen, 0-255. */
async function paneOf(picture: Buffer): Promise<number> {
  const { width, height } = await sharp(picture).metadata();
  const [left, top, across, down] = [0.885 * width, 0.17 * height, 0.03 * width, 0.05 * height].map(
    Math.round,
  );
  const { channels } = await sharp(
    await sharp(picture).extract({ left, top, width: across, height: down }).png().toBuffer(),
  ).stats();
  return channels.slice(0, 3).reduce((sum, { mean }) => sum + mean / 3, 0);
}

test('a swatch shows its look in every light of the room, in words too, and shows the page in one', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await part(page, 'Swatches');
  const looks = looksOf(page, 'Reed Hollow');
  await expect(looks).toHaveCount(4);
  await expect(looks.nth(0)).toHaveAccessibleName(/^Plain daylight: .+, as measured$/);
  await expect(looks.nth(2)).toHaveAccessibleName(
    /^Pendants in the evening: .+; everything looks .*darker.* here; of its own .+, \d+\.\d give or take \d+\.\d$/,
  );
  await expect(looks.nth(0)).toHaveAttribute('aria-pressed', 'true');
  await expect(
    page.getByText(/^Of its own it changes most under Pendants in the evening: .*greyer.*, \d+\.\d$/).first(),
  ).toBeVisible();

  // One stop of the tab key; arrows go along, and what is met is read out below.
  await looks.nth(0).focus();
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('ArrowRight');
  await expect(looks.nth(2)).toBeFocused();
  const card = page.getByRole('article').filter({ has: page.getByRole('heading', { name: 'Reed Hollow' }) });
  const said = card.getByRole('paragraph').filter({ hasText: 'Pendants in the evening:' });
  await expect(said).toHaveText(/: [^,;]+, of its own .+ give or take \d\.\d; everything looks /);
  expect(await looks.evaluateAll((list) => list.filter((button) => button.tabIndex === 0).length)).toBe(1);
  await page.keyboard.press('Enter');
  await expect(page.getByRole('radio', { name: /Pendants in the evening/ })).toBeChecked();
  await expect(looks.nth(2)).toHaveAttribute('aria-pressed', 'true');
  // The strip shows what the chip above it now shows, to a step of 8 bits: one colour is looked up, the other worked out.
  const rgbOf = async (face: Locator) => {
    const text = await face.evaluate((element) => getComputedStyle(element).backgroundColor);
    return (text.match(/[\d.]+/g) ?? []).map(Number);
  };
  const chip = await rgbOf(card.getByRole('img').locator('span').first());
  const piece = await rgbOf(looks.nth(2).locator('span').first());
  expect(chip).toHaveLength(3);
  for (const [i, value] of chip.entries()) expect(Math.abs(piece[i] - value)).toBeLessThan(1 / 255);

  await part(page, 'Shortlist');
  await expect(page.getByRole('button', { name: 'Choose it' })).toBeVisible();
  const name = (await page.locator('#detail').innerText()).replace(/^\d+\. /, '');
  await expect(looksOf(page, name)).toHaveCount(4);
});

test('the photo of the room follows the strip of lights and says that it is simulated', async ({ page }) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await expect(page.getByText('The photo as delivered.')).toBeVisible();
  await show(page, /Pendants in the evening/);
  await expect(
    page.getByText(
      'Simulated: the corrected photo under Pendants in the evening, the panes of the window in their own part of it.',
    ),
  ).toBeVisible({ timeout: 30_000 });
  const picture = page.getByRole('img', { name: /simulated under Pendants in the evening$/ });
  await expect(picture).toBeVisible();
  const pendants = await picture.screenshot();
  // The glass mirrors 8 % of a room less than half as bright as white: below 0.04 in linear light (IEC 61966-2-1).
  expect(await paneOf(pendants)).toBeLessThan(56);
  await page.getByText(/^What is guessed/).click();
  await expect(page.getByText('Lamps that were off stay dark in their own light as well')).toBeVisible();

  // An hour after another: the last one stays.
  await show(page, /Through the day/);
  const hour = page.getByRole('slider', { name: 'Hour of the day' });
  for (const value of ['9', '10', '11', '15']) await hour.fill(value);
  const byDay = page.getByRole('img', { name: /simulated under Kitchen at 15:00$/ });
  await expect(byDay).toBeVisible();
  expect(await paneOf(await byDay.screenshot())).toBeGreaterThan(80);

  await show(page, /Plain daylight/);
  await expect(page.getByText('The photo as delivered.')).toBeVisible();
  await expect(byDay).toBeHidden();
});

test('a room photo in which nothing is known says that its colours are estimated', async ({ page }) => {
  await sampleJob(page);
  await show(page, /Pendants in the evening/);
  const caption = page.locator('figcaption');
  await expect(caption).toContainText('Simulated', { timeout: 30_000 });
  await expect(caption).not.toContainText('estimated');
  const room = page.url();
  await page.locator('figure > a').click();
  const away = page.getByRole('button', { name: 'Take away' });
  await expect(away.first()).toBeVisible();
  for (let left = await away.count(); left > 0; left -= 1) {
    await away.first().click();
    await expect(away).toHaveCount(left - 1);
  }
  await page.goto(room);
  await expect(caption).toContainText('its colours are only estimated', { timeout: 30_000 });
});

test('a paint tried on the walls says what it does to the light of the room', async ({ page }) => {
  await sampleJob(page);
  await page.getByRole('link', { name: 'Light', exact: true }).click();
  const panel = page.getByRole('region', { name: 'Large areas and their own light' });
  await expect(panel.getByText(/^Under plain daylight\. The light (turns|stays)/)).toBeVisible();
  await panel.getByLabel('Try on the walls').selectOption({ label: 'Raw Flowerpot OM-211' });
  await expect(panel.getByText(/The light turns warmer, from 6,500 K to [345],\d00 K/)).toBeVisible();
  await expect(panel.getByRole('img')).toHaveAccessibleName(
    /with its chip held against it: .*more colourful/,
  );
  await show(page, /Pendants in the evening/);
  await expect(panel.getByText(/^Under Pendants in the evening\./)).toBeVisible();
  await expect(panel.getByText(/Paint a large board before deciding/)).toBeVisible();
});

test('pages under a light are accessible and fit a phone and a desktop', async ({ page }) => {
  test.setTimeout(240_000);
  await sampleJob(page);
  const home = new URL(page.url()).pathname;
  await show(page, /Pendants in the evening/);
  for (const size of [PHONE, DESK]) {
    await page.setViewportSize(size);
    for (const path of ['', '/swatches', '/shortlist', '/light']) {
      await page.goto(home + path);
      await expect(page.locator('h1').first()).toBeVisible();
      await page.waitForLoadState('networkidle');
      if (path === '')
        await expect(page.locator('figcaption')).toContainText('Simulated', { timeout: 30_000 });
      else if (path !== '/light')
        await expect(page.getByRole('list', { name: /under each light$/ }).first()).toBeVisible();
      await page.evaluate(() => document.querySelectorAll('details').forEach((fold) => (fold.open = true)));
      await fitsWidth(page);
      await accessible(page);
    }
  }
});
