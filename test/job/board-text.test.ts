import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readAnswerText } from '#lib/job/index.ts';
import { answerText, type Answer } from '../../src/lib/server/board-answer-text.js';

const HASH = '3f'.repeat(32);
const NAMES = {
  title: 'Canal-side kitchen',
  round: '2',
  hash: HASH,
  surfaces: {
    cabinets: 'Cabinets',
    trim_1: 'Trim; words: [x]: yes',
    counter: 'Counter #2 > 1',
    '-a--b_': 'Walls',
  },
  swatches: { 'om-330': 'Lock Keeper', _q_: 'Quiet (1a2b)' },
};

const ANSWER: Answer = {
  name: 'Ida Fenn',
  comment: 'Lovely - on the whole.\nThe lamps come "next week"...',
  surfaces: {
    cabinets: { verdict: 'yes', swatchId: null, comment: '', pin: null },
    trim_1: {
      verdict: 'change',
      swatchId: null,
      comment: "It's a bit dark; words: could it be lighter? #3 or (beef) > that *one*, ¶ or _two_",
      pin: { page: 0, x: 0.512, y: 0.3 },
    },
    counter: { verdict: 'yes', swatchId: '_q_', comment: '', pin: null },
    '-a--b_': { verdict: 'no', swatchId: null, comment: 'No.', pin: null },
  },
};

const TEXT = answerText(ANSWER, NAMES);

/** Breaks lines at a width, as a mail program does; words longer than that are broken too. */
const wrapped = (text: string, width: number) =>
  text.replace(new RegExp(`(.{1,${width}})(?: |$)|(.{${width}})`, 'gm'), '$1$2\n').trimEnd();

describe('an answer as text', () => {
  test('comes back as it was given', () => {
    expect(readAnswerText(TEXT)).toEqual({ hash: HASH, answer: ANSWER });
  });

  test('can be read by people', () => {
    expect(TEXT).toContain('Cabinets [cabinets]: yes');
    expect(TEXT).toContain('From: Ida Fenn');
    expect(TEXT.split('\n').length).toBe(8);
  });

  const MANGLED: [string, (text: string) => string][] = [
    ['lines of 72', (text) => wrapped(text, 72)],
    ['lines of 20, words broken', (text) => wrapped(text, 20)],
    ['quoted', (text) => text.replace(/^/gm, '> ')],
    ['quoted twice and wrapped', (text) => wrapped(text, 60).replace(/^/gm, '>> ')],
    ['with other ends of lines', (text) => text.replaceAll('\n', '\r\n')],
    ['with empty lines between', (text) => text.replaceAll('\n', '\n\n \n')],
    ['with spaces that do not break', (text) => text.replaceAll(' ', '\u00a0')],
    ['on one line', (text) => text.replaceAll('\n', ' ')],
    ['with words around it', (text) => `Dear Marit,\n#1 of all: thanks!\n\n${text}\n\nIda (2b2b)\n#1 fan`],
    ['with an older one quoted below', (text) => `${text}\n\n${text.replace(/^/gm, '> ')}`],
  ];
  for (const [how, mangle] of MANGLED) {
    test(`survives being ${how}`, () => {
      const { hash, answer } = readAnswerText(mangle(TEXT)) as { hash: string; answer: Answer };
      expect(hash).toBe(HASH);
      // A word that was broken stays broken; nothing else is lost.
      const dense = (value: unknown) => JSON.stringify(value).replace(/\\n|\s/g, '');
      expect(dense(answer)).toBe(dense(ANSWER));
    });
  }

  test('survives quotation marks, dashes and dots made typographic, and signs of emphasis eaten', () => {
    const bent = TEXT.replace(/"(\w)/g, '“$1')
      .replaceAll('"', '”')
      .replaceAll("'", '’')
      .replaceAll('...', '…')
      .replaceAll(' - ', ' – ')
      .replaceAll('*', '')
      .replaceAll('_', '');
    expect(bent).not.toBe(TEXT);
    const { answer } = readAnswerText(bent) as { answer: Answer };
    expect(Object.keys(answer.surfaces)).toEqual(Object.keys(ANSWER.surfaces));
    expect(answer.surfaces.counter).toEqual(ANSWER.surfaces.counter);
    expect(answer.surfaces.trim_1.comment).toContain('It’s a bit dark');
    expect(answer.comment).toContain('“next week”…');
  });

  test('says which item was changed, and what to do', () => {
    const changed = TEXT.replace('[cabinets]: yes', '[cabinets]: no');
    expect(() => readAnswerText(changed)).toThrow(
      /^Item #2 \(“Cabinets.*changed on the way.*send the answer again/,
    );
    expect(() => readAnswerText(TEXT.replace(HASH, `a${HASH.slice(1)}`))).toThrow('Item #7');
  });

  test('says what is missing', () => {
    const lines = TEXT.split('\n');
    expect(() => readAnswerText('hello')).toThrow('This is no answer to a board');
    expect(() => readAnswerText('')).toThrow(TypeError);
    expect(() => readAnswerText(lines.slice(0, 4).join('\n'))).toThrow('ends after item #3');
    expect(() => readAnswerText(TEXT.slice(0, TEXT.indexOf('could it')))).toThrow('ends within item #3');
    expect(() => readAnswerText(lines.toSpliced(3, 1).join('\n'))).toThrow(
      'Item #3 of this answer is missing',
    );
  });

  const id = fc.stringMatching(/^[A-Za-z0-9_-]{1,40}$/);
  const words = fc.string({ unit: 'binary', maxLength: 60 });
  const part = fc.integer({ min: 0, max: 1000 }).map((value) => value / 1000);
  const surfaces = fc.dictionary(
    id,
    fc.record({
      verdict: fc.constantFrom('yes', 'no', 'change'),
      swatchId: fc.option(id),
      comment: words,
      pin: fc.option(fc.record({ page: fc.nat(39), x: part, y: part })),
    }),
    { maxKeys: 5 },
  );
  /** Space at ends and in rows is not kept: what carries text does not keep it either. */
  const tidied = (text: string) =>
    text
      .trim()
      .split(/\s*\n\s*/)
      .map((line) => line.replace(/\s+/g, ' '))
      .join('\n');

  test('any words come back, space apart, when they are quoted', () => {
    fc.assert(
      fc.property(fc.record({ name: words, comment: words, surfaces }), fc.string(), (answer, label) => {
        const named = Object.fromEntries(Object.keys(answer.surfaces).map((key) => [key, label]));
        const swatches = Object.fromEntries(
          Object.values(answer.surfaces).flatMap(({ swatchId }) => (swatchId ? [[swatchId, label]] : [])),
        );
        const text = answerText(answer, { ...NAMES, title: label, surfaces: named, swatches });
        const back = readAnswerText(text.replace(/^/gm, '> ')) as { hash: string; answer: Answer };
        expect(back.hash).toBe(HASH);
        const expected = {
          name: tidied(answer.name),
          comment: tidied(answer.comment),
          surfaces: Object.fromEntries(
            Object.entries(answer.surfaces).map(([key, said]) => [
              key,
              { ...said, comment: tidied(said.comment) },
            ]),
          ),
        };
        expect(back.answer).toEqual(expected);
      }),
      { numRuns: 400, seed: 6 },
    );
  });

  test('no text makes it fail in another way than by saying what is wrong', () => {
    fc.assert(
      fc.property(fc.string(), fc.nat(TEXT.length), fc.nat(20), (put, at, cut) => {
        try {
          readAnswerText(TEXT.slice(0, at) + put + TEXT.slice(at + cut));
        } catch (error) {
          expect(error).toBeInstanceOf(TypeError);
          expect((error as Error).message).toMatch(/^(Item #|This )/);
        }
      }),
      { numRuns: 500, seed: 7 },
    );
  });
});
