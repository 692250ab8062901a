import { expect, test } from '@playwright/test';
import { DESK } from './desk.ts';
import { candidate, marked, seen } from './see-desk.ts';

// Taking surfaces apart and painting without a graphics processor takes its time on a busy machine.
test.beforeEach(() => test.setTimeout(180_000));

test('candidates are shown once their order is known and do not move by themselves', async ({ page }) => {
  await page.setViewportSize(DESK);
  await marked(page);
  await seen(page);
  // Every order that a hand could have met while the page loads.
  await page.addInitScript(() => {
    const orders = new Set<string>();
    Object.assign(window, { orders });
    const look = () => {
      const cards = [...document.querySelectorAll<HTMLElement>('.boards label')].filter((card) =>
        card.checkVisibility({ visibilityProperty: true }),
      );
      if (cards.length > 0) orders.add(cards.map(({ innerText }) => innerText.split('\n')[0]).join(', '));
      requestAnimationFrame(look);
    };
    requestAnimationFrame(look);
  });
  await page.reload();
  await seen(page);
  await expect(candidate(page, 'Deep Lock')).toBeVisible();
  const met = () => page.evaluate(() => [...(window as unknown as { orders: ReadonlySet<string> }).orders]);
  expect(await met()).toHaveLength(1);

  // What is decided elsewhere changes the order of the shortlist; here it changes when that is asked for.
  const [shown] = await met();
  await page
    .getByRole('group', { name: 'Surfaces' })
    .getByRole('button', { name: /^Walls/ })
    .click();
  await page.getByLabel('Try another swatch of this job').selectOption({ label: 'Deep Lock TH-19' });
  await page.getByRole('button', { name: /^Choose this for Walls/ }).click();
  await page
    .getByRole('group', { name: 'Surfaces' })
    .getByRole('button', { name: /^Cabinets/ })
    .click();
  const again = page.getByRole('button', { name: 'Show that order' });
  await expect(again).toBeVisible();
  expect((await met()).at(0)).toBe(shown);
  const cards = async () =>
    (await page.locator('.boards label').allInnerTexts()).map((text) => text.split('\n')[0]).join(', ');
  expect(await cards()).toBe(shown);
  await again.click();
  await expect(again).toBeHidden();
  expect(await cards()).not.toBe(shown);
});
