import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { keepHere, keptHere } from '#lib/studio/kept-here.ts';
import { lastPhoto, rememberPhoto } from '#lib/studio/last-photo.ts';

/** A store of a browser that takes so many texts. */
function store(most = 10): Storage {
  const texts = new Map<string, string>();
  return {
    getItem: (name: string) => texts.get(name) ?? null,
    setItem: (name: string, text: string) => {
      if (texts.size >= most && !texts.has(name)) throw new DOMException('full', 'QuotaExceededError');
      texts.set(name, text);
    },
  } as Storage;
}

const openTab = (browser: Storage) => {
  vi.stubGlobal('sessionStorage', store());
  vi.stubGlobal('localStorage', browser);
};

let browser: Storage;
beforeEach(() => openTab((browser = store())));
afterEach(() => vi.unstubAllGlobals());

test('a tab goes on with its own text, a new one with what was kept last', () => {
  keepHere('tried', 'sage');
  const first = sessionStorage;
  openTab(browser);
  expect(keptHere('tried')).toBe('sage');
  keepHere('tried', 'clay');
  vi.stubGlobal('sessionStorage', first);
  expect(keptHere('tried')).toBe('sage');
  openTab(browser);
  expect(keptHere('tried')).toBe('clay');
});

test('a store that is full or shut stops nobody', () => {
  openTab(store(0));
  keepHere('tried', 'sage');
  expect(keptHere('tried')).toBe('sage');
  vi.stubGlobal('sessionStorage', undefined);
  vi.unstubAllGlobals();
  expect(keptHere('tried')).toBeNull();
});

test('the last photo is that of a room, whichever job is open', () => {
  rememberPhoto('job', { id: 'lamp', role: 'room' });
  rememberPhoto('job', { id: 'board', role: 'sample board' });
  rememberPhoto('job', undefined);
  expect(lastPhoto('job')).toBe('lamp');
  expect(lastPhoto('other')).toBeNull();
});
