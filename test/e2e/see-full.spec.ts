import { expect, test, type Page } from '@playwright/test';
import { accessible, DESK, fitsWidth, PHONE } from './desk.ts';
import { apart, candidate, FRONT, look, marked, seen, stage, tapFront } from './see-desk.ts';

// Taking surfaces apart and painting without a graphics processor takes its time on a busy machine.
test.beforeEach(() => test.setTimeout(240_000));

const TURNED = { width: 844, height: 390 };
const leave = (page: Page) => page.getByRole('button', { name: 'Leave full screen' });
const enter = (page: Page) => page.getByRole('button', { name: 'Full screen', exact: true });

/** Whether something behind the pictures has the focus. */
const focusBehind = (page: Page) =>
  page.evaluate(() => document.activeElement?.closest('nav, header') !== null);

/** Width and height of the photo as it lies in a pane, CSS pixels: all of it is in sight. */
async function shown(page: Page, pane = 0) {
  const box = await stage(page).locator('.pane').nth(pane).boundingBox();
  if (!box) throw new Error('expected a picture on the page');
  const width = Math.min(box.width, (box.height * 1600) / 1067);
  return { width, height: (width * 1067) / 1600 };
}

test('on the whole screen pictures take it, and what compares them stays at hand', async ({ page }) => {
  await page.setViewportSize(DESK);
  await marked(page);
  await seen(page);
  const before = await shown(page);
  await enter(page).click();
  await expect(leave(page)).toBeVisible();
  await expect.poll(async () => (await shown(page)).width).toBeGreaterThan(1180);
  expect(before.width).toBeLessThan(900);
  // The side panel is folded, and what is behind cannot be reached by the keys.
  await expect(page.getByRole('group', { name: 'Surfaces' })).toBeHidden();
  await page.keyboard.press('Tab');
  for (let i = 0; i < 20; i += 1) {
    await page.keyboard.press('Shift+Tab');
    expect(await focusBehind(page)).toBe(false);
  }

  // Moving through candidates leaves buttons and picture where they are.
  const steps = page.getByRole('group', { name: 'What is on Cabinets' });
  const first = await steps.innerText();
  const stood = await leave(page).boundingBox();
  await steps.getByRole('button', { name: 'Next finish' }).click();
  await expect.poll(() => steps.innerText()).not.toBe(first);
  expect(await leave(page).boundingBox()).toEqual(stood);
  await steps.getByRole('button', { name: 'Previous finish' }).click();
  await expect.poll(() => steps.innerText()).toBe(first);

  // Held, wiped, beside each other, as a sheet.
  const hold = page.getByRole('button', { name: 'Hold for before' });
  const on = await look(page, FRONT);
  await hold.hover();
  await page.mouse.down();
  await expect.poll(async () => apart(await look(page, FRONT), on)).toBeGreaterThan(10);
  await page.mouse.up();
  await page.getByRole('button', { name: 'Wipe', exact: true }).click();
  await expect(page.getByRole('slider', { name: 'Where the wipe stands' })).toBeVisible();
  await page.getByRole('button', { name: 'Sheet', exact: true }).click();
  await expect(stage(page).locator('.pane')).toHaveCount(6);
  await expect.poll(async () => (await shown(page, 5)).width).toBeGreaterThan(440);
  const last = await stage(page).locator('figcaption').last().boundingBox();
  const bar = await leave(page).boundingBox();
  expect((last?.y ?? 0) + (last?.height ?? 0)).toBeLessThanOrEqual((bar?.y ?? 0) + 1);
  await accessible(page);

  // Finishes are called back beside the picture, and folded again.
  await page.getByRole('button', { name: 'After', exact: true }).click();
  await page.getByRole('button', { name: 'Finishes', exact: true }).click();
  await expect(candidate(page, 'Deep Lock')).toBeVisible();
  await candidate(page, 'Deep Lock').check({ force: true });
  await expect(
    page.getByText('After: simulated, Cabinets in Ternhollow TH-19 Deep Lock, satin'),
  ).toBeVisible();
  await accessible(page);
  await page.getByRole('button', { name: 'Finishes', exact: true }).click();

  // What a tap says lies over the picture, which stays as it is.
  const large = await shown(page);
  await tapFront(page);
  await expect(page.getByRole('region', { name: 'Cabinets' }).first()).toContainText('Deep Lock', {
    timeout: 30_000,
  });
  expect(await shown(page)).toEqual(large);

  await page.keyboard.press('Escape');
  await expect(enter(page)).toBeVisible();
  await page.getByRole('link', { name: 'Shortlist', exact: true }).focus();
  expect(await focusBehind(page)).toBe(true);
  // Going back leaves full screen, not the page.
  const address = page.url();
  await enter(page).click();
  await expect(leave(page)).toBeVisible();
  await page.goBack();
  await expect(enter(page)).toBeVisible();
  expect(page.url()).toBe(address);
});

test('on a phone the whole width is used upright, and the height when it is turned', async ({ page }) => {
  await page.setViewportSize(PHONE);
  await marked(page);
  await seen(page);
  await enter(page).click();
  await expect.poll(async () => (await shown(page)).width).toBeGreaterThan(370);
  const pane = async () => (await stage(page).locator('.pane').first().boundingBox())?.height ?? 0;
  // The frame goes on above and below the picture, so that a zoomed one is seen on all of the screen.
  expect(await pane()).toBeGreaterThan(550);
  for (const name of ['Hold for before', 'Next finish', 'Light', 'Finishes', 'Leave full screen'])
    await expect(page.getByRole('button', { name, exact: true })).toBeInViewport({ ratio: 1 });
  await accessible(page);
  // The front of the island, in a picture that lies in the middle of its frame.
  const frame = await stage(page).locator('.pane').first().boundingBox();
  if (!frame) throw new Error('expected a picture on the page');
  await page.mouse.click(
    frame.x + 0.4 * frame.width,
    frame.y + frame.height / 2 + 0.24 * (await shown(page)).height,
  );
  const told = page.getByRole('region', { name: 'Cabinets' }).first();
  await told.getByRole('button', { name: 'Close' }).click({ timeout: 30_000 });
  await page.getByRole('button', { name: 'Side by side' }).click();
  await expect.poll(async () => (await shown(page, 1)).width).toBeGreaterThan(370);
  await page.getByRole('button', { name: 'After', exact: true }).click();
  await page.getByRole('button', { name: 'Finishes', exact: true }).click();
  await expect(candidate(page, 'Deep Lock')).toBeInViewport();
  await fitsWidth(page);
  await page.getByRole('button', { name: 'Finishes', exact: true }).click();

  await page.setViewportSize(TURNED);
  await expect.poll(async () => (await shown(page)).height).toBeGreaterThan(325);
  for (const name of ['Hold for before', 'Leave full screen'])
    await expect(page.getByRole('button', { name, exact: true })).toBeInViewport({ ratio: 1 });
  await accessible(page);
  await leave(page).click();
  await expect(enter(page)).toBeVisible();
});
