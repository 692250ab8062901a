import fs from 'node:fs';
import path from 'node:path';
import { expect, test, type Page } from '@playwright/test';
import sharp from 'sharp';
import type { Job, Photo, SurfaceMask } from '#lib/job/index.ts';
import { encodeMask } from '#lib/photo/index.ts';
import { accessible, DESK, fitsWidth, PHONE, sampleJob, saved } from './desk.ts';

const MASKS = path.resolve(import.meta.dirname, '../fixtures/sample/masks');
const PHOTO = 'kitchen-day';
const MARKED = ['cabinets', 'counter', 'backsplash', 'walls', 'floor'];

// Taking surfaces apart and painting without a graphics processor takes its time on a busy machine.
test.beforeEach(() => test.setTimeout(180_000));

type Stored = Pick<SurfaceMask, 'mask'>['mask'];

async function trueMask(name: string): Promise<Stored> {
  const { data, info } = await sharp(fs.readFileSync(path.join(MASKS, `${name}.png`)))
    .toColourspace('b-w')
    .raw()
    .toBuffer({ resolveWithObject: true });
  return encodeMask({ width: info.width, height: info.height, data: new Uint8Array(data) });
}

const emptyMask = (): Stored => encodeMask({ width: 1600, height: 1067, data: new Uint8Array(1600 * 1067) });

/** A sample job whose kitchen is marked by its true masks, or as `change` leaves it, opened where finishes are seen. */
async function marked(page: Page, change: (photo: Photo, job: Job) => void = () => {}): Promise<string> {
  await sampleJob(page);
  const home = new URL(page.url()).pathname;
  const api = `/api${home}`;
  const { job, version } = (await (await page.request.get(api)).json()) as { job: Job; version: number };
  const was = structuredClone(job);
  const photo = job.photos[PHOTO];
  photo.masks = {};
  for (const id of MARKED)
    photo.masks[id] = { id, fileId: photo.fileId, mask: await trueMask(id), plane: null };
  change(photo, job);
  const changes = (['photos', 'surfaces', 'swatches'] as const).flatMap((kind) =>
    Object.keys(job[kind])
      .filter((id) => JSON.stringify(job[kind][id]) !== JSON.stringify(was[kind][id]))
      .map((id) => ({ path: [kind, id], ...(was[kind][id] && { was: was[kind][id] }), now: job[kind][id] })),
  );
  const edits = [{ label: 'mark surfaces', changes }];
  const answer = await page.request.post(`${api}/edits`, {
    headers: { origin: new URL(page.url()).origin },
    data: { base: version, edits, client: 'see-journeys', request: 1 },
  });
  expect(answer.status(), await answer.text()).toBe(200);
  await page.goto(`${home}/see`);
  return home;
}

const stage = (page: Page) => page.getByRole('application', { name: /with finishes on$/ });
const candidate = (page: Page, name: string) =>
  page
    .getByRole('group', { name: 'What is on Cabinets' })
    .getByRole('radio', { name: new RegExp(`^${name}`) });
const seen = (page: Page) =>
  expect(page.getByText('A simulation, shown in')).toBeVisible({ timeout: 90_000 });

/** Mean of a part of the picture as it is on screen, 0-255: left, top, width, height in parts of the first pane. */
async function look(page: Page, [x, y, w, h]: readonly [number, number, number, number], pane = 0) {
  const box = await stage(page).locator('.pane').nth(pane).boundingBox();
  if (!box) throw new Error('expected a picture on the page');
  const clip = {
    x: box.x + x * box.width,
    y: box.y + y * box.height,
    width: w * box.width,
    height: h * box.height,
  };
  const { channels } = await sharp(await page.screenshot({ clip })).stats();
  return channels.slice(0, 3).map(({ mean }) => mean);
}

const apart = (p: number[], q: number[]) => Math.max(...p.map((value, i) => Math.abs(value - q[i])));
/** One pane of the window. */
const PANE = [0.885, 0.17, 0.03, 0.05] as const;
/** The island's front and the window, in parts of the picture. */
const FRONT = [0.32, 0.66, 0.06, 0.08] as const;
/** The wall on the left, beside the picture that hangs there. */
const WALL = [0.03, 0.4, 0.03, 0.06] as const;
const WINDOW = [0.78, 0.18, 0.05, 0.05] as const;

async function tapFront(page: Page) {
  const box = await stage(page).locator('.pane').first().boundingBox();
  if (!box) throw new Error('expected a picture on the page');
  await page.mouse.click(box.x + 0.35 * box.width, box.y + 0.7 * box.height);
}

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
  await expect(page.getByText('The photo, corrected, shown in plain daylight')).toBeVisible();
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
  await expect(page.getByText('The photo, corrected, shown in plain daylight')).toBeVisible();
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
  await expect(told).toContainText('as photographed and corrected');
  await expect(told).toContainText(/LRV \d+; colour measured in the photo “Sample board”/);
  await told.getByText('more, with shorter edges').click();
  const shares = (await told.getByText(/% of its edges$/).allInnerTexts()).map((text) => parseInt(text, 10));
  expect(shares.length).toBeGreaterThanOrEqual(3);
  expect(shares).toEqual(shares.toSorted((p, q) => q - p));
  await expect(told).toContainText('Counter');
  await expect(told).toContainText('BS 8300-2:2018');
  await expect(told).toContainText('Local codes decide');

  // The pairing is that of the light shown.
  await page.getByRole('radio', { name: /Pendants in the evening/ }).check({ force: true });
  await expect(told).toContainText('under “Pendants in the evening”');
  await expect(told).toContainText(/Under Pendants in the evening: .*darker/);

  // By the keys: the cross-hair starts in the middle of the picture.
  await told.getByRole('button', { name: 'Close' }).click();
  await expect(page.getByText('as photographed and corrected')).toBeHidden();
  await stage(page).focus();
  for (let i = 0; i < 6; i += 1) await page.keyboard.press('Shift+ArrowDown');
  await page.keyboard.press('Enter');
  await expect(page.getByRole('heading', { name: 'Floor' }).first()).toBeVisible();
});

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
  expect(grey(await look(page, PANE))).toBeGreaterThan(25);
  await page.getByRole('button', { name: 'Lit by the window' }).click();
  await point(1440, 200);
  await expect(page.getByText(/panes cover \d % of the picture/)).toBeVisible({ timeout: 60_000 });
  await expect.poll(async () => grey(await look(page, PANE)), { timeout: 60_000 }).toBeLessThan(4);
  await page.getByText(/^What is guessed/).click();
  await expect(page.getByText('Without it the glass is black')).toBeVisible();

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
  await expect.poll(grey, { timeout: 60_000 }).toBeLessThan(4);
  await page.getByRole('radio', { name: /North window/ }).check({ force: true });
  await expect.poll(grey, { timeout: 60_000 }).toBeGreaterThan(150);
  await saved(page);
  await page.goto(home);
  await page.getByRole('radio', { name: /Pendants in the evening/ }).check({ force: true });
  await expect(page.getByText(/the panes of the window in their own part of it/)).toBeVisible({
    timeout: 90_000,
  });
  await page.getByText(/^What is guessed/).click();
  await expect(page.getByText('Without it the glass is black')).toBeVisible();
  await accessible(page);
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
  await page.getByLabel('Painted now in').selectOption('matt');
  await expect(guessed).toBeHidden();
  await saved(page);
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(page.getByLabel('Painted now in')).toHaveValue('');
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
  expect(file.suggestedFilename()).toBe('canal-side-kitchen-sample-before-and-after.png');
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

test('what cannot be shown is explained, and nothing is lost', async ({ page }) => {
  await page.setViewportSize(DESK);
  const home = await marked(page, (photo, job) => {
    const masks = photo.masks as NonNullable<Photo['masks']>;
    masks.counter.fileId = 'another-picture';
    masks.cabinets.mask = emptyMask();
    masks.walls.mask = { ...masks.walls.mask, code: masks.walls.mask.code.slice(0, 400) };
    delete masks.floor;
    job.swatches.unread = {
      ...job.swatches['th-19'],
      id: 'unread',
      name: 'Unread Board',
      code: '',
      samples: {},
    };
    job.surfaces.cabinets.candidateIds.unread = true;
  });
  await expect(page.getByText('Counter was marked on the picture that was here before')).toBeVisible();
  await expect(page.getByRole('link', { name: 'Mark surfaces' }).first()).toHaveAttribute(
    'href',
    `${home}/photos/${PHOTO}/mark`,
  );
  await expect(page.getByText('Without a colour yet, so they cannot be shown: Unread Board')).toBeVisible();
  await expect(
    page.getByText('Cabinets: Nothing is marked on this picture yet, so nothing changes.'),
  ).toBeVisible({ timeout: 60_000 });
  await expect(page.getByText('After: as photographed, nothing is put on')).toBeVisible();

  await page.getByRole('button', { name: /^Floor/ }).click();
  await expect(page.getByText('Floor is not marked in this photo')).toBeVisible();
  await page.getByRole('button', { name: /^Walls/ }).click();
  await page
    .getByRole('group', { name: 'What is on Walls' })
    .getByRole('radio', { name: /^Sailcloth/ })
    .check({ force: true });
  await expect(page.getByText('Walls cannot be shown with it: ')).toBeVisible();
  // The others still can.
  await page.getByRole('button', { name: /^Backsplash/ }).click();
  await page.getByLabel('Try something else').selectOption({ label: 'Deep Lock TH-19' });
  await expect(
    page.getByText('After: simulated, Backsplash in Ternhollow TH-19 Deep Lock, satin'),
  ).toBeVisible();
  const { job } = (await (await page.request.get(`/api${home}`)).json()) as { job: Job };
  expect(Object.keys(job.photos[PHOTO].masks ?? {}).sort()).toEqual([
    'backsplash',
    'cabinets',
    'counter',
    'walls',
  ]);
});

test('a photo without marks and a job without a room photo say what to do', async ({ page }) => {
  await sampleJob(page);
  const home = new URL(page.url()).pathname;
  await page.goto(`${home}/see?photo=kitchen-lamp`);
  await expect(page.getByText('Mark the surfaces of this photo first')).toBeVisible();
  await expect(page.getByRole('link', { name: 'Mark surfaces' })).toHaveAttribute(
    'href',
    `${home}/photos/kitchen-lamp/mark`,
  );
  await page.goto('/');
  await page.getByLabel('New job').fill('No photo yet');
  await page.getByRole('button', { name: 'Start it' }).click();
  await page.getByRole('navigation', { name: 'Parts of the job' }).getByRole('link', { name: 'See' }).click();
  await expect(page.getByText('No photo of a room yet.')).toBeVisible();
  await accessible(page);
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
