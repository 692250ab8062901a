/** A refusal with a reason for the person in front of the screen; routes turn it into an answer with `status`. */
export class Refusal extends Error {
  readonly status: number;

  /** `sentence` says what happened and what to do. */
  constructor(status: number, sentence: string, options?: ErrorOptions) {
    super(sentence, options);
    this.name = 'Refusal';
    this.status = status;
  }
}
