import type { MarkDesk } from './mark-desk.svelte.ts';
import { stepName, type MarkingWay } from './marking.ts';
import type { OpenMarks } from './open-marks.svelte.ts';
import type { InHand } from './step-turns.ts';

/** What the hand did last, of the things that can be taken back one by one. */
type Last = 'corner of the plane' | 'corner of the outline' | 'outline put aside' | 'step';

/** What the marking page has in hand: strokes, an outline, corners of a plane. Its steps are those of “Undo” meanwhile. */
export class MarksInHand implements InHand {
  readonly #desk: MarkDesk;
  readonly #open: OpenMarks;
  readonly #at: () => { readonly way: MarkingWay; readonly shifting: boolean };

  /** `at`: the way in which one marks; `shifting` while marks are shifted, and nothing is marked. */
  constructor(
    desk: MarkDesk,
    open: OpenMarks,
    at: () => { readonly way: MarkingWay; readonly shifting: boolean },
  ) {
    this.#desk = desk;
    this.#open = open;
    this.#at = at;
  }

  get words(): string | null {
    if (this.#open.plane?.placed.some(Boolean)) return 'Corners in hand';
    const unsaved = this.#desk.surfaces.some(({ id }) => this.#desk.stateOf(id) === 'unsaved');
    return unsaved || this.#open.draft.length > 0 ? 'Marks in hand' : null;
  }

  get #last(): Last | null {
    const { way, shifting } = this.#at();
    if (shifting) return null;
    if (this.#open.plane) return this.#open.canStepBack ? 'corner of the plane' : null;
    if (way === 'outline' && this.#open.draft.length > 0) return 'corner of the outline';
    if (this.#desk.steps.past.length > 0) return 'step';
    return way === 'outline' && this.#open.canTakeUp ? 'outline put aside' : null;
  }

  get #name(): string {
    return this.#desk.nameOf(this.#desk.surfaceId ?? '');
  }

  get back(): string | null {
    const { past, now } = this.#desk.steps;
    switch (this.#last) {
      case 'corner of the plane':
        return `the last corner of ${this.#name}`;
      case 'corner of the outline':
        return `corner ${this.#open.draft.length} of the outline on ${this.#name}`;
      case 'outline put aside':
        return `putting the outline on ${this.#name} aside`;
      case 'step':
        return `${stepName(past[past.length - 1], now)} on ${this.#name}`;
      case null:
        return null;
    }
  }

  /** For the button beside the picture. */
  get backName(): string {
    if (this.#last === 'corner of the outline') return 'Corner back';
    return this.#last === 'outline put aside' ? 'Outline back' : 'Step back';
  }

  get forth(): string | null {
    const { now, future } = this.#desk.steps;
    if (this.#at().shifting || this.#open.plane || future.length === 0) return null;
    return `${stepName(now, future[0])} on ${this.#name}`;
  }

  stepBack(): void {
    switch (this.#last) {
      case 'corner of the plane':
        return this.#open.planeBack();
      case 'corner of the outline':
        return this.#open.takeCornerBack();
      case 'outline put aside':
        return this.#open.takeUp();
      case 'step':
        return this.#desk.back();
    }
  }

  stepForth(): void {
    if (this.forth !== null) this.#desk.forth();
  }
}
