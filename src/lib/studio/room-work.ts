import { wrap, type Remote } from 'comlink';
import type { RoomWork } from './room.worker.ts';

let remote: Remote<RoomWork> | null = null;

/**
 * The worker that takes surfaces apart and paints rooms, started at first use and shared. It is another one than that of
 * `analysis`, so that a ranking does not keep a picture waiting.
 */
export function roomWork(): Remote<RoomWork> {
  remote ??= wrap<RoomWork>(new Worker(new URL('./room.worker.ts', import.meta.url), { type: 'module' }));
  return remote;
}
