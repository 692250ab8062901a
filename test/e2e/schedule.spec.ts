import { expect, test, type Page } from '@playwright/test';
import { setting, type Job } from '#lib/job/index.ts';
import { encodeMask } from '#lib/photo/index.ts';
import { accessible, addSurface, DESK, fitsWidth, newJob, PHONE, sampleJob, saved } from './desk.ts';
import { changeFromOutside } from './marking-desk.ts';

// Setting up a sample job and looking for accessibility faults take their time on a busy machine.
test.setTimeout(240_000);

const region = (page: Page, name: string | RegExp) => page.getByRole('region', { name, exact: true });
const schedule = (page: Page) => region(page, 'Kitchen: the finish schedule');
const brief = (page: Page) => region(page, 'In short');
const row = (page: Page, surface: string) =>
  schedule(page)
    .getByRole('listitem')
    .filter({ has: page.getByRole('heading', { name: surface, exact: true }) });

async function openSchedule(page: Page): Promise<void> {
  await page
    .getByRole('navigation', { name: 'Parts of the job' })
    .getByRole('link', { name: 'Schedule', exact: true })
    .click();
  await expect(page.getByRole('heading', { level: 1, name: 'Schedule' })).toBeVisible();
}

/** Chooses the candidate that leads the shortlist of an open surface. */
async function chooseFirst(page: Page, surface: string): Promise<void> {
  await row(page, surface).getByRole('link', { name: 'Choose from the shortlist' }).click();
  await page
    .getByRole('button', { name: /^Choose / })
    .first()
    .click({ timeout: 60_000 });
  await openSchedule(page);
}

async function type(page: Page, field: ReturnType<Page['getByLabel']>, text: string): Promise<void> {
  await field.fill(text);
  await field.press('Tab');
}

test('the sample job from open surfaces to what is ordered, agreed and changed', async ({ page }) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await openSchedule(page);

  // What is open is said, and stands in no total; what stays stays.
  await expect(row(page, 'Cabinets')).toContainText('Still open');
  await expect(row(page, 'Floor')).toContainText('stays');
  await expect(brief(page)).toContainText('Kitchen, Cabinets: no finish is chosen.');
  await chooseFirst(page, 'Cabinets');
  await chooseFirst(page, 'Handles');
  await expect(brief(page)).toContainText(/EUR in all, with .* EUR VAT in it/);
  await expect(brief(page)).toContainText('Nothing is left out.');
  await expect(brief(page)).toContainText(/of the budget of 2600\.00 EUR are left/);
  await expect(row(page, 'Cabinets')).toContainText('Grip primer');
  await expect(page.getByText(/^The end hangs most on one delivery: .*, which comes \w{3} /)).toBeVisible();
  await expect(row(page, 'Cabinets')).toContainText(/ l \(.* US gal\)/);

  // Sizes: reckoned line by line. 3.30 x 0.72 m is 2.376 m².
  await schedule(page).getByText('Sizes, work and supply of Cabinets').click();
  const sizes = region(page, 'Sizes of Cabinets');
  await expect(sizes).toContainText('face frame: 1 front 3.30 × 0.72 m = 2.38 m²');
  const width = sizes.getByLabel('Width', { exact: true }).first();
  await type(page, width, 'about three');
  await expect(width).toHaveValue('about three');
  await expect(sizes).toContainText('“about three” is no length we can read.');
  await expect(sizes).toContainText('Until then 3.30 m stands.');
  await type(page, width, '0');
  await expect(width).toHaveValue('0');
  await expect(sizes).toContainText(
    '“0” is not taken: it has to be more than zero. Until then 3.30 m stands.',
  );
  await expect(sizes).toContainText('face frame: 1 front 3.30 × 0.72 m = 2.38 m²');
  await type(page, width, '-2 m');
  await expect(width).toHaveValue('-2.00 m');
  await expect(sizes).toContainText('The side of a cabinet is negative.');
  await expect(sizes).toContainText(/not in it: Window wall and hob wall: /);
  // 10 ft 6 in are 3.2004 m (NIST SP 811).
  await type(page, width, `10' 6"`);
  await expect(width).toHaveValue('3.2004 m');
  await expect(sizes.getByText('The side of a cabinet is negative.')).toHaveCount(0);

  // Work and supply: coats that cannot be, a can without a price.
  const work = region(page, 'Work on Cabinets');
  const needed = row(page, 'Cabinets').locator('.line').nth(1).locator('.cell').first();
  const before = await needed.innerText();
  await type(page, work.getByLabel('Finish coats'), '0');
  await expect(work).toContainText('The number of coats is 0; it must be a whole number from 1');
  await expect(brief(page)).not.toContainText('Nothing is left out.');
  await type(page, work.getByLabel('Finish coats'), '3');
  await expect(needed).not.toHaveText(before);
  const supply = page.getByRole('region', { name: /^Supply of/ }).first();
  await type(page, supply.getByLabel('Price, EUR', { exact: true }).first(), '-5');
  await expect(supply).toContainText('A price must be 0 or more, not -5.');
  await supply.getByRole('button', { name: 'Add a discount to can of 5 l' }).click();
  await type(
    page,
    supply.getByRole('group', { name: 'Discount 1 of can of 5 l' }).getByLabel('Percent off'),
    '120',
  );
  await expect(supply).toContainText('A discount lies from 0 to 100 %, not 120.');
  await page.evaluate(() => window.scrollTo(0, 0));
  await accessible(page);
  await fitsWidth(page);
  await page.setViewportSize(PHONE);
  await accessible(page);
  await fitsWidth(page);
  await page.setViewportSize(DESK);
  for (let steps = 0; steps < 3; steps++) await page.getByRole('button', { name: 'Undo' }).click();

  // Late: what comes in time instead is offered, and one press chooses it.
  const cabinets = row(page, 'Cabinets');
  await type(page, supply.getByLabel('Lead time'), '60');
  await expect(brief(page)).toContainText('Late.');
  const late = cabinets.locator('.line').nth(1);
  await expect(late).toContainText(/^.*Late\. It had to be ordered by .*, \d+ days late\./s);
  await late.getByRole('button', { name: /^Choose .* instead$/ }).click();
  await expect(brief(page)).not.toContainText('Late.');
  await page.getByRole('button', { name: 'Undo' }).click();
  await page.getByRole('button', { name: 'Undo' }).click();

  // Ordered, with the keyboard: the focus goes from the button to its day and back.
  const mark = page.getByRole('button', { name: /^Mark as ordered: .*, Handles$/ });
  await mark.focus();
  await page.keyboard.press('Enter');
  await expect(row(page, 'Handles')).toContainText(/Ordered \w{3} \d+ \w{3} \d{4}, comes/);
  await expect(page.getByLabel(/^Ordered on: .*, Handles$/)).toBeFocused();
  await page.getByRole('button', { name: /^Not ordered: .*, Handles$/ }).press('Enter');
  await expect(mark).toBeFocused();

  // Prices back: what they would change, what was not found, bad rows with their lines; one step back.
  const prices = region(page, 'Prices back from suppliers');
  await prices
    .getByLabel('or paste it')
    .fill(
      'maker,code,price,lead time\nTernhollow,TH-P1,90 EUR per 5 l,\nNobody,ZZ-9,4,\n,,5,\nTernhollow,TH-P1,,soon',
    );
  await expect(prices).toContainText('price was 79 EUR');
  await expect(prices).toContainText('Line 3: Nobody ZZ-9 is no finish of this job.');
  await expect(prices).toContainText('Line 4 (left out): No code and no name');
  await expect(prices).toContainText('Line 5 (left out): No price and no lead time that could be read.');
  const total = await brief(page).locator('.sum').innerText();
  await prices.getByRole('button', { name: 'Take these changes' }).click();
  await expect(prices).toContainText('1 change is taken.');
  await expect(brief(page).locator('.sum')).not.toHaveText(total);
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(brief(page).locator('.sum')).toHaveText(total);

  // Agreed; then one handle more: was, is, why, who said yes.
  const agreed = region(page, 'Agreed and changed');
  await agreed.getByRole('button', { name: 'Agree this schedule' }).click();
  await expect(agreed).toContainText('Nothing has changed since.');
  await schedule(page).getByText('Sizes, work and supply of Handles').click();
  await type(page, region(page, 'Sizes of Handles').getByLabel('Count', { exact: true }), '24');
  await expect(agreed).toContainText('was 23 pieces, is 24 pieces');
  await expect(agreed).toContainText('nobody has said yes to it yet');
  await type(page, agreed.getByLabel('Why: Kitchen, Handles, hardware'), 'one drawer more');
  await type(page, agreed.getByLabel('Who said yes: Kitchen, Handles, hardware'), 'Mara');
  await expect(agreed).toContainText('1 line has changed since, each with a yes.');

  // All of it is kept.
  await saved(page);
  await page.reload();
  await expect(agreed.getByLabel('Why: Kitchen, Handles, hardware')).toHaveValue('one drawer more');
  await expect(region(page, 'Documents').getByRole('link')).toHaveCount(7);
  await accessible(page);
});

test('a surface is measured from nothing with the keyboard, in feet, with a tax and days off', async ({
  page,
}) => {
  await page.setViewportSize(PHONE);
  await newJob(page, 'One wall');
  await addSurface(page, 'walls');
  await openSchedule(page);
  await expect(brief(page)).toContainText('Nothing is to be bought yet');
  const settings = region(page, 'How it is reckoned');
  await settings.getByLabel('Units').selectOption('us');
  await type(page, settings.getByLabel('Tax, %'), '120');
  await expect(settings).toContainText('A tax lies from 0 to 100 %, not 120; none is counted.');
  await type(page, settings.getByLabel('Tax, %'), '');
  await settings.getByLabel('To be finished by').fill('2020-01-31');
  await expect(settings).toContainText('This day is past.');
  for (const day of ['Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday'])
    await settings.getByLabel(day).uncheck();
  await expect(settings).toContainText('A week needs a working day.');
  await settings.getByLabel('A day off to add').fill('2027-01-01');
  await settings.getByRole('button', { name: 'Add a day off' }).press('Enter');
  await expect(settings.getByRole('button', { name: 'Remove the day off Fri 1 Jan 2027' })).toBeVisible();

  await schedule(page).getByText('Sizes, work and supply of Walls').focus();
  await page.keyboard.press('Enter');
  const sizes = region(page, 'Sizes of Walls');
  await expect(sizes).toContainText('Nothing is measured yet');
  await sizes.getByRole('button', { name: 'Add sizes' }).press('Enter');
  await expect(sizes.getByLabel('Name of this part')).toBeFocused();
  await expect(sizes).toContainText('Still to be filled in.');
  await type(page, sizes.getByLabel('Length', { exact: true }), '12');
  await type(page, sizes.getByLabel('Height', { exact: true }), `8' 6"`);
  // 12 ft x 8.5 ft are 102 square feet.
  await expect(sizes).toContainText('102.00 sq ft');
  await sizes.getByRole('button', { name: 'Add an opening' }).press('Enter');
  await expect(sizes.getByLabel('What')).toBeFocused();
  await type(page, sizes.getByLabel('Width', { exact: true }), '20 ft');
  await type(page, sizes.getByLabel('Height', { exact: true }).last(), '8 ft');
  await expect(sizes).toContainText('are as large as what they are in');
  await sizes.getByRole('button', { name: 'Remove opening 1' }).press('Enter');
  await expect(sizes.getByRole('button', { name: 'Add an opening' })).toBeFocused();
  await accessible(page);
  await fitsWidth(page);
});

test('what is marked in a photo is reckoned by one known length, with its doubt', async ({ page }) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  const jobId = new URL(page.url()).pathname.split('/')[2];
  const loaded = (await (await page.request.get(`/api/jobs/${jobId}`)).json()) as {
    job: Job;
    version: number;
  };
  const { job } = loaded;
  const photo = Object.values(job.photos).find(({ role }) => role === 'room')!;
  // Nothing is measured, and a rectangle of 800 x 500 pixels is marked.
  const { width, height } = photo;
  const data = new Uint8Array(width * height);
  for (let y = 100; y < 600; y++) data.fill(255, y * width + 100, y * width + 900);
  const mask = encodeMask({ width, height, data });
  const masks = { walls: { id: 'walls', fileId: photo.fileId, mask, plane: null } };
  const edit = setting(job, 'measure nothing of the walls', [
    [['photos', photo.id, 'masks'], masks],
    [['surfaces', 'walls', 'parts'], undefined],
  ]);
  const answer = await page.request.post(`/api/jobs/${jobId}/edits`, {
    headers: { origin: new URL(page.url()).origin },
    data: { base: loaded.version, client: 'schedule-journey', request: 1, edits: [edit] },
  });
  expect(answer.ok()).toBe(true);
  await page.reload();
  await openSchedule(page);
  await schedule(page).getByText('Sizes of Walls').click();
  const sizes = region(page, 'Sizes of Walls');
  const by = sizes.getByRole('group').filter({ hasText: `Reckon it from the photo “${photo.name}”` });
  await by.locator('summary').click();
  // The two ends lie 0.3 of the picture's width apart; at a millimetre a pixel 800 x 500 of them are 0.4 m².
  await type(page, by.getByLabel('That length is'), `${0.3 * width} mm`);
  await by.getByRole('button', { name: 'Reckon the marked area' }).click();
  await expect(sizes).toContainText('About 0.40 m²');
  await expect(sizes).toContainText('Measure before ordering.');
  // Half as far apart the same length is twice as large a scale; an end is moved with the keyboard.
  await by.getByRole('button', { name: 'Its other end' }).focus();
  for (let step = 0; step < 3; step++) await page.keyboard.press('Shift+ArrowLeft');
  await expect(sizes).not.toContainText('About 0.40 m²');
  await by.getByRole('button', { name: 'Reckon the marked area' }).click();
  await expect(sizes).toContainText('About 1.60 m²');
  await accessible(page);
  await by.getByRole('button', { name: 'Use it until it is measured' }).click();
  await expect(sizes.getByLabel('Where it comes from')).toHaveValue(/^reckoned from the photo “.*”$/);
  await expect(sizes).toContainText(/In all 1\.60 m² \(.*\) give or take \d+ %\./);
});

test('two surfaces of one name, in one room and in another, are told apart on the page, in the plan and in the list', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await changeFromOutside(page, (job) => {
    const walls = Object.values(job.surfaces).find(({ name }) => name === 'Walls')!;
    const room = job.rooms[walls.roomId];
    const paint = Object.values(job.swatches).find(
      ({ kind, supply }) => kind === 'paint' && Object.keys(supply?.packs ?? {}).length > 0,
    )!;
    const more = (id: string, fields: object) => ({
      ...walls,
      id,
      state: 'chosen',
      swatchId: paint.id,
      ...fields,
    });
    return setting(job, 'add walls', [
      [['rooms', 'hall'], { ...room, id: 'hall', order: 90, name: 'Hall' }],
      [['surfaces', walls.id], more(walls.id, {})],
      [['surfaces', 'second'], more('second', { order: 90 })],
      [['surfaces', 'third'], more('third', { order: 91, roomId: 'hall' })],
    ]);
  });
  await page.reload();
  await openSchedule(page);
  await expect(row(page, 'Walls 1')).toContainText(/for Walls 2, Kitchen and Walls, Hall too/);
  await expect(row(page, 'Walls 2')).toContainText(/for Walls 1, Kitchen and Walls, Hall too/);
  await expect(row(page, 'Walls')).toHaveCount(0);
  await expect(row(page, 'Floor')).toHaveCount(1);
  await expect(
    page.getByText('finish coat, for Kitchen, Walls 1; Kitchen, Walls 2; Hall, Walls'),
  ).toBeVisible();
  // In the plan no two steps have one label.
  const bars = region(page, 'The work, step by step').getByRole('option', { name: /sand the walls/i });
  await expect(bars).toHaveCount(3);
  const names = await bars.evaluateAll((found) => found.map((bar) => bar.getAttribute('aria-label') ?? ''));
  expect(names.map((name) => name.split(':')[0]).sort()).toEqual([
    'Hall, Walls',
    'Kitchen, Walls 1',
    'Kitchen, Walls 2',
  ]);
  const link = page.getByRole('link', { name: 'Table as text, CSV' });
  const list = await page.request.get((await link.getAttribute('href'))!);
  const lines = (await list.text()).split('\r\n').filter((line) => line.startsWith('line,'));
  expect(lines.map((line) => line.split(',').slice(1, 3).join(', '))).toEqual(
    expect.arrayContaining(['Kitchen, Walls 1', 'Kitchen, Walls 2', 'Hall, Walls', 'Kitchen, Cabinets']),
  );
});
