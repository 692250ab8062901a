import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import { expect, test, type Page } from '@playwright/test';
import sharp from 'sharp';
import { COLOUR_VISIONS, decodeRgb, encodeRgb, simulateColourVision } from '../../src/lib/colour/index.ts';
import { parseBoardAnswer, readAnswerText } from '../../src/lib/job/index.ts';
import { openStand, type Stand } from './board-stand.ts';
import { DESK, PHONE, accessible, fitsWidth } from './desk.ts';

// The client's side of a board: the page of a link, without the studio, and the one file. What is sent is looked at as sent.

let stand: Stand;
test.beforeAll(async () => {
  stand = await openStand();
});
test.afterAll(() => stand.close());
test.beforeEach(() => {
  stand.received.length = 0;
  stand.outcome = 201;
});

const ask = (page: Page, surface: string) => page.getByRole('group', { name: new RegExp(`\\b${surface}$`) });

/** Looked at on a phone and a desk; and no wider than a desk's page at 400 % (WCAG 2.2, 1.4.10: 320 px). */
async function looked(page: Page): Promise<void> {
  await page.setViewportSize({ width: 320, height: 640 });
  await fitsWidth(page);
  for (const size of [PHONE, DESK]) {
    await page.setViewportSize(size);
    await fitsWidth(page);
    await accessible(page);
  }
}

test.describe('on a phone', () => {
  test.use({ viewport: PHONE, deviceScaleFactor: 3, isMobile: true, hasTouch: true });

  test('the first screen says what it is and how to answer, and costs little', async ({ page }) => {
    let bytes = 0;
    const fetched: string[] = [];
    // What came over the line, not the bodies: the browser may have let go of those by the time they are asked for.
    page.on('requestfinished', async (request) => {
      fetched.push(new URL(request.url()).pathname);
      const { responseBodySize, responseHeadersSize } = await request.sizes();
      bytes += responseBodySize + responseHeadersSize;
    });
    await page.goto(stand.address, { waitUntil: 'networkidle' });
    await expect(page.getByRole('heading', { level: 1, name: 'Canal-side kitchen' })).toBeInViewport();
    await expect(page.getByText('This is a proposal for “Kitchen”')).toBeInViewport();
    await expect(
      page.getByText(/say yes, no or change to 4 things: Cabinets, Walls, Trim, Counter/),
    ).toBeInViewport();
    await expect(page.getByRole('link', { name: 'Answer now' })).toBeInViewport();
    await expect(page.getByAltText('The kitchen with deep green cabinets, by day.').first()).toBeInViewport();
    // The last size is told after the network has gone quiet.
    await expect.poll(() => bytes).toBeGreaterThan(50_000);
    expect(bytes).toBeLessThan(1_500_000);
    // Pictures of other lights, and those further down, wait until they are wanted.
    expect(fetched.filter((name) => name.startsWith('/pictures/'))).toHaveLength(1);
  });

  test('the client answers, pointing at the picture, and hears that it arrived', async ({ page }) => {
    await page.goto(stand.address);
    await page.getByRole('link', { name: 'Answer now' }).click();
    await ask(page, 'Cabinets').getByText('Yes, like this').click();
    await ask(page, 'Counter').getByText('Yes to B:').click();
    const walls = ask(page, 'Walls');
    await walls.getByText('Change something').click();
    await walls.getByLabel(/^Your words on this/).fill('A little lighter here, please.');
    const pad = walls.getByRole('application', { name: /^Picture to point at for Walls/ });
    const box = (await pad.boundingBox())!;
    await pad.tap({ position: { x: box.width * 0.25, y: box.height * 0.75 } });
    await expect(walls.getByRole('status')).toContainText('25 % across, 75 % down');
    const summary = page.locator('.summary');
    await expect(summary).toContainText('Cabinets: yes');
    await expect(summary).toContainText('Walls: change, with words, with a place on the picture');
    await expect(summary).toContainText('Counter: yes to B, Veined stone');
    await expect(summary).toContainText('Trim: no answer yet');
    await page.getByLabel('Your name').fill('Ida Fenn');
    await page.getByRole('button', { name: 'Send my answer' }).click();
    await expect(page.getByText(/^Received .* from Ida Fenn\.$/)).toBeVisible();
    await expect(
      page.getByText('You may send another answer; the first stays.', { exact: false }).first(),
    ).toBeVisible();
    expect(stand.received).toHaveLength(1);
    const { hash, answer } = stand.received[0].value;
    expect(hash).toBe(stand.hash);
    const read = parseBoardAnswer(answer, stand.content);
    expect(Object.keys(read.surfaces)).toEqual(['cabinets', 'walls', 'counter']);
    expect(read.surfaces.counter).toMatchObject({ verdict: 'yes', swatchId: 'veined' });
    expect(read.surfaces.walls).toMatchObject({
      verdict: 'change',
      comment: 'A little lighter here, please.',
    });
    expect(read.surfaces.walls.pin?.page).toBe(0);
    expect(read.surfaces.walls.pin?.x).toBeCloseTo(0.25, 1);
    expect(read.surfaces.walls.pin?.y).toBeCloseTo(0.75, 1);
    await accessible(page);
    await page.getByRole('button', { name: 'Send another answer' }).click();
    await expect(page.getByRole('button', { name: 'Send my answer' })).toBeVisible();
  });
});

test('the page has no fault that can be found at 390 and 1440 px, closed and opened', async ({ page }) => {
  await page.goto(stand.address);
  await looked(page);
  for (const summary of await page.locator('summary').all()) await summary.click();
  await page.getByRole('radio', { name: 'Both, with a divider' }).check();
  await looked(page);
});

test('what is missing is said where it is missing', async ({ page }) => {
  await page.goto(stand.address);
  const button = page.getByRole('button', { name: 'Send my answer' });
  await button.click();
  await expect(page.getByText('Answer at least one of the questions above')).toBeVisible();
  await expect(page.getByText('Type your name')).toBeVisible();
  await ask(page, 'Trim').getByText('Add words').click();
  await ask(page, 'Trim')
    .getByLabel(/^Your words on this/)
    .fill('Hm.');
  await button.click();
  await expect(ask(page, 'Trim').getByRole('alert')).toContainText('Say yes, no or change too');
  await expect(ask(page, 'Trim').getByRole('radio').first()).toBeFocused();
  await looked(page);
  expect(stand.received).toEqual([]);
});

test('what was written survives a send that fails and a page that is opened again', async ({ page }) => {
  await page.goto(stand.address);
  await ask(page, 'Cabinets').getByText('No, not this').click();
  await ask(page, 'Cabinets').getByText('Add words').click();
  await ask(page, 'Cabinets')
    .getByLabel(/^Your words on this/)
    .fill('Too dark for us.');
  await ask(page, 'Cabinets').getByLabel('A place on the picture').selectOption({ label: 'Cabinets' });
  await page.getByLabel('Your name').fill('Jonas');
  const button = page.getByRole('button', { name: 'Send my answer' });
  stand.outcome = 'cut';
  await button.click();
  await expect(page.getByRole('status').filter({ hasText: 'there is no connection' })).toBeVisible();
  stand.outcome = 422;
  await button.click();
  await expect(page.getByRole('status').filter({ hasText: 'Not sent. Too long.' })).toBeVisible();
  await page.reload();
  await expect(page.getByText('What you wrote last time, but did not send, is still here.')).toBeVisible();
  await expect(ask(page, 'Cabinets').getByLabel(/^Your words on this/)).toHaveValue('Too dark for us.');
  stand.outcome = 201;
  stand.received.length = 0;
  await button.click();
  await expect(page.getByText(/^Received /)).toBeVisible();
  const read = parseBoardAnswer(stand.received[0].value.answer, stand.content);
  expect(read.surfaces.cabinets).toEqual({
    verdict: 'no',
    swatchId: null,
    comment: 'Too dark for us.',
    pin: { page: 0, x: 0.3, y: 0.62 },
  });
  await page.reload();
  await expect(page.getByText('What you wrote last time')).toBeHidden();
});

test('everything can be done with the keyboard alone', async ({ page }) => {
  await page.setViewportSize(DESK);
  await page.goto(stand.address);
  const to = async (what: () => Promise<boolean>) => {
    for (let i = 0; i < 120; i++) {
      await page.keyboard.press('Tab');
      if (await what()) return;
    }
    throw new Error('expected to come by it with the Tab key');
  };
  const focused = (selector: string) => () =>
    page.evaluate((wanted) => document.activeElement?.matches(wanted) ?? false, selector);
  await to(focused('.show-after'));
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('ArrowRight');
  await expect(page.getByRole('radio', { name: 'Both, with a divider' })).toBeChecked();
  const range = page.getByRole('slider');
  await page.keyboard.press('Shift+Tab');
  await expect(range).toBeFocused();
  for (let i = 0; i < 10; i++) await page.keyboard.press('ArrowLeft');
  await expect(range).toHaveAttribute('aria-valuetext', '40 % before, 60 % proposal');
  expect(await page.locator('.stage').evaluate((stage) => stage.style.getPropertyValue('--cut'))).toBe('40%');
  await to(focused('.light-0'));
  await page.keyboard.press('ArrowRight');
  await expect(page.getByAltText('The kitchen with deep green cabinets, by the pendants.')).toBeVisible();
  await to(focused('[name="verdict.cabinets"]'));
  await page.keyboard.press('Space');
  await page.keyboard.press('ArrowDown');
  await page.keyboard.press('ArrowDown');
  await to(focused('[data-id=cabinets] .pad'));
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('Shift+ArrowDown');
  await expect(ask(page, 'Cabinets').getByRole('status')).toContainText('52 % across, 60 % down');
  await page.keyboard.press('Delete');
  await expect(ask(page, 'Cabinets').getByRole('combobox')).toHaveValue('');
  await page.keyboard.press('ArrowUp');
  await to(focused('[name=name]'));
  await page.keyboard.type('Ida');
  await to(focused('button.main'));
  await page.keyboard.press('Enter');
  await expect(page.getByText(/^Received /)).toBeVisible();
  const read = parseBoardAnswer(stand.received[0].value.answer, stand.content);
  expect(read.surfaces.cabinets).toEqual({
    verdict: 'change',
    swatchId: null,
    comment: '',
    pin: { page: 0, x: 0.5, y: 0.48 },
  });
});

test.describe('without a script', () => {
  test.use({ javaScriptEnabled: false });

  test('pictures switch, and the form goes as a form', async ({ page }) => {
    await page.goto(stand.address);
    const evening = page.getByAltText('The kitchen with deep green cabinets, by the pendants.');
    await expect(evening).toBeHidden();
    await page.getByRole('radio', { name: 'Pendants in the evening' }).check();
    await expect(evening).toBeVisible();
    await page.getByRole('radio', { name: 'Before', exact: true }).check();
    await expect(evening).toBeHidden();
    await expect(page.getByText('the room as it was photographed')).toBeVisible();
    await expect(page.getByRole('slider')).toBeHidden();
    for (const surface of ['Cabinets', 'Walls', 'Trim'])
      await ask(page, surface).getByRole('radio', { name: 'Yes, like this' }).check();
    await page.getByLabel('Your name').fill('Ida');
    await page.getByRole('button', { name: 'Send my answer' }).click();
    // The counter is not answered yet: the browser asks for it.
    expect(stand.received).toEqual([]);
    await ask(page, 'Counter')
      .getByRole('radio', { name: /^Yes to A/ })
      .check();
    await ask(page, 'Walls').getByText('Add words').click();
    await ask(page, 'Walls').getByLabel('A place on the picture').selectOption({ label: 'Walls' });
    await page.getByRole('button', { name: 'Send my answer' }).click();
    await expect.poll(() => stand.received.length).toBe(1);
    expect(stand.received[0].type).toContain('application/x-www-form-urlencoded');
    expect(stand.received[0].value).toMatchObject({
      hash: stand.hash,
      name: 'Ida',
      'verdict.cabinets': 'yes',
      'verdict.counter': 'yes:quiet',
      'pin.walls': '0,0.75,0.2',
      'comment.walls': '',
    });
  });
});

test('the one file opens without a network and makes a text that can be read back', async ({ browser }) => {
  test.slow();
  const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'brushout-board-'));
  const name = path.join(folder, 'board.html');
  fs.writeFileSync(name, stand.file);
  expect(fs.statSync(name).size).toBeLessThan(4_000_000);
  const context = await browser.newContext({ viewport: PHONE, offline: true });
  const page = await context.newPage();
  const asked: string[] = [];
  page.on('request', (request) => asked.push(request.url()));
  const errors: string[] = [];
  page.on('console', (message) => message.type() === 'error' && errors.push(message.text()));
  await page.goto(pathToFileURL(name).href);
  const shown = async (alt: string) => {
    const image = page.getByAltText(alt);
    await expect(image).toBeVisible();
    await image.scrollIntoViewIfNeeded();
    await expect
      .poll(() => image.evaluate((at: HTMLImageElement) => at.complete && at.naturalWidth))
      .toBe(1024);
  };
  await shown('The kitchen with deep green cabinets, by day.');
  await page.getByRole('radio', { name: 'Dusk, window and pendants' }).check();
  await shown('The kitchen with deep green cabinets, at dusk.');
  await page.getByRole('radio', { name: 'Both, with a divider' }).check();
  await shown('The kitchen as it is: worn pale cabinets, a dark speckled counter, oak floor.');
  await looked(page);
  await ask(page, 'Cabinets').getByText('Yes, like this').click();
  await ask(page, 'Counter').getByText('Yes to A:').click();
  await ask(page, 'Trim').getByText('Change something').click();
  const words = 'Could it be “greyer”? > #1 for me\nand matt.';
  await ask(page, 'Trim')
    .getByLabel(/^Your words on this/)
    .fill(words);
  await page.getByLabel('Anything else').fill('Thank you!');
  await page.getByLabel('Your name').fill('Ida Fenn');
  await page.getByRole('button', { name: 'Make my answer to send' }).click();
  const text = await page.getByLabel(/^Your answer as text/).inputValue();
  expect(text).toContain('Cabinets [cabinets]: yes');
  const mail = await page.getByRole('link', { name: 'Write an e-mail with it' }).getAttribute('href');
  expect(decodeURIComponent(mail ?? '')).toContain(text);
  const { hash, answer } = readAnswerText(text.replace(/^/gm, '> '));
  expect(hash).toBe(stand.hash);
  const read = parseBoardAnswer(answer, stand.content);
  expect(read).toEqual({
    name: 'Ida Fenn',
    comment: 'Thank you!',
    surfaces: {
      cabinets: { verdict: 'yes', swatchId: null, comment: '', pin: null },
      trim_1: { verdict: 'change', swatchId: null, comment: words, pin: null },
      counter: { verdict: 'yes', swatchId: 'quiet', comment: '', pin: null },
    },
  });
  await page.getByRole('button', { name: 'Copy the text' }).click();
  await expect(page.getByText(/^Copied|The text is marked/)).toBeVisible();
  await looked(page);
  // Another answer is another text.
  await ask(page, 'Walls').getByText('No, not this').click();
  await expect(page.getByLabel(/^Your answer as text/)).toBeHidden();
  expect(asked.filter((url) => !/^(?:file|data):/.test(url))).toEqual([]);
  expect(errors).toEqual([]);
  await context.close();
  fs.rmSync(folder, { recursive: true });
});

test('text of any kind is text: no script runs, nothing is added to the page', async ({ page }) => {
  const { HOSTILE, withText, kitchenBoard, hashOf, hostilePage } = await openHostile();
  const plain = await count(page, await hostilePage(await kitchenBoard(), hashOf));
  const dialogs: string[] = [];
  page.on('dialog', (dialog) => {
    dialogs.push(dialog.message());
    void dialog.dismiss();
  });
  for (const text of HOSTILE) {
    const html = await hostilePage(withText(await kitchenBoard(), text), hashOf);
    const found = await count(page, html);
    expect(found.scripts, text).toBe(plain.scripts);
    expect(found.strange, text).toEqual([]);
    expect(found.heading, text).toBe(seen(text.slice(0, 160)));
    await page.setViewportSize(PHONE);
    await fitsWidth(page);
  }
  expect(dialogs).toEqual([]);
});

/** What is left of a text to be seen: without signs that turn it round or hide in it. */
const seen = (text: string) =>
  text
    .replace(/[\u0000-\u0008\u000e-\u001f\u200b\u202a-\u202e\ufeff]/g, '')
    .replace(/\s+/g, ' ')
    .trim();

async function openHostile() {
  const { runnerImport } = await import('vite');
  const load = async <T>(file: string) =>
    (await runnerImport<T>(file, { configFile: false, logLevel: 'error' })).module;
  const made = await load<typeof import('../server/board-content.ts')>('test/server/board-content.ts');
  const { boardPage, boardPagePolicy } = await load<typeof import('../../src/lib/server/board-page.ts')>(
    'src/lib/server/board-page.ts',
  );
  const hostilePage = async (content: Stand['content'], hashOf: (content: Stand['content']) => string) => {
    const [first, second] = ['<b>x</b>', content.title].map((comment) => ({
      comment,
      pin: null,
      swatchId: null,
    }));
    const html = boardPage(content, {
      round: 2,
      hash: hashOf(content),
      news: { since: 1, sentences: [content.title] },
      images: (id) => ({ src: `/pictures/${id}/640`, srcset: '', width: 640, height: 427 }),
      answer: { action: '/answer' },
      closed: null,
      previous: [
        {
          receivedAt: Date.UTC(2027, 1, 11),
          answer: {
            name: content.title.slice(0, 80),
            comment: content.title,
            surfaces: { cabinets: { verdict: 'no', ...first }, trim_1: { verdict: 'change', ...second } },
          },
        },
      ],
    });
    return { html, policy: boardPagePolicy() };
  };
  return { ...made, hostilePage };
}

async function count(page: Page, { html, policy }: { html: string; policy: string }) {
  await page.unrouteAll();
  await page.route('**/*', (route) =>
    route.request().resourceType() === 'document'
      ? route.fulfill({
          contentType: 'text/html; charset=utf-8',
          headers: { 'content-security-policy': policy },
          body: html,
        })
      : route.abort(),
  );
  await page.goto(stand.address);
  return await page.evaluate(() => ({
    scripts: document.querySelectorAll('script, style').length,
    strange: [...document.querySelectorAll('*')]
      .filter((at) => [...at.attributes].some(({ name }) => name.startsWith('on') || name === 'style'))
      .filter((at) => !at.closest('.stage, .pad'))
      .map((at) => at.outerHTML),
    heading: (document.querySelector('h1')?.textContent ?? '').replace(/\s+/g, ' ').trim(),
  }));
}

test('colours are simulated for dichromats as this browser does it', async ({ page }) => {
  // An outside witness: Chromium's own emulation, made from the same paper.
  const colours = ['#2f4a40', '#8f8a63', '#9c8660', '#c04040', '#4060c0'];
  await page.setContent(
    colours.map((colour) => `<div style="height:40px;background:${colour}"></div>`).join('') +
      '<style>body{margin:0}</style>',
  );
  const session = await page.context().newCDPSession(page);
  for (const vision of COLOUR_VISIONS) {
    await session.send('Emulation.setEmulatedVisionDeficiency', { type: vision });
    const { data, info } = await sharp(await page.screenshot())
      .raw()
      .toBuffer({ resolveWithObject: true });
    for (const [i, colour] of colours.entries()) {
      const [r, g, b] = [1, 3, 5].map((at) =>
        decodeRgb(parseInt(colour.slice(at, at + 2), 16) / 255, 'srgb'),
      );
      const expected = simulateColourVision({ r, g, b }, vision);
      const start = ((i * 40 + 20) * info.width + 20) * info.channels;
      for (const [c, value] of [expected.r, expected.g, expected.b].entries()) {
        const byte = Math.min(255, Math.max(0, 255 * encodeRgb(value, 'srgb')));
        // Chromium keeps three digits of the matrices and rounds to bytes.
        expect(Math.abs(data[start + c] - byte), `${colour} ${vision} ${c}`).toBeLessThanOrEqual(2);
      }
    }
  }
});
