import { expect, test, type Page } from '@playwright/test';
import { accessible, addSurface, DESK, fitsWidth, newJob, PHONE, sampleJob, saved } from './desk.ts';

// Setting up a sample job and looking for accessibility faults take their time on a busy machine.
test.setTimeout(180_000);

const found = (page: Page) => page.getByRole('region', { name: 'Schemes that fit' });
const cards = (page: Page) => found(page).getByRole('article');
const card = (page: Page, name: string) => found(page).getByRole('article', { name });
const surfaces = (page: Page) => page.getByRole('region', { name: 'What may change' });

async function openScheme(page: Page): Promise<void> {
  await page
    .getByRole('navigation', { name: 'Parts of the job' })
    .getByRole('link', { name: 'Scheme', exact: true })
    .click();
  await expect(page.getByRole('heading', { level: 1, name: /as a whole$/ })).toBeVisible();
}

/** What a card puts on a surface. */
const on = (scheme: ReturnType<typeof card>, surface: string) =>
  scheme.getByRole('listitem').filter({ hasText: surface }).first().locator('.name');

test('a room is taken through: schemes that differ, why, limits, a kept one, a chosen one, the room’s picture', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await openScheme(page);

  // The search starts by itself and says that nothing was left out.
  await expect(cards(page)).toHaveCount(3, { timeout: 30_000 });
  // 10 cabinets in time, 5 tiles, 8 walls, 3 handles; counter and floor stay.
  await expect(found(page).getByRole('status')).toHaveText(
    'Of 1,200 possible schemes none that keeps the limits is better than the first.',
  );
  await expect(found(page)).toContainText('One finish is left out by the limits');
  const what = await Promise.all(
    [1, 2, 3].map((n) =>
      cards(page)
        .nth(n - 1)
        .locator('ol')
        .first()
        .innerText(),
    ),
  );
  expect(new Set(what).size).toBe(3);
  await expect(card(page, 'Scheme 2')).toContainText('Against the first:');
  await expect(card(page, 'Scheme 1, the best')).toContainText(/All of it is here in \d+ days/);
  await found(page).getByRole('button', { name: '3 more that differ' }).click();
  await expect(cards(page)).toHaveCount(6);

  // Each point of a scheme has its sentence and its number.
  await card(page, 'Scheme 1, the best').getByText('Why, point by point').click();
  const points = card(page, 'Scheme 1, the best').locator('.criteria > li');
  await expect(points).toHaveCount(9);
  await expect(points.filter({ hasText: 'Finishes sit together' })).toContainText(/\d+ of 100, counts/);
  await expect(points.filter({ hasText: 'Near the aim' })).toContainText(/difference \d+\.\d/);

  // Colours follow the light of the page.
  const band = card(page, 'Scheme 1, the best')
    .locator('.tall .band')
    .first()
    .locator('.chip > span')
    .first();
  const byDay = await band.evaluate((face) => getComputedStyle(face).backgroundColor);
  await page.getByRole('radio', { name: /^Pendants in the evening/ }).check();
  await expect.poll(() => band.evaluate((face) => getComputedStyle(face).backgroundColor)).not.toBe(byDay);

  await found(page)
    .getByText(/^The best 20/)
    .click();
  await page.getByText('What matters, and limits').click();
  await page.evaluate(() => window.scrollTo(0, 0));
  await accessible(page);
  await fitsWidth(page);
  await page.setViewportSize(PHONE);
  await accessible(page);
  await fitsWidth(page);
  await page.setViewportSize(DESK);

  // A budget that cannot be kept is answered with the one that would do.
  const budget = page.getByLabel('Still to be bought, at most');
  await budget.fill('20');
  await budget.press('Enter');
  await expect(found(page).getByRole('status')).toHaveText(
    /^No scheme fits the budget: the cheapest costs \d+ EUR, \d+ EUR too much\.$/,
  );
  await found(page)
    .getByRole('button', { name: /^Let it cost \d+ EUR$/ })
    .click();
  await expect(cards(page).first()).toBeVisible();
  await page.getByRole('button', { name: 'Undo' }).click();
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(budget).toHaveValue('1500');

  // A lock, a surface that stays.
  await surfaces(page).getByLabel('What may be on Cabinets').selectOption({ label: 'Only Lock Keeper' });
  await expect(on(card(page, 'Scheme 1, the best'), 'Cabinets')).toHaveText('Lock Keeper');
  await expect(found(page).getByRole('status')).toHaveText(/^Of 120 possible schemes/);
  await surfaces(page).getByLabel('Whether Walls may change').selectOption('stays');
  await expect(found(page).getByRole('status')).toHaveText(/^Of 15 possible schemes/);
  await surfaces(page).getByLabel('Whether Walls may change').selectOption('change');
  await surfaces(page).getByLabel('What may be on Cabinets').selectOption('');
  await expect(found(page).getByRole('status')).toHaveText(/^Of 1,200 possible schemes/);

  // Kept ones have a name and are held against the one that is laid out.
  await card(page, 'Scheme 2').getByRole('button', { name: 'Keep it' }).click();
  const kept = page.getByRole('region', { name: 'Kept' });
  await expect(kept).toContainText('Against scheme 1:');
  await kept.getByLabel('Name').fill('The quiet one');
  await kept.getByLabel('Name').press('Enter');
  await kept.getByRole('button', { name: 'Lay it out' }).click();
  await expect(card(page, 'Scheme 2').getByRole('button', { name: 'Laid out' })).toHaveAttribute(
    'aria-pressed',
    'true',
  );
  await expect(page.getByRole('heading', { name: 'Finish against finish in scheme 2' })).toBeVisible();
  await saved(page);
  await page.reload();
  await expect(kept.getByLabel('Name')).toHaveValue('The quiet one');

  // Choosing says before what gives way, and is one step back.
  const second = card(page, 'Scheme 2');
  await expect(second).toContainText(/^.*Choosing it: .* takes the place of .*, which is there now\./s);
  const cabinets = await on(second, 'Cabinets').innerText();
  await second.getByRole('button', { name: 'Choose it' }).click();
  await expect(surfaces(page).getByRole('listitem').filter({ hasText: 'Cabinets' })).toContainText(
    `${cabinets}, chosen`,
  );
  await expect(found(page).getByText('It is chosen')).toHaveCount(1);
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(found(page).getByRole('status')).toHaveText(/^Of 1,200 possible schemes/);
  await expect(found(page).getByText('It is chosen')).toHaveCount(0);

  await card(page, 'Scheme 1, the best').getByRole('button', { name: 'See it in the room' }).click();
  await page.waitForURL(/\/see(\?|$)/);
  const tried = await page.evaluate(() =>
    Object.entries(sessionStorage).find(([key]) => key.startsWith('brushout see ')),
  );
  expect(Object.keys(JSON.parse(tried?.[1] ?? '{}') as object)).toContain('cabinets');
});

test('by keyboard alone: laid out, kept and let go, what may change', async ({ page }) => {
  await page.setViewportSize(PHONE);
  await sampleJob(page);
  await openScheme(page);
  await expect(cards(page)).toHaveCount(3, { timeout: 30_000 });
  const third = card(page, 'Scheme 3');
  await third.getByRole('button', { name: 'Lay it out' }).focus();
  await page.keyboard.press('Enter');
  await expect(third.getByRole('button', { name: 'Laid out' })).toBeFocused();
  await expect(page.getByRole('heading', { name: 'Finish against finish in scheme 3' })).toBeVisible();
  await page.keyboard.press('Shift+Tab');
  await page.keyboard.press('Enter');
  await expect(third.getByRole('button', { name: 'Kept' })).toBeFocused();
  await expect(page.getByRole('region', { name: 'Kept' })).toBeVisible();
  await page.keyboard.press('Enter');
  await expect(page.getByRole('region', { name: 'Kept' })).toHaveCount(0);
  await expect(third.getByRole('button', { name: 'Keep it' })).toBeFocused();

  const handles = surfaces(page).getByLabel('What may be on Handles');
  await handles.focus();
  await page.keyboard.press('ArrowDown');
  await expect(found(page).getByRole('status')).toHaveText(/^Of 400 possible schemes/);
  await expect(handles).toBeFocused();
});

test('what is missing for a scheme is said where it is missing, with the way there', async ({ page }) => {
  await page.setViewportSize(DESK);
  await newJob(page, 'Bare kitchen');
  await openScheme(page);
  await expect(page.getByText('This room has no surfaces yet')).toBeVisible();
  await page.getByRole('link', { name: 'Name what it is made of' }).click();
  await addSurface(page, 'walls');
  await openScheme(page);
  await expect(surfaces(page)).toContainText('Nothing is considered for it yet');
  await expect(page.getByText('there is nothing to put together')).toBeVisible();
  await accessible(page);
  await surfaces(page).getByRole('link', { name: 'Choose candidates' }).click();
  await expect(page).toHaveURL(/\/shortlist\//);
});
