import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { expect, test } from '@playwright/test';
import type { Job } from '#lib/job/index.ts';
import { addSurface, newJob, part, sampleJob, saved, tap } from './desk.ts';

test('edits survive a reload, and undo and redo reach over it', async ({ page }) => {
  await newJob(page, 'Kept');
  await addSurface(page, 'walls');
  await page.getByLabel('Name of the surface').fill('North wall');
  await page.getByLabel('Name of the surface').blur();
  await saved(page);
  await page.reload();
  await expect(page.getByLabel('Name of the surface')).toHaveValue('North wall');
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(page.getByLabel('Name of the surface')).toHaveValue('Walls');
  await page.getByRole('button', { name: 'Redo' }).click();
  await expect(page.getByLabel('Name of the surface')).toHaveValue('North wall');
});

test('what is done while the studio does not answer is kept and sent later', async ({ page, context }) => {
  await newJob(page, 'Away');
  await addSurface(page, 'floor');
  await saved(page);
  await context.setOffline(true);
  await page.getByLabel('Name of the surface').fill('Plank floor');
  await page.getByLabel('Name of the surface').blur();
  await expect(page.getByText('Not saved yet: trying again')).toBeVisible();
  await context.setOffline(false);
  await saved(page);
  await page.reload();
  await expect(page.getByLabel('Name of the surface')).toHaveValue('Plank floor');
});

test('a browser whose store is full still saves', async ({ page }) => {
  await page.addInitScript(() => {
    Storage.prototype.setItem = () => {
      throw new DOMException('full', 'QuotaExceededError');
    };
  });
  await newJob(page, 'Full');
  await addSurface(page, 'walls');
  await saved(page);
  await page.reload();
  await expect(page.getByLabel('Name of the surface')).toHaveValue('Walls');
});

test('two tabs: different things merge, the same thing collides and is said', async ({ page, context }) => {
  await newJob(page, 'Shared');
  await addSurface(page, 'walls');
  await addSurface(page, 'floor');
  await saved(page);
  const other = await context.newPage();
  await other.goto(page.url());
  const names = (tab: typeof page) => tab.getByLabel('Name of the surface');
  await expect(names(other)).toHaveCount(2);

  await names(page).nth(0).fill('East wall');
  await names(page).nth(0).blur();
  await saved(page);
  await expect(names(other).nth(0)).toHaveValue('East wall');

  // The other tab does not hear of a change while its channel to the server is cut.
  await other.route('**/edits', (route) => route.abort());
  await names(other).nth(1).fill('Stone floor');
  await names(other).nth(1).blur();
  await names(page).nth(1).fill('Cork floor');
  await names(page).nth(1).blur();
  await saved(page);
  await other.unroute('**/edits');
  await expect(other.getByRole('alert')).toContainText('has been changed meanwhile', { timeout: 20_000 });
  await expect(names(other).nth(1)).toHaveValue('Cork floor');
});

test('a change to what another tab has deleted is given up in words, and the others are saved', async ({
  page,
  context,
}) => {
  await newJob(page, 'Crossed');
  await addSurface(page, 'walls');
  await part(page, 'Swatches');
  await page.getByLabel('or paste it').fill('name;hex\nReed;#8f9a86\nClay;#b98a6a');
  await page.getByRole('button', { name: 'Keep these 2' }).click();
  await saved(page);
  const other = await context.newPage();
  await other.goto(page.url());
  await other.route('**/edits', (route) => route.abort());
  const card = (tab: typeof page, name: string) => tab.getByRole('article').filter({ hasText: name });
  await card(other, 'Reed').getByText('Details').click();
  await other.getByRole('button', { name: 'Delete this sample of Reed' }).click();
  await part(other, 'Room');
  await other.getByLabel('Name of the surface').fill('North wall');
  await other.getByLabel('Name of the surface').blur();

  await card(page, 'Reed').getByText('Details').click();
  await page.getByRole('button', { name: 'Delete swatch Reed' }).click();
  await saved(page);
  await other.unroute('**/edits');
  await expect(other.getByRole('alert')).toContainText('deleted meanwhile', { timeout: 20_000 });
  await saved(other);
  await other.reload();
  await expect(other.getByLabel('Name of the surface')).toHaveValue('North wall');
});

test('a step that another tab has overtaken does not bar the steps before it', async ({ page, context }) => {
  await newJob(page, 'Overtaken');
  await addSurface(page, 'walls');
  await addSurface(page, 'floor');
  await saved(page);
  const names = (tab: typeof page) => tab.getByLabel('Name of the surface');
  const rename = async (tab: typeof page, i: number, name: string) => {
    await names(tab).nth(i).fill(name);
    await names(tab).nth(i).blur();
    await saved(tab);
  };
  await rename(page, 0, 'East wall');
  await rename(page, 1, 'Cork floor');
  const other = await context.newPage();
  await other.goto(page.url());
  await rename(other, 1, 'Stone floor');
  await expect(names(page).nth(1)).toHaveValue('Stone floor');
  const undo = page.getByRole('button', { name: 'Undo', exact: true });
  await undo.click();
  await expect(page.getByRole('alert')).toContainText('passed over');
  await undo.click();
  await expect(names(page).nth(0)).toHaveValue('Walls');
  await expect(names(page).nth(1)).toHaveValue('Stone floor');
});

test('undo right after a word was typed or a place tapped takes back just that', async ({ page }) => {
  await newJob(page, 'In haste');
  await addSurface(page, 'walls');
  const undo = page.getByRole('button', { name: 'Undo', exact: true });
  const redo = page.getByRole('button', { name: 'Redo', exact: true });
  await page.getByText('About this job').click();
  await page.getByLabel('Notes').fill('Keep the old tiles.');
  await undo.click();
  await expect(redo).toHaveAttribute('title', 'Redo: change the notes');
  // Longer than typing is waited for.
  await page.waitForTimeout(1200);
  await expect(page.getByLabel('Notes')).toHaveValue('');
  await expect(page.getByLabel('Name of the surface')).toHaveValue('Walls');

  await part(page, 'Photos');
  await page.getByLabel('Add photos').setInputFiles('static/sample/slab-calm.jpg');
  await page.getByRole('link', { name: 'slab-calm' }).click();
  await page.getByRole('button', { name: 'Measure a place' }).click();
  await tap(page, 0.62, 0.5);
  await page.getByRole('button', { name: 'Stop marking' }).click();
  await page.getByLabel('Keep place 1 as a swatch').selectOption('new');
  await page.getByRole('button', { name: 'White paper' }).click();
  await saved(page);
  const before = (await undo.getAttribute('title'))!;
  // Right after the tap that corrects the photo, while what was measured in it is measured anew.
  await page.evaluate(() => {
    const button = [...document.querySelectorAll<HTMLElement>('header button')].find(
      (one) => one.textContent?.trim() === 'Undo',
    );
    addEventListener('pointerup', () => queueMicrotask(() => button?.click()), { once: true });
  });
  await tap(page, 0.88, 0.8);
  await expect(redo).toHaveAttribute('title', 'Redo: correct the photo from white paper');
  await expect(undo).toHaveAttribute('title', before);
  await saved(page);
  await expect(page.getByRole('button', { name: 'Take away' })).toHaveCount(0);
  await expect(page.getByText('Sample of')).toHaveCount(1);
  await redo.click();
  await expect(page.getByRole('button', { name: 'Take away' })).toBeVisible();
});

test('a deleted job can be brought back', async ({ page }) => {
  await newJob(page, 'Thrown away');
  await saved(page);
  await page.goto('/');
  await page.getByRole('button', { name: 'Delete Thrown away' }).first().click();
  await expect(page.getByRole('link', { name: 'Thrown away' })).toHaveCount(0);
  await page.getByText(/^Deleted jobs/).click();
  await page.getByRole('button', { name: 'Bring back Thrown away' }).first().click();
  await expect(page.getByRole('link', { name: 'Thrown away' })).toBeVisible();
});

test('a file that is no picture is refused in one sentence, and the others are taken', async ({ page }) => {
  await newJob(page, 'Mixed bag');
  await part(page, 'Photos');
  const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'brushout-files-'));
  const note = path.join(folder, 'letter.jpg');
  fs.writeFileSync(note, 'Dear client, this is not a picture.');
  await page.getByLabel('Add photos').setInputFiles([note, 'static/sample/slab-calm.jpg']);
  await expect(page.getByText('Not taken.')).toBeVisible();
  await expect(page.getByRole('listitem').filter({ hasText: 'Colours estimated' })).toHaveCount(1, {
    timeout: 30_000,
  });
});

test('an upload can be cancelled, and nothing of it is kept', async ({ page }) => {
  await newJob(page, 'Changed my mind');
  await part(page, 'Photos');
  // The upload is held up on its way so that there is time to cancel.
  await page.route('**/files?*', async (route) => {
    await new Promise((resolve) => setTimeout(resolve, 3000));
    await route.continue().catch(() => {});
  });
  await page.getByLabel('Add photos').setInputFiles('static/sample/board.jpg');
  await page.getByRole('button', { name: 'Cancel' }).click();
  await expect(page.getByText('cancelled, nothing was stored')).toBeVisible();
  await expect(page.getByText('No photos yet.')).toBeVisible();
});

test('an emptied name is not taken, and the field shows the old one again', async ({ page }) => {
  await newJob(page, 'Named');
  await page.getByText('About this job').click();
  const name = page.getByLabel('Name of the job');
  await name.fill('');
  await name.blur();
  await expect(name).toHaveValue('Named');
  await expect(page.getByRole('button', { name: 'Undo' })).toHaveAttribute('title', 'Undo: add room');
});

test('what is measured in a photo follows what the photo is said to show', async ({ page }) => {
  await sampleJob(page);
  const samples = async () => {
    const response = await page.request.get(`/api${new URL(page.url()).pathname.replace('/photos', '')}`);
    const { job } = (await response.json()) as { job: Job };
    const board = Object.values(job.photos).find((photo) => photo.name === 'Sample board');
    const measured = Object.values(job.swatches).flatMap((swatch) => Object.values(swatch.samples));
    return {
      role: board?.role,
      colours: JSON.stringify(measured.filter((sample) => sample.from).map((sample) => sample.colours)),
    };
  };
  const before = await samples();
  await part(page, 'Photos');
  await page
    .getByRole('listitem')
    .filter({ has: page.getByRole('link', { name: 'Sample board' }) })
    .getByLabel('What it shows')
    .selectOption('slab');
  await expect.poll(async () => (await samples()).role, { timeout: 30_000 }).not.toBe(before.role);
  expect((await samples()).colours).not.toBe(before.colours);
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect.poll(async () => (await samples()).colours).toBe(before.colours);
});

test('a list with wrong rows is read as far as it can be, and a deleted swatch comes back with undo', async ({
  page,
}) => {
  await newJob(page, 'Lists');
  await part(page, 'Swatches');
  await page
    .getByLabel('or paste it')
    .fill(
      'name;hex;price\nReed;#8f9a86;54,50 EUR per tin of two and a half litres\nNonsense;#zzz;1\nClay;#b98a6a;61,00',
    );
  await expect(page.getByText('2 swatches read')).toBeVisible();
  await expect(page.getByText('Line 3')).toBeVisible();
  await page.getByRole('button', { name: 'Keep these 2' }).click();
  await expect(page.getByRole('heading', { name: 'Reed' })).toBeVisible();
  await saved(page);
  await expect(page.getByRole('alert')).toHaveCount(0);
  await page.getByRole('article').filter({ hasText: 'Reed' }).getByText('Details').click();
  await page.getByRole('button', { name: 'Delete swatch Reed' }).click();
  await expect(page.getByRole('heading', { name: 'Reed' })).toHaveCount(0);
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(page.getByRole('heading', { name: 'Reed' })).toBeVisible();
});

test('marks in a photo are moved with the arrow keys, and what was measured follows', async ({ page }) => {
  await sampleJob(page);
  await part(page, 'Photos');
  // The room's page speaks of the inspiration too.
  await page.waitForURL(/\/photos$/);
  await page.getByRole('link', { name: 'Inspiration' }).click();
  const mark = page.getByRole('button', { name: /^1\. Green drawers/ });
  await mark.focus();
  const aim = () => page.evaluate(() => document.querySelector('.regions .numbers')?.textContent ?? '');
  await expect.poll(aim).toContain('Lightness');
  const before = await aim();
  const place = async () => {
    const [, jobId, photoId] = /jobs\/([^/]+)\/photos\/([^/]+)/.exec(page.url()) ?? [];
    const { job } = (await (await page.request.get(`/api/jobs/${jobId}`)).json()) as { job: Job };
    const photo = job.photos[photoId];
    const { region } = Object.values(photo.regions).toSorted((a, b) => a.order - b.order)[0];
    const top = region.kind === 'polygon' ? region.points[0][1] : region.y;
    return { top, step: Math.round(Math.max(photo.width, photo.height) * 0.009), height: photo.height };
  };
  const { top, step } = await place();
  for (let i = 0; i < 12; i += 1) await page.keyboard.press('ArrowDown');
  await expect.poll(aim).not.toBe(before);
  // Keys come faster than the measuring, and each one counts.
  await expect.poll(async () => (await place()).top, { timeout: 30_000 }).toBeCloseTo(top + 12 * step, 3);
  await expect(page.getByRole('button', { name: 'Undo' })).toBeEnabled();
});
