import { describe, expect, test } from 'vitest';
import { USUAL_WEEK, workingDaysAfter, type PlanFinish, type PlanRules } from '#lib/finish/index.ts';
import { generator } from './chance.ts';
import { everything, plan, surface } from './plan-work.ts';

// Slack of the critical path method: how late a thing may be before the end moves. Common practice; worked by hand or by delaying.

const product = (id: string, leadTimeDays: number | null, orderedOn: string | null = null): PlanFinish => ({
  ...{ id, name: id, leadTimeDays, orderedOn },
});

describe('the delivery on which the end hangs most', () => {
  // One coat of eight hours waits for paint; the tiles take two days beside it. Mon 30 November 2026 is today.
  test('is the one that holds the first step of what takes longest; a day more and the end moves', () => {
    const walls = surface({
      ...{ id: 'w', name: 'walls', kind: 'paint walls', area: 30, primer: false },
      finishes: { 'finish coat': 'paint' },
    });
    const made = plan([walls], { start: '2026-11-30', finishes: [product('paint', 7, '2026-11-30')] });
    expect(made.hangsOn).toMatchObject({ name: 'paint', arrives: '2026-12-07' });
    const { slack } = made.hangsOn!;
    const later = (days: number) =>
      plan([walls], {
        start: '2026-11-30',
        finishes: [product('paint', 7 + days, '2026-11-30')],
      }).finish!;
    expect(later(slack)).toBe(made.finish);
    expect(later(slack + 1) > made.finish!).toBe(true);
    expect(made.words).toContain(made.hangsOn!.words);
  });

  test('is said with its days, and whether it is ordered yet', () => {
    const walls = surface({
      ...{ id: 'w', name: 'walls', kind: 'paint walls', area: 30, primer: false },
      finishes: { 'finish coat': 'paint' },
    });
    const ordered = plan([walls], { start: '2026-11-30', finishes: [product('paint', 7, '2026-11-30')] });
    expect(ordered.hangsOn!.words).toMatch(
      /^The end hangs most on one delivery: paint, which comes Mon 7 Dec 2026\. /,
    );
    const open = plan([walls], { start: '2026-11-30', finishes: [product('paint', 7)] });
    expect(open.hangsOn!.words).toContain('paint, which comes Mon 7 Dec 2026 if ordered now. ');
  });

  test('no delivery, one that is not known or one that has come leaves nothing to hang on', () => {
    const walls = surface({ id: 'w', kind: 'paint walls', area: 30, finishes: { 'finish coat': 'paint' } });
    expect(plan([walls]).hangsOn).toBeNull();
    expect(plan([walls], { finishes: [product('paint', null)] }).hangsOn).toBeNull();
    expect(plan([walls], { finishes: [product('paint', 3, '2026-11-02')] }).hangsOn).toBeNull();
    expect(plan([]).hangsOn).toBeNull();
  });

  test('one product for two surfaces is one delivery', () => {
    const two = ['w', 'v'].map((id) =>
      surface({ ...{ id, name: id, kind: 'paint walls', area: 30 }, finishes: { 'finish coat': id } }),
    );
    const paint = { name: 'Sailcloth', leadTimeDays: 7, orderedOn: '2026-11-30' };
    const made = plan(two, {
      finishes: [
        { id: 'w', ...paint },
        { id: 'v', ...paint },
      ],
    });
    expect(made.hangsOn!.finishIds.toSorted()).toEqual(['v', 'w']);
  });

  // The statement itself, over generated plans: the delay that is allowed keeps the end, one day more moves it, and no other
  // delivery moves it with fewer days.
  test('holds whatever is planned', () => {
    const { uniform } = generator(7);
    const ids = ['brass', 'tiles', 'slab', 'primer', 'fern'];
    let said = 0;
    for (let run = 0; run < 40; run++) {
      const surfaces = everything.filter(() => uniform() < 0.7);
      const leads = Object.fromEntries(ids.map((id) => [id, Math.floor(40 * uniform())]));
      const rules: Partial<PlanRules> = {
        ...{ start: '2026-11-30', leadTimeIn: 'working days', people: 1 + Math.floor(3 * uniform()) },
      };
      const finishesWith = (late: Record<string, number> = {}) =>
        ids.map((id) => product(id, leads[id] + (late[id] ?? 0), '2026-11-30'));
      const made = plan(surfaces, { ...rules, finishes: finishesWith() });
      const endWhen = (id: string, late: number) =>
        plan(surfaces, { ...rules, finishes: finishesWith({ [id]: late }) }).finish!;
      const hang = made.hangsOn;
      if (!hang) continue;
      said++;
      const [id] = hang.finishIds;
      expect(hang.latest).toBe(workingDaysAfter(hang.arrives, hang.slack, USUAL_WEEK));
      expect(endWhen(id, hang.slack) <= made.finish!).toBe(true);
      expect(endWhen(id, hang.slack + 1) > made.finish!).toBe(true);
      for (const other of ids)
        for (let late = 1; late < hang.slack; late++)
          expect(endWhen(other, late) <= made.finish!, `${other} ${late}`).toBe(true);
    }
    expect(said).toBeGreaterThan(20);
  });
});
