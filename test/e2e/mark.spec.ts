import { expect, test } from '@playwright/test';
import { setting, type SurfaceMask } from '#lib/job/index.ts';
import { decodeMask } from '#lib/photo/index.ts';
import sharp from 'sharp';
import { accessible, addSurface, DESK, fitsWidth, newJob, PHONE, saved } from './desk.ts';
import {
  changeFromOutside,
  done,
  draw,
  fingers,
  jobId,
  loaded,
  marksOf,
  onScreen,
  pick,
  picture,
  ready,
  sampleKitchen,
  selected,
  stateOf,
  unmarkedSample,
} from './marking-desk.ts';

/** Overlap of a stored mask with the true one of the rendered kitchen, area in both over area in either. */
async function overlap(stored: SurfaceMask | undefined, name: string): Promise<number> {
  const mask = decodeMask(stored?.mask);
  const truth = await sharp(`test/fixtures/sample/masks/${name}.png`).toColourspace('b-w').raw().toBuffer();
  let [both, either] = [0, 0];
  truth.forEach((cover, p) => {
    both += Math.min(cover, mask.data[p]);
    either += Math.max(cover, mask.data[p]);
  });
  return both / either;
}

const FLOOR = [
  [
    [500, 890],
    [700, 930],
    [900, 980],
  ],
  [
    [1080, 820],
    [1180, 800],
    [1330, 910],
    [1400, 1010],
  ],
  [
    [71, 976],
    [238, 785],
  ],
];
const CABINETS = [
  [
    [400, 620],
    [790, 610],
  ],
  [
    [274, 300],
    [600, 260],
  ],
  [
    [900, 485],
    [1060, 500],
    [1130, 540],
    [1300, 600],
  ],
];

test('three strokes each mark floor and cabinets of the sample kitchen; undo, redo and a reload keep what they should', async ({
  page,
}) => {
  test.setTimeout(150_000);
  await sampleKitchen(page);
  await accessible(page);
  await pick(page, 'Floor');
  await page.getByRole('checkbox', { name: 'Also take what looks like it elsewhere in the picture' }).check();
  for (const stroke of FLOOR) await draw(page, stroke);
  await done(page);
  expect(await overlap(await marksOf(page, 'kitchen-day', 'Floor'), 'floor')).toBeGreaterThan(0.9);

  await pick(page, 'Cabinets');
  await page.getByRole('checkbox', { name: 'Also take what looks like it elsewhere in the picture' }).check();
  await draw(page, CABINETS[0]);
  await draw(page, CABINETS[1]);

  // Unsaved strokes survive a reload.
  await page.reload();
  await ready(page);
  await selected(page);
  await expect(stateOf(page, 'Cabinets')).toContainText('not saved');
  await expect(
    page.getByRole('checkbox', { name: 'Also take what looks like it elsewhere in the picture' }),
  ).toBeChecked();
  await draw(page, CABINETS[2]);
  await expect(page.getByRole('status').filter({ hasText: /^Cabinets: \d+ % of the picture/ })).toBeVisible();

  // “Undo” takes a stroke back before it touches the job.
  await page.keyboard.press('Control+z');
  await expect(page.getByRole('status').filter({ hasText: /^Stroke 3 taken back, 2 left/ })).toBeVisible();
  await page.keyboard.press('Control+Shift+z');
  await selected(page);
  await accessible(page);

  await done(page);
  await expect(page.getByRole('status').filter({ hasText: /^Cabinets saved/ })).toBeVisible();
  expect(await overlap(await marksOf(page, 'kitchen-day', 'Cabinets'), 'cabinets')).toBeGreaterThan(0.9);

  await page.reload();
  await ready(page);
  await expect(stateOf(page, 'Cabinets')).toContainText(/2\d % of the picture$/);
  await expect(page.getByTitle('Undo: mark Cabinets in Kitchen by day')).toBeEnabled();
  await page.keyboard.press('Control+z');
  await expect(stateOf(page, 'Cabinets')).toContainText('not marked');
  await saved(page);
  expect(await marksOf(page, 'kitchen-day', 'Cabinets')).toBeUndefined();
  await page.keyboard.press('Control+Shift+z');
  await expect(stateOf(page, 'Cabinets')).toContainText(/2\d % of the picture$/);
});

test('a stroke takes away with the right button, with Shift, and from marks that were saved', async ({
  page,
}) => {
  await sampleKitchen(page);
  await pick(page, 'Floor');
  await draw(page, [
    [500, 890],
    [900, 980],
  ]);
  const share = async () =>
    Number(/(\d+) %/.exec((await stateOf(page, 'Floor').textContent()) ?? '')?.[1] ?? 0);
  const whole = await share();
  expect(whole).toBeGreaterThan(3);
  await pick(page, 'Walls');
  await expect(stateOf(page, 'Floor')).not.toContainText('not saved');
  await pick(page, 'Floor');
  await selected(page);
  await draw(
    page,
    [
      [500, 890],
      [900, 980],
    ],
    'right',
  );
  await expect.poll(share).toBeLessThan(whole);
  await page.keyboard.press('Control+z');
  await expect.poll(share).toBe(whole);
  await page.keyboard.down('Shift');
  await draw(page, [
    [500, 890],
    [900, 980],
  ]);
  await page.keyboard.up('Shift');
  await expect.poll(share).toBeLessThan(whole);

  // Leaving the page saves.
  await page.getByRole('link', { name: 'Correct and measure this photo' }).click();
  await expect(page.getByTitle('Undo: mark Floor in Kitchen by day')).toBeEnabled();
  await page.getByRole('link', { name: 'Mark surfaces' }).click();
  await expect(stateOf(page, 'Floor')).not.toContainText('not saved');
});

test('a surface is marked with the keyboard alone, and the picture sized and moved', async ({ page }) => {
  await sampleKitchen(page);
  await pick(page, 'Floor');
  await picture(page).focus();
  const scale = async () => Number(await picture(page).getAttribute('data-scale'));
  const before = await scale();
  for (let i = 0; i < 12; i += 1) await page.keyboard.press('Shift+ArrowDown');
  await page.keyboard.press('+');
  await expect.poll(scale).toBeGreaterThan(before * 1.4);
  await page.keyboard.press('0');
  await expect.poll(scale).toBeCloseTo(before, 6);
  await page.keyboard.press('Enter');
  await selected(page);
  const status = page.getByRole('status').filter({ hasText: /^Floor: / });
  await expect(status).toContainText('of the picture marked');
  await page.keyboard.press('Delete');
  await selected(page);
  await expect(status).toContainText(/(nothing marked yet|less than 1 % of the picture marked)\./);
  await page.keyboard.press('Control+z');
  await expect(page.getByRole('status').filter({ hasText: /^Stroke 2 taken back/ })).toBeVisible();

  // The wheel sizes the picture about the pointer, a held space bar moves it.
  await page.mouse.move(...(await onScreen(page, [800, 500])));
  await page.mouse.wheel(0, -600);
  await expect.poll(scale).toBeGreaterThan(before * 1.5);
  const left = async () => Number(await picture(page).getAttribute('data-left'));
  const from = await left();
  await page.keyboard.down('Space');
  await page.mouse.down();
  await page.mouse.move(300, 400, { steps: 4 });
  await page.mouse.up();
  await page.keyboard.up('Space');
  expect(await left()).toBeLessThan(from - 20);
  await expect(stateOf(page, 'Floor')).toContainText('not saved');
});

test('marks go to another photo of the room only when asked, and marks that do not fit are told and not lost', async ({
  page,
}) => {
  await sampleKitchen(page);
  await pick(page, 'Floor');
  await draw(page, [
    [500, 890],
    [900, 980],
  ]);
  await done(page);
  const before = await marksOf(page, 'kitchen-day', 'Floor');

  await page.goto(`/jobs/${jobId(page)}/photos/kitchen-lamp/mark`);
  await ready(page);
  await expect(stateOf(page, 'Floor')).toContainText('not marked');
  const offer = page.getByRole('heading', { name: 'Marks from “Kitchen by day”' }).locator('..');
  await expect(offer).toContainText('It is another photo of this room with Floor marked.');
  await offer.getByRole('button', { name: 'Take its marks' }).click();
  await expect(offer).toContainText('shift them afterwards');
  await accessible(page);
  await offer.getByRole('button', { name: 'Same view: take them' }).click();
  await expect(stateOf(page, 'Floor')).toContainText(/\d+ % of the picture/);
  await saved(page);
  expect((await marksOf(page, 'kitchen-lamp', 'Floor'))?.mask).toEqual(before?.mask);

  // They are shifted by keys and by the pointer, as one edit.
  await page.getByRole('button', { name: 'Shift them' }).click();
  await accessible(page);
  await picture(page).focus();
  await page.keyboard.press('Shift+ArrowLeft');
  await page.getByRole('button', { name: 'Right', exact: true }).click();
  const [x, y] = await onScreen(page, [800, 900]);
  await page.mouse.move(x, y);
  await page.mouse.down();
  const up = 30 * Number(await picture(page).getAttribute('data-scale'));
  await page.mouse.move(x, y - up, { steps: 4 });
  await page.mouse.up();
  await expect(page.getByText('Floor: 9 px left, 30 px up')).toBeVisible();
  await page.getByRole('button', { name: 'They lie right' }).click();
  await expect(page.getByRole('heading', { name: 'Shift marks' })).toHaveCount(0);
  await saved(page);
  const [from, to] = [before, await marksOf(page, 'kitchen-lamp', 'Floor')].map((marks) =>
    decodeMask(marks?.mask),
  );
  for (const [px, py] of [
    [700, 940],
    [300, 900],
    [1300, 950],
    [600, 500],
  ])
    expect(to.data[(py - 30) * to.width + px - 9]).toBe(from.data[py * from.width + px]);
  await page.keyboard.press('Control+z');
  await saved(page);
  expect((await marksOf(page, 'kitchen-lamp', 'Floor'))?.mask).toEqual(before?.mask);

  // The picture is replaced: the marks stay in the job, and are only used again where the user says so.
  await changeFromOutside(page, (job) =>
    setting(job, 'replace the picture', [
      [['photos', 'kitchen-lamp', 'fileId'], job.photos['kitchen-mixed'].fileId],
    ]),
  );
  await page.reload();
  await ready(page);
  await expect(stateOf(page, 'Floor')).toContainText('marked on another picture');
  await expect(page.getByRole('alert').filter({ hasText: 'not lost' })).toBeVisible();
  await accessible(page);
  await page.getByRole('button', { name: 'Keep the old marks' }).click();
  await expect(stateOf(page, 'Floor')).toContainText(/\d+ % of the picture/);

  // A mask that cannot be read is said so, and marking goes on.
  await changeFromOutside(page, (job) => {
    const [id] = Object.keys(job.photos['kitchen-lamp'].masks ?? {});
    return setting(job, 'damage', [[['photos', 'kitchen-lamp', 'masks', id, 'mask', 'sum'], 1]]);
  });
  await page.reload();
  await ready(page);
  await expect(
    page.getByRole('alert').filter({ hasText: 'The marks of Floor cannot be read' }),
  ).toBeVisible();
  await pick(page, 'Floor');
  await draw(page, [
    [500, 890],
    [900, 980],
  ]);
  await done(page);
  await expect(page.getByText(/cannot be read/)).toHaveCount(0);
});

test('small, tall, black and white pictures are marked or explained', async ({ page }) => {
  test.setTimeout(120_000);
  await page.setViewportSize(DESK);
  await newJob(page, 'Odd pictures');
  await addSurface(page, 'walls');
  const made = async (name: string, width: number, height: number, grey: number, box?: number) => {
    const base = sharp({
      create: { width, height, channels: 3, background: { r: grey, g: grey, b: grey } },
    });
    const inner = { width: width >> 1, height: height >> 1, channels: 3 as const };
    const patch = { r: box ?? grey, g: box ?? grey, b: box ?? grey };
    const buffer = await base
      .composite([{ input: { create: { ...inner, background: patch } }, gravity: 'centre' }])
      .png()
      .toBuffer();
    return { name: `${name}.png`, mimeType: 'image/png', buffer };
  };
  await page.goto(`/jobs/${jobId(page)}/photos`);
  await page
    .getByLabel('Add photos')
    .setInputFiles([
      await made('small', 320, 213, 60, 190),
      await made('tall', 300, 1800, 60, 190),
      await made('black', 640, 480, 0),
      await made('white', 640, 480, 255),
    ]);
  const count = async () => Object.keys((await loaded(page)).job.photos).length;
  await expect.poll(count, { timeout: 30_000 }).toBe(4);
  await expect(page.getByRole('link', { name: 'Mark surfaces in tall' })).toHaveAttribute('href', /\/mark$/);
  const { photos } = (await loaded(page)).job;
  for (const { id, name, width, height } of Object.values(photos)) {
    await page.goto(`/jobs/${jobId(page)}/photos/${id}/mark`);
    await ready(page);
    const told = page.getByText(
      'This picture is the same all over: there is nothing in it to tell surfaces apart by',
    );
    await expect(told).toHaveCount(name === 'black' || name === 'white' ? 1 : 0);
    // A larger picture of a long and narrow view would not do better.
    await expect(page.getByText(/^This photo is small, /)).toHaveCount(name === 'small' ? 1 : 0);
    await expect(page.getByText(/^This picture is long and narrow\./)).toHaveCount(name === 'tall' ? 1 : 0);
    await draw(page, [[width / 2, height / 2]]);
    const status = page.getByRole('status').filter({ hasText: /^Walls: / });
    // The patch is a quarter of its picture.
    if (name === 'small' || name === 'tall')
      await expect(status).toHaveText(/2[3-7] % of the picture marked/);
    else {
      await expect(status).toContainText('The picture shows no edge, so the whole of it is selected.');
      await expect(stateOf(page, 'Walls')).toContainText('100 % of the picture');
      // A touch takes away as much as one adds.
      await draw(page, [[width / 3, height / 3]], 'right');
      await expect(stateOf(page, 'Walls')).toContainText('nothing marked');
      await page.keyboard.press('Control+z');
      await expect(stateOf(page, 'Walls')).toContainText('100 % of the picture');
    }
    if (name === 'tall') {
      await page.setViewportSize(PHONE);
      await fitsWidth(page);
      await page.setViewportSize(DESK);
    }
  }
});

test.describe('with fingers', () => {
  test.use({ hasTouch: true, viewport: PHONE });

  test('one finger draws, two fingers size the picture and draw nothing', async ({ page }) => {
    await unmarkedSample(page);
    await page.getByRole('link', { name: 'Mark surfaces' }).click();
    await ready(page);
    await fitsWidth(page);
    await accessible(page);
    await pick(page, 'Floor');
    await picture(page).scrollIntoViewIfNeeded();
    const touch = await fingers(page);
    const [x, y] = await onScreen(page, [800, 960]);
    const scale = async () => Number(await picture(page).getAttribute('data-scale'));
    const before = await scale();

    await touch('touchStart', [[x - 20, y - 60]]);
    await touch('touchStart', [
      [x - 20, y - 60],
      [x + 20, y - 60],
    ]);
    for (const by of [30, 50, 70])
      await touch('touchMove', [
        [x - by, y - 60],
        [x + by, y - 60],
      ]);
    await touch('touchEnd', []);
    await expect.poll(scale).toBeGreaterThan(before * 1.5);
    await expect(stateOf(page, 'Floor')).toContainText('not marked');

    await page.getByRole('button', { name: 'Whole' }).click();
    for (const [type, place] of [
      ['touchStart', 770],
      ['touchMove', 800],
      ['touchMove', 860],
    ] as const)
      await touch(type, [await onScreen(page, [place, 960])]);
    await touch('touchEnd', []);
    await expect(stateOf(page, 'Floor')).toContainText(/\d+ % of the picture, not saved/);
    await done(page);
    expect(await marksOf(page, 'kitchen-day', 'Floor')).toBeDefined();
  });
});
