import fs from 'node:fs';
import path from 'node:path';
import { expect, type Locator, type Page } from '@playwright/test';
import sharp from 'sharp';
import { decodeRgb, linearRgbToXyz, WHITE_D65_2, xyzToLab, type Lab } from '#lib/colour/index.ts';
import type { Job, Photo, SurfaceMask } from '#lib/job/index.ts';
import { encodeMask } from '#lib/photo/index.ts';
import { sampleJob } from './desk.ts';

/* What the journeys of the page where finishes are seen have in common. */

const MASKS = path.resolve(import.meta.dirname, '../fixtures/sample/masks');
export const PHOTO = 'kitchen-day';
const MARKED = ['cabinets', 'counter', 'backsplash', 'walls', 'floor'];

export type Stored = Pick<SurfaceMask, 'mask'>['mask'];

async function trueMask(name: string): Promise<Stored> {
  const { data, info } = await sharp(fs.readFileSync(path.join(MASKS, `${name}.png`)))
    .toColourspace('b-w')
    .raw()
    .toBuffer({ resolveWithObject: true });
  return encodeMask({ width: info.width, height: info.height, data: new Uint8Array(data) });
}

export const emptyMask = (): Stored =>
  encodeMask({ width: 1600, height: 1067, data: new Uint8Array(1600 * 1067) });

/** A sample job whose kitchen is marked by its true masks, or as `change` leaves it, opened where finishes are seen. */
export async function marked(
  page: Page,
  change: (photo: Photo, job: Job) => void = () => {},
): Promise<string> {
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

export const stage = (page: Page) => page.getByRole('application', { name: /with finishes on$/ });
export const candidate = (page: Page, name: string) =>
  page
    .getByRole('group', { name: 'What is on Cabinets' })
    .getByRole('radio', { name: new RegExp(`^${name}`) });
export const seen = (page: Page) =>
  expect(page.getByText('A simulation, shown in')).toBeVisible({ timeout: 90_000 });

/** Mean of a part of the picture as it is on screen, 0-255: left, top, width, height in parts of the first pane. */
export async function look(page: Page, [x, y, w, h]: readonly [number, number, number, number], pane = 0) {
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

export const apart = (p: number[], q: number[]) => Math.max(...p.map((value, i) => Math.abs(value - q[i])));
/** One pane of the window. */
export const PANE = [0.885, 0.17, 0.03, 0.05] as const;
/** The island's front and the window, in parts of the picture. */
export const FRONT = [0.32, 0.66, 0.06, 0.08] as const;
/** The wall on the left, beside the picture that hangs there. */
export const WALL = [0.03, 0.4, 0.03, 0.06] as const;
export const WINDOW = [0.78, 0.18, 0.05, 0.05] as const;

/** The front of the island, parts of the picture. */
export const FRONT_SPOT = [0.35, 0.7] as const;

/** What a tap has read, as the page writes it. */
export async function readings(told: Locator) {
  const labOf = async (term: string): Promise<Lab> => {
    const row = told.locator('dl > div').filter({ has: told.page().locator('dt', { hasText: term }) });
    const text = (await row.getByText(/^L\* /).innerText()).replaceAll('\u2212', '-');
    const [L, a, b] = [...text.matchAll(/-?\d+\.\d/g)].map(([value]) => Number(value));
    return { L, a, b };
  };
  const [now, after, finish] = [await labOf('Now'), await labOf('After'), await labOf('Itself')];
  return { now, after, finish };
}

/** Before and after as they are saved, and the mean colour of a disc of either. */
export async function savedPair(page: Page) {
  const download = page.waitForEvent('download');
  await page.getByRole('button', { name: 'Save before and after' }).click();
  const { data, info } = await sharp(await (await download).path())
    .removeAlpha()
    .raw()
    .toBuffer({ resolveWithObject: true });
  const gap = (info.width - 2 * 1600) / 3;
  // The picture begins below the first line that is white all over under the heading.
  const top = firstRowOf(data, { width: info.width, gap });
  const colour = (side: number, [x, y]: readonly [number, number]): Lab => {
    const [cx, cy] = [gap + side * (1600 + gap) + x * 1600, top + y * 1067];
    const sum = [0, 0, 0];
    let count = 0;
    for (let py = Math.floor(cy - 7); py < cy + 7; py += 1)
      for (let px = Math.floor(cx - 7); px < cx + 7; px += 1) {
        if (Math.hypot(px + 0.5 - cx, py + 0.5 - cy) > 6.4) continue;
        for (let c = 0; c < 3; c += 1)
          sum[c] += decodeRgb(data[3 * (py * info.width + px) + c] / 255, 'srgb');
        count += 1;
      }
    const [r, g, b] = sum.map((light) => light / count);
    return xyzToLab(linearRgbToXyz({ r, g, b }, 'srgb'), WHITE_D65_2);
  };
  return { colour };
}

/** The row in which the pictures begin: the first that is no paper all along the left one. */
function firstRowOf(data: Buffer, { width, gap }: { width: number; gap: number }): number {
  for (let y = 0; ; y += 1) {
    const from = 3 * (y * width + Math.round(gap) + 400);
    if (data.subarray(from, from + 3 * 800).every((value) => value < 250)) return y;
  }
}

export async function tapFront(page: Page) {
  const box = await stage(page).locator('.pane').first().boundingBox();
  if (!box) throw new Error('expected a picture on the page');
  await page.mouse.click(box.x + FRONT_SPOT[0] * box.width, box.y + FRONT_SPOT[1] * box.height);
}
