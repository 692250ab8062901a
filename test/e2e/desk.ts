import AxeBuilder from '@axe-core/playwright';
import { expect, type Page } from '@playwright/test';

/** Widths the studio is looked at: a phone and a desktop. */
export const PHONE = { width: 390, height: 844 };
export const DESK = { width: 1440, height: 900 };

/** A new job with one room, opened. */
export async function newJob(page: Page, name: string): Promise<void> {
  await page.goto('/');
  await page.getByLabel('New job').fill(name);
  await page.getByRole('button', { name: 'Start it' }).click();
  await page.getByRole('button', { name: 'Add the first room' }).click();
  await expect(page.getByRole('heading', { name: 'Surfaces' })).toBeVisible();
}

export async function addSurface(page: Page, kind: string): Promise<void> {
  await page.getByLabel('Kind of surface to add').selectOption(kind);
  await page.getByRole('button', { name: 'Add surface' }).click();
}

/** A sample job of its own, opened on its first page. */
export async function sampleJob(page: Page): Promise<void> {
  await page.goto('/');
  await page.getByRole('button', { name: 'Open a fresh sample job' }).click();
  await page.waitForURL(/\/jobs\//, { timeout: 60_000 });
  await expect(page.getByRole('heading', { name: 'Surfaces' })).toBeVisible();
}

export function part(
  page: Page,
  name: 'Room' | 'Light' | 'Photos' | 'Swatches' | 'Shortlist' | 'Scheme' | 'See' | 'Board' | 'Schedule',
) {
  return page.getByRole('navigation', { name: 'Parts of the job' }).getByRole('link', { name }).click();
}

/** Everything sent so far is on the server's disk. */
export async function saved(page: Page): Promise<void> {
  await expect(page.getByRole('status').filter({ hasText: /^Saved$/ })).toBeVisible();
}

/** A tap on the shown picture, in parts of its width and height. */
export async function tap(page: Page, x: number, y: number): Promise<void> {
  const box = await page.getByRole('application', { name: /^Places marked in the picture/ }).boundingBox();
  if (!box) throw new Error('expected a picture on the page');
  await page.mouse.click(box.x + x * box.width, box.y + y * box.height);
}

/** No accessibility fault that axe can find (WCAG 2.2 A and AA), in the page as it stands. */
export async function accessible(page: Page): Promise<void> {
  const { violations } = await new AxeBuilder({ page })
    .withTags(['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa'])
    .analyze();
  const found = violations.map(
    ({ id, nodes }) => `${id}: ${nodes.map((node) => node.target.join(' ')).join(', ')}`,
  );
  expect(found).toEqual([]);
}

/** Nothing sticks out sideways. */
export async function fitsWidth(page: Page): Promise<void> {
  const over = await page.evaluate(
    () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
  );
  expect(over).toBeLessThanOrEqual(0);
}
