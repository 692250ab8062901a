import { expect, test, type Page } from '@playwright/test';
import sharp from 'sharp';
import type { Job, Photo } from '#lib/job/index.ts';
import { encodeMask } from '#lib/photo/index.ts';
import { accessible, DESK, fitsWidth, PHONE, sampleJob } from './desk.ts';
import { apart, look, PHOTO, emptyMask, marked, stage, seen, tapFront, type Stored } from './see-desk.ts';

// Taking surfaces apart and painting without a graphics processor takes its time on a busy machine.
test.beforeEach(() => test.setTimeout(180_000));

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
  await expect(
    page.getByText('The picture of this photo was replaced after Counter was marked. The marks are kept'),
  ).toBeVisible();
  await expect(page.getByRole('link', { name: 'Mark surfaces' }).first()).toHaveAttribute(
    'href',
    `${home}/photos/${PHOTO}/mark`,
  );
  await expect(page.getByText('Without a colour yet, so they cannot be shown: Unread Board')).toBeVisible();
  await expect(
    page.getByText('Cabinets: Nothing is marked on this picture yet, so nothing changes.'),
  ).toBeVisible({ timeout: 60_000 });
  await expect(page.getByText('After: as photographed, nothing is put on')).toBeVisible();

  await page.getByRole('button', { name: /^Floor\s+not marked$/ }).click();
  await expect(page.getByText('Floor is not marked in this photo')).toBeVisible();
  await page.getByRole('button', { name: /^Counter\s+marked on an earlier picture$/ }).click();
  await expect(page.getByText('Counter was marked on an earlier picture of this photo')).toBeVisible();
  await expect(page.getByRole('link', { name: 'Mark it again, or keep the old marks' })).toHaveAttribute(
    'href',
    `${home}/photos/${PHOTO}/mark?surface=counter`,
  );
  await page.getByRole('button', { name: /^Walls/ }).click();
  await page
    .getByRole('group', { name: 'What is on Walls' })
    .getByRole('radio', { name: /^Sailcloth/ })
    .check({ force: true });
  await expect(page.getByText('Walls cannot be shown with it: ')).toBeVisible();
  // The others still can.
  await page.getByRole('button', { name: /^Backsplash/ }).click();
  await page.getByLabel('Try another swatch of this job').selectOption({ label: 'Deep Lock TH-19' });
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

test('surfaces of one name are told apart, a stone says what it lacks, and what is not in the photo is not taken from the job', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  const home = await marked(page, (photo, job) => {
    const masks = photo.masks as NonNullable<Photo['masks']>;
    job.surfaces.backsplash.name = 'Cabinets';
    // The job says that a dark paint stays on the pale walls of the photo.
    job.surfaces.walls.swatchId = 'th-19';
    masks.counter.plane = null;
  });
  await seen(page);
  await expect(page.getByText('Walls is much lighter in this photo than Deep Lock')).toBeVisible();
  const surfaces = page.getByRole('group', { name: 'Surfaces' });
  await expect(surfaces.getByRole('button', { name: /^Cabinets 1/ })).toBeVisible();
  await surfaces.getByRole('button', { name: /^Cabinets 2/ }).click();
  await expect(page.getByRole('heading', { name: 'Cabinets 2' })).toBeVisible();
  await tapFront(page);
  await expect(page.getByRole('region', { name: 'Cabinets 1' }).first()).toBeVisible();
  await surfaces.getByRole('button', { name: /^Counter/ }).click();
  await page
    .getByRole('group', { name: 'What is on Counter' })
    .getByRole('radio', { name: /granite/i })
    .check({ force: true });
  await expect(page.getByText('is shown in its mean colour, without its pattern')).toBeVisible();
  await expect(page.getByRole('link', { name: 'Set the corners' })).toHaveAttribute(
    'href',
    `${home}/photos/${PHOTO}/mark?surface=counter`,
  );
  await accessible(page);
});

/** A picture of its own as a photo of the sample's kitchen, with cabinets and walls marked in boxes. */
async function bring(
  page: Page,
  home: string,
  { name, bytes }: { name: string; bytes: Buffer },
): Promise<void> {
  const headers = { origin: new URL(page.url()).origin };
  const answer = await page.request.post(`/api${home}/files?name=${name}.png`, { data: bytes, headers });
  const { done } = JSON.parse((await answer.text()).trim().split('\n').at(-1) as string) as {
    done: Pick<Photo, 'fileId' | 'width' | 'height' | 'space'>;
  };
  const { fileId, width, height, space } = done;
  const box = (top: number, bottom: number): Stored => {
    const data = new Uint8Array(width * height);
    for (let y = Math.round(top * height); y < bottom * height; y += 1)
      data.fill(255, y * width + Math.round(0.1 * width), y * width + Math.round(0.9 * width));
    return encodeMask({ width, height, data });
  };
  const { job, version } = (await (await page.request.get(`/api${home}`)).json()) as {
    job: Job;
    version: number;
  };
  const photo: Photo = {
    ...job.photos[PHOTO],
    ...{ id: name, order: 90, name, fileId, width, height, space, references: {}, regions: {} },
    masks: {
      cabinets: { id: 'cabinets', fileId, plane: null, mask: box(0.5, 0.9) },
      walls: { id: 'walls', fileId, plane: null, mask: box(0.1, 0.4) },
    },
  };
  delete photo.lightPlaces;
  const edits = [{ label: 'bring a picture', changes: [{ path: ['photos', name], now: photo }] }];
  const put = await page.request.post(`/api${home}/edits`, {
    headers,
    data: { base: version, edits, client: `see-${name}`, request: 1 },
  });
  expect(put.status(), await put.text()).toBe(200);
  await page.goto(`${home}/see?photo=${name}`);
}

test('pictures all black or white, very small or very tall are shown and explained', async ({ page }) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  const home = new URL(page.url()).pathname;
  const flat = (level: number) =>
    sharp({ create: { width: 900, height: 600, channels: 3, background: { r: level, g: level, b: level } } })
      .png()
      .toBuffer();
  for (const [name, level] of [
    ['black', 0],
    ['white', 255],
  ] as const) {
    await bring(page, home, { name, bytes: await flat(level) });
    await seen(page);
    await expect(
      page.getByText(`Nothing can be made out in this picture: it is ${name} all over`),
    ).toBeVisible();
    await tapFront(page);
    await expect(page.getByText('Difference').first()).toBeVisible({ timeout: 30_000 });
    await accessible(page);
  }
  const ramp = sharp({ create: { width: 1200, height: 800, channels: 3, background: '#b89a78' } }).composite([
    { input: { create: { width: 600, height: 800, channels: 3, background: '#6d7f8c' } }, left: 0, top: 0 },
  ]);
  const picture = await ramp.png().toBuffer();
  await bring(page, home, { name: 'small', bytes: await sharp(picture).resize(320).png().toBuffer() });
  await seen(page);
  await expect(page.getByText('320 by 213 pixels each')).toBeVisible();
  await tapFront(page);
  await expect(page.getByText('in a disc 4 pixels wide')).toBeVisible({ timeout: 30_000 });

  await bring(page, home, {
    name: 'tall',
    bytes: await sharp(picture).resize(400, 2080, { fit: 'fill' }).png().toBuffer(),
  });
  await seen(page);
  // The words under it are not squeezed into its width.
  const under = await page.getByText(/^After: simulated/).boundingBox();
  const pane = stage(page).locator('.pane').first();
  const box = await pane.boundingBox();
  if (!box) throw new Error('expected a picture on the page');
  expect(under?.width).toBeGreaterThanOrEqual(230);
  // It lies across a frame that is wide enough to see something in, and is scrolled through; at its end the page goes on.
  expect(box.width).toBeGreaterThan(350);
  expect(box.height).toBeLessThan(700);
  const foot = [0.02, 0.92, 0.96, 0.06] as const;
  const middle = await look(page, foot);
  await page.mouse.move(box.x + box.width / 2, box.y + 60);
  await page.mouse.wheel(0, 3000);
  await page.mouse.move(box.x + box.width / 2, box.y + 62);
  expect(await page.evaluate(() => scrollY)).toBe(0);
  await expect.poll(async () => apart(await look(page, foot), middle)).toBeGreaterThan(3);
  await page.mouse.wheel(0, 300);
  await expect.poll(() => page.evaluate(() => scrollY)).toBeGreaterThan(0);
  await page.evaluate(() => scrollTo(0, 0));
  // The whole is a press away, with the grey of the page beside it (--surround of app.css).
  await page.getByRole('button', { name: 'Whole' }).click();
  const edge = [0.02, 0.4, 0.1, 0.2] as const;
  await expect.poll(async () => apart(await look(page, edge), [160, 160, 160])).toBeLessThan(3);
  await page.setViewportSize(PHONE);
  await fitsWidth(page);
  await accessible(page);
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
