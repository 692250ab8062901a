import { expect, test, type Page } from '@playwright/test';
import { accessible, DESK, fitsWidth, PHONE, sampleJob, saved } from './desk.ts';

// A sample job of its own takes its time to make on a busy machine.
test.setTimeout(180_000);

/** The sample job's panel for another finish, with its list there. */
async function swaps(page: Page) {
  await sampleJob(page);
  await page.goto(`${page.url()}/scheme`);
  const panel = page.getByRole('region', { name: 'Another finish instead' });
  await expect(panel.getByRole('button', { name: 'What changes with Still Water' })).toBeVisible({
    timeout: 60_000,
  });
  return panel;
}

test('a slab that comes too late is swapped, alone or with what must change, and taken back', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  const panel = await swaps(page);
  const options = panel.getByRole('list', { name: 'What could be on Counter, best first' });
  await expect(options.getByText('Too late: 42 days to deliver where 21 days are left')).toBeVisible();

  await panel.getByRole('button', { name: 'What changes with Still Water' }).click();
  const report = panel.getByRole('region', { name: 'Still Water instead of Heron granite' });
  // 6.4 m² and a tenth for waste, at 265 in place of 310 EUR; 10 days in place of 42.
  await expect(report.getByText('317 EUR less.')).toBeVisible();
  await expect(report.getByText('The last finish is here 32 days sooner.')).toBeVisible();
  await expect(report.getByRole('heading', { name: 'What breaks' })).toBeVisible();
  await expect(
    report.getByRole('listitem').filter({ hasText: 'A fault less.' }).filter({ hasText: 'too late' }),
  ).toBeVisible();
  await accessible(page);

  // Another one ends the first and shows its own.
  await panel.getByRole('button', { name: 'What changes with Morning Haze' }).click();
  await expect(panel.getByRole('region', { name: 'Morning Haze instead of Heron granite' })).toBeVisible();
  await expect(report).toHaveCount(0);
  // 6.4 m² and a tenth, at 390 in place of 310 EUR.
  await expect(panel.getByText('563 EUR more.').first()).toBeVisible();

  await panel.getByRole('button', { name: 'What changes with Still Water' }).click();
  await report.getByRole('button', { name: 'Swap it', exact: true }).click();
  const first = options.getByRole('listitem').filter({ hasText: 'Still Water, chosen' });
  await expect(first).toBeVisible();
  await expect(panel.getByRole('status').filter({ hasText: 'Still Water is on Counter now.' })).toBeVisible();
  await expect(panel.getByRole('heading', { name: 'What could be on Counter' })).toBeFocused();
  await expect(panel.getByRole('button', { name: 'What changes with Heron granite' })).toBeVisible();
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(options.getByText('Heron granite, there now')).toBeVisible();
  await expect(panel.getByText('Still Water is on Counter now.')).toHaveCount(0);

  // With the other changes, in one edit.
  await panel.getByRole('button', { name: 'What changes with Morning Haze' }).click();
  await expect(
    panel.getByRole('heading', { name: /^What (makes it whole again|comes nearest to whole)$/ }),
  ).toBeVisible();
  await expect(panel.getByText(/set of changes was weighed, and none/).first()).toBeVisible();
  await panel.getByRole('button', { name: 'Swap it and make these changes too' }).click();
  await expect(options.getByText('Morning Haze, chosen')).toBeVisible();
  await expect(
    panel
      .getByRole('status')
      .filter({ hasText: /^Morning Haze is on Counter now, with \d+ other changes?\./ }),
  ).toBeVisible();
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(options.getByText('Heron granite, there now')).toBeVisible();
  await saved(page);

  await panel.getByRole('button', { name: 'What changes with Still Water' }).click();
  await report.getByRole('button', { name: 'See it in the room' }).click();
  await page.waitForURL(/\/see/);
  const tried = await page.evaluate(() =>
    Object.entries(sessionStorage).find(([key]) => key.startsWith('brushout see ')),
  );
  expect(JSON.parse(tried![1])).toMatchObject({ counter: 'quiet' });
});

test('on a phone and with the keys alone: another surface, another candidate, its report', async ({
  page,
}) => {
  await page.setViewportSize(PHONE);
  const panel = await swaps(page);
  const press = async (name: string | RegExp, key: string) => {
    await panel.getByRole('button', { name, exact: true }).focus();
    await page.keyboard.press(key);
  };
  await press('Floor', 'Enter');
  await expect(panel.getByText('Only Oak planks is considered for it.')).toBeVisible();

  await press('Backsplash', 'Space');
  const options = panel.getByRole('list', { name: 'What could be on Backsplash, best first' });
  await expect(options.getByRole('heading')).toHaveCount(5);
  await panel.getByText('Consider others for Backsplash').focus();
  await page.keyboard.press('Enter');
  await page.keyboard.press('Tab');
  await expect(panel.getByLabel('Kind of finish')).toBeFocused();
  await panel.getByLabel('Kind of finish').selectOption('stone');
  await page.keyboard.press('Tab');
  await expect(panel.getByRole('checkbox', { name: 'Heron granite' })).toBeFocused();
  await page.keyboard.press('Space');
  await expect(options.getByRole('heading', { name: 'Heron granite' })).toBeVisible();
  await expect(options.getByRole('heading')).toHaveCount(6);

  await press('What changes with Ring tile', 'Enter');
  const report = panel.getByRole('region', { name: 'Ring tile instead of Half-bond tile' });
  const fault = report.getByRole('listitem').filter({ hasText: 'New fault.' });
  await expect(fault).toContainText('“Counter” and “Backsplash” are both busy and compete');
  await press('What changes with Ring tile', 'Enter');
  await expect(report).toHaveCount(0);
  await press('What changes with Ring tile', 'Enter');
  await expect(report).toBeVisible();
  await accessible(page);
  await fitsWidth(page);
});
