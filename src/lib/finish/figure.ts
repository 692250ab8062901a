/** A number with its doubt. */
export interface Figure {
  /** At the best estimates, unless its place says otherwise. */
  readonly value: number;
  /** Two standard deviations over what is not known; 0 where nothing is open. */
  readonly giveOrTake: number;
}

/** From this chance on a thing is said plainly; common practice, as for candidates told apart (`TOLD_APART`). */
export const LIKELY = 0.8;
/** From this chance on it is said that a thing to be warned of may be; common practice, no published source. */
export const POSSIBLE = 0.3;
/** From this chance on it is said that any other thing may be. */
export const MORE_LIKELY_THAN_NOT = 0.5;

/** Doubt that is not worth saying, in the figure's unit. */
const UNSAID = 0.05;

/** '2.1 give or take 0.8', or the number alone where nothing is open. */
export function figureWords({ value, giveOrTake }: Figure): string {
  return `${value.toFixed(1)}${doubtWords(giveOrTake)}`;
}

/** What follows a figure: ' give or take 0.8', or nothing where nothing is open. */
export function doubtWords(giveOrTake: number): string {
  return giveOrTake < UNSAID ? '' : ` give or take ${giveOrTake.toFixed(1)}`;
}

/** A figure from its best estimate and its values over draws. */
export function figureOf(value: number, draws: ArrayLike<number>): Figure {
  return { value, giveOrTake: meanOf(draws).giveOrTake };
}

/** Mean of a quantity over draws, and its spread. */
export function meanOf(draws: ArrayLike<number>): Figure {
  let value = 0;
  for (let t = 0; t < draws.length; t++) value += draws[t] / draws.length;
  let squares = 0;
  for (let t = 0; t < draws.length; t++) squares += (draws[t] - value) ** 2;
  return { value, giveOrTake: 2 * Math.sqrt(squares / draws.length) };
}

/** Share of draws for which something holds, 0-1. */
export function chance(draws: number, holds: (draw: number) => boolean): number {
  let count = 0;
  for (let t = 0; t < draws; t++) if (holds(t)) count++;
  return count / draws;
}
