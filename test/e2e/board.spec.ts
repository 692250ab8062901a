import { expect, test, type Page } from '@playwright/test';
import type { Job } from '#lib/job/index.ts';
import { accessible, DESK, fitsWidth, PHONE, sampleJob, saved } from './desk.ts';

// Pictures under four lights without a graphics processor take their time on a busy machine.
test.beforeEach(() => test.setTimeout(240_000));
const DRAWN = { timeout: 120_000 };

let request = 0;

/** Changes places of the job as another tab would. */
async function change(page: Page, home: string, values: (job: Job) => [string[], unknown][]): Promise<void> {
  const api = `/api${home}`;
  const { job, version } = (await (await page.request.get(api)).json()) as { job: Job; version: number };
  const changes = values(job).map(([place, now]) => {
    const was = place.reduce<unknown>((at, step) => (at as Record<string, unknown> | undefined)?.[step], job);
    return { path: place, ...(was !== undefined && { was }), now };
  });
  request += 1;
  const answer = await page.request.post(`${api}/edits`, {
    headers: { origin: new URL(page.url()).origin },
    data: { base: version, edits: [{ label: 'change', changes }], client: 'board-journeys', request },
  });
  expect(answer.status(), await answer.text()).toBe(200);
}

const choose = (page: Page, home: string, swatchId: string) =>
  change(page, home, () => [
    [['surfaces', 'cabinets', 'swatchId'], swatchId],
    [['surfaces', 'cabinets', 'state'], 'chosen'],
  ]);

/** A sample job with Deep Lock chosen for its cabinets, opened on its board; its photos have marks or have none. */
async function proposal(page: Page, { marked = true } = {}): Promise<string> {
  await sampleJob(page);
  const home = new URL(page.url()).pathname;
  if (!marked)
    await change(page, home, ({ photos }) =>
      Object.values(photos).flatMap(({ id, masks }): [string[], unknown][] =>
        masks ? [[['photos', id, 'masks'], undefined]] : [],
      ),
    );
  await choose(page, home, 'th-19');
  await page.goto(`${home}/board`);
  await expect(page.getByRole('heading', { name: 'Pages' })).toBeVisible();
  return home;
}

async function makeRound(page: Page, round: number): Promise<void> {
  await page.getByRole('button', { name: `Make round ${round}` }).click();
  await expect(page.getByText(`Round ${round} is frozen.`)).toBeVisible(DRAWN);
}

async function makeLink(page: Page, forWhom: string): Promise<string> {
  await page.getByLabel('For whom').first().fill(forWhom);
  await page.getByRole('button', { name: 'Make the link' }).first().click();
  return await page.getByLabel('Address of the link').inputValue();
}

const answers = (page: Page) => page.getByRole('region', { name: 'Answers' });
const tab = (page: Page) => page.getByRole('navigation', { name: 'Parts of the job' });

test('a round goes out by a link, the answer comes back at once, and the next round says what changed', async ({
  page,
  browser,
}) => {
  await page.setViewportSize(DESK);
  const home = await proposal(page);
  await page.getByLabel('For (your client’s name)').fill('Ida Fenn');
  await page.getByLabel('From (your name)').fill('Nell Arbury');
  await page.getByLabel('From (your name)').blur();
  await saved(page);

  await page.getByRole('button', { name: 'Show it' }).click();
  const seen = page.frameLocator('iframe[title="The board as your client will see it"]');
  await expect(seen.getByText('Deep Lock').first()).toBeVisible(DRAWN);
  await expect(seen.getByText('This is a preview')).toBeAttached();
  await expect(page.getByText('This is the draft as it stands.')).toBeVisible();
  await page.getByLabel('On a desktop').check();
  await expect(seen.locator('.after img').first()).toBeVisible();
  // Under a light the page says how its picture was worked out.
  await expect(seen.locator('.caption.after').nth(1)).toContainText(
    /All light in the photo is brought to this light as one, .*only the panes of the window, and sun .*, are worked out apart/,
  );
  await accessible(page);

  await makeRound(page, 1);
  const address = await makeLink(page, 'Ida');
  await accessible(page);

  const phone = await browser.newContext({ viewport: PHONE, hasTouch: true, isMobile: true });
  const client = await phone.newPage();
  await client.goto(address);
  await expect(client.getByRole('heading', { name: 'Kitchen: a proposal' })).toBeVisible();
  const cabinets = client.getByRole('group', { name: /Cabinets/ });
  await cabinets.getByText('Change something').click();
  await cabinets.getByLabel(/Your words on this/).fill('A little lighter, please. <b>Not</b> black.');
  await cabinets.getByLabel('A place on the picture').selectOption({ label: 'Cabinets' });
  await client.getByLabel('Your name').fill('Ida Fenn');
  await client.getByRole('button', { name: 'Send my answer' }).click();
  await expect(client.getByText('Thank you')).toBeVisible();

  // Nothing is reloaded on the designer's page.
  await expect(answers(page).getByRole('heading', { name: /Ida Fenn/ })).toBeVisible();
  await expect(answers(page).getByText('A little lighter, please. <b>Not</b> black.')).toBeVisible();
  await expect(answers(page).getByText('Pointed at: 1 for Cabinets')).toBeVisible();
  await expect(answers(page).getByText(/by the link for Ida, to round 1/)).toBeVisible();
  await expect(tab(page).getByRole('link', { name: 'Board, 1 new' })).toBeVisible();
  const jobs = await page.context().newPage();
  await jobs.goto('/');
  await expect(jobs.locator(`a[href="${home}/board"]`)).toHaveText('1 new answer to the board');
  await jobs.close();
  await accessible(page);

  // A changed mind is another answer; the first stays.
  await client.reload();
  await cabinets.getByText('Yes, like this').click();
  await client.getByLabel('Your name').fill('Ida Fenn');
  await client.getByRole('button', { name: 'Send my answer' }).click();
  await expect(answers(page).getByRole('heading', { name: 'Ida Fenn new', exact: true })).toBeVisible();
  await expect(answers(page).getByRole('heading', { name: 'Ida Fenn new earlier answer' })).toBeVisible();
  await expect(page.getByText(/Ida Fenn: yes to 1 of 1/).first()).toBeVisible();
  await answers(page).getByRole('button', { name: 'I have read them' }).click();
  await expect(tab(page).getByRole('link', { name: 'Board', exact: true })).toBeVisible();

  await choose(page, home, 'th-15');
  await page.reload();
  await makeRound(page, 2);
  const rounds = page.getByRole('region', { name: 'Rounds' });
  await expect(rounds.getByText(/Cabinets: was Deep Lock.*; is now Moss Ledger/)).toBeVisible();
  await rounds.getByRole('button', { name: 'Open round 2' }).click();
  const opened = page.frameLocator('iframe[title="Round 2 as your client sees it"]');
  await expect(opened.getByRole('row', { name: /Cabinets.*Deep Lock.*Moss Ledger/ })).toBeVisible();
  // The head says it in short, for the designer and for the client.
  await expect(rounds.getByText('Since round 1: Cabinets has another finish.')).toBeVisible();
  await expect(opened.locator('header')).toContainText('Since round 1: Cabinets has another finish.');
  // The link still leads to what was sent.
  await client.reload();
  await expect(client.getByText('Moss Ledger,')).toHaveCount(0);

  // What was answered of a surface that is gone since keeps its name, with a word.
  await change(page, home, () => [[['surfaces', 'cabinets'], undefined]]);
  await page.reload();
  await expect(answers(page).getByText('Cabinets (removed since)').first()).toBeVisible();

  await page.getByRole('button', { name: 'Revoke the link for Ida' }).click();
  await page.getByRole('button', { name: 'Revoke it for good' }).click();
  await expect(page.getByText(/revoked \d/)).toBeVisible();
  await client.reload();
  await expect(client.getByText('This board is not (or no longer) here')).toBeVisible();
  await phone.close();

  await page.setViewportSize(PHONE);
  await fitsWidth(page);
  await accessible(page);
});

test('a round goes out as one file and its answer comes back as text; paper comes in both sizes', async ({
  page,
  browser,
}) => {
  const home = await proposal(page, { marked: false });
  await expect(page.getByText('No surface is marked in “Kitchen by day” yet')).toBeVisible();
  await makeRound(page, 1);
  await expect(page.getByText('“The room, before and after” is left out')).toBeVisible();

  const coming = page.waitForEvent('download');
  await page.getByRole('link', { name: 'One file to send' }).click();
  const file = test.info().outputPath('board.html');
  await (await coming).saveAs(file);
  const apart = await browser.newContext({ viewport: PHONE, offline: true });
  const client = await apart.newPage();
  await client.goto(`file://${file}`);
  await client
    .getByRole('group', { name: /Cabinets/ })
    .getByText('Yes, like this')
    .click();
  await client.getByLabel('Your name').fill('Otto');
  await client.getByRole('button', { name: 'Make my answer to send' }).click();
  const text = await client.getByLabel('Your answer as text: send it whole').inputValue();
  await apart.close();

  await page.getByText('Paste an answer that came as a message').click();
  const place = page.getByLabel(/All that your client sent/);
  await place.fill(text.replace('yes', 'no'));
  await page.getByRole('button', { name: 'Keep this answer' }).click();
  await expect(answers(page).getByRole('alert')).toContainText('was changed on the way');
  await place.fill(text);
  await page.getByRole('button', { name: 'Keep this answer' }).click();
  await expect(page.getByText('The answer of Otto to round 1 is kept.')).toBeVisible();
  await expect(answers(page).getByText(/pasted from a message/)).toBeVisible();

  for (const size of ['A4', 'Letter']) {
    const href = await page
      .getByRole('link', { name: size === 'A4' ? 'Paper, A4' : 'Paper, US Letter' })
      .getAttribute('href');
    const paper = await page.request.get(href!);
    expect(paper.headers()['content-type']).toBe('application/pdf');
    expect((await paper.body()).subarray(0, 5).toString('latin1')).toBe('%PDF-');
  }
  expect(home).toMatch(/^\/jobs\//);
});

test('the draft is arranged by keyboard alone, undone, and taken over from a round', async ({ page }) => {
  await proposal(page, { marked: false });
  const titles = () =>
    page
      .getByLabel(/^Title of page/)
      .evaluateAll((fields) => fields.map((field) => (field as HTMLInputElement).value));
  const before = await titles();

  const up = page.getByRole('button', { name: 'Move “Why these” up' });
  await up.focus();
  await page.keyboard.press('Enter');
  await expect(up).toBeFocused();
  expect((await titles()).indexOf('Why these')).toBe(before.indexOf('Why these') - 1);
  await page.keyboard.press('Alt+ArrowUp');
  await expect(up).toBeFocused();
  expect((await titles()).indexOf('Why these')).toBe(before.indexOf('Why these') - 2);
  await page.getByRole('button', { name: 'Undo' }).click();
  await page.getByRole('button', { name: 'Undo' }).click();
  expect(await titles()).toEqual(before);

  const words = page.getByRole('button', { name: 'words of your own' });
  await words.focus();
  await page.keyboard.press('Enter');
  await expect(page.getByLabel('Title of page 7')).toBeFocused();
  await page.keyboard.type('!');
  await page.getByLabel('Your words on “A word from me', { exact: false }).fill('Take your time.');
  await page.getByLabel('Show “Still open”').uncheck();
  await page.getByRole('button', { name: 'a choice between two' }).click();
  await page.getByLabel('Finish B').selectOption({ label: 'Lock Keeper' });
  await saved(page);
  await makeRound(page, 1);

  // The same once more is no other round.
  await page.getByRole('button', { name: 'Make round 2' }).click();
  await expect(page.getByText('Nothing is different from round 1')).toBeVisible(DRAWN);

  await page.getByLabel('Title of page 7').fill('Something else');
  await page.getByLabel('Title of page 7').blur();
  await page.getByRole('button', { name: 'Begin the next round from round 1' }).click();
  await expect(
    page
      .getByLabel(/^Title of page/)
      .filter({ visible: true })
      .first(),
  ).toBeVisible();
  expect(await titles()).not.toContain('Something else');
  await expect(page.getByLabel('Finish B')).toHaveValue('om-330');
  await accessible(page);
  await page.setViewportSize(PHONE);
  await fitsWidth(page);
  await accessible(page);
});
