import { expect, test, type Page } from '@playwright/test';
import { accessible, addSurface, DESK, fitsWidth, newJob, PHONE, sampleJob } from './desk.ts';

// Setting up a sample job and looking for accessibility faults take their time on a busy machine.
test.setTimeout(120_000);

const report = (page: Page) => page.getByRole('region', { name: 'What these lights do to the finishes' });
const lamps = (page: Page) => page.getByRole('region', { name: 'Which lamp?' });

async function openLight(page: Page): Promise<void> {
  await page
    .getByRole('navigation', { name: 'Parts of the job' })
    .getByRole('link', { name: 'Light', exact: true })
    .click();
  await expect(page.getByRole('heading', { level: 1, name: /^Light in/ })).toBeVisible();
}

/** What stands below a question of the report. */
const answer = (page: Page, question: string) =>
  report(page).locator('dl > div').filter({ hasText: question }).locator('dd');

test('a newcomer reads which cabinet colour greys, whether a pair stops matching, and the figures behind', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await openLight(page);
  const grey = answer(page, 'Does a finish turn grey?');
  await expect(grey.first()).toHaveText(
    /^Fog Sluice will turn grey under “Pendants in the evening”: \d+\s% of the colour is left \(difference \d\.\d\)\.$/,
  );
  const parting = answer(page, 'Does a pair stop matching?').first();
  await expect(parting).toContainText(
    /match by day .* and part under “Pendants in the evening” \(\d\.\d give or take/,
  );

  // Every candidate and every finish that stays has its row, in words.
  const rows = report(page).locator('summary:has(strong)');
  await expect(rows).toHaveCount(18);
  const greyest = /^(.+?) will turn grey/.exec((await grey.first().textContent()) ?? '')?.[1];
  expect(greyest).toBeTruthy();
  const row = rows.filter({ hasText: greyest });
  await row.focus();
  await page.keyboard.press('Enter');
  const table = report(page).getByRole('table', { name: `${greyest} light by light` });
  await expect(table.getByRole('row')).toHaveCount(7);
  await expect(table.getByRole('rowheader', { name: 'Daylight to Pendants in the evening' })).toBeVisible();
  // The strips and the day say the same of it as the report does.
  const number = /\(difference (\d\.\d)\)/.exec((await grey.first().textContent()) ?? '')?.[1] ?? 'none';
  await page.getByRole('button', { name: /^Evening/ }).click();
  const inDay = page.getByRole('region', { name: /^Cabinets/ }).getByRole('listitem');
  await expect(inDay.filter({ hasText: greyest })).toContainText(
    new RegExp(`Of its own .*greyer.*, ${number}\\b`),
  );
  await expect(page.getByText(/^Everything looks much darker .*here\.$/)).toBeVisible();
  // A measured reflectance leaves nothing open; of a typed colour the lamps' effect is an estimate.
  await expect(
    report(page)
      .getByRole('listitem')
      .filter({ hasText: `${greyest} will turn grey` }),
  ).toContainText('Its reflectance was measured.');
  await rows.filter({ hasText: 'Lock Keeper' }).click();
  const estimate = report(page).getByRole('table', { name: 'Lock Keeper light by light' });
  await expect(estimate.getByRole('row', { name: /^Daylight to Pendants/ })).toContainText(/give or take \d/);

  const pair = report(page)
    .locator('summary')
    .filter({ hasText: (await parting.textContent()) ?? 'no answer' });
  await pair.focus();
  await page.keyboard.press('Enter');
  const lights = report(page).getByRole('table', { name: /^Half-bond tile.* light by light/ });
  await expect(lights.getByRole('row')).toHaveCount(5);
  await expect(lights.getByRole('row', { name: /^Pendants in the evening/ })).toContainText('stops matching');
  await report(page)
    .getByText(/pairs hold in every light/)
    .click();
  // Axe takes for too small what lies in part under the strip of lights, which stays on top as the page scrolls.
  await page.evaluate(() => window.scrollTo(0, 0));
  await accessible(page);
  await fitsWidth(page);
  await page.setViewportSize(PHONE);
  await accessible(page);
  await fitsWidth(page);
  // Nothing is hidden in a scroller of its own.
  for (const opened of [table, lights])
    expect(
      await opened.evaluate((element) => {
        const right = element.parentElement!.getBoundingClientRect().right + 1;
        return [...element.querySelectorAll('tbody *')].every(
          (cell) => cell.getBoundingClientRect().right <= right,
        );
      }),
    ).toBe(true);
});

test('lamps are ticked, compared and explained with the finishes one picks', async ({ page }) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await openLight(page);
  const found = lamps(page).locator('ol.runs h4');
  await expect(found).toHaveCount(3);
  // CIE 13.3: a Planckian lamp is its own reference, so that every index is 100. Ra of LED-B1: CIE 15:2018.
  await expect(lamps(page)).toContainText('renders colours well, strong reds too (Ra 100, R9 100)');
  await expect(lamps(page)).toContainText('renders colours fairly (Ra 82), strong reds poorly');
  await expect(found.filter({ hasText: 'Pendants of this room' })).toHaveCount(1);

  await lamps(page).getByText('More lamps', { exact: true }).click();
  const changing = lamps(page).getByRole('checkbox', { name: /^Colour-changing LED lamp/ });
  await changing.focus();
  await page.keyboard.press('Space');
  await expect(found).toHaveCount(4);
  await expect(found.last()).toContainText('Colour-changing LED lamp');
  const warm = lamps(page).getByRole('list', { name: 'Warm lamps, below 3,300 K' });
  await expect(warm.locator('h4').first()).toContainText('Halogen');
  await expect(lamps(page)).toContainText('shows the finishes true for its warmth');

  await lamps(page).getByLabel('Cabinets').selectOption('Raw Flowerpot');
  await expect(lamps(page).getByRole('img', { name: /^Under .*Raw Flowerpot/ })).toHaveCount(4);
  await expect(
    lamps(page)
      .getByText(/most for Raw Flowerpot on “Cabinets”/)
      .first(),
  ).toBeVisible();
  await lamps(page).getByLabel('Cabinets').selectOption('Leave it out');
  await expect(lamps(page).getByRole('img', { name: /Raw Flowerpot/ })).toHaveCount(0);
  await accessible(page);
  await page.setViewportSize(PHONE);
  await accessible(page);
  await fitsWidth(page);

  const ticked = lamps(page).getByRole('checkbox', { checked: true });
  for (let left = await ticked.count(); left > 0; left -= 1) {
    await ticked.first().click();
    await expect(ticked).toHaveCount(left - 1);
  }
  await expect(lamps(page)).toContainText('Tick a lamp');
});

test('a room without lights or colours says what is missing', async ({ page }) => {
  await newJob(page, 'Bare kitchen');
  await addSurface(page, 'walls');
  await openLight(page);
  await expect(report(page)).toContainText('This room has no lights yet');
  await expect(lamps(page)).toContainText('No finish of this room has a colour yet');
  await page.getByRole('button', { name: 'Start with the usual lights of a kitchen' }).click();
  await expect(report(page)).toContainText('No finish of this room has a colour yet');
  await accessible(page);
});
