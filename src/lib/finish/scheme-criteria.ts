/** What a whole scheme is judged by. */
export const SCHEME_CRITERIA = [
  'nearness',
  'relations',
  'pairing',
  'undertone',
  'pattern',
  'edges',
  'steadiness',
  'price',
  'time',
] as const;
export type SchemeCriterion = (typeof SCHEME_CRITERIA)[number];
