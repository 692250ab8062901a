import { expect, test } from '@playwright/test';
import { accessible, DESK, fitsWidth, PHONE, saved } from './desk.ts';
import { marked, stage, seen, look, apart, PANE, WALL } from './see-desk.ts';

/** Dark glass, device values: it mirrors 8 % of a room that is less than half as bright as white, 0.04 in linear light (IEC 61966-2-1). */
const MIRRORING = 56;

// Taking surfaces apart and painting without a graphics processor takes its time on a busy machine.
test.beforeEach(() => test.setTimeout(180_000));

test('light changes before and after alike; zoom goes to pixels and back', async ({ page }) => {
  await page.setViewportSize(DESK);
  await marked(page);
  await seen(page);
  const noon = await look(page, WALL);
  await page.getByRole('radio', { name: /Pendants in the evening/ }).check({ force: true });
  await expect(
    page.getByText('A simulation, shown in “Pendants in the evening”, 2,700 K, 120 lx'),
  ).toBeVisible();
  await expect.poll(async () => apart(await look(page, WALL), noon)).toBeGreaterThan(10);
  // Before is in that light too, and is not called as photographed.
  await page.getByRole('button', { name: 'Side by side' }).click();
  await expect(page.getByText('Before, under “Pendants in the evening”')).toBeVisible();
  await expect(
    page.getByText('After, under “Pendants in the evening”: simulated, Cabinets in'),
  ).toBeVisible();
  await expect(page.getByText('Before: as photographed')).toBeHidden();
  await page.getByRole('button', { name: 'After', exact: true }).click();
  // While it is drawn, words lie on the picture.
  await expect
    .poll(async () => {
      const [r, , b] = await look(page, WALL);
      return r - b;
    })
    .toBeGreaterThan(noon[0] - noon[2] + 5);

  const corner = [0.02, 0.02, 0.05, 0.05] as const;
  const whole = await look(page, corner);
  await stage(page).focus();
  for (let i = 0; i < 6; i += 1) await page.keyboard.press('+');
  await expect.poll(async () => apart(await look(page, corner), whole)).toBeGreaterThan(8);
  await page.keyboard.press('0');
  await expect.poll(async () => apart(await look(page, corner), whole)).toBeLessThan(2);
  const box = await stage(page).locator('.pane').first().boundingBox();
  if (!box) throw new Error('expected a picture on the page');
  await page.mouse.move(box.x + 0.5 * box.width, box.y + 0.5 * box.height);
  await page.mouse.wheel(0, -900);
  await expect.poll(async () => apart(await look(page, corner), whole)).toBeGreaterThan(8);

  await page.getByRole('button', { name: 'Full screen' }).click();
  await expect(page.getByRole('button', { name: 'Leave full screen' })).toBeVisible();
  await accessible(page);
  await page.getByRole('button', { name: 'Light', exact: true }).click();
  await accessible(page);
  // The lights come along, and the strip at the top of the page still says which one it is afterwards.
  const dusk = page.getByRole('radio', { name: /^Dusk, window and pendants/ });
  await dusk.last().check({ force: true });
  await expect(page.getByText('A simulation, shown in “Dusk, window and pendants”')).toBeVisible();
  await page.getByRole('button', { name: 'Leave full screen' }).click();
  await expect(page.getByRole('button', { name: 'Full screen', exact: true })).toBeVisible();
  await expect(dusk).toHaveCount(1);
  await expect(dusk).toBeChecked();
});

test('window and lamps that were pointed at are lit apart: pendants leave the sun out', async ({ page }) => {
  await page.setViewportSize(DESK);
  const home = await marked(page, (photo, job) => {
    const dusk = job.photos['kitchen-mixed'];
    delete dusk.lightPlaces;
    dusk.masks = {};
    for (const [id, mask] of Object.entries(photo.masks ?? {}))
      dusk.masks[id] = { ...mask, fileId: dusk.fileId };
  });
  await page.goto(`${home}/see?photo=kitchen-mixed`);
  await seen(page);
  /** A patch of sun on the floor, and floor beside it. */
  const SUN = [0.726, 0.765, 0.02, 0.02] as const;
  const FLOOR = [0.62, 0.8, 0.03, 0.03] as const;
  const grey = ([r, g, b]: number[]) => (r + g + b) / 3;
  const sunny = async () => grey(await look(page, SUN)) - grey(await look(page, FLOOR));
  await page.getByRole('radio', { name: /Pendants in the evening/ }).check({ force: true });
  await expect(page.getByText('A simulation, shown in “Pendants in the evening”')).toBeVisible();
  // Through one table the sun stays where it fell.
  await expect.poll(sunny).toBeGreaterThan(40);

  await page.getByText('Window and lamps apart', { exact: true }).click();
  await page.getByRole('button', { name: 'Lit by the window' }).click();
  await expect(page.getByText('that only the window lights')).toBeVisible();
  const pane = await stage(page).locator('.pane').first().boundingBox();
  if (!pane) throw new Error('expected a picture on the page');
  const point = (x: number, y: number) =>
    page.mouse.click(pane.x + (x / 1600) * pane.width, pane.y + (y / 1067) * pane.height);
  await point(1227, 323);
  await expect(page.getByText('that only lamps light')).toBeVisible();
  await point(399, 444);
  await expect(page.getByText(/About \d+ % of the light in this photo comes through the window/)).toBeVisible(
    {
      timeout: 60_000,
    },
  );
  await expect(page.getByText(/lx, window and lamps apart/)).toBeVisible();
  await expect.poll(sunny, { timeout: 60_000 }).toBeLessThan(25);
  await accessible(page);

  // The panes themselves were not pointed at yet.
  expect(grey(await look(page, PANE))).toBeGreaterThan(100);
  await page.getByRole('button', { name: 'Lit by the window' }).click();
  await point(1440, 200);
  await expect(page.getByText(/panes cover \d % of the picture/)).toBeVisible({ timeout: 60_000 });
  await expect.poll(async () => grey(await look(page, PANE)), { timeout: 60_000 }).toBeLessThan(MIRRORING);
  await page.getByText(/^What is guessed/).click();
  await expect(page.getByText('Without it the glass is dark')).toBeVisible();

  await page.getByRole('radio', { name: /North window/ }).check({ force: true });
  await expect.poll(sunny, { timeout: 60_000 }).toBeGreaterThan(40);
  await saved(page);
  await page.reload();
  await expect(page.getByText(/lx, window and lamps apart/)).toBeVisible({ timeout: 90_000 });
  await page.setViewportSize(PHONE);
  await fitsWidth(page);
  await page.getByRole('button', { name: 'Forget these places' }).click();
  await expect(page.getByText(/lx, window and lamps apart/)).toBeHidden();
});

test('panes that were pointed at in a photo taken by day go dark in the evening, here and on the room’s page', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  const home = await marked(page, (photo) => {
    delete photo.lightPlaces;
  });
  await seen(page);
  const grey = async () => (await look(page, PANE)).reduce((sum, v) => sum + v / 3, 0);
  await page.getByRole('radio', { name: /Pendants in the evening/ }).check({ force: true });
  await expect(page.getByText('A simulation, shown in “Pendants in the evening”')).toBeVisible();
  await expect.poll(grey).toBeGreaterThan(150);
  // Until then it is said that the window stays bright.
  await page.getByText(/^What is guessed/).click();
  await expect(page.getByText('A window that was bright stays bright in the evening')).toBeVisible();
  await page.getByText('Window and lamps apart', { exact: true }).click();
  await page.getByRole('button', { name: 'Lit by the window' }).click();
  const pane = await stage(page).locator('.pane').first().boundingBox();
  if (!pane) throw new Error('expected a picture on the page');
  await page.mouse.click(pane.x + 0.9 * pane.width, pane.y + 0.19 * pane.height);
  await expect(page.getByText('Everything else is shown in one light')).toBeVisible({ timeout: 60_000 });
  // No lamps were on: no more pointing, and what was pointed at is no longer lettered.
  await page.getByRole('button', { name: 'Lit by lamps' }).click();
  await page.evaluate(() => scrollTo(0, 0));
  await expect.poll(grey, { timeout: 60_000 }).toBeLessThan(MIRRORING);
  await page.getByRole('radio', { name: /North window/ }).check({ force: true });
  await expect.poll(grey, { timeout: 60_000 }).toBeGreaterThan(150);
  await saved(page);
  await page.goto(home);
  await page.getByRole('radio', { name: /Pendants in the evening/ }).check({ force: true });
  await expect(page.getByText(/the panes of the window in their own part of it/)).toBeVisible({
    timeout: 90_000,
  });
  await page.getByText(/^What is guessed/).click();
  await expect(page.getByText('Without it the glass is dark')).toBeVisible();
  await accessible(page);
});
