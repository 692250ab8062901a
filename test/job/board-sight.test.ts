import { describe, expect, test } from 'vitest';
import { deltaE2000 } from '#lib/colour/index.ts';
import { alikeFinishes, alikeInWords, alikeOnBoard, screenLab, type BoardFinish } from '#lib/job/index.ts';
import { kitchenBoard } from '../server/board-content.ts';

const finish = (surface: string, screen: string, fields: Partial<BoardFinish> = {}): BoardFinish => ({
  surfaceId: surface.toLowerCase(),
  surface,
  swatchId: `${surface.toLowerCase()}-swatch`,
  kind: 'paint',
  maker: '',
  code: '',
  name: surface,
  sheen: '',
  state: 'proposed',
  colours: [{ screen, share: 1 }],
  under: [],
  lrv: 30,
  area: null,
  words: '',
  ...fields,
});

describe('finishes that some people cannot tell apart', () => {
  // Reds and greens of one lightness are what protanopes and deuteranopes confuse (Machado et al. 2009 and all before them).
  const green = finish('Cabinets', '#7b7a3c');
  const red = finish('Walls', '#94733e');

  test('a green and a brown that differ for most are found, with the difference in words', () => {
    expect(deltaE2000(screenLab('#7b7a3c'), screenLab('#94733e'))).toBeGreaterThan(10);
    const [pair] = alikeFinishes([green, red]);
    expect(pair.everybody).toBe(false);
    expect(pair.visions).toContain('deuteranopia');
    expect(pair.words).toMatch(/redder/);
    expect(alikeInWords(pair)).toMatch(
      /^Cabinets and Walls look alike to people who see some colours less well: Walls is .*redder/,
    );
  });

  test('a light and a dark colour are told apart by everybody', () => {
    expect(alikeFinishes([finish('Cabinets', '#2f4a40'), finish('Walls', '#e4ddcf')])).toEqual([]);
  });

  test('colours that nobody tells apart are said to be alike on a screen', () => {
    const [pair] = alikeFinishes([finish('A', '#808080'), finish('B', '#818080')]);
    expect(pair.everybody).toBe(true);
    expect(alikeInWords(pair)).toMatch(/look alike on a screen/);
    const [same] = alikeFinishes([finish('A', '#808080'), finish('B', '#808080')]);
    expect(alikeInWords(same)).toMatch(/go by maker and code/);
  });

  test('one finish on two surfaces is no pair', () => {
    const twice = { swatchId: 'x' };
    expect(alikeFinishes([finish('A', '#808080', twice), finish('B', '#808080', twice)])).toEqual([]);
  });

  test('the main colour is the one with the largest share', () => {
    const colours = [
      { screen: '#000000', share: 0.2 },
      { screen: '#7b7a3c', share: 0.8 },
    ];
    expect(alikeFinishes([finish('Stone', '#000000', { colours }), green])).toHaveLength(1);
  });

  test('the sample kitchen’s board has pairs among its finishes, each with words', async () => {
    const found = alikeOnBoard(await kitchenBoard());
    expect(found.map(({ page }) => page)).toEqual([1]);
    for (const { pairs } of found)
      for (const pair of pairs) expect(pair.words).not.toBe('no visible difference');
  });
});
