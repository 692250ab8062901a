import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';

/** Folder of the sources: given by the start file, else where the process was started. */
export function sourceFolder(): string {
  return process.env.BRUSHOUT_ROOT || process.cwd();
}

/**
 * Folder that holds the database and the files, created when absent: `BRUSHOUT_DATA`, else a folder of the user's own
 * outside the sources (`$XDG_DATA_HOME/brushout` where that is set, else `~/.brushout`).
 * @throws Error in one sentence where the folder cannot be used.
 */
export function dataFolder(): string {
  const shared = process.env.XDG_DATA_HOME;
  const folder = path.resolve(
    process.env.BRUSHOUT_DATA ||
      (shared ? path.join(shared, 'brushout') : path.join(os.homedir(), '.brushout')),
  );
  const advice = 'Set BRUSHOUT_DATA to a folder that can be written to.';
  try {
    fs.mkdirSync(folder, { recursive: true, mode: 0o700 });
    fs.accessSync(folder, fs.constants.R_OK | fs.constants.W_OK | fs.constants.X_OK);
    const probe = path.join(folder, `.probe-${process.pid}`);
    fs.writeFileSync(probe, '');
    fs.rmSync(probe);
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code;
    const reason: Record<string, string> = {
      EEXIST: 'a file of that name is in the way',
      ENOTDIR: 'a file of that name is in the way',
      EACCES: 'it may not be written to',
      EPERM: 'it may not be written to',
      EROFS: 'it lies on a medium that cannot be written to',
      ENOSPC: 'the disk is full',
    };
    throw new Error(
      `The data folder ${folder} cannot be used: ${reason[code ?? ''] ?? code ?? error}. ${advice}`,
    );
  }
  return folder;
}
