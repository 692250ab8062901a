import type { LightApart, LightShares } from '#lib/photo/index.ts';
import type { LightParts } from './room-light.ts';
import { RoomPicture } from './room-picture.ts';
import type { RoomScene } from './room-scene.ts';
import { roomWork } from './room-work.ts';
import type { LightTold } from './see.ts';

/** A room photo as it is, with its window and its lamps each in their own part of a light. */
export class RoomLit {
  readonly #view = new RoomPicture();
  #key = '';
  #shares: LightShares | null = null;

  /**
   * The photo in a light at most `longSide` pixels long, and what could be told of its own light; null where nothing can.
   * The bitmap is the caller's to close. Rejects with a sentence where the photo cannot be loaded.
   */
  async relit(
    scene: RoomScene,
    parts: LightParts,
    longSide: number,
  ): Promise<{ bitmap: ImageBitmap; told: LightTold } | null> {
    const { source, surfaces, lightPlaces } = scene;
    if (!lightPlaces) return null;
    const key = JSON.stringify([
      source,
      lightPlaces,
      surfaces.map(({ id, mask, old }) => [id, mask.sum, old]),
    ]);
    if (key !== this.#key) {
      this.#view.setPicture(await roomWork().picture(source));
      this.#shares = (await roomWork().shares(source, surfaces, lightPlaces)).shares;
      this.#key = key;
    }
    const shares = this.#shares;
    if (!shares) return null;
    const light: LightApart = { ...(await roomWork().apart(shares, parts)), shares };
    this.#view.setLight(light);
    const width = Math.round(scene.width * Math.min(1, longSide / Math.max(scene.width, scene.height)));
    const { told, mean, seen } = shares;
    return { bitmap: await this.#view.read({ width }), told: { told, mean, seen } };
  }

  dispose(): void {
    this.#view.dispose();
  }
}
