import { readFile } from 'node:fs/promises';
import { expect, test, type Page } from '@playwright/test';
import { accessible, DESK, fitsWidth, newJob, part, PHONE, sampleJob, saved } from './desk.ts';

const lights = (page: Page) => page.getByRole('region', { name: 'Lights of this room' });

/** From the Room page to the lights of its only room. */
async function openLights(page: Page): Promise<void> {
  await page.getByRole('link', { name: /lights, see a day$/ }).click();
  await expect(lights(page)).toBeVisible();
}

async function download(page: Page, name: RegExp): Promise<{ name: string; text: string }> {
  const [file] = await Promise.all([
    page.waitForEvent('download'),
    lights(page).getByRole('button', { name }).click(),
  ]);
  return { name: file.suggestedFilename(), text: await readFile(await file.path(), 'utf8') };
}

test('a room gets its usual lights; one becomes what the box of its lamp says, and a window joins it', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await newJob(page, 'Lights of a kitchen');
  await expect(page.getByLabel('Kind of room')).toHaveValue('kitchen');
  await openLights(page);
  await lights(page).getByRole('button', { name: 'Start with the usual lights of a kitchen' }).click();
  const list = lights(page)
    .getByRole('listitem')
    .filter({ has: page.getByRole('heading') });
  await expect(list).toHaveCount(3);
  const evening = list.filter({ has: page.getByRole('heading', { name: 'Evening under the pendants' }) });
  // Ra of LED-B1: CIE 15:2018.
  await expect(evening).toContainText('renders colours fairly (Ra 82), strong reds poorly');

  await evening.getByRole('button', { name: 'Change Evening under the pendants' }).click();
  await evening.getByLabel('Comes from').selectOption({ label: 'a lamp, by what its box says' });
  await evening.getByLabel('CRI, also called Ra').fill('95');
  await evening.getByLabel('CRI, also called Ra').press('Tab');
  await expect(evening).toContainText('LED lamp, 2,700 K, CRI 95');
  await expect(evening).toContainText('renders colours well');
  await expect(evening).toContainText('A guess: many spectra fit');
  // What no lamp has is said, and the light stays.
  const kelvin = evening.getByRole('textbox', { name: 'Colour temperature' });
  await kelvin.fill('40');
  await kelvin.press('Tab');
  await expect(evening.getByRole('alert')).toContainText('is not taken');
  await expect(evening).toContainText('LED lamp, 2,700 K, CRI 95');

  await evening.getByRole('button', { name: 'Add a source' }).click();
  const second = evening.getByRole('group', { name: 'Source 2' });
  await second.getByLabel('Comes from').selectOption({ label: 'a window, at an hour of a day' });
  await expect(second).toContainText('Where is it?');
  await second.getByLabel('Latitude').fill('50,5');
  await second.getByLabel('Longitude').fill('10');
  await second.getByLabel('Longitude').press('Tab');
  await expect(second).toContainText('Just inside the glass');
  await second.getByLabel('Looks to the').selectOption('south-west');
  await second.getByLabel('Date').fill('2026-06-21');
  await second.getByLabel('Time', { exact: true }).fill('01:30');
  await expect(second).toContainText('the window gives no light at this hour');
  await second.getByLabel('Time', { exact: true }).fill('14:30');
  await expect(second).toContainText('The sun stands');
  await second.getByLabel('Part of the light').fill('25');
  await second.getByLabel('Part of the light').press('Tab');
  await expect(evening).toContainText('South-west window, partly cloudy, 14:30 · 33 %');
  await expect(evening).toContainText('add up to 75 %');

  await accessible(page);
  await fitsWidth(page);
  await page.setViewportSize(PHONE);
  await accessible(page);
  await fitsWidth(page);
  await saved(page);
  await page.reload();
  await expect(evening).toContainText('South-west window, partly cloudy, 14:30 · 33 %');
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(evening).toContainText('14:30 · 50 %');
});

test('a spectrum can be seen, read with the keyboard and saved', async ({ page }) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await openLights(page);
  await lights(page).getByRole('button', { name: 'See the spectrum of Dusk, window and pendants' }).click();
  const reader = lights(page).getByRole('slider', { name: /^Dusk, window and pendants/ });
  await reader.press('Home');
  await expect(reader).toHaveAttribute('aria-valuenow', '380');
  await reader.press('PageUp');
  await reader.press('ArrowRight');
  await expect(reader).toHaveAttribute('aria-valuetext', /^435 nm, violet: .*Plain daylight \d+/);
  const table = lights(page).getByRole('table', { name: /^Dusk, window and pendants/ });
  await expect(table.getByRole('row')).toHaveCount(22);
  await expect(table.getByRole('columnheader')).toHaveCount(5);
  const csv = await download(page, /^Save as CSV/);
  expect(csv.name).toMatch(/^dusk-window-and-pendants.*\.csv$/);
  expect(csv.text.split('\r\n')).toHaveLength(83);
  const svg = await download(page, /^Save as SVG/);
  expect(svg.name).toMatch(/\.svg$/);
  const drawn = await page.evaluate((text) => {
    const parsed = new DOMParser().parseFromString(text, 'image/svg+xml');
    return {
      root: parsed.documentElement.localName,
      title: parsed.querySelector('title')?.textContent,
      curves: parsed.querySelectorAll('path').length,
    };
  }, svg.text);
  expect(drawn).toEqual({
    root: 'svg',
    title: 'Dusk, window and pendants: its light by wavelength',
    curves: 4,
  });
  await accessible(page);
  await page.setViewportSize(PHONE);
  await fitsWidth(page);
});

test('a measured lamp comes from a file; what is none is said and changes nothing', async ({ page }) => {
  await newJob(page, 'Measured lamp');
  await openLights(page);
  await lights(page).getByText('Add a light', { exact: true }).click();
  const field = lights(page).getByLabel('A lamp measured to a file');
  const file = (name: string, text: string) => ({ name, mimeType: 'text/csv', buffer: Buffer.from(text) });
  await field.setInputFiles(file('letter.csv', 'Dear client\nhere is the invoice\n'));
  await expect(lights(page).getByRole('alert')).toContainText('“letter.csv” is not taken');
  await expect(lights(page).getByRole('button', { name: /^See the spectrum/ })).toHaveCount(0);
  // A black body of 2,856 K (Planck; CIE illuminant A), every 5 nm.
  const rows = Array.from({ length: 81 }, (_, i) => {
    const wavelength = 380 + 5 * i;
    return `${wavelength},${(560 / wavelength) ** 5 * (Math.expm1(1.4388e7 / (560 * 2856)) / Math.expm1(1.4388e7 / (wavelength * 2856)))}`;
  });
  await field.setInputFiles(file('glow.csv', `wavelength,power\n${rows.join('\n')}\n`));
  const added = lights(page)
    .getByRole('listitem')
    .filter({ has: page.getByRole('heading', { name: 'glow' }) });
  await expect(added).toContainText('Measured lamp, glow.csv');
  await expect(added).toContainText('2,900 K');
  await expect(added).toContainText('(Ra 100, R9 100)');
  await accessible(page);

  // What cannot be known of a lamp is still said when the page is opened again.
  await field.setInputFiles(file('part.csv', `wavelength,power\n${rows.slice(30, 60).join('\n')}\n`));
  const part = lights(page)
    .getByRole('listitem')
    .filter({ has: page.getByRole('heading', { name: 'part' }) });
  const warning = 'colours under this lamp cannot be trusted';
  await expect(part).toContainText(warning);
  await saved(page);
  await page.reload();
  await expect(part).toContainText(warning);
  await part.getByRole('button', { name: 'Change part' }).click();
  await expect(part.getByRole('list', { name: 'What part.csv leaves open' })).toContainText(warning);
  await accessible(page);
});

test('the focus stays in the list when a light is deleted, and a room is renamed with its kind', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await newJob(page, 'Lights that go');
  await page.getByLabel('Kind of room').selectOption('Living room');
  await expect(page.getByLabel('Name of the room')).toHaveValue('Living room');
  await openLights(page);
  await lights(page)
    .getByRole('button', { name: 'Start with the usual lights of a living room' })
    .press('Enter');
  const headings = lights(page).getByRole('heading', { level: 3 });
  await expect(headings).toHaveCount(3);
  await expect(headings.first()).toBeFocused();
  for (const left of [2, 1]) {
    await lights(page)
      .getByRole('button', { name: /^Delete light/ })
      .first()
      .press('Enter');
    await expect(headings).toHaveCount(left);
    await expect(headings.first()).toBeFocused();
  }
  await lights(page)
    .getByRole('button', { name: /^Delete light/ })
    .press('Enter');
  await expect(lights(page).getByRole('heading', { name: 'Lights of this room' })).toBeFocused();
});

test('a swatch shows what it reflects, with the doubt of a colour', async ({ page }) => {
  await page.setViewportSize(PHONE);
  await sampleJob(page);
  await part(page, 'Swatches');
  await page
    .getByText(/^Details/)
    .first()
    .click();
  await page.getByText('What it reflects').first().click();
  const reader = page.getByRole('slider', { name: /light it reflects/ });
  await reader.press('Home');
  await expect(reader).toHaveAttribute('aria-valuetext', /95 % of the plausible [\d.]+ % to [\d.]+ %/);
  await expect(page.getByText('Worked out from its colour')).toBeVisible();
  await accessible(page);
  await fitsWidth(page);
});
