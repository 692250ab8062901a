import { expect, test } from '@playwright/test';
import { accessible, DESK, fitsWidth, PHONE, saved } from './desk.ts';
import { candidate, marked, seen, stage, tapFront } from './see-desk.ts';

// What the page where finishes are seen says of colours that come out otherwise than they are, and what helps.
test.beforeEach(() => test.setTimeout(180_000));

const DUSK = 'kitchen-mixed';
/** A rectangle of the tiles on the long wall of the kitchen by day, pixels. */
const ON_THE_LONG_WALL: [number, number][] = [
  [400, 367],
  [1040, 367],
  [1040, 460],
  [400, 460],
];

test('in a photo by lamps with nothing known in it a finish is said to be tinted, by how much, and what helps', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  const home = await marked(page, (photo, job) => {
    const dusk = job.photos[DUSK];
    dusk.masks = Object.fromEntries(
      Object.entries(photo.masks ?? {}).map(([id, entry]) => [id, { ...entry, fileId: dusk.fileId }]),
    );
    dusk.references = {};
    delete dusk.lightPlaces;
  });
  // By day white paper is in the picture: nothing to warn of.
  await seen(page);
  await expect(page.getByText(/only estimated/)).toBeHidden();

  await page.goto(`${home}/see?photo=${DUSK}`);
  await candidate(page, 'Wet Chalk').check({ force: true });
  await seen(page);
  const notice = page.locator('#estimated');
  await expect(notice).toContainText('off by about 5 (CIEDE2000), plainly different side by side');
  await notice.locator('summary').click();
  await expect(notice).toContainText('of Cabinets it is not known');
  await expect(page.getByText(/^The pale parts of this photo are warm all over/)).toBeVisible();
  await expect(
    page.getByText(/^Cabinets: the light of the photo, or what is there now, tints it/),
  ).toBeVisible();

  // The tall cupboard on the left, which no window lights.
  const pane = await stage(page).locator('.pane').first().boundingBox();
  if (!pane) throw new Error('expected a picture on the page');
  await page.mouse.click(pane.x + 0.16 * pane.width, pane.y + 0.3 * pane.height);
  const told = page.getByRole('region', { name: 'Cabinets' }).filter({ hasText: 'This spot in the picture' });
  await expect(told).toContainText(
    /Here the light of the photo, or what is there now, tints it: it comes out .*/,
  );
  await expect(told).toContainText('This spot in the picture, in the light of the photo, corrected');
  for (const size of [PHONE, DESK]) {
    await page.setViewportSize(size);
    await fitsWidth(page);
    await accessible(page);
  }

  // Known by name, what is there is no longer held to tint it, and the page no longer asks for it.
  await notice.getByRole('link', { name: 'choose its finish' }).click();
  await page.getByLabel('On it now, in the photo').selectOption({ label: 'Sailcloth OM-101' });
  await expect(notice).not.toContainText('of Cabinets it is not known');
  await saved(page);
  await notice.getByRole('link', { name: /white, or of known colour/ }).click();
  await expect(page).toHaveURL(new RegExp(`/photos/${DUSK}$`));
});

test('light thrown from one finish on another is said where both are on, by name and size', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await marked(page, (_photo, job) => {
    Object.assign(job.surfaces.walls, {
      state: 'chosen',
      swatchId: 'om-211',
      thereId: job.surfaces.walls.swatchId,
    });
  });
  await seen(page);
  await candidate(page, 'Wet Chalk').check({ force: true });
  await page.getByText(/^What is guessed/).click();
  await expect(page.getByText(/^Surfaces throw light at each other/)).toBeVisible();
  await tapFront(page);
  const told = page.getByRole('region', { name: 'Cabinets' }).filter({ hasText: 'This spot in the picture' });
  await expect(told).toContainText(/What is on Walls throws light at it: without that it would be/, {
    timeout: 60_000,
  });
  // Alone it has no light thrown at it by another.
  await page
    .getByRole('group', { name: 'Surfaces' })
    .getByRole('button', { name: /^Walls/ })
    .click();
  await page.getByRole('radio', { name: /^As photo/ }).check({ force: true });
  await expect(page.getByText(/^Surfaces throw light at each other/)).toBeHidden();
});

test('the pattern of a tile is brought for that tile: what to do is said, and the outline is kept for it', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  const home = await marked(page);
  await page.goto(`${home}/swatches#ft-21`);
  const card = page.getByRole('article').filter({ hasText: 'Reedbed plain' });
  await card.getByText(/^Details/).click();
  await card.getByRole('link', { name: 'Bring a photo of it' }).click();
  const note = page.getByText('The pattern of Reedbed plain');
  await expect(note).toBeVisible();
  await page.setViewportSize(PHONE);
  await fitsWidth(page);
  await accessible(page);
  await page.setViewportSize(DESK);
  await page.getByRole('link', { name: 'Ring tile' }).first().click();
  await expect(
    page.getByText(/Choose “Draw an outline” and tap round one tile with its joint/),
  ).toBeVisible();
  await accessible(page);
  await page.getByRole('button', { name: 'Draw an outline' }).click();
  const picture = page.getByRole('application').first();
  for (const [x, y] of [
    [0.35, 0.3],
    [0.6, 0.3],
    [0.6, 0.6],
    [0.35, 0.6],
    [0.35, 0.3],
  ]) {
    const box = await picture.boundingBox();
    if (!box) throw new Error('expected a picture on the page');
    await page.mouse.click(box.x + x * box.width, box.y + y * box.height);
  }
  await expect(page.getByText(/The pattern of Reedbed plain is kept/)).toBeVisible({ timeout: 60_000 });
  await expect(page.getByText('Sample of Reedbed plain')).toBeVisible();
  await saved(page);
});

test('a tile that seems to go round a corner is said to need a second surface, which is made and marked from there', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await marked(page, (photo) => {
    const entry = photo.masks?.backsplash;
    if (!entry) throw new Error('expected the backsplash to be marked');
    // On the long wall; the tiles go on along the wall on the right.
    entry.plane = { corners: ON_THE_LONG_WALL as never, width: 2600, height: 400 };
  });
  const notice = page.getByText(/^Backsplash seems to go round a corner/);
  await page.getByRole('button', { name: /^Backsplash/ }).click();
  const others = page.getByLabel('Try another swatch of this job');
  await expect(others).toBeVisible();
  // Paint has no pattern to run on.
  await others.selectOption({ label: 'Deep Lock TH-19' });
  await expect(page.getByText(/^After: simulated, Backsplash/)).toBeVisible({ timeout: 60_000 });
  await expect(notice).toBeHidden();
  await page
    .getByRole('group', { name: 'What is on Backsplash' })
    .getByRole('radio', { name: /^Ring tile/ })
    .check({ force: true });
  await expect(notice).toBeVisible({ timeout: 60_000 });
  await accessible(page);
  await page.getByRole('button', { name: 'Add the other wall and mark it' }).click();
  await expect(page).toHaveURL(/\/mark\?surface=/);
  await expect(
    page.getByRole('list', { name: 'Surfaces' }).getByRole('button', { name: /^Backsplash 2/ }),
  ).toHaveAttribute('aria-pressed', 'true');
  await expect(stage(page)).toBeHidden();
});
