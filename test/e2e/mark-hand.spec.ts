/** Marking by hand and by straight outlines: what is stored is what was drawn. */
import { expect, test, type Page } from '@playwright/test';
import { decodeMask, maskArea, type Mask } from '#lib/photo/index.ts';
import { accessible, DESK, fitsWidth, PHONE } from './desk.ts';
import {
  done,
  draw,
  fingers,
  marksOf,
  onScreen,
  pick,
  picture,
  ready,
  sampleKitchen,
  selected,
  stateOf,
  unmarkedSample,
} from './marking-desk.ts';

type Place = readonly [number, number];

const by = (page: Page, name: 'Find the edges' | 'By hand' | 'Straight outline') =>
  page.getByRole('button', { name }).click();
const mode = (page: Page, name: 'Add' | 'Take away') =>
  page.getByRole('button', { name, exact: true }).click();
const status = (page: Page, text: RegExp) => page.getByRole('status').filter({ hasText: text });
const corners = (page: Page) => page.getByRole('button', { name: /^Corner \d+ of the outline/ });
const scaleOf = async (page: Page) => Number(await picture(page).getAttribute('data-scale'));

async function set(page: Page, ...places: Place[]): Promise<void> {
  for (const place of places) await page.mouse.click(...(await onScreen(page, place)));
}

async function storedMask(page: Page, surface: string): Promise<Mask> {
  await done(page);
  return decodeMask((await marksOf(page, 'kitchen-day', surface))?.mask);
}

const coverAt = ({ width, data }: Mask, [x, y]: Place) => data[Math.floor(y) * width + Math.floor(x)];

/** Area inside an outline that does not cross itself, by the shoelace formula. */
function areaIn(places: readonly Place[]): number {
  let twice = 0;
  places.forEach(([x, y], i) => {
    const [nextX, nextY] = places[(i + 1) % places.length];
    twice += x * nextY - nextX * y;
  });
  return Math.abs(twice) / 2;
}

/** Of the island, seen from the front: a wall of cabinets with a stool before it. */
const ISLAND: Place[] = [
  [330, 600],
  [1030, 580],
  [1030, 770],
  [330, 860],
];

test('what the ring passes over is marked and taken away exactly, and stays when edges are found later', async ({
  page,
}) => {
  await sampleKitchen(page);
  await pick(page, 'Walls');
  await by(page, 'By hand');
  await accessible(page);
  const ring = page.getByLabel('Width of the ring');
  await ring.fill('40');
  const radius = 20 / (await scaleOf(page));
  // Selected text is something the browser would drag away in place of a stroke.
  await page.keyboard.press('Control+a');
  await draw(page, [
    [300, 200],
    [900, 240],
  ]);
  await mode(page, 'Take away');
  await draw(page, [[600, 220]]);
  await expect(status(page, /^Walls: \d+ % of the picture marked\.$/)).toBeVisible();
  await accessible(page);
  const drawn = await storedMask(page, 'Walls');
  // Half discs at both ends and what lies between, less a disc on its middle line; places are rounded.
  const exact = 2 * radius * Math.hypot(600, 40);
  expect(Math.abs(maskArea(drawn) - exact)).toBeLessThan(0.005 * exact);
  expect(coverAt(drawn, [600, 220])).toBe(0);
  expect(coverAt(drawn, [400, 207])).toBe(255);
  expect(coverAt(drawn, [600, 220 + radius + 3])).toBe(0);

  // Now edges are found, over what was drawn and saved and over what was drawn in the same go.
  await mode(page, 'Add');
  await draw(page, [
    [700, 900],
    [760, 900],
  ]);
  await by(page, 'Find the edges');
  await draw(page, [
    [500, 890],
    [900, 980],
  ]);
  const more = await storedMask(page, 'Walls');
  expect(maskArea(more)).toBeGreaterThan(1.5 * exact);
  expect(drawn.data.every((value, p) => more.data[p] >= value)).toBe(true);
  expect(coverAt(more, [730, 900])).toBe(255);
  await expect(stateOf(page, 'Walls')).not.toContainText('not saved');
});

test('an outline is set corner by corner, put right, closed, taken away from, and survives a reload', async ({
  page,
}) => {
  await sampleKitchen(page);
  await pick(page, 'Cabinets');
  await by(page, 'Straight outline');
  await expect(page.getByRole('button', { name: 'Close the outline' })).toBeDisabled();
  await set(page, ISLAND[0], ISLAND[1], [900, 400]);
  await expect(corners(page)).toHaveCount(3);
  await expect(status(page, /^3 corners set\. The first corner closes the outline\.$/)).toBeVisible();
  await accessible(page);

  // “Undo” and the button take corners back before any stroke.
  await page.keyboard.press('Control+z');
  await expect(corners(page)).toHaveCount(2);
  await set(page, [200, 300]);
  await page.getByRole('button', { name: 'Corner back' }).click();
  await expect(corners(page)).toHaveCount(2);

  // A corner that is off is moved; then the first one closes.
  await set(page, [960, 700], ISLAND[3]);
  await page.mouse.move(...(await onScreen(page, [960, 700])));
  await page.mouse.down();
  await page.mouse.move(...(await onScreen(page, ISLAND[2])), { steps: 5 });
  await page.mouse.up();
  await expect(corners(page).nth(2)).toHaveAccessibleName(/at 10(29|30|31), 7(69|70|71)\./);
  await set(page, ISLAND[0]);
  await selected(page);
  await expect(corners(page)).toHaveCount(0);
  await expect(status(page, /^Cabinets: \d+ % of the picture marked\.$/)).toBeVisible();

  // A door is taken out again, closed with two clicks on its last corner.
  const door: Place[] = [
    [500, 650],
    [640, 645],
    [640, 780],
    [500, 800],
  ];
  await mode(page, 'Take away');
  await set(page, door[0], door[1], door[2]);
  await page.mouse.dblclick(...(await onScreen(page, door[3])));
  await selected(page);
  await expect(corners(page)).toHaveCount(0);

  await page.reload();
  await ready(page);
  await selected(page);
  await expect(stateOf(page, 'Cabinets')).toContainText('not saved');
  await page.keyboard.press('Control+z');
  await expect(status(page, /^Outline 2 taken back, 1 left/)).toBeVisible();
  await page.keyboard.press('Control+Shift+z');
  await expect(status(page, /^Outline 2 is back/)).toBeVisible();
  await selected(page);

  const mask = await storedMask(page, 'Cabinets');
  const exact = areaIn(ISLAND) - areaIn(door);
  // A click is a whole pixel of the screen, one and a half of the picture.
  expect(Math.abs(maskArea(mask) - exact)).toBeLessThan(0.01 * exact);
  expect(coverAt(mask, [570, 700])).toBe(0);
  expect(coverAt(mask, [400, 700])).toBe(255);
  expect(coverAt(mask, [340, 590])).toBe(0);
});

test('an outline goes on while the picture is sized and moved, is put aside with Escape, and claims another’s place', async ({
  page,
}) => {
  test.setTimeout(240_000);
  await sampleKitchen(page);
  await pick(page, 'Cabinets');
  await by(page, 'Straight outline');
  await set(page, ...ISLAND);
  await page.getByRole('button', { name: 'Close the outline' }).click();
  await selected(page);
  const cabinets = await storedMask(page, 'Cabinets');

  await pick(page, 'Counter');
  const tile: Place[] = [
    [600, 640],
    [640, 640],
    [640, 670],
    [600, 670],
  ];
  await set(page, [100, 100], [200, 100]);
  await picture(page).focus();
  await page.keyboard.press('Escape');
  await expect(corners(page)).toHaveCount(0);
  await page.getByRole('button', { name: 'Go on with it' }).click();
  await expect(corners(page)).toHaveCount(2);
  await accessible(page);

  // Each surface has its own; a reload finds it, and what was put aside too.
  await pick(page, 'Floor');
  await expect(corners(page)).toHaveCount(0);
  await pick(page, 'Counter');
  await expect(corners(page)).toHaveCount(2);
  await page.reload();
  await ready(page);
  await expect(corners(page)).toHaveCount(2);
  await page.getByRole('button', { name: 'Put it aside' }).click();
  await expect(corners(page)).toHaveCount(0);
  await page.reload();
  await ready(page);
  await by(page, 'Straight outline');
  await page.keyboard.press('Control+z');
  await expect(corners(page)).toHaveCount(2);
  await picture(page).focus();
  await page.keyboard.press('Escape');
  await expect(corners(page)).toHaveCount(0);

  const before = await scaleOf(page);
  await page.mouse.move(...(await onScreen(page, [620, 655])));
  await page.mouse.wheel(0, -1000);
  await expect.poll(() => scaleOf(page)).toBeGreaterThan(before * 4);
  await set(page, tile[0], tile[1]);
  // Another way is tried meanwhile; the corners wait.
  await by(page, 'By hand');
  await expect(corners(page)).toHaveCount(0);
  await by(page, 'Straight outline');
  await picture(page).focus();
  const left = Number(await picture(page).getAttribute('data-left'));
  await page.keyboard.down('Space');
  await page.mouse.move(...(await onScreen(page, [610, 650])));
  await page.mouse.down();
  await page.mouse.move(...(await onScreen(page, [600, 640])), { steps: 3 });
  await page.mouse.up();
  await page.keyboard.up('Space');
  expect(Number(await picture(page).getAttribute('data-left'))).toBeLessThan(left - 10);
  await expect(corners(page)).toHaveCount(2);
  await set(page, tile[2], tile[3], tile[0]);
  await selected(page);
  const mask = await storedMask(page, 'Counter');
  await expect(status(page, /Cabinets gave way where the two lay over each other\.$/)).toBeVisible();
  // Four times as large, a click is a third of a pixel.
  expect(Math.abs(maskArea(mask) - areaIn(tile))).toBeLessThan(0.03 * areaIn(tile));
  const rest = decodeMask((await marksOf(page, 'kitchen-day', 'Cabinets'))?.mask);
  expect(coverAt(rest, [620, 655])).toBe(0);
  expect(Math.abs(maskArea(cabinets) - maskArea(rest) - areaIn(tile))).toBeLessThan(0.05 * areaIn(tile));
});

test('all of it with the keyboard alone', async ({ page }) => {
  await sampleKitchen(page);
  await pick(page, 'Floor');
  await page.getByRole('button', { name: 'Straight outline' }).focus();
  await page.keyboard.press('Enter');
  await picture(page).focus();
  const arrows = async (key: string, count: number) => {
    for (let i = 0; i < count; i += 1) await page.keyboard.press(key);
  };
  await page.keyboard.press('Enter');
  await arrows('Shift+ArrowRight', 6);
  await page.keyboard.press('Enter');
  await arrows('Shift+ArrowDown', 4);
  await page.keyboard.press('Enter');
  await arrows('Shift+ArrowLeft', 2);
  await page.keyboard.press('Enter');
  await page.keyboard.press('Backspace');
  await expect(status(page, /^3 corners set\.$/)).toBeVisible();
  await arrows('Shift+ArrowLeft', 4);
  // Twice in one place: set, and closed.
  await page.keyboard.press('Enter');
  await expect(corners(page)).toHaveCount(4);

  // A corner is reached with the tab key and moved with arrows.
  await page.keyboard.press('Tab');
  await expect(corners(page).first()).toBeFocused();
  await page.keyboard.press('Shift+ArrowUp');
  await page.keyboard.press('Shift+Tab');
  await expect(picture(page)).toBeFocused();
  await accessible(page);
  await arrows('Shift+ArrowRight', 1);
  await arrows('Shift+ArrowLeft', 1);
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await selected(page);
  await expect(status(page, /^Floor: less than 1 % of the picture marked\.$/)).toBeVisible();
  await expect(corners(page)).toHaveCount(0);

  await page.getByRole('button', { name: 'By hand' }).focus();
  await page.keyboard.press('Enter');
  await picture(page).focus();
  await page.keyboard.press('Delete');
  await selected(page);
  await page.keyboard.press('Enter');
  await selected(page);
  await page.keyboard.press('Control+z');
  await expect(status(page, /^Hand stroke 3 taken back, 2 left/)).toBeVisible();
  await page.keyboard.press('Control+z');
  await expect(status(page, /^Hand stroke 2 taken back, 1 left/)).toBeVisible();
  await page.getByRole('button', { name: 'Done', exact: true }).focus();
  const step = Math.max(1, 1 / (await scaleOf(page)));
  const mask = await storedMask(page, 'Floor');
  // 60 by 40 steps of the cross, and the first corner 10 pixels up: half of 60 steps by 10 more.
  const exact = 60 * step * 40 * step + (60 * step * 10) / 2;
  expect(Math.abs(maskArea(mask) - exact)).toBeLessThan(0.01 * exact);
});

test.describe('with fingers', () => {
  test.use({ hasTouch: true, viewport: PHONE });

  test('a touch sets a corner where it is lifted, two fingers set none, and a ring is drawn with one', async ({
    page,
  }) => {
    await unmarkedSample(page);
    await page.getByRole('link', { name: 'Mark surfaces' }).click();
    await ready(page);
    await pick(page, 'Floor');
    for (const name of ['By hand', 'Straight outline'] as const) {
      await by(page, name);
      await fitsWidth(page);
      await accessible(page);
    }
    await picture(page).scrollIntoViewIfNeeded();
    const touch = await fingers(page);
    const tap = async (place: Place, lifted: Place = place) => {
      await touch('touchStart', [await onScreen(page, place)]);
      if (lifted !== place) await touch('touchMove', [await onScreen(page, lifted)]);
      await touch('touchEnd', []);
    };
    const before = await scaleOf(page);
    const [x, y] = await onScreen(page, [800, 700]);
    await touch('touchStart', [[x - 20, y]]);
    await touch('touchStart', [
      [x - 20, y],
      [x + 20, y],
    ]);
    for (const wide of [30, 50])
      await touch('touchMove', [
        [x - wide, y],
        [x + wide, y],
      ]);
    await touch('touchEnd', []);
    await expect.poll(() => scaleOf(page)).toBeGreaterThan(before * 1.3);
    await expect(corners(page)).toHaveCount(0);
    await page.getByRole('button', { name: 'Whole' }).click();

    const patch: Place[] = [
      [500, 850],
      [1100, 850],
      [1100, 1000],
      [500, 1000],
    ];
    await tap([600, 800], patch[0]);
    for (const place of patch.slice(1)) await tap(place);
    await expect(corners(page)).toHaveCount(4);
    await fitsWidth(page);
    await page.getByRole('button', { name: 'Close the outline' }).click();
    await selected(page);
    await by(page, 'By hand');
    await mode(page, 'Take away');
    await picture(page).scrollIntoViewIfNeeded();
    await touch('touchStart', [await onScreen(page, [600, 925])]);
    await touch('touchMove', [await onScreen(page, [800, 925])]);
    await touch('touchMove', [await onScreen(page, [1000, 925])]);
    await touch('touchEnd', []);
    await selected(page);
    const mask = await storedMask(page, 'Floor');
    const radius = 5 / before;
    const exact = areaIn(patch) - Math.PI * radius * radius - 2 * radius * 400;
    expect(Math.abs(maskArea(mask) - exact)).toBeLessThan(0.02 * exact);
    expect(coverAt(mask, [900, 925])).toBe(0);
    await page.setViewportSize(DESK);
    await fitsWidth(page);
  });

  test('a palm beside a pen neither ends its stroke nor draws; a pen turned round takes away', async ({
    page,
  }) => {
    await unmarkedSample(page);
    await page.getByRole('link', { name: 'Mark surfaces' }).click();
    await ready(page);
    await pick(page, 'Floor');
    await by(page, 'By hand');
    await picture(page).scrollIntoViewIfNeeded();
    const touch = await fingers(page);
    const devtools = await page.context().newCDPSession(page);
    const pen = async (type: 'mousePressed' | 'mouseMoved' | 'mouseReleased', place: Place) => {
      const [x, y] = await onScreen(page, place);
      const held = type === 'mouseReleased' ? 0 : 1;
      await devtools.send('Input.dispatchMouseEvent', {
        type,
        x,
        y,
        button: 'left',
        buttons: held,
        clickCount: 1,
        pointerType: 'pen',
      });
    };
    const before = await scaleOf(page);
    const palm = await onScreen(page, [1200, 1000]);
    await pen('mousePressed', [500, 900]);
    await touch('touchStart', [palm]);
    await pen('mouseMoved', [600, 900]);
    await touch('touchMove', [[palm[0] - 20, palm[1]]]);
    await pen('mouseMoved', [800, 900]);
    await touch('touchEnd', []);
    await pen('mouseMoved', [900, 900]);
    await pen('mouseReleased', [900, 900]);
    await selected(page);
    expect(await scaleOf(page)).toBe(before);
    const mask = await storedMask(page, 'Floor');
    const radius = 5 / before;
    const exact = 2 * radius * 400 + Math.PI * radius * radius;
    expect(Math.abs(maskArea(mask) - exact)).toBeLessThan(0.02 * exact);

    // The browser's protocol has no pen turned round: told as the page would be told.
    const [x, y] = await onScreen(page, [700, 900]);
    await page.mouse.move(x, y);
    for (const [type, buttons] of [
      ['pointerdown', 32],
      ['pointerup', 0],
    ] as const)
      await picture(page).dispatchEvent(type, {
        pointerId: 1,
        pointerType: 'pen',
        button: 5,
        buttons,
        clientX: x,
        clientY: y,
      });
    await selected(page);
    const less = await storedMask(page, 'Floor');
    expect(coverAt(less, [700, 900])).toBe(0);
    expect(coverAt(less, [600, 900])).toBe(255);
  });
});
