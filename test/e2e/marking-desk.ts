import { expect, type Page } from '@playwright/test';
import { setting, type Edit, type Job, type SurfaceMask } from '#lib/job/index.ts';
import { DESK, sampleJob, saved } from './desk.ts';

export const picture = (page: Page) => page.getByRole('application');
const surfaces = (page: Page) => page.getByRole('list', { name: 'Surfaces' });
export const pick = (page: Page, name: string) =>
  surfaces(page)
    .getByRole('button', { name: new RegExp(`^${name}`) })
    .click();
export const stateOf = (page: Page, name: string) =>
  surfaces(page)
    .getByRole('listitem')
    .filter({ hasText: new RegExp(`^\\s*${name}`) });

/** The picture is ready for strokes. */
export async function ready(page: Page): Promise<void> {
  await expect(picture(page)).toBeVisible();
  await expect(page.getByText(/^(Reading the picture|Getting the picture ready)/)).toHaveCount(0, {
    timeout: 30_000,
  });
}

export async function sampleKitchen(page: Page): Promise<void> {
  await page.setViewportSize(DESK);
  await unmarkedSample(page);
  await page.getByRole('link', { name: 'Mark surfaces' }).click();
  await ready(page);
}

/** A sample job whose photos have lost the marks they come with. */
export async function unmarkedSample(page: Page): Promise<void> {
  await sampleJob(page);
  await changeFromOutside(page, (job) => {
    const marked = Object.keys(job.photos).filter((id) => job.photos[id].masks);
    return setting(
      job,
      'take the marks away',
      marked.map((id) => [['photos', id, 'masks'], undefined]),
    );
  });
  await page.reload();
}

/** Where a place of the picture lies on the screen. */
export async function onScreen(page: Page, [x, y]: readonly number[]): Promise<[number, number]> {
  const box = await picture(page).boundingBox();
  if (!box) throw new Error('expected a picture on the page');
  const [scale, left, top] = await picture(page).evaluate(({ dataset: { scale, left, top } }) =>
    [scale, left, top].map(Number),
  );
  return [box.x + left + x * scale, box.y + top + y * scale];
}

/** A stroke through places of the picture; waits until the selection holds it. */
export async function draw(
  page: Page,
  places: readonly (readonly number[])[],
  button: 'left' | 'right' = 'left',
): Promise<void> {
  const points = [];
  for (const place of places) points.push(await onScreen(page, place));
  await page.mouse.move(...points[0]);
  await page.mouse.down({ button });
  for (const point of points.slice(1)) await page.mouse.move(...point, { steps: 5 });
  await page.mouse.up({ button });
  await selected(page);
}

export const selected = (page: Page) =>
  expect(picture(page)).toHaveAttribute('aria-busy', 'false', { timeout: 20_000 });

/** Saves what is drawn and waits until the server has it. */
export async function done(page: Page): Promise<void> {
  await page.getByRole('button', { name: 'Done', exact: true }).click();
  await expect(page.getByRole('button', { name: 'Done', exact: true })).toBeDisabled();
  await saved(page);
}

export const jobId = (page: Page) => new URL(page.url()).pathname.split('/')[2];

export async function loaded(page: Page): Promise<{ job: Job; version: number }> {
  return (await page.request.get(`/api/jobs/${jobId(page)}`)).json();
}

/** Changes the job as another tab would. */
export async function changeFromOutside(page: Page, make: (job: Job) => Edit): Promise<void> {
  const { job, version } = await loaded(page);
  const answer = await page.request.post(`/api/jobs/${jobId(page)}/edits`, {
    data: { base: version, client: `outside-${version}`, request: 1, edits: [make(job)] },
    headers: { origin: new URL(page.url()).origin },
  });
  expect(answer.ok()).toBe(true);
}

export async function marksOf(page: Page, photoId: string, name: string): Promise<SurfaceMask | undefined> {
  const { job } = await loaded(page);
  return Object.values(job.photos[photoId].masks ?? {}).find(({ id }) => job.surfaces[id]?.name === name);
}

/** Fingers on the screen, through the browser's own protocol: the page sees them as a phone's. */
export async function fingers(page: Page) {
  const devtools = await page.context().newCDPSession(page);
  return (type: 'touchStart' | 'touchMove' | 'touchEnd', points: readonly (readonly [number, number])[]) =>
    devtools.send('Input.dispatchTouchEvent', {
      type,
      touchPoints: points.map(([x, y], id) => ({ x, y, id })),
    });
}
