import { describe, expect, test } from 'vitest';
import { redoOf, StepTurns, type InHand, type TurnsState } from '#lib/studio/step-turns.ts';

function bench() {
  const took: string[] = [];
  const states: TurnsState[] = [];
  const turns = new StepTurns((state) => states.push(state));
  const edit = () => {
    const { promise, resolve, reject } = Promise.withResolvers<boolean>();
    turns.expect(promise.then((landed) => (landed && took.push('edit'), landed)));
    return { land: resolve, fail: reject };
  };
  const take = (name: string) => turns.take(() => void took.push(name));
  const settled = () => new Promise((resolve) => setTimeout(resolve));
  return { took, edit, take, settled, state: () => states.at(-1) };
}

describe('undo and redo', () => {
  test('are taken at once where nothing is on its way', () => {
    const { took, take, state } = bench();
    take('undo');
    expect(took).toEqual(['undo']);
    expect(state()).toBeUndefined();
  });

  test('wait for the edit that is on its way, in the order they were asked for', async () => {
    const { took, edit, take, settled, state } = bench();
    const { land } = edit();
    expect(state()).toEqual({ coming: true, waiting: false });
    take('undo');
    take('undo again');
    take('redo');
    await settled();
    expect(took).toEqual([]);
    expect(state()).toEqual({ coming: true, waiting: true });
    land(true);
    await settled();
    expect(took).toEqual(['edit', 'undo', 'undo again', 'redo']);
    expect(state()).toEqual({ coming: false, waiting: false });
  });

  test('wait for all that is on its way then, and for nothing that comes later', async () => {
    const { took, edit, take, settled } = bench();
    const [first, second] = [edit(), edit()];
    take('undo');
    edit();
    second.land(true);
    await settled();
    expect(took).toEqual(['edit']);
    first.land(true);
    await settled();
    expect(took).toEqual(['edit', 'edit', 'undo']);
  });

  test.each(['resolves to false', 'is rejected'])('are not taken where the edit %s', async (how) => {
    const { took, edit, take, settled, state } = bench();
    const { land, fail } = edit();
    take('undo');
    if (how === 'is rejected') fail(new Error('the worker is gone'));
    else land(false);
    await settled();
    expect(took).toEqual([]);
    expect(state()).toEqual({ coming: false, waiting: false });
    take('undo');
    expect(took).toEqual(['undo']);
  });
});

describe('redo', () => {
  const hand = (back: string | null, forth: string | null): InHand => ({
    ...{ words: null, back, forth, stepBack: () => {}, stepForth: () => {} },
  });

  test('is the job’s where nothing is in hand', () => {
    expect(redoOf(null, { undone: 1, beneath: 0 })).toBe('job');
    expect(redoOf(hand(null, null), { undone: 1, beneath: 0 })).toBe('job');
    expect(redoOf(null, { undone: 0, beneath: 0 })).toBeNull();
  });

  test('brings strokes again, and first what of the job was undone after them', () => {
    expect(redoOf(hand('stroke 1', 'stroke 2'), { undone: 0, beneath: 0 })).toBe('hand');
    expect(redoOf(hand(null, 'stroke 1'), { undone: 2, beneath: 2 })).toBe('hand');
    expect(redoOf(hand(null, 'stroke 1'), { undone: 3, beneath: 2 })).toBe('job');
  });

  test('does not reach the job from under strokes', () => {
    expect(redoOf(hand('stroke 1', null), { undone: 2, beneath: 0 })).toBeNull();
    expect(redoOf(hand('stroke 1', 'stroke 2'), { undone: 2, beneath: 0 })).toBe('hand');
  });
});
