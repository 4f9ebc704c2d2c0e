import type { ListCheck, ToRead } from '../../core/cards/list-check.ts';
import type { PathText } from '../../core/model.ts';
import type { CardEntry } from './card-entry.ts';

/** Judges by what is known of contents now, and says what is still to be read. */
export type Look<Check extends ListCheck> = () => Promise<{ check: Check; toRead: ToRead[] }>;

/** A list and what arrived of it, as the comparing sees it. */
export interface Comparison<Check extends ListCheck = ListCheck> {
  /** Under one key one thing is compared at a time. */
  key: string;
  entry: CardEntry;
  /** Of the list: on its volume, or on its card. */
  place: PathText;
  /** Changes whenever the list or what lies there is another. */
  mark: string;
  /** What is missing may turn up under another name. */
  mayMove: boolean;
  known(): Check | null;
  /** Takes up what the list says; `null`: it cannot be asked now. */
  open(): Promise<Look<Check> | null>;
  /** What was found, with every look. */
  keep(check: Check): void;
  /** All that could be compared was. */
  settled(): void;
}
