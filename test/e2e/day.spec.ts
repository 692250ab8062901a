import { expect, test, type Page } from '@playwright/test';
import { accessible, DESK, fitsWidth, newJob, PHONE, sampleJob, saved } from './desk.ts';

async function toLight(page: Page): Promise<void> {
  await page
    .getByRole('navigation', { name: 'Parts of the job' })
    .getByRole('link', { name: 'Light', exact: true })
    .click();
  await expect(page.getByRole('heading', { name: 'Light in the Kitchen' })).toBeVisible();
}

const hourOf = (page: Page) => page.getByRole('slider', { name: 'Hour of the day in the Kitchen' });

const row = (page: Page, name: string) =>
  page.getByRole('listitem').filter({ has: page.getByRole('img', { name: new RegExp(`^${name} from`) }) });

/** Colour on the right half of a row's split chip: the finish at the hour of the cursor. */
const nowColour = (page: Page, name: string) =>
  row(page, name)
    .getByRole('img', { name: /by plain daylight, and beside it/ })
    .locator('span > span')
    .last()
    .evaluate((piece) => getComputedStyle(piece).backgroundColor);

/** What a band shows at an hour, as bytes. */
const bandAt = (page: Page, name: string, hour: number) =>
  row(page, name)
    .locator('canvas')
    .evaluate((element, quarters) => {
      const canvas = element as HTMLCanvasElement;
      const from = Number(canvas.dataset.from);
      const data = canvas.getContext('2d')?.getImageData(quarters - 4 * from, 8, 1, 1).data ?? [];
      return Array.from(data).slice(0, 3);
    }, 4 * hour);

test('the sample kitchen shows each cabinet colour through the day, and which turns grey in the evening', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await toLight(page);
  await expect(page.getByText(/^12:00\. .*north window alone\.$/)).toBeVisible();
  const noon = await nowColour(page, 'Deep Lock');

  await page.getByRole('button', { name: /^Evening/ }).click();
  await expect(page.getByText(/2,7\d0 K, 120 lx: pendants alone\.$/)).toBeVisible();
  expect(await nowColour(page, 'Deep Lock')).not.toBe(noon);
  await expect(row(page, 'Deep Lock')).toContainText(/darker.*\d+\.\d/);
  await expect(
    page.getByText(/^At 20:30 Fog Sluice turns greyest: it keeps about \d+\s% of its colour/),
  ).toBeVisible();
  // The band holds both looks at once, and the night.
  const [day, evening, night] = await Promise.all(
    [12, 20.5, 6].map((hour) => bandAt(page, 'Wet Chalk', hour)),
  );
  const sum = (bytes: number[]) => bytes.reduce((total, byte) => total + byte, 0);
  expect(sum(night)).toBeLessThan(sum(evening));
  expect(sum(evening)).toBeLessThan(sum(day));
  // Pendants of 2,700 K leave a pale blue-grey warmer: more red than blue.
  expect(day[0] - day[2]).toBeLessThan(evening[0] - evening[2]);

  await expect(row(page, 'Counter: Heron granite')).toBeVisible();

  // The rest of the page follows: the strip, and the swatches.
  await expect(page.getByRole('radio', { name: /^Through the day 20:30/ })).toBeChecked();
});

test('the cursor follows arrow keys, page keys and the pointer', async ({ page }) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await toLight(page);
  const hour = hourOf(page);
  await hour.focus();
  await page.keyboard.press('ArrowRight');
  await expect(hour).toHaveAttribute('aria-valuetext', /^12:15: [\d,]+ K, \d+ lx: north window alone$/);
  await page.keyboard.press('PageUp');
  await page.keyboard.press('PageUp');
  await expect(hour).toHaveAttribute('aria-valuetext', /^14:15: /);
  await page.keyboard.press('PageDown');
  await page.keyboard.press('ArrowLeft');
  await expect(hour).toHaveAttribute('aria-valuetext', /^13:00: /);
  await page.keyboard.press('End');
  await expect(hour).toHaveAttribute('aria-valuetext', '24:00: dark');
  await expect(page.getByRole('button', { name: /^Keep 24:00/ })).toBeDisabled();
  await expect(page.getByText('At 24:00 it is dark: there is no light to keep.')).toBeVisible();

  const band = page.getByRole('img', { name: /^Moss Ledger from 6:00 to 24:00/ });
  await band.scrollIntoViewIfNeeded();
  const box = await band.boundingBox();
  if (!box) throw new Error('expected a band');
  await page.mouse.move(box.x + box.width / 3, box.y + box.height / 2);
  await page.mouse.down();
  await expect(hour).toHaveValue('12');
  await page.mouse.move(box.x + (box.width * 11) / 18, box.y + box.height / 2, { steps: 4 });
  await page.mouse.up();
  await expect(hour).toHaveValue('17');
  await expect(hour).toHaveAttribute('aria-valuetext', /: north window \d+\s%, pendants \d+\s%$/);
});

test('an hour is kept as a light: it is listed, stands in the strip, and outlives a reload', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await toLight(page);
  await page.getByRole('button', { name: /^Dusk/ }).click();
  await page.getByRole('button', { name: 'Keep 17:15 as a light of this room' }).click();
  const name = 'Dusk with pendants, 17:15';
  await expect(page.getByText(`Kept as “${name}”: the shortlist judges under it too.`)).toBeVisible();
  await expect(page.getByRole('heading', { name, exact: true })).toBeVisible();
  await expect(page.getByRole('radio', { name: new RegExp(`^${name}`) })).toHaveCount(1);
  await saved(page);
  await page.reload();
  await expect(page.getByRole('heading', { name, exact: true })).toBeVisible();
  await expect(page.getByText(/^17:15\. /)).toBeVisible();
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(page.getByRole('heading', { name, exact: true })).toHaveCount(0);
});

test('a new job sets up its day in words, and keeps what was entered', async ({ page }) => {
  await page.setViewportSize(DESK);
  await newJob(page, 'A day of my own');
  await toLight(page);
  await expect(page.getByText(/the place is a guess, 50° north/)).toBeVisible();
  await page.getByRole('button', { name: 'Set up the day of this kitchen' }).click();
  await expect(page.getByText(/The place is a guess/)).toBeVisible();

  // What cannot be taken is said at its field; nothing else is lost.
  await page.getByLabel('Latitude, south is negative').fill('95');
  await page.getByLabel('Latitude, south is negative').press('Tab');
  await expect(page.getByRole('alert').filter({ hasText: '“95” is not taken' })).toBeVisible();
  await page.getByLabel('Latitude, south is negative').fill('-37');
  await page.getByLabel('Latitude, south is negative').press('Tab');
  await expect(page.getByText('That is 37° south', { exact: false })).toBeVisible();
  await expect(page.getByText(/The place is a guess/)).toHaveCount(0);
  await page.getByRole('button', { name: 'Shortest day' }).click();
  await expect(page.getByLabel('Date', { exact: true })).toHaveValue(/-06-21$/);
  await page.getByRole('radio', { name: /^Overcast/ }).check();

  const lamps = page.getByRole('group', { name: 'Lamp Pendants' });
  await lamps.getByLabel('Burns').selectOption('at set hours');
  await lamps.getByLabel('From', { exact: true }).fill('18:00');
  await lamps.getByLabel('From', { exact: true }).press('Tab');
  await lamps.getByLabel('Until', { exact: true }).fill('22:00');
  await lamps.getByLabel('Until', { exact: true }).press('Tab');
  await page.getByRole('button', { name: 'Remove lamp Worktop lights' }).click();
  await expect(page.getByRole('list', { name: 'Lamps and their hours' })).toContainText(
    'Pendants: 18:00 to 22:00',
  );
  await page.getByRole('group', { name: 'Window North window' }).getByLabel('Glass area').fill('3');
  await page.getByRole('group', { name: 'Window North window' }).getByLabel('Glass area').press('Tab');
  await expect(page.getByText('32 sq ft')).toBeVisible();

  await saved(page);
  await page.reload();
  await expect(page.getByText(/37° south, .* overcast sky/)).toBeVisible();
  await hourOf(page).fill('20');
  await expect(page.getByText(/^20:00\. .*: pendants alone\.$/)).toBeVisible();
  await page.getByRole('button', { name: 'Undo' }).click();
  await page.getByText('Windows and lamps').click();
  await expect(page.getByRole('group', { name: 'Window North window' }).getByLabel('Glass area')).toHaveValue(
    '1.8',
  );
});

test('windows and lamps are changed one after the other from the keyboard, and nothing folds up', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await toLight(page);
  const fold = page
    .locator('details')
    .filter({ has: page.getByRole('heading', { name: 'Windows and lamps' }) });
  await fold.locator('summary').first().focus();
  await page.keyboard.press('Enter');
  const facing = page.getByLabel('Looks to the');
  await facing.focus();
  await page.keyboard.press('ArrowDown');
  await expect(facing).toHaveValue('north-east');
  await expect(facing).toBeFocused();
  // The name follows the window round.
  await expect(page.getByRole('group', { name: 'Window North-east window' })).toBeVisible();
  await expect(page.getByText(/^12:00\. .*north-east window alone\.$/)).toBeVisible();
  const glass = page.getByRole('combobox', { name: 'Glass', exact: true });
  await glass.focus();
  await page.keyboard.press('ArrowDown');
  await expect(glass).toHaveValue('coated double glass');
  await expect(glass).toBeFocused();
  const lux = page.getByRole('group', { name: 'Lamp Pendants' }).getByLabel('Gives on the surfaces');
  await lux.focus();
  await page.keyboard.press('ControlOrMeta+a');
  await page.keyboard.type('90');
  const before = await page.evaluate(() => window.scrollY);
  await page.keyboard.press('Tab');
  await expect(page.getByRole('group', { name: 'Lamp Pendants' }).getByLabel('Burns')).toBeFocused();
  expect(Math.abs((await page.evaluate(() => window.scrollY)) - before)).toBeLessThan(200);
  const lamp = page.getByRole('combobox', { name: 'Lamp', exact: true });
  await lamp.focus();
  await page.keyboard.press('ArrowDown');
  await expect(lamp).toBeFocused();
  await expect(fold).toHaveAttribute('open', '');

  await page.getByLabel('Called').first().fill('Bay window over the canal');
  await page.keyboard.press('Tab');
  await expect(page.getByText(/^12:00\. .*bay window over the canal alone\.$/)).toBeVisible();

  // What is removed hands the focus on, and it does not fall out of the page.
  await page.getByRole('button', { name: 'Add a window' }).click();
  await page.getByRole('button', { name: 'Remove window Bay window over the canal' }).press('Enter');
  await expect(page.getByRole('group', { name: 'Window South window' })).toBeFocused();
  await page.getByRole('button', { name: 'Remove window South window' }).press('Enter');
  await expect(page.getByRole('button', { name: 'Add a window' })).toBeFocused();
});

test('a lamp can burn all day, and hours that come to nothing are said', async ({ page }) => {
  await page.setViewportSize(PHONE);
  await sampleJob(page);
  await toLight(page);
  await page.getByText('Windows and lamps').click();
  const lamp = page.getByRole('group', { name: 'Lamp Pendants' });
  for (const end of ['From', 'Until']) {
    await lamp.getByLabel(end, { exact: true }).fill('19:00');
    await lamp.getByLabel(end, { exact: true }).press('Tab');
  }
  await expect(lamp.getByRole('status')).toContainText('it stays off');
  const hours = page.getByRole('list', { name: 'Lamps and their hours' });
  await expect(hours).toContainText('Pendants: off all day');
  await lamp.getByLabel('Burns').selectOption('all day and night');
  await expect(hours).toContainText('Pendants: 0:00 to 24:00');
  await expect(lamp.getByLabel('From', { exact: true })).toHaveCount(0);
  await fitsWidth(page);
});

test('a kept hour is told from the day that was changed since, and brought up to date', async ({ page }) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await toLight(page);
  const changed = page.getByText('The room’s day has changed since this was kept');
  await page.getByRole('button', { name: /^Evening/ }).click();
  // The sample's own evening is the same light at another hour.
  await expect(page.getByText('Kept as “Pendants in the evening”', { exact: false })).toBeVisible();
  await expect(changed).toHaveCount(0);
  await page.getByText('Windows and lamps').click();
  const lux = page.getByRole('group', { name: 'Lamp Pendants' }).getByLabel('Gives on the surfaces');
  await lux.fill('60');
  await lux.press('Tab');
  // The pendants had a part in dusk and evening, and none in the day.
  await expect(changed).toHaveCount(2);
  const keep = page.getByRole('button', { name: 'Keep 20:30 as a light of this room' });
  await expect(keep).toBeEnabled();
  await keep.click();
  await expect(page.getByRole('heading', { name: 'Pendants, 20:30', exact: true })).toBeVisible();
  await expect(keep).toBeDisabled();

  await page.getByRole('button', { name: 'Bring Pendants in the evening up to date' }).press('Enter');
  await expect(changed).toHaveCount(1);
  const evening = page.getByRole('heading', { name: 'Pendants in the evening', exact: true });
  await expect(evening).toBeFocused();
  await expect(page.getByRole('listitem').filter({ has: evening })).toContainText('60 lx');
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(changed).toHaveCount(2);
  // What is changed by hand is a light of its own from then on.
  await page.getByRole('button', { name: 'Change Pendants in the evening' }).click();
  const level = page.getByLabel('Light on the surfaces');
  await level.fill('150');
  await level.press('Tab');
  await expect(changed).toHaveCount(1);
});

for (const [name, size] of [
  ['phone', PHONE],
  ['desktop', DESK],
] as const) {
  test(`the page of light is accessible and fits a ${name}`, async ({ page }) => {
    test.setTimeout(150_000);
    await page.setViewportSize(size);
    await sampleJob(page);
    await toLight(page);
    await page.getByRole('button', { name: /^Evening/ }).click();
    await fitsWidth(page);
    await accessible(page);
    // What is folded away counts too.
    await page.evaluate(() => document.querySelectorAll('details').forEach((fold) => (fold.open = true)));
    await fitsWidth(page);
    await accessible(page);
  });
}
