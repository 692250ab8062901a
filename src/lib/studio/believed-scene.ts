import { wrap, type Remote } from 'comlink';
import type { Image8 } from '#lib/photo/index.ts';
import { unlike } from './old-finish.ts';
import type { RoomScene, SceneSurface } from './room-scene.ts';
import type { Marks } from './see.worker.ts';
import { Kept } from './worker-photo.ts';

/** A scene as far as its photo bears it out. */
export interface Believed {
  /** What a surface is said to have on it and cannot have had when the photo was taken is not known in it. */
  readonly scene: RoomScene;
  /** What is not believed, in sentences. */
  readonly doubts: readonly string[];
}

const BELIEVED_KEPT = 12;
const kept = new Kept<Promise<ReadonlyMap<string, 'lighter' | 'another colour'>>>(BELIEVED_KEPT);

let marks: Remote<Marks> | null = null;

/** The worker that reads marks, started when first asked. */
export function marksWork(): Remote<Marks> {
  marks ??= wrap<Marks>(new Worker(new URL('./see.worker.ts', import.meta.url), { type: 'module' }));
  return marks;
}

/** Whether there is anything to ask the photo about. */
export const doubtable = ({ surfaces }: RoomScene) => surfaces.some(({ old }) => old !== null);

/** What tells one question to a photo from another. */
export const believedKey = ({ source, surfaces }: RoomScene) =>
  JSON.stringify([source, ...surfaces.map(({ id, mask, old }) => [id, mask.sum, mask.code.length, old])]);

/** Compares what the job says is on marked surfaces with what the photo shows there. `picture`: the photo, corrected. */
export async function believedScene(scene: RoomScene, picture: () => Promise<Image8>): Promise<Believed> {
  const known = scene.surfaces.filter(({ old }) => old !== null);
  if (known.length === 0) return { scene, doubts: [] };
  const unlikely = await kept.get(believedKey(scene), async () => {
    const seen = await marksWork().medians(
      await picture(),
      known.map(({ mask }) => mask),
    );
    return new Map(
      known.flatMap(({ id, old }, i) => {
        const colour = seen[i];
        const how = old && colour && unlike(old, colour);
        return how ? [[id, how] as const] : [];
      }),
    );
  });
  const surfaces = scene.surfaces.map((surface): SceneSurface =>
    unlikely.has(surface.id) ? { ...surface, old: null } : surface,
  );
  const doubts = scene.surfaces.flatMap(({ id, name, oldName }) => {
    const how = unlikely.get(id);
    return how ? [`${name} ${WORDS[how]} in this photo than ${oldName}, ${WHY}`] : [];
  });
  return { scene: { ...scene, surfaces }, doubts };
}

const WORDS = { lighter: 'is much lighter', 'another colour': 'has quite another colour' } as const;
const WHY =
  'which the job says is on it now. So what was there is taken from the photo. If that finish is still to come, set the surface to “decided” under Room.';
