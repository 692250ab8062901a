import { expect, test, type Page } from '@playwright/test';
import { accessible, DESK, fitsWidth, part, PHONE, sampleJob, saved } from './desk.ts';

const decision = (page: Page) => page.getByRole('region', { name: 'What would decide' });
const counting = (page: Page) => page.getByRole('region', { name: 'What counts' });

async function atTheShortlist(page: Page): Promise<void> {
  await sampleJob(page);
  await part(page, 'Shortlist');
  await expect(decision(page).getByText('points of 100 on average').first()).toBeVisible();
}

/** Moves the focus on with the tab key until it is on what is wanted. */
async function tabTo(page: Page, wanted: () => Promise<boolean>): Promise<void> {
  for (let stop = 0; stop < 200; stop += 1) {
    if (await wanted()) return;
    await page.keyboard.press('Tab');
  }
  throw new Error('expected the tab key to get there');
}

const focused = (page: Page) =>
  page.evaluate(() => document.activeElement?.textContent?.trim().replaceAll(/\s+/g, ' ') ?? '');

test('what is too close to call comes with the one look that would decide, and with nothing that contradicts it', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await atTheShortlist(page);
  const panel = decision(page);
  await expect(panel).toContainText(
    /(Lock Keeper and Deep Lock|Deep Lock and Lock Keeper) are too close to call/,
  );
  await expect(panel).toContainText(
    /It settles (most|part|a little) of what is open: worth \d+\.\d points of 100/,
  );
  // Each observation stands once, by falling worth.
  await panel.locator('summary').click();
  const worths = (await panel.getByText(/worth \d+\.\d points of 100 on average/).allInnerTexts()).map(
    (text) => Number(/worth (\d+\.\d) points/.exec(text)?.[1]),
  );
  expect(worths.length).toBeGreaterThan(1);
  expect(worths).toEqual(worths.toSorted((a, b) => b - a));
  // A photo to be taken anew is one step away.
  await panel
    .getByRole('link', { name: /Open the photo/ })
    .first()
    .click();
  await expect(page).toHaveURL(/\/photos\/[^/]+$/);
});

test('two samples are laid against the finish that decides, in the light that decides, by keyboard alone', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await atTheShortlist(page);
  const panel = decision(page);
  await tabTo(page, async () => / worth looking at$/.test(await focused(page)));
  await page.keyboard.press('Enter');
  await tabTo(page, async () => (await focused(page)) === 'Lay them together here');
  const asked = await page.evaluate(
    () => document.activeElement?.parentElement?.parentElement?.querySelector('p')?.textContent ?? '',
  );
  await page.keyboard.press('Enter');
  const [, names, surface, light] = /Hold (.+) against “(.+)” under “(.+)”\./.exec(asked) ?? [];
  const figure = panel.getByRole('figure');
  await expect(figure).toContainText(`Shown under ${light}.`);
  await expect(figure).toContainText(surface);
  for (const name of names.split(' and ')) await expect(figure).toContainText(name);
  await expect(page.getByRole('radio', { name: new RegExp(light) })).toBeChecked();

  // Another light is shown as such, and the way back is there.
  await page.getByRole('radio', { name: /Plain daylight/ }).check({ force: true });
  await expect(figure).toContainText('Shown under plain daylight now.');
  await figure.getByRole('button', { name: `Show it under ${light}` }).click();
  await expect(figure).toContainText(`Shown under ${light}.`);

  // Who has looked chooses there.
  const [first] = names.split(' and ');
  await figure.getByRole('button', { name: `Choose ${first}` }).click();
  await expect(page.getByText(`${first} is chosen for Cabinets`)).toBeVisible();
});

test('a weight tells how far it can move, and beyond that another leads', async ({ page }) => {
  await atTheShortlist(page);
  const slider = page.getByRole('slider', { name: 'Near the aim' });
  await expect(slider).toHaveAccessibleDescription(/^[\w ]+ leads while this is .*; (below|beyond), /);
  const line = counting(page).locator('#sway-nearness');
  const [, leader, most, next] =
    /^(.+) leads while this is (?:up to|between [\d.]+ and) ([\d.]+);.* beyond, ([^;.]+)/.exec(
      await line.innerText(),
    ) ?? [];
  // Just beyond the turn, in the steps of the control, the other one leads; undo brings the first one back.
  await slider.fill(String(Math.ceil(2 * (Number(most) + 0.1)) / 2));
  await expect(line).toContainText(`${next} leads`);
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(line).toContainText(`${leader} leads`);
});

test('where nothing is in doubt it is said plainly', async ({ page }) => {
  await atTheShortlist(page);
  // Price is known for certain: no look at a sample changes it.
  for (const words of ['Near the aim', 'Sits well with what stays', 'Holds its colour', 'Comes in time'])
    await page.getByRole('slider', { name: words }).fill('0');
  await expect(decision(page)).toContainText(/is ahead of .+ in 100 of 100 tries/);
  await expect(decision(page)).toContainText('The order would not change');
  await page.getByRole('slider', { name: 'Price' }).fill('0');
  await expect(decision(page)).toContainText('Nothing counts');
});

test('a place of the inspiration stands for a surface whose finish is decided', async ({ page }) => {
  await sampleJob(page);
  const counter = page
    .getByRole('listitem')
    .filter({ has: page.getByRole('group', { name: 'State of Counter' }) });
  await expect(counter.getByRole('link', { name: '“Pale stone” in “Inspiration”' })).toBeVisible();
  await counter.getByRole('button', { name: 'Nothing stands for Counter in the inspiration' }).click();
  await counter.getByRole('link', { name: 'Say what stands for Counter in the inspiration' }).click();

  const place = page.getByRole('combobox', { name: 'Aim a surface at Pale stone' });
  await place.selectOption({ label: 'Counter' });
  await expect(page.getByText('Stands for Counter.')).toBeVisible();
  await saved(page);
  await part(page, 'Room');
  await expect(counter.getByRole('link', { name: '“Pale stone” in “Inspiration”' })).toBeVisible();
});

test('all of it is accessible and fits a phone and a desktop', async ({ page }) => {
  test.setTimeout(120_000);
  await atTheShortlist(page);
  for (const size of [PHONE, DESK]) {
    await page.setViewportSize(size);
    const fold = decision(page).locator('details');
    await fold.evaluate((details: HTMLDetailsElement) => (details.open = true));
    const lay = decision(page).getByRole('button', { name: 'Lay them together here' }).first();
    if (await lay.isVisible()) await lay.click();
    await expect(decision(page).getByRole('figure')).toBeVisible();
    await fitsWidth(page);
    await accessible(page);
    await decision(page).getByRole('button', { name: 'Put them away' }).click();
  }
  await part(page, 'Room');
  await expect(page.getByText('lets whole schemes be compared').first()).toBeVisible();
  for (const size of [PHONE, DESK]) {
    await page.setViewportSize(size);
    await fitsWidth(page);
    await accessible(page);
  }
});
