import { wrap, type Remote } from 'comlink';
import type { FrameWork } from './room-frames.worker.ts';
import type { RoomWork } from './room.worker.ts';

let remote: Remote<RoomWork> | null = null;
let frames: Remote<FrameWork> | null = null;

/**
 * The worker that takes surfaces apart and paints rooms, started at first use and shared. It is another one than that of
 * `analysis`, so that a ranking does not keep a picture waiting.
 */
export function roomWork(): Remote<RoomWork> {
  remote ??= wrap<RoomWork>(new Worker(new URL('./room.worker.ts', import.meta.url), { type: 'module' }));
  return remote;
}

/** The worker that paints frames. No frame waits there for a whole picture. */
export function frameWork(): Remote<FrameWork> {
  frames ??= wrap<FrameWork>(
    new Worker(new URL('./room-frames.worker.ts', import.meta.url), { type: 'module' }),
  );
  return frames;
}
