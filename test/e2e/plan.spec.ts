import { expect, test, type Locator, type Page } from '@playwright/test';
import type { Job } from '../../src/lib/job/index.ts';
import { accessible, DESK, fitsWidth, PHONE, sampleJob, saved } from './desk.ts';

// A sample job of its own takes its time to make on a busy machine.
test.setTimeout(180_000);

const DAY = 86_400_000;
const dayAfter = (date: string, days: number) =>
  new Date(Date.parse(date) + days * DAY).toISOString().slice(0, 10);

/** The sample job's plan, and the day its work is to be finished by. */
async function openPlan(page: Page): Promise<{ plan: Locator; finishBy: string; jobUrl: string }> {
  await sampleJob(page);
  const jobUrl = page.url();
  const { job } = (await (await page.request.get(`/api${new URL(jobUrl).pathname}`)).json()) as { job: Job };
  await page.goto(`${jobUrl}/schedule`);
  const plan = page.getByRole('region', { name: 'The work, step by step' });
  await expect(plan).toBeVisible();
  return { plan, finishBy: job.finishBy!, jobUrl };
}

const bars = (plan: Locator) => plan.getByRole('listbox', { name: 'Steps of the work, as bars' });
const bar = (plan: Locator, name: RegExp) => bars(plan).getByRole('option', { name });
const HARDWARE = /^Kitchen, Handles: fit the hardware/;
const dayOf = async (option: Locator) =>
  (await option.getAttribute('aria-label'))!.split('; ')[1].split(',')[0];

test('the plan is told in words, drawn as bars, moved by hand and by key, and taken back', async ({
  page,
}) => {
  await page.setViewportSize(DESK);
  const { plan, finishBy } = await openPlan(page);
  await expect(plan.getByText(/^Done and dry /)).toBeVisible();
  await expect(plan.getByText(/steps, each held up by the one before/)).toBeVisible();
  await expect(plan.getByRole('heading', { name: 'Guessed or not known' })).toBeVisible();
  for (const line of ['First side, doors 1-12', 'Turn and second side, doors 1-12', 'Must have come'])
    await expect(plan.getByText(line, { exact: true }).first()).toBeVisible();
  await accessible(page);

  // By hand: the last step to the left, with what follows seen before it is let down.
  const last = bar(plan, HARDWARE);
  await last.scrollIntoViewIfNeeded();
  const own = await dayOf(last);
  const box = (await last.boundingBox())!;
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(box.x - 150, box.y + box.height / 2, { steps: 6 });
  await expect(plan.locator('.tip')).toContainText(/Done and dry/);
  await page.mouse.up();
  await expect(last).toHaveAttribute('aria-label', /moved by hand/);
  expect(await dayOf(last)).not.toBe(own);
  await expect(plan.getByRole('button', { name: 'Let all moved steps go (1)' })).toBeVisible();
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(last).not.toHaveAttribute('aria-label', /moved/);
  expect(await dayOf(last)).toBe(own);

  // By key: one stop for all bars; from step to step, a day on, and let go.
  await bars(plan).focus();
  await page.keyboard.press('End');
  await expect(last).toHaveAttribute('aria-selected', 'true');
  await page.keyboard.press('ArrowRight');
  await expect(last).toHaveAttribute('aria-label', /moved by hand/);
  await expect(plan.getByRole('status')).toContainText('fit the hardware” is on');
  await page.keyboard.press('Delete');
  await expect(last).not.toHaveAttribute('aria-label', /moved/);
  await page.keyboard.press('Enter');
  await expect(plan.getByRole('heading', { name: HARDWARE })).toBeFocused();

  // Two weeks after the date it is late, and the plan says because of what.
  await plan.getByLabel('On which day').fill(dayAfter(finishBy, 14));
  await expect(plan.getByRole('heading', { name: 'Late because of' })).toBeVisible();
  await expect(plan.getByText(/^Done and dry .+ working days? late\.$/)).toBeVisible();
  await expect(plan.getByText(/^It begins with a step that was moved: “Kitchen, Handles/)).toBeVisible();
  await accessible(page);

  // On the day the plan's start it cannot be; the day is kept and said why not.
  const begun = (await bar(plan, /: cover the floor/).getAttribute('aria-label'))!;
  await plan
    .getByLabel('Moved to')
    .fill(new Date(`${begun.split('; ')[1].split(',')[0]} UTC`).toISOString().slice(0, 10));
  const cannot = plan.getByRole('list', { name: 'What the plan cannot keep' });
  await expect(cannot).toContainText(/Fit the hardware|fit the hardware/);
  await expect(cannot).toContainText('the day you chose is kept');
  await plan.getByRole('button', { name: 'Let it go' }).click();
  await expect(cannot).toHaveCount(0);

  // Hours by one's own knowledge, and back to the usual.
  await plan.getByLabel('Hours of work').fill('6');
  await plan.getByLabel('Hours of work').press('Tab');
  await expect(plan.getByText(/Hours: your own/)).toBeVisible();
  await plan.getByLabel('Hours of work').fill('');
  await plan.getByLabel('Hours of work').press('Tab');
  await expect(plan.getByText(/Hours: the usual for its size/)).toBeVisible();
  await saved(page);
});

test('cautions follow the house, and settings move the plan', async ({ page }) => {
  await page.setViewportSize(DESK);
  const { plan, finishBy } = await openPlan(page);
  const lead = plan.getByText(/Old paint may contain lead/);
  await expect(lead.first()).toContainText('Built 1964.');
  await expect(plan.getByText('Local codes and licensed trades decide').first()).toBeVisible();

  await plan.getByText('What the plan is reckoned with').click();
  const year = plan.getByLabel('House built in');
  await year.fill('');
  await year.press('Tab');
  await expect(lead.first()).toContainText('The year of the house is not known, so it counts as old.');
  await year.fill('1995');
  await year.press('Tab');
  await expect(lead).toHaveCount(0);
  await expect(plan.getByText(/Dust from sanding/).first()).toBeVisible();
  await year.fill('twelve');
  await year.press('Tab');
  await expect(plan.getByRole('alert')).toContainText('“twelve” is not taken');
  await expect(lead).toHaveCount(0);
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect(lead.first()).toBeVisible();

  // Less room to dry is more batches.
  const space = plan.getByLabel('Fronts that can lie drying');
  await space.fill('6');
  await space.press('Tab');
  await expect(plan.getByText('First side, doors 1-6', { exact: true })).toBeVisible();
  await expect(plan.getByText(/6 lie there at once/)).toBeVisible();

  // From a day on, instead of backwards from the date.
  await plan.getByLabel('on a day you say').check();
  await plan.getByLabel('Begin on').fill(finishBy);
  await expect(plan.getByText(/^Done and dry .+ working days late\.$/)).toBeVisible();
  await plan.getByLabel(/as late as the finish-by date allows/).check();
  await expect(plan.getByLabel('Begin on')).toHaveCount(0);
  await accessible(page);
  await saved(page);
});

test('on a phone the plan is a list day by day, moved by keys alone', async ({ page }) => {
  await page.setViewportSize(PHONE);
  const { plan } = await openPlan(page);
  const days = plan.getByRole('list', { name: 'The work, day by day' });
  await expect(days).toBeVisible();
  await expect(days.getByText(/Old paint may contain lead/).first()).toBeVisible();
  await fitsWidth(page);
  await accessible(page);

  const hang = days.getByRole('button', { name: /^Hang doors/ });
  await hang.focus();
  await page.keyboard.press('ArrowRight');
  await expect(hang).toBeFocused();
  await expect(days.getByRole('listitem').filter({ hasText: /^\s*Hang doors/ })).toContainText(
    'moved by hand',
  );
  await page.keyboard.press('Enter');
  await expect(hang).toHaveAttribute('aria-expanded', 'true');
  await expect(days.getByRole('button', { name: 'Let it go' })).toBeVisible();
  await fitsWidth(page);
  await accessible(page);
  await page.keyboard.press('Delete');
  await expect(days.getByText('moved by hand')).toHaveCount(0);
  await expect(hang).toBeFocused();

  await plan.getByRole('button', { name: 'As bars' }).click();
  await expect(bars(plan)).toBeVisible();
  await fitsWidth(page);
  await accessible(page);
  await saved(page);
});
