/**
 * The job document: what one client's work consists of, and how it changes.
 *
 * Duty: types and schema of the document, edits as data (applied, taken back, checked for collisions), undo history, and
 * the plain values the finish area ranks. Pure: no clock, no randomness, no I/O; ids are made by the caller.
 *
 * Conventions: collections are records by id with an `order` number, so that an edit names a place by its path and two
 * people can work on different things without meeting. Colours are CIELAB D65/10° with a covariance. Prices are plain
 * decimal amounts with a currency code.
 *
 * Out of scope: pixels (the document keeps regions, the studio measures them) and files (kept by the server by `fileId`).
 */
export {
  BOARD_PAGE_KINDS,
  LONGEST,
  VERDICTS,
  boardFinishTitle,
  boardQuestions,
  canonicalText,
  parseBoardAnswer,
  parseBoardContent,
} from './board.ts';
export type {
  BoardAnswer,
  BoardContent,
  BoardDraft,
  BoardDraftPage,
  BoardFinish,
  BoardPage,
  BoardPageKind,
  BoardPicture,
  BoardPin,
  BoardQuestion,
  Verdict,
} from './board.ts';
export { removedName, roundDifferences, roundNews } from './board-changes.ts';
export { alikeFinishes, alikeInWords, alikeOnBoard, mainColour, screenLab } from './board-sight.ts';
export type { AlikeFinishes } from './board-sight.ts';
export { readAnswerText } from './board-text.ts';
export { DEFAULT_SUPPLY, DEFAULT_TRADE, DEFAULT_WORK } from './trade.ts';
export type { SurfacePart, SurfaceWork, SwatchSupply, Trade } from './trade.ts';
export * from './document.ts';
export * from './edits.ts';
export type { Id } from './fields.ts';
export * from './history.ts';
export {
  LONGEST_NOTE,
  MOST_NOTES,
  MOST_PARTS,
  type Light,
  type LightSource,
  type RoomDayRecord,
  type RoomLamp,
  type RoomWindow,
} from './lighting.ts';
export * from './lights.ts';
export * from './scheme.ts';
export * from './plan.ts';
export * from './schedule.ts';
export * from './shortlist.ts';
export * from './surface-names.ts';
