/** An answer over HTTP for machines: text, and nothing that only a browser understands. */
export interface PlainAnswer {
  status: number;
  /** Media type with its parameters. */
  type: string;
  body: string;
}

export const PLAIN_TEXT = 'text/plain; charset=utf-8';
