import { readFile } from 'node:fs/promises';
import { expect, test, type Page } from '@playwright/test';
import { accessible, DESK, fitsWidth, PHONE, sampleJob } from './desk.ts';

// Setting up a sample job, searching its schemes and looking for accessibility faults take their time on a busy machine.
test.setTimeout(180_000);

const pairs = (page: Page) => page.getByRole('region', { name: /^Finish against finish(?!.*table$)/ });
const plots = (page: Page) => page.getByRole('region', { name: /^Where the colours lie/ });

async function openScheme(page: Page): Promise<void> {
  await page.goto(`${page.url().replace(/\/$/, '')}/scheme`);
  await expect(pairs(page)).toContainText(/Of (the one pair|\d+ pairs) that meets?,/, { timeout: 60_000 });
}

test('every pair is read from a table, by eye, by keys and by its headers', async ({ page }) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await openScheme(page);
  const table = pairs(page).getByRole('table');
  // Six surfaces: each heads a row and a column, and any two share one cell.
  await expect(table.getByRole('rowheader')).toHaveCount(6);
  await expect(table.getByRole('columnheader')).toHaveCount(6);
  const cells = table.getByRole('button');
  await expect(cells).toHaveCount(15);

  // BS 8300-2:2018 asks for 30 points of light reflectance; granite on oak has fewer, in any scheme that keeps both.
  const edge = table.getByRole('button', { name: /^Counter and Floor:/ });
  await expect(edge).toContainText(/faint edge, \d+\.\d points/);
  const points = Number(/faint edge, (\d+\.\d)/.exec((await edge.textContent()) ?? '')?.[1]);
  expect(points).toBeLessThan(30);
  // The whole of it is in the name of the cell.
  await expect(edge).toHaveAccessibleName(/faint, with \d+\.\d points of LRV .* local codes decide/);

  // One stop for the tab key; arrows go from cell to cell.
  await expect(table.locator('button[tabindex="0"]')).toHaveCount(1);
  await table.locator('button[tabindex="0"]').focus();
  await page.keyboard.press('ArrowDown');
  await page.keyboard.press('ArrowDown');
  await page.keyboard.press('ArrowDown');
  await page.keyboard.press('End');
  await expect(page.locator(':focus')).toHaveAttribute('data-cell', '4 3');
  await page.keyboard.press('Home');
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('Enter');
  const name = (await page.locator(':focus').textContent())?.split(':')[0].trim() ?? 'none';
  const detail = pairs(page).getByRole('region', { name });
  await expect(detail).toBeVisible();
  await expect(page.locator(':focus')).toHaveAttribute('aria-pressed', 'true');

  await edge.click();
  const open = pairs(page).getByRole('region', { name: 'Counter and Floor' });
  await expect(open.getByText(`${points.toFixed(1)} points of LRV`).first()).toBeVisible();
  // Three lights, one of which decides; each kind has its number.
  await expect(open.getByText(', which decides')).toHaveCount(1);
  await expect(
    open.locator('li').filter({ hasText: /(match|near miss|related|separate),\s*\d+\.\d/ }),
  ).toHaveCount(3);
  await pairs(page).getByText('How pairs are judged').click();
  await expect(pairs(page)).toContainText('LRV measured per BS 8493');
  await expect(pairs(page)).toContainText('common practice, no published source');
  await accessible(page);
});

test('a phone has the worst pair first, opens it in place, and can have the table all the same', async ({
  page,
}) => {
  await page.setViewportSize(PHONE);
  await sampleJob(page);
  await openScheme(page);
  const lines = pairs(page).getByRole('listitem').getByRole('button');
  await expect(lines).toHaveCount(15);
  const faults = await lines.evaluateAll((all) => all.map((line) => line.classList.contains('fault')));
  const meeting = await pairs(page)
    .getByRole('heading', { name: 'Pairs that meet' })
    .locator('..')
    .getByRole('listitem')
    .getByRole('button')
    .count();
  // No fault comes after what has none.
  expect(faults.slice(0, meeting).lastIndexOf(true)).toBeLessThan(
    faults.slice(0, meeting).indexOf(false) === -1 ? meeting : faults.slice(0, meeting).indexOf(false),
  );
  expect(faults[0]).toBe(true);
  await lines.first().focus();
  await page.keyboard.press('Enter');
  await expect(lines.first()).toHaveAttribute('aria-expanded', 'true');
  await expect(pairs(page).getByText('Light by light')).toBeVisible();
  await fitsWidth(page);
  await accessible(page);
  await pairs(page).getByRole('button', { name: 'As a table' }).click();
  await expect(pairs(page).getByRole('table').getByRole('rowheader')).toHaveCount(6);
  await fitsWidth(page);
  await accessible(page);
});

test('the plots say the same as the table of pairs, and are filed', async ({ page }) => {
  await page.setViewportSize(DESK);
  await sampleJob(page);
  await openScheme(page);
  await plots(page).getByText('The same in numbers').click();
  const rows = plots(page).getByRole('table').getByRole('row');
  const lrv = async (surface: string) =>
    Number(
      await rows
        .filter({ has: page.getByRole('rowheader', { name: surface }) })
        .first()
        .getByRole('cell')
        .last()
        .textContent(),
    );
  const apart = Math.abs((await lrv('Counter')) - (await lrv('Floor')));
  const edge = pairs(page).getByRole('button', { name: /^Counter and Floor:/ });
  const points = Number(/faint edge, (\d+\.\d)/.exec((await edge.textContent()) ?? '')?.[1]);
  // Both are rounded to a tenth.
  expect(Math.abs(apart - points)).toBeLessThan(0.16);

  const filed = page.waitForEvent('download');
  await plots(page).getByRole('button', { name: 'Save the numbers as CSV' }).click();
  const csv = await readFile(await (await filed).path(), 'utf8');
  expect(csv.split('\r\n')[0]).toBe('scheme,surface,finish,L*,a*,b*,C*,h,LRV');
  expect(csv).toContain(',Counter,Heron granite,');
  const drawn = page.waitForEvent('download');
  await plots(page).getByRole('button', { name: 'Save lightness and LRV as SVG' }).click();
  const svg = await readFile(await (await drawn).path(), 'utf8');
  expect(svg).toContain('>Counter</text>');
  await plots(page).getByRole('button', { name: 'Save hue and chroma as SVG' }).click();
  await accessible(page);
  await page.setViewportSize(PHONE);
  await fitsWidth(page);
  await accessible(page);
});
