import type { Id } from '#lib/job/index.ts';
import type {
  AppliedFinish,
  Image8,
  LightApart,
  LightShares,
  RelightTable,
  SurfaceLayers,
} from '#lib/photo/index.ts';
import { believedKey, believedScene, doubtable, marksWork, type Believed } from './believed-scene.ts';
import { flatPicture, flatWords } from './flat-picture.ts';
import { Lasting } from './lasting.svelte.ts';
import { castWords, leftCast } from './left-cast.ts';
import type { Viewing } from './look.ts';
import type { LightParts } from './room-light.ts';
import type { FinishSource, RoomScene, SceneSurface } from './room-scene.ts';
import { RoomPicture, type DrawOptions } from './room-picture.ts';
import { roomWork } from './room-work.ts';
import { lightGuesses, type LightTold } from './see.ts';
import type { MarkMap } from './see.worker.ts';
import { bounceGuess, tintNote } from './seen-tint.ts';

/** What the page wants to see. */
export interface Wanted {
  readonly scene: RoomScene;
  /** By surface; a surface left out is as photographed. */
  readonly finishes: Readonly<Record<Id, FinishSource>>;
  /** Candidates of one surface, each for a picture of its own. */
  readonly sheet: { readonly surfaceId: Id; readonly finishes: readonly FinishSource[] } | null;
  readonly light: Viewing | null;
  /** Window and lamps of that light, for a photo in which they are told apart. */
  readonly parts: LightParts | null;
}

/** The shares of the two lights of a photo: see `lightShares`. */
interface Shares {
  readonly key: string;
  readonly shares: LightShares | null;
  readonly note: string | null;
}

/** Without another candidate for so long, the picture before may keep the worker busy, ms. */
const REST = 300;
/** Finishes ready to be put on; a pattern takes up to 9 MB. */
const APPLIED_KEPT = 40;

/**
 * The room as it is seen on this page: brings picture, surfaces, finishes and light to a `RoomPicture` as they are asked for.
 * What is ready is shown at once, also while something else is still on its way; of what is asked meanwhile only the latest
 * is done next.
 */
export class SeenRoom {
  readonly view = new RoomPicture();
  /** Grows whenever the view would draw something else. */
  version = $state(0);
  /** Whether there is a picture to draw. */
  ready = $state(false);
  busy = $state(false);
  problem = $state<string | null>(null);
  /** What is wrong with the picture as a whole, a sentence. */
  pictureFault = $state<string | null>(null);
  /** What the photo does not show of its surfaces under a finish, in sentences, by surface. */
  surfaceFaults = $state.raw<Readonly<Record<Id, readonly string[]>>>({});
  /** What else it does not show or could not be put on it, in sentences. */
  faults = $state.raw<readonly string[]>([]);
  /** What is guessed about the finishes that are on and about the photo's own light, in sentences. */
  notes = $state.raw<readonly string[]>([]);
  /** Finishes of the sheet, in its order; null where one is not ready or cannot be shown. */
  sheet = $state.raw<readonly (AppliedFinish | null)[]>([]);
  map = $state.raw<MarkMap | null>(null);
  /** The file whose picture there is to draw. */
  fileId = $state<string | null>(null);
  /** What is told of the photo's own light, null where nothing is; a sentence where it cannot be told or is in doubt. */
  lightTold = $state.raw<LightTold | null>(null);
  windowNote = $state<string | null>(null);
  /** Surfaces that have a finish to show and cannot show it: their marks are empty or damaged. */
  unshown = $state.raw<ReadonlySet<Id>>(new Set());

  #wanted: Wanted | null = null;
  #working = false;
  #pictureKey = '';
  #picture: Image8 | null = null;
  /** That the correction left a colour in the picture, a sentence. */
  #cast: string | null = null;
  #believed: (Believed & { readonly key: string }) | null = null;
  #mapKey = '';
  readonly #layers = new Map<Id, { key: string; layers: SurfaceLayers }>();
  readonly #applied = new Map<string, AppliedFinish>();
  readonly #failed = new Map<string, string>();
  #tables = new WeakMap<Viewing, RelightTable>();
  #apart = new WeakMap<LightParts, { shares: LightShares; light: LightApart }>();
  #shares: Shares | null = null;

  show(wanted: Wanted): void {
    this.#wanted = wanted;
    // Who moves through candidates must not wait: what is there goes on in the same frame.
    if (!this.#working) {
      if (this.#missing(wanted).length === 0) this.#apply(wanted);
      else void this.#work();
    } else if (this.#pictureKey === keyOf(wanted.scene) && this.#missing(wanted).length === 0)
      this.#apply(wanted);
  }

  /** Resolves once the picture of these options is on the page: what is said of it must not run ahead of it. */
  async painted(options: DrawOptions): Promise<void> {
    // The page draws once a frame; until then nobody has asked the view for it.
    await new Promise(requestAnimationFrame);
    await this.view.painted(options);
  }

  /** What the photo does not show, without what is said of one surface. */
  faultsBut(surfaceId: Id | null): string[] {
    const told = Object.entries(this.surfaceFaults).filter(([id]) => id !== surfaceId);
    return [...this.faults, ...told.flatMap(([, sentences]) => sentences)];
  }

  /**
   * Has the room as photographed painted in the light that is shown once the picture has been at rest for a moment, so that
   * it is there at once when it is asked for. Called while a component is made.
   */
  readyBeforeOnce(resting: () => boolean): void {
    new Lasting(resting, REST, () => void this.#readyBefore());
  }

  async #readyBefore(): Promise<void> {
    // Painted whole whatever its width here; the graphics processor paints while it draws.
    if (this.ready && this.view.path === 'worker')
      (await this.view.read({ before: true, width: 1 }).catch(() => null))?.close();
  }

  dispose(): void {
    this.#wanted = null;
    this.view.dispose();
  }

  async #work(): Promise<void> {
    this.#working = true;
    this.busy = true;
    for (let wanted = this.#wanted; wanted; wanted = this.#wanted) {
      try {
        const [next] = this.#missing(wanted);
        if (next) await next();
        else {
          this.#apply(wanted);
          if (this.#wanted === wanted) break;
        }
        this.problem = null;
      } catch (error) {
        this.problem = sentence(error);
        if (this.#wanted === wanted) break;
      }
    }
    this.#working = false;
    this.busy = false;
  }

  /** What has to be fetched or worked out before all of it can be drawn, in order. */
  #missing({ scene: told, finishes, sheet, light, parts }: Wanted): (() => Promise<void>)[] {
    const picture = keyOf(told);
    if (picture !== this.#pictureKey) return [() => this.#setPicture(told)];
    const scene = this.#borneOut(told);
    if (!scene) return [() => this.#setBelieved(told)];
    const tasks: (() => Promise<void>)[] = [];
    const lit = litKey(scene);
    for (const surface of scene.surfaces) {
      const own = finishes[surface.id];
      const others = sheet?.surfaceId === surface.id ? sheet.finishes : [];
      const first = own ?? others[0];
      if (!first) continue;
      const key = layersKey(lit, surface, first);
      if (this.#failed.has(key)) continue;
      if (this.#layers.get(surface.id)?.key !== key) {
        tasks.push(() => this.#setLayers(scene, { surface, finish: first, key }));
        continue;
      }
      for (const finish of own ? [own, ...others] : others) {
        const on = appliedKey(lit, surface, finish);
        if (this.#applied.has(on) || this.#failed.has(on)) continue;
        // Only a pattern is work: a colour goes on in the same frame.
        if (finish.pattern) tasks.push(() => this.#setPattern(scene, { surface, finish, key: on }));
        else this.#keep(on, { colour: finish.colour, sheen: finish.sheen });
      }
    }
    if (scene.lightPlaces && this.#shares?.key !== sharesKey(scene)) tasks.push(() => this.#setShares(scene));
    const shares = this.#sharesOf(scene);
    if (parts && shares) {
      if (this.#apart.get(parts)?.shares !== shares) tasks.push(() => this.#setApart(parts, shares));
    } else if (light && !this.#tables.has(light)) tasks.push(() => this.#setTable(light));
    if (tasks.length === 0 && this.#mapKey !== mapKey(scene)) this.#readMap(scene);
    return tasks;
  }

  async #setPicture(scene: RoomScene): Promise<void> {
    const picture = await roomWork().picture(scene.source);
    this.view.setPicture(picture);
    this.#picture = picture;
    const flat = flatPicture(picture);
    this.pictureFault = flat && flatWords(flat);
    const cast = flat ? null : leftCast(picture);
    this.#cast = cast && castWords(cast);
    this.#layers.clear();
    this.#applied.clear();
    this.#failed.clear();
    this.#pictureKey = keyOf(scene);
    this.fileId = scene.source.fileId;
    this.ready = true;
    this.version += 1;
  }

  /** The scene as far as the photo bears it out; null while it has not been asked. */
  #borneOut(told: RoomScene): RoomScene | null {
    if (!doubtable(told)) return told;
    const found = this.#believed?.key === believedKey(told) ? this.#believed.scene : null;
    // What it says of surfaces was asked, everything else is as it is now.
    return (
      found && {
        ...told,
        surfaces: told.surfaces.map((surface, i) => ({ ...surface, old: found.surfaces[i].old })),
      }
    );
  }

  async #setBelieved(told: RoomScene): Promise<void> {
    const picture = async () => this.#picture as Image8;
    this.#believed = { key: believedKey(told), ...(await believedScene(told, picture)) };
  }

  async #setLayers(
    scene: RoomScene,
    { surface, finish, key }: { surface: SceneSurface; finish: FinishSource; key: string },
  ): Promise<void> {
    await this.#trying(key, async () => {
      const layers = await roomWork().layers(scene.source, { ...surface, among: scene }, finish.texture);
      this.view.setSurface(surface.id, layers);
      this.#layers.set(surface.id, { key, layers });
    });
  }

  async #setPattern(
    scene: RoomScene,
    { surface, finish, key }: { surface: SceneSurface; finish: FinishSource; key: string },
  ): Promise<void> {
    await this.#trying(key, async () =>
      this.#keep(key, await roomWork().applied(scene.source, { ...surface, among: scene }, finish)),
    );
  }

  #keep(key: string, applied: AppliedFinish): void {
    this.#applied.set(key, applied);
    while (this.#applied.size > APPLIED_KEPT)
      this.#applied.delete(this.#applied.keys().next().value as string);
  }

  async #setTable(light: Viewing): Promise<void> {
    const { spectrum, illuminance } = light;
    this.#tables.set(light, await roomWork().light({ spectrum, illuminance }));
  }

  async #setShares(scene: RoomScene): Promise<void> {
    if (!scene.lightPlaces) return;
    const found = await roomWork().shares(scene.source, scene.surfaces, scene.lightPlaces);
    this.#shares = { key: sharesKey(scene), ...found };
  }

  #sharesOf(scene: RoomScene): LightShares | null {
    return scene.lightPlaces && this.#shares?.key === sharesKey(scene) ? this.#shares.shares : null;
  }

  async #setApart(parts: LightParts, shares: LightShares): Promise<void> {
    // With the very shares it was asked for, which the graphics processor has already.
    this.#apart.set(parts, { shares, light: { ...(await roomWork().apart(shares, parts)), shares } });
  }

  /** A surface that fails is named and left as photographed; the others go on. */
  async #trying(key: string, task: () => Promise<void>): Promise<void> {
    try {
      await task();
    } catch (error) {
      this.#failed.set(key, sentence(error));
    }
  }

  #readMap(scene: RoomScene): void {
    const key = mapKey(scene);
    this.#mapKey = key;
    const marked = scene.surfaces.map(({ id, mask }) => ({ id, mask }));
    marksWork()
      .map(marked, { width: scene.width, height: scene.height })
      .then((map) => this.#mapKey === key && (this.map = map))
      .catch((error: unknown) => (this.problem = sentence(error)));
  }

  #apply({ scene: asked, finishes, sheet, light, parts }: Wanted): void {
    const scene = this.#borneOut(asked) ?? asked;
    const lit = litKey(scene);
    const faults = new Set<string>(doubtable(asked) ? this.#believed?.doubts : []);
    const told: Record<Id, readonly string[]> = {};
    const notes = new Set<string>();
    const there = new Set(scene.surfaces.map(({ id }) => id));
    for (const id of this.#layers.keys())
      if (!there.has(id)) {
        this.view.removeSurface(id);
        this.#layers.delete(id);
      }
    const unshown = new Set<Id>();
    /** Surfaces that have a finish on. */
    let dressed = 0;
    let onSheet: (AppliedFinish | null)[] = [];
    for (const surface of scene.surfaces) {
      const { id } = surface;
      const own = finishes[id];
      const ready = (finish: FinishSource): AppliedFinish | null => {
        const [layers, applied] = [layersKey(lit, surface, finish), appliedKey(lit, surface, finish)];
        const failure = this.#failed.get(layers) ?? this.#failed.get(applied);
        if (failure) faults.add(`${surface.name} cannot be shown with it: ${failure}`);
        return this.#layers.has(id) && !failure ? (this.#applied.get(applied) ?? null) : null;
      };
      const applied = own ? ready(own) : null;
      if (own && (!applied || this.#layers.get(id)?.layers.box.width === 0)) unshown.add(id);
      if (this.#layers.has(id)) this.view.setFinish(id, applied);
      if (sheet?.surfaceId === id) onSheet = sheet.finishes.map(ready);
      const layers = this.#layers.get(id)?.layers;
      if (own || sheet?.surfaceId === id)
        told[id] = (layers?.notes ?? []).map((note) => `${surface.name}: ${note}`);
      if (own && applied && layers) {
        const known = surface.old !== null;
        const tint = tintNote(own.colour, layers.meanLight, { name: surface.name, known });
        if (tint) told[id] = [...told[id], tint];
        dressed += 1;
      }
      for (const note of own?.notes ?? []) notes.add(note);
    }
    const bounced = bounceGuess(dressed);
    if (bounced) notes.add(bounced);
    const shares = this.#sharesOf(scene);
    const apart = shares && parts ? this.#apart.get(parts) : undefined;
    this.view.setLight(
      apart?.shares === shares && apart ? apart.light : ((light && this.#tables.get(light)) ?? null),
    );
    this.lightTold = shares && { told: shares.told, mean: shares.mean, seen: shares.seen };
    this.windowNote = (scene.lightPlaces && this.#shares?.note) ?? null;
    this.sheet = onSheet;
    this.unshown = unshown;
    // Told apart and each in its own light, what was warm about a lamp is no longer there.
    if (this.#cast && !(apart && this.lightTold?.told === 'apart')) faults.add(this.#cast);
    this.faults = [...faults];
    this.surfaceFaults = told;
    this.notes = [...notes, ...lightGuesses(parts && this.lightTold, this.lightTold)];
    this.version += 1;
  }
}

const keyOf = ({ source }: RoomScene) => JSON.stringify(source);

const mapKey = (scene: RoomScene) =>
  JSON.stringify([scene.source.fileId, ...scene.surfaces.map(({ id, mask }) => [id, mask.sum])]);

const sharesKey = (scene: RoomScene) =>
  JSON.stringify([
    keyOf(scene),
    scene.lightPlaces,
    ...scene.surfaces.map(({ id, mask, old }) => [id, mask.sum, old]),
  ]);

/** The photo, and where its window and lamps are told apart all that this goes by: surfaces are painted in that very light. */
const litKey = (scene: RoomScene) => (scene.lightPlaces ? sharesKey(scene) : keyOf(scene));

function layersKey(lit: string, { id, mask, old, oldSheen }: SceneSurface, finish: FinishSource): string {
  return JSON.stringify([lit, id, mask.sum, mask.code.length, old, oldSheen, finish.texture]);
}

function appliedKey(lit: string, surface: SceneSurface, finish: FinishSource): string {
  const { colour, sheen, pattern } = finish;
  const laid = pattern ? [layersKey(lit, surface, finish), surface.plane, pattern] : null;
  return JSON.stringify([surface.id, colour, sheen, laid]);
}

function sentence(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
