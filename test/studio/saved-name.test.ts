import { describe, expect, test } from 'vitest';
import { savedName } from '#lib/studio/saved-name.ts';
import { kitchen } from '../job/kitchen.ts';

const { sage, clay } = kitchen().swatches;
const asked = {
  job: 'Canal-side kitchen',
  photo: 'Kitchen by day',
  light: null,
  places: [{ name: 'Cabinets', marked: true, on: sage }],
  sheet: null,
  ending: 'png',
};

describe('the name of a saved picture', () => {
  test('tells photos, finishes, lights and sheets apart', () => {
    const names = [
      asked,
      { ...asked, photo: 'Kitchen by lamp light' },
      { ...asked, places: [{ name: 'Cabinets', marked: true, on: clay }] },
      { ...asked, places: [{ name: 'Cabinets', marked: true, on: null }] },
      { ...asked, light: 'Pendants in the evening' },
      { ...asked, sheet: { surface: 'Cabinets', count: 6 } },
    ].map(savedName);
    expect(new Set(names).size).toBe(names.length);
    expect(names[0]).toMatch(
      /^canal-side-kitchen-kitchen-by-day-cabinets-.+-daylight-before-and-after\.png$/,
    );
    expect(names[4]).toContain('pendants-in-the-evening');
    expect(names[5]).toContain('6-for-cabinets');
  });

  test('has only letters, digits and hyphens, and stays short whatever things are called', () => {
    const odd = ['../../etc: "a|b" <c>*?\\', 'Æ'.repeat(300), '台所'.repeat(90), 'poplars '.repeat(40), '!!'];
    for (const text of odd) {
      const name = savedName({
        ...{ ...asked, job: text, photo: text, light: text },
        places: [{ name: text, marked: true, on: { ...sage, name: text } }],
      });
      expect(name).toMatch(/^[\p{L}\p{N}]+(-[\p{L}\p{N}]+)*\.png$/u);
      // The limit of ext4, APFS and NTFS is 255 bytes, or as many code units.
      expect(new TextEncoder().encode(name).length).toBeLessThan(200);
    }
  });
});
