/**
 * The trade's things and judgements: what a swatch is and how sure we are of its colour, how two finishes sit together,
 * which of many candidates belongs on a surface, and how much of it is bought, when, and in which sequence it goes on.
 *
 * Duty: swatches read from what people type, from lists and from instruments, each colour with its doubt; pairing;
 * ranking with reasons and honest doubt; whole schemes, searched, told and swapped; what a room's lights do to its
 * finishes, and which lamp suits them; take-off, purchase, finish schedule and plan of the work. Pure: imports the colour area only; no I/O, clock or randomness but the seed given.
 *
 * Conventions: a colour is CIELAB D65/10° with a covariance (`Estimate`); LRV is Y, D65/10°, 0-100; differences between
 * colours are CIEDE2000, movement between lights is CAM16-UCS; desirabilities lie in [0, 1]. Every number has a word.
 * Bands and tolerances are named constants, marked as common practice where no publication stands behind them.
 *
 * Deliberate simplifications: sheen does not enter the ranking; the colours of one finish share their error, and what is
 * not known about their reflectances.
 *
 * Out of scope: pixels (photo); files of the schedule (server).
 */
export {
  TYPICAL_DIFFERENCE,
  axisCovariance,
  doubtInWords,
  doubtPerAxis,
  isotropicCovariance,
} from './evidence.ts';
export type { Estimate, EvidenceSource } from './evidence.ts';
export { SHEEN_LEVELS, parseSheen, sheenLevel } from './sheen.ts';
export type { Sheen, SheenLevel } from './sheen.ts';
export { largerIsBetter, overallDesirability, smallerIsBetter, targetIsBest } from './desirability.ts';
export { LRV_TOLERANCE, lrvContradiction } from './lrv.ts';
export type { LrvContradiction } from './lrv.ts';
export { parseCurrency, parseDecimal, parsePrice, parseUnit, priceInWords } from './price.ts';
export type { Price } from './price.ts';
export type { FinishColour, FinishInput, LightInput, ReflectanceCache } from './appearance.ts';
export {
  PAIRING_BANDS,
  PAIRING_CURVE,
  VISIBLE_EDGE_LRV,
  WHITE_BANDS,
  WHITE_CURVE,
  pairScore,
  pairingDesirability,
  pairingKind,
  pairingWords,
  pairings,
  passesForMatch,
} from './pairing.ts';
export type { Pairing, PairingKind } from './pairing.ts';
export { WHITES, twoWhites, whiteness } from './whites.ts';
export { UNDERTONE_PAIRING, undertoneScore } from './undertone-pairing.ts';
export type { UndertoneRelation } from './undertone-pairing.ts';
export { edgeScore, isEnoughForAnEdge } from './visible-edge.ts';
export { pairingReport } from './pairing-report.ts';
export type { DoubtfulPairing, Finding, MeetingFinish, PairingReport } from './pairing-report.ts';
export { KIND_WORDS, PAIRING_RULES, RULE as PAIRING_RULE } from './pairing-words.ts';
export { CRITERIA, LEAD_TIME_HALF, LRV_MARGIN, NEARNESS, STEADINESS, movementWords } from './criteria.ts';
export type { CriterionName, Movement, Nearness } from './criteria.ts';
export { TOLD_APART } from './groups.ts';
export { named, pairingBrief } from './reasons.ts';
export { rank } from './ranking.ts';
export type { CandidateInput, CriterionResult, RankInput, RankedCandidate, Ranking } from './question.ts';
export { fromLrv, parseColourText } from './typed-colour.ts';
export type { ColourError, ReadColour } from './typed-colour.ts';
export { FINISH_KINDS, parseFinishKind } from './swatch.ts';
export type { FinishKind, ReadProblem, ReadSwatch, SwatchReading } from './swatch.ts';
export { parseSwatchList } from './swatch-list.ts';
export { parseCgats } from './cgats.ts';
export { parseCxf } from './cxf.ts';
export { readLightFile } from './light-file.ts';
export type { LightFile } from './light-file.ts';
export { LightFileError } from './light-file-samples.ts';
export { doubtWords, figureWords } from './figure.ts';
export type { Figure } from './figure.ts';
export { lightReport, ownChanges } from './light-report.ts';
export type { LightReport, LightReportInput, ReportedFinish } from './light-report.ts';
export { HOLDS_BELOW, isFirm, joined, keptPercent } from './light-steadiness.ts';
export type { FinishSteadiness, LightMovement, OwnChange } from './light-steadiness.ts';
export type { PairChange, PairMember, PairReport } from './light-pairing.ts';
export { compareLamps } from './lamp-comparison.ts';
export type { ComparedLamp, LampComparison, LampComparisonInput, Warmth } from './lamp-comparison.ts';
export { SCHEME_CRITERIA } from './scheme-criteria.ts';
export type { SchemeCriterion } from './scheme-criteria.ts';
export {
  RELATION,
  RELATION_BANDS,
  relationDesirability,
  relationDifference,
  relationLog,
  relationReport,
  relationTable,
} from './relations.ts';
export type { RelatedPair, RelatedSurface, Relation, RelationKind, RelationReport } from './relations.ts';
export { SchemeSearch } from './scheme-search.ts';
export type { Scheme, SchemeLimits, SearchProblem, SearchProgress, SearchResult } from './scheme-search.ts';
export type { Infeasible } from './scheme-infeasible.ts';
export { HEAVIEST, shortlistSways, turnFigure, weightSways } from './weight-sway.ts';
export type { Turn, WeighedRow, WeightSway, WeightSways } from './weight-sway.ts';
export {
  BUSYNESS_BANDS,
  VIEWING_DISTANCE,
  busynessWords,
  calmDesirability,
  calmWords,
  neighbourWish,
  unmeasuredBusyness,
  usualWidth,
} from './busyness.ts';
export type { BusynessName } from './busyness.ts';
export { pickUp, pickUpOf, pickUpWords } from './pick-up.ts';
export type { PickUp } from './pick-up.ts';
export { USUAL_WASTE, costOf } from './rough-cost.ts';
export type { RoughCost } from './rough-cost.ts';
export { LEAST_UNLIKE, choiceOf, choicesOf, schemeProblem } from './scheme.ts';
export type { SchemeProblem } from './scheme.ts';
export type {
  SchemeFinding,
  SchemeInput,
  SchemeMeeting,
  SchemeOption,
  SchemePlace,
  SchemeStatement,
  SchemeTerm,
} from './scheme-question.ts';
export { schemeScore } from './scheme-terms.ts';
export { DARK_LRV, STRONG_CHROMA } from './scheme-limits.ts';
export { schemeCard } from './scheme-card.ts';
export type { NotKnown, SchemeCard, SchemeCriterionLine, SchemePart } from './scheme-card.ts';
export { compareSchemes, inDays } from './scheme-words.ts';
export type { SchemeComparison } from './scheme-words.ts';
export { WHOLE_TOLERANCE } from './scheme-repair.ts';
export type { Repair, RepairChange } from './scheme-repair.ts';
export { WORSE_BY, swapReport } from './swap.ts';
export type { Moved, SwapChange, SwapReport } from './swap.ts';
export { rankOn } from './rank-on.ts';
export type { RankedOn } from './rank-on.ts';
export { bestObservations } from './observation.ts';
export type {
  ColourOrigin,
  Observation,
  ObservationAdvice,
  ObservationKind,
  ObservationSetting,
} from './observation.ts';
export { WORTH_LOOKING } from './observation-words.ts';
export {
  LITRES,
  MILLIMETRES,
  SPREAD_PER_SQ_FT_PER_GAL,
  SQUARE_METRES,
  areaIn,
  areaWords,
  lengthIn,
  lengthWords,
  parseArea,
  parseLength,
  parseVolume,
  spreadRateWords,
  volumeWords,
} from './units.ts';
export type { AreaUnit, LengthUnit, MeasureError, UnitSystem, VolumeUnit } from './units.ts';
export { MOST_LINES, MOST_PIECES, PART_KINDS, SIZE_BOUNDS, TILE_LAYOUTS } from './parts.ts';
export type {
  CabinetsPart,
  CounterPart,
  DoorsPart,
  EstimatePart,
  FieldProblem,
  FlatPart,
  Openings,
  Part,
  PiecesPart,
  Rectangles,
  SizeBounds,
  SizeName,
  Strips,
  TileLayout,
  TilePart,
  TrimPart,
  WallsPart,
} from './parts.ts';
export { PANELLED } from './joinery.ts';
export { TILE_WASTE } from './tile-count.ts';
export { SMALL_OPENING, partTakeOff, takeOff } from './take-off.ts';
export type { PartTakeOff, TakeOff, TakeOffOptions } from './take-off.ts';
export type { Step } from './work-sheet.ts';
export { PHOTO_DOUBT, areaFromPhoto } from './photo-area.ts';
export type { Coverage, KnownRectangle, PhotoArea, PhotoScale } from './photo-area.ts';
export { APPLICATIONS, LANDED, PAINT_ROLES, USUAL_COATS, USUAL_SPREAD, paintNeed } from './coats.ts';
export type { Application, PaintNeed, PaintQuestion, PaintRole, PaintStep, PaintedPart } from './coats.ts';
export { amountOf, currencyDigits, minorUnits, moneyWords, taxed } from './money.ts';
export type { Tax, Taxed } from './money.ts';
export { QUANTITY_UNITS, USUAL_CANS, packProblems, purchase, quantityWords } from './purchase.ts';
export type { BoughtPack, Pack, Purchase, PurchaseQuestion, Quantity, QuantityUnit } from './purchase.ts';
export {
  USUAL_WEEK,
  dateWords,
  dayNumber,
  daysAfter,
  daysBetween,
  isWorkingDay,
  nearestWorkingDay,
  workingDaysAfter,
} from './working-days.ts';
export type { IsoDate, WorkCalendar } from './working-days.ts';
export type { Delivery, DeliveryKind, DeliveryRules } from './delivery.ts';
export { SCHEDULE_ROLES, finishSchedule, finishWords } from './schedule.ts';
export type {
  FinishSchedule,
  NamedFinish,
  Order,
  ScheduleItem,
  ScheduleLine,
  ScheduleRole,
  ScheduleRules,
  Substitute,
} from './schedule.ts';
export { CHANGED_FIELDS, agreedLines, scheduleChanges } from './agreed.ts';
export type { AgreedLine, ChangeNote, ChangedField, ScheduleChange } from './agreed.ts';
export { priceListReport, readPriceList } from './price-list.ts';
export type { PriceChange, PriceListReading, PriceListReport, PriceRow, PricedFinish } from './price-list.ts';
export { WORK_KINDS } from './surface-work.ts';
export type { Fronts, SurfaceWork, WorkKind } from './surface-work.ts';
export { STEP_TASKS } from './work-step.ts';
export type { StepTask, WorkStep } from './work-step.ts';
export {
  FABRICATION,
  FRONT_LABOUR,
  GUESSED_SIZE,
  IN_PLACE_LABOUR,
  OTHER_LABOUR,
  USUAL_DRYING,
} from './labour.ts';
export { planSteps } from './plan-steps.ts';
export type { StepList } from './plan-steps.ts';
export { USUAL_CREW, workPlan } from './plan.ts';
export type { Plan, PlanDelivery, PlanFinish, PlanGroup, PlanRules, PlanStep, StepBecause } from './plan.ts';
export { momentWords } from './plan-words.ts';
export type { Moment } from './work-clock.ts';
export { LEAD_YEAR, cautionsFor } from './cautions.ts';
export type { Caution, CautionedStep } from './cautions.ts';
