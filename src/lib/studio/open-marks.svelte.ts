import type { PlaneCorners, Point } from '#lib/photo/index.ts';
import type { Id, Surface } from '#lib/job/index.ts';
import { capital } from './light-words.ts';
import type { MarkDesk } from './mark-desk.svelte.ts';
import type { AnyStroke } from './marking.ts';
import { NO_WORK, readOpenWork, writeOpenWork, type OpenWork } from './open-work.ts';
import {
  canTakeUp,
  closedOutline,
  closesAt,
  cornerMoved,
  cornersSet,
  NO_OUTLINE,
  putAside,
  takenUp,
  withCorner,
  type OutlineDraft,
  type OutlineWork,
} from './outline-draft.ts';
import {
  CORNER_NAMES,
  cornerAt,
  cornersProblem,
  guessedPlane,
  nextCorner,
  placedCorner,
  placedWords,
  USUAL_SIZES,
  type PlaneDraft,
} from './plane-corners.ts';
import type { Studio } from './studio.svelte.ts';

/**
 * What is begun on the surfaces of one photo and neither marks nor part of the job yet: a straight outline that is not
 * closed, one that was put aside, and the four corners of a plane while they are being set. Each surface has its own. It
 * is kept for this tab, so that a reload finds it; what is finished goes to the desk or into the job.
 */
export class OpenMarks {
  readonly #studio: Studio;
  readonly #desk: MarkDesk;
  #work = $state.raw<OpenWork>(NO_WORK);
  /** Whether the corners of the picked surface are under the hand. */
  setting = $state(false);
  /** Why the corners as they stand cannot be. */
  problem = $state<string | null>(null);
  /** Steps of the corners that are under the hand, and how they stood before a move that is not let go yet. */
  #past = $state.raw<readonly PlaneDraft[]>([]);
  #before: PlaneDraft | null = null;

  constructor(studio: Studio, desk: MarkDesk) {
    this.#studio = studio;
    this.#desk = desk;
  }

  /** Takes up what was left open in this tab. */
  open(): void {
    const { photo } = this.#desk;
    if (!photo) return;
    this.#work = readOpenWork(sessionStorage.getItem(this.#key), photo.fileId);
  }

  get #key(): string {
    return `brushout open ${this.#studio.jobId} ${this.#desk.photo?.id}`;
  }

  #keep(work: OpenWork): void {
    this.#work = work;
    const { photo } = this.#desk;
    const text = photo ? writeOpenWork(photo.fileId, work) : null;
    try {
      if (text === null) sessionStorage.removeItem(this.#key);
      else sessionStorage.setItem(this.#key, text);
    } catch {
      // The tab's store is full or shut: what is begun is then kept by this page alone.
    }
  }

  // Straight outlines.

  readonly outline: OutlineWork = $derived.by(
    () => this.#work.outlines[this.#desk.surfaceId ?? ''] ?? NO_OUTLINE,
  );

  get draft(): OutlineDraft {
    return this.outline.draft;
  }

  get canTakeUp(): boolean {
    return canTakeUp(this.outline);
  }

  #setOutline(outline: OutlineWork): void {
    const { surfaceId } = this.#desk;
    if (!surfaceId || outline === this.outline) return;
    this.#keep({ ...this.#work, outlines: { ...this.#work.outlines, [surfaceId]: outline } });
  }

  #setDraft(draft: OutlineDraft): void {
    this.#setOutline({ ...this.outline, draft });
  }

  #sayCorners(more = ''): void {
    this.#desk.said = `${capital(cornersSet(this.draft))}.${more}`;
  }

  /** A corner set; within `near` pixels of the first one, or on the last, it closes the outline. */
  setCorner(place: Point, near: number, mode: AnyStroke['mode']): void {
    if (closesAt(this.draft, place, near)) return this.close(mode);
    this.#setDraft(withCorner(this.draft, place));
    this.#sayCorners(this.draft.length === 3 ? ' The first corner closes the outline.' : '');
  }

  moveCorner(corner: number, to: Point): void {
    this.#setDraft(cornerMoved(this.draft, corner, to));
  }

  takeCornerBack(): void {
    this.#setDraft(this.draft.slice(0, -1));
    this.#sayCorners();
  }

  /** Ends drawing the outline; it can be taken up again. */
  putAside(): void {
    this.#setOutline(putAside(this.outline));
    this.#desk.said = 'The outline is put aside. “Go on with it” brings it back.';
  }

  takeUp(): void {
    this.#setOutline(takenUp(this.outline));
    this.#sayCorners();
  }

  close(mode: AnyStroke['mode']): void {
    const stroke = closedOutline(this.draft, mode);
    if (!stroke) return;
    this.#setDraft([]);
    this.#desk.draw(stroke);
  }

  // The four corners of a plane.

  /** The corners of the picked surface that are not in the job, or not as they stand. */
  readonly begun: PlaneDraft | null = $derived.by(
    () => this.#work.planes[this.#desk.surfaceId ?? ''] ?? null,
  );

  /** The corners under the hand. */
  readonly plane: PlaneDraft | null = $derived(this.setting ? this.begun : null);

  #setPlane(id: Id, plane: PlaneDraft | null): void {
    const { [id]: _, ...rest } = this.#work.planes;
    this.#keep({ ...this.#work, planes: plane ? { ...rest, [id]: plane } : rest });
  }

  /** Puts the corners under the hand: those begun before, those in the job, or a guess of which none counts yet. */
  beginPlane(surface: Surface): void {
    const { photo } = this.#desk;
    const usual = USUAL_SIZES[surface.kind];
    if (!photo || !usual) return;
    const stored = photo.masks?.[surface.id]?.plane;
    const outline = this.#desk.look(surface.id)?.outline ?? null;
    if (!this.begun)
      this.#setPlane(
        surface.id,
        stored ? { ...stored, placed: [true, true, true, true] } : guessedPlane(outline, photo, usual),
      );
    this.#end();
    this.setting = true;
    if (this.begun) this.#desk.said = placedWords(this.begun);
  }

  /** A tap on the picture: where the next corner lies. A second tap on the same place is an unsteady hand's. */
  placeNext(to: Point): void {
    const { plane } = this;
    if (!plane) return;
    const next = nextCorner(plane);
    const there = cornerAt(plane, to);
    if (next === null) this.#desk.said = 'All four corners are placed. Draw one to move it.';
    else if (there === null) this.movePlane(next, to, true);
    else this.#desk.said = `The ${CORNER_NAMES[there]} corner lies there. ${placedWords(plane)}`;
  }

  /** A corner taken elsewhere; `settled` once it is let go. */
  movePlane(corner: number, to: Point, settled: boolean): void {
    const { plane } = this;
    const { surfaceId } = this.#desk;
    if (!plane || !surfaceId) return;
    this.#before ??= plane;
    const moved = placedCorner(plane, corner, to);
    this.#setPlane(surfaceId, moved);
    if (!settled) return;
    this.#past = [...this.#past, this.#before];
    this.#before = null;
    this.#judge(moved);
    this.#desk.said = `${capital(CORNER_NAMES[corner])} corner placed. ${placedWords(moved)}`;
  }

  sizePlane(size: Partial<Pick<PlaneDraft, 'width' | 'height'>>): void {
    const { plane } = this;
    const { surfaceId } = this.#desk;
    if (!plane || !surfaceId) return;
    this.#past = [...this.#past, plane];
    this.#setPlane(surfaceId, { ...plane, ...size });
  }

  get canStepBack(): boolean {
    return this.#past.length > 0;
  }

  /** The last corner where it was before. */
  planeBack(): void {
    const before = this.#past.at(-1);
    const { surfaceId } = this.#desk;
    if (!before || !surfaceId) return;
    this.#past = this.#past.slice(0, -1);
    this.#setPlane(surfaceId, before);
    this.#judge(before);
    this.#desk.said = `Taken back. ${placedWords(before)}`;
  }

  /** Corners that nobody placed yet are no fault of anybody's. */
  #judge({ corners, placed }: PlaneDraft): void {
    this.problem = placed.every(Boolean) ? cornersProblem(corners) : null;
  }

  /** The corners as they stand are right: into the job. Those that cannot be stay under the hand, and why is said. */
  confirmPlane(): void {
    const { plane } = this;
    if (!plane) return;
    this.problem = cornersProblem(plane.corners);
    if (this.problem === null) this.#store(plane);
  }

  /** Out of the hand: what is placed and can be goes into the job, the rest waits in this tab; a mere guess is forgotten. */
  leavePlane(): void {
    const { plane } = this;
    const { surfaceId } = this.#desk;
    if (!plane || !surfaceId) return;
    if (plane.placed.every(Boolean) && cornersProblem(plane.corners) === null) return this.#store(plane);
    if (!plane.placed.some(Boolean)) this.#setPlane(surfaceId, null);
    this.#end();
    this.#desk.said = placedWords(plane);
  }

  #end(): void {
    this.setting = false;
    this.problem = null;
    this.#past = [];
    this.#before = null;
  }

  /** Out of the hand, and the corners in the job as they were. */
  dropPlane(): void {
    const { surfaceId } = this.#desk;
    if (surfaceId) this.#setPlane(surfaceId, null);
    this.#end();
    this.#desk.said = 'The corners are as they were.';
  }

  #store({ corners, width, height }: PlaneDraft): void {
    const { photo, surface } = this.#desk;
    if (!photo || !surface) return;
    const tidy = corners.map(([x, y]) => [x, y]) as unknown as PlaneCorners;
    const plane = { corners: tidy, width, height };
    const known = photo.masks?.[surface.id]?.plane;
    if (photo.masks?.[surface.id] && JSON.stringify(known) !== JSON.stringify(plane))
      this.#studio.set(`say where ${this.#desk.nameOf(surface.id)} lies in ${photo.name}`, [
        [['photos', photo.id, 'masks', surface.id, 'plane'], plane],
      ]);
    this.#setPlane(surface.id, null);
    this.#end();
    this.#desk.said = `It is known now where ${this.#desk.nameOf(surface.id)} lies.`;
  }
}
