/** Another picture in a photo's place: the photo stays the same, its marks wait, and one step back brings the earlier one. */
import { expect, test, type Page } from '@playwright/test';
import sharp from 'sharp';
import { accessible, DESK, fitsWidth, part, PHONE, sampleJob, saved } from './desk.ts';
import { jobId, loaded, ready, stateOf } from './marking-desk.ts';

const photoOf = async (page: Page, id: string) => (await loaded(page)).job.photos[id];
const card = (page: Page, name: string) =>
  page.getByRole('listitem').filter({ has: page.getByText(name, { exact: true }) });
const looks = async (page: Page) => {
  await accessible(page);
  await page.setViewportSize(PHONE);
  await accessible(page);
  await fitsWidth(page);
  await page.setViewportSize(DESK);
};
/** A picture is taken in by a process of its own, which takes its time on a busy machine. */
const TAKEN = { timeout: 60_000 };
const plain = (width: number, height: number) =>
  sharp({ create: { width, height, channels: 3, background: '#98a39b' } })
    .png()
    .toBuffer();

test('a better picture of the same view keeps the photo, what is known in it and its marks; bad files change nothing', async ({
  page,
}) => {
  test.setTimeout(240_000);
  await page.setViewportSize(DESK);
  await sampleJob(page);
  const before = await photoOf(page, 'kitchen-day');
  await part(page, 'Photos');
  const kitchen = card(page, 'Kitchen by day');
  const take = async (file: { name: string; mimeType: string; buffer: Buffer }) => {
    // By keys, as somebody without a pointer does it.
    const asked = page.waitForEvent('filechooser');
    await kitchen.getByRole('button', { name: 'Replace the picture of Kitchen by day' }).press('Enter');
    await (await asked).setFiles(file);
  };

  await take({ name: 'notes.jpg', mimeType: 'image/jpeg', buffer: Buffer.from('no picture at all') });
  await expect(kitchen.getByRole('alert')).toHaveText(/^Not taken\. .+ The picture is as it was\.$/, TAKEN);
  await looks(page);
  expect(await photoOf(page, 'kitchen-day')).toEqual(before);

  const answer = await page.request.get(`/api/files/${before.fileId}/working.png`);
  const same = await sharp(await answer.body())
    .resize(1200)
    .png()
    .toBuffer();
  await take({ name: 'again.png', mimeType: 'image/png', buffer: same });
  await expect(kitchen.getByText(/^Does “again\.png” show the very same view\?/)).toBeVisible(TAKEN);
  await looks(page);
  await kitchen.getByRole('button', { name: 'Leave the earlier picture' }).click();
  await expect(kitchen.getByText('The picture is as it was.')).toBeVisible();
  expect(await photoOf(page, 'kitchen-day')).toEqual(before);

  await take({ name: 'again.png', mimeType: 'image/png', buffer: same });
  await kitchen.getByRole('button', { name: 'Same view: keep them' }).click(TAKEN);
  await expect(
    kitchen.getByText('The picture is replaced; “Undo” brings the earlier one back.'),
  ).toBeVisible();
  await saved(page);
  await looks(page);
  const after = await photoOf(page, 'kitchen-day');
  expect(after.fileId).not.toBe(before.fileId);
  expect(after).toMatchObject({ id: before.id, name: before.name, role: before.role, width: 1200 });
  expect(after.masks).toEqual(before.masks);
  const [was, is] = [before, after].map(({ references }) => references.paper.region);
  if (was.kind !== 'box' || is.kind !== 'box') throw new Error('expected boxes');
  expect(is.x).toBeCloseTo((was.x * 1200) / before.width, 6);

  // The marks wait until somebody says that they fit.
  await kitchen.getByRole('link', { name: 'look whether their marks fit' }).click();
  await ready(page);
  await expect(stateOf(page, 'Cabinets')).toContainText('marked on another picture');
  await page.getByRole('button', { name: 'Keep the old marks' }).click();
  await expect(stateOf(page, 'Cabinets')).toContainText(/\d+ % of the picture$/);
  await saved(page);

  const undo = page.getByRole('banner').getByRole('button', { name: 'Undo' });
  await undo.click();
  await expect(stateOf(page, 'Cabinets')).toContainText('marked on another picture');
  await expect(undo).toHaveAttribute('title', 'Undo: replace the picture of “Kitchen by day”');
  await undo.click();
  await expect(stateOf(page, 'Cabinets')).toContainText(/\d+ % of the picture$/);
  await saved(page);
  expect(await photoOf(page, 'kitchen-day')).toEqual(before);
});

test('a picture of another shape takes the places in the earlier one away, and colours measured there stay', async ({
  page,
}) => {
  test.setTimeout(240_000);
  await page.setViewportSize(DESK);
  await sampleJob(page);
  const { job } = await loaded(page);
  const board = Object.values(job.photos).find(({ role }) => role === 'sample board');
  if (!board) throw new Error('expected a sample board in the sample job');
  await page.goto(`/jobs/${jobId(page)}/photos/${board.id}`);
  await page
    .getByLabel(`New picture for ${board.name}`)
    .setInputFiles({ name: 'tall.png', mimeType: 'image/png', buffer: await plain(600, 900) });
  await expect(page.getByText(/^“tall\.png” has another shape than the earlier picture\./)).toBeVisible(
    TAKEN,
  );
  await looks(page);
  await page.getByRole('button', { name: 'Replace it' }).click();
  await expect(page.getByText('The picture is replaced; “Undo” brings the earlier one back.')).toBeVisible();
  await saved(page);
  const after = (await loaded(page)).job;
  expect(after.photos[board.id]).toMatchObject({ width: 600, height: 900, references: {}, regions: {} });
  const measured = Object.values(job.swatches).filter(({ samples }) =>
    Object.values(samples).some(({ from }) => from?.photoId === board.id),
  );
  expect(measured.length).toBeGreaterThan(0);
  for (const { id, samples } of measured)
    for (const sample of Object.values(samples)) {
      const now = after.swatches[id].samples[sample.id];
      expect(now.colours).toEqual(sample.colours);
      if (sample.from?.photoId === board.id) expect(now.from).toBeNull();
    }
  await page.getByRole('banner').getByRole('button', { name: 'Undo' }).click();
  await saved(page);
  expect((await loaded(page)).job).toEqual(job);
});
